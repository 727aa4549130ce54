#include "write/template_text.h"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>
#include <kainjow/mustache.hpp>

namespace daywright::write {
namespace {

using kainjow::mustache::data;
using model::DayStatus;

/// Looks names up in the rows of open sections, then among the figures and tables; keeps those it does not find.
class StatusContext final : public kainjow::mustache::context<std::string> {
 public:
  explicit StatusContext(const DayStatus& status) : status_(status) {}

  const data* get(const std::string& name) const override {
    if (const data* in_row = kainjow::mustache::context<std::string>::get(name)) return in_row;
    const auto known = values_.find(name);
    if (known != values_.end()) return &known->second;
    constexpr std::string_view table_prefix = "table.";
    if (name.starts_with(table_prefix)) {
      if (const auto* table = status_.find_table(name.substr(table_prefix.size())))
        return &values_.emplace(name, rows_of(*table)).first->second;
    }
    if (const auto* figure = status_.find(name))
      return &values_.emplace(name, data(model::with_unit(*figure))).first->second;
    unknown_.insert(name);
    return nullptr;
  }
  [[nodiscard]] const std::set<std::string>& unknown() const { return unknown_; }

 private:
  [[nodiscard]] data rows_of(const model::Table& table) const {
    data rows{data::type::list};
    for (const auto& row : table.rows) {
      data object{data::type::object};
      for (std::size_t i = 0; i < row.size(); ++i) {
        const auto* figure = row[i].figure.empty() ? nullptr : status_.find(row[i].figure);
        object.set(table.columns[i].key, data(figure != nullptr ? model::with_unit(*figure) : row[i].words));
      }
      rows.push_back(object);
    }
    return rows;
  }

  const DayStatus& status_;
  mutable std::map<std::string, data> values_;
  mutable std::set<std::string> unknown_;
};

int line_of(std::string_view text, std::size_t offset) {
  return static_cast<int>(std::count(text.begin(),
                                     text.begin() + static_cast<std::ptrdiff_t>(std::min(offset, text.size())), '\n')) +
         1;
}

/// The offset that mustache's own messages end with.
std::size_t offset_in(const std::string& message) {
  const auto at = message.rfind(" at ");
  std::size_t offset = 0;
  if (at == std::string::npos) return 0;
  for (const char c : message.substr(at + 4)) {
    if (c < '0' || c > '9') break;
    offset = offset * 10 + static_cast<std::size_t>(c - '0');
  }
  return offset;
}

/// Where the template first uses `name`.
std::size_t find_tag(std::string_view text, const std::string& name) {
  for (auto at = text.find(name); at != std::string_view::npos; at = text.find(name, at + 1)) {
    const auto before = text.substr(0, at).find_last_not_of(" #^/&{");
    const bool opens = before == std::string_view::npos
                           ? at > 1
                           : text.substr(before + 1, at - before - 1).find('{') != std::string_view::npos;
    const auto after = text.substr(at + name.size());
    if (opens && (after.starts_with("}}") || after.starts_with(" "))) return at;
  }
  return 0;
}

/// What mustache would take without a word.
void check_tags(const std::string& text, const DayStatus& status, model::Diagnostics& faults) {
  const auto refuse = [&](std::size_t at, std::string why, const char* rule) {
    faults.push_back(template_fault(text, at, std::move(why), rule));
  };
  if (text.find_first_not_of(" \n\t") == std::string::npos) refuse(0, "the template is empty", "template-syntax");
  for (std::size_t at = text.find("{{"); at != std::string::npos; at = text.find("{{", at + 2)) {
    const std::size_t begin = at + 2;
    const char sort = begin < text.size() ? text[begin] : ' ';
    if (sort == '{' || sort == '&')
      refuse(at, "unescaped text, expected {{NAME}}: a log could format what is written", "template-syntax");
    if (sort == '>') refuse(at, "a part of another template, expected it written out", "template-syntax");
    constexpr std::string_view table_prefix = "table.";
    const std::string name = text.substr(begin, text.find("}}", begin) - begin);
    if (name.starts_with(table_prefix) && status.find_table(name.substr(table_prefix.size())) != nullptr)
      refuse(at,
             fmt::format("a table in a line, expected a section {{{{#{0}}}}} or a line '@table {1}'", name,
                         name.substr(table_prefix.size())),
             "template-name");
  }
}

}  // namespace

model::Diagnostic template_fault(std::string_view text, std::size_t offset, std::string message, std::string rule) {
  return {model::Severity::error, {0, line_of(text, offset), 1}, std::move(message), std::move(rule)};
}

/// The template without what editors of other systems put into it: a byte order mark, CRLF.
std::string with_line_feeds(std::string_view text) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  std::string result;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] != '\r' || i + 1 == text.size() || text[i + 1] != '\n') result += text[i];
  }
  return result;
}

FilledTemplate fill_template(const std::string& template_text, const DayStatus& status,
                             std::string (*escape)(std::string_view)) {
  FilledTemplate filled;
  check_tags(template_text, status, filled.faults);
  if (!filled.faults.empty()) return filled;
  kainjow::mustache::mustache mustache{template_text};
  if (!mustache.is_valid()) {
    const std::string& message = mustache.error_message();
    filled.faults.push_back(
        template_fault(template_text, offset_in(message), "the template can't be read: " + message, "template-syntax"));
    return filled;
  }
  mustache.set_custom_escape([escape](const std::string& text) { return escape(text); });
  StatusContext context(status);
  filled.text = mustache.render(context);
  for (const auto& name : context.unknown()) {
    filled.faults.push_back(template_fault(template_text, find_tag(template_text, name),
                                           fmt::format("there is no figure, table or column '{}'", name),
                                           "template-name"));
  }
  return filled;
}

}  // namespace daywright::write
