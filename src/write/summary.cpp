#include "write/summary.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <vector>

#include <cmark.h>
#include <fmt/format.h>

#include "model/printable.h"
#include "write/caution.h"
#include "write/wrapped.h"

namespace daywright::write {
namespace {

/// The words below `node`, without markup, on one line.
std::string plain_text(cmark_node* node) {
  std::string text;
  const std::unique_ptr<cmark_iter, decltype(&cmark_iter_free)> walk(cmark_iter_new(node), &cmark_iter_free);
  for (auto event = cmark_iter_next(walk.get()); event != CMARK_EVENT_DONE; event = cmark_iter_next(walk.get())) {
    if (event != CMARK_EVENT_ENTER) continue;
    cmark_node* const inner = cmark_iter_get_node(walk.get());
    const auto type = cmark_node_get_type(inner);
    if (type == CMARK_NODE_TEXT || type == CMARK_NODE_CODE) text += cmark_node_get_literal(inner);
    if (type == CMARK_NODE_SOFTBREAK || type == CMARK_NODE_LINEBREAK) text += ' ';
  }
  return model::printable(text);
}

/// How an item stands, with the mark that fills its bar and its colour.
struct Standing {
  const char* word;
  const char* ascii;
  const char* block;
  int colour;
};
constexpr Standing covered{"covered", "#", "\u2588", 32};
constexpr Standing is_short{"short", "-", "\u2591", 31};
constexpr Standing unsound{"UNSOUND", "?", "\u2592", 33};
constexpr Standing no_data{"NO DATA", "", "", 33};
constexpr std::size_t word_width = 7;
constexpr std::size_t between = 7;  ///< blanks and marks between title, number, bar and word
constexpr std::size_t least_cells = 5;
constexpr std::size_t most_cells = 24;

struct Bar {
  std::string title;
  std::string value;
  const double* days = nullptr;  ///< null: not in days, so no bar
  const Standing* standing = &no_data;
};

std::vector<Bar> bars_of(const model::DayStatus& status) {
  std::vector<Bar> bars;
  const auto* table = status.find_table("consumables");
  if (table == nullptr) return bars;
  const auto column_of = [&](std::string_view key) {
    const auto found =
        std::find_if(table->columns.begin(), table->columns.end(), [&](const auto& c) { return c.key == key; });
    return static_cast<std::size_t>(found - table->columns.begin());
  };
  for (const auto& row : table->rows) {
    const auto figure = [&](std::string_view key) { return status.find(row[column_of(key)].figure); };
    const auto number = [](const model::Figure* f) { return f == nullptr ? nullptr : std::get_if<double>(&f->value); };
    const auto* title = figure("item");
    const auto* in_days = figure("margin");
    const auto* shown = number(in_days) != nullptr ? in_days : figure("units");
    Bar bar{title == nullptr ? "-" : model::printable(title->text), "-", number(in_days), &no_data};
    if (const double* margin = number(shown)) {
      bar.value = model::with_unit(*shown);
      bar.standing = !shown->doubts.empty() ? &unsound : *margin < 0 ? &is_short : &covered;
    }
    bars.push_back(std::move(bar));
  }
  return bars;
}

std::string padded(const std::string& text, std::size_t width) {
  return text + std::string(width - std::min(width, model::display_width(text)), ' ');
}

/// The margin as a length; what is beyond the scale ends in a mark.
std::string drawn(const Bar& bar, std::size_t cells, bool is_utf8) {
  constexpr double full = 5;  // days: what is further off decides nothing tonight
  if (bar.days == nullptr || bar.standing == &no_data) return std::string(cells, ' ');
  const double days = std::abs(*bar.days);
  auto filled = static_cast<std::size_t>(std::lround(std::min(days, full) / full * static_cast<double>(cells)));
  if (days > 0) filled = std::max<std::size_t>(filled, 1);
  std::string text;
  for (std::size_t i = 0; i < filled; ++i) {
    const bool is_beyond = days > full && i + 1 == filled;
    text += is_beyond ? (is_utf8 ? "\u25B6" : ">") : is_utf8 ? bar.standing->block : bar.standing->ascii;
  }
  return text + std::string(cells - filled, ' ');
}

std::string line_of(const Bar& bar, std::size_t title_width, std::size_t value_width, const Terminal& terminal) {
  const std::size_t taken = title_width + value_width + word_width + between;
  const std::size_t cells = std::clamp(terminal.width - std::min(terminal.width, taken), least_cells, most_cells);
  std::string title = bar.title;
  while (model::display_width(title) > title_width) {
    do {
      title.pop_back();
    } while (!title.empty() && (title.back() & 0xC0) == 0x80);
  }
  std::string rest = fmt::format("|{}| {}", drawn(bar, cells, terminal.is_utf8), bar.standing->word);
  if (terminal.has_colour) rest = fmt::format("\x1b[{}m{}\x1b[0m", bar.standing->colour, rest);
  const std::string blanks(value_width - model::display_width(bar.value), ' ');
  return fmt::format("{}  {}{}  {}\n", padded(title, title_width), blanks, bar.value, rest);
}

}  // namespace

std::vector<std::string> five_lines_of(std::string_view brief) {
  std::vector<std::string> items;
  const std::unique_ptr<cmark_node, decltype(&cmark_node_free)> document(
      cmark_parse_document(brief.data(), brief.size(), CMARK_OPT_DEFAULT), &cmark_node_free);
  for (cmark_node* node = cmark_node_first_child(document.get()); node != nullptr; node = cmark_node_next(node)) {
    if (cmark_node_get_type(node) != CMARK_NODE_LIST || cmark_node_get_list_type(node) != CMARK_ORDERED_LIST) continue;
    for (cmark_node* item = cmark_node_first_child(node); item != nullptr; item = cmark_node_next(item))
      items.push_back(plain_text(item));
    break;
  }
  return items;
}

std::string render_summary(std::string_view brief, const model::DayStatus& status, const Terminal& terminal) {
  std::string text;
  std::size_t number = 0;
  for (const auto& item : five_lines_of(brief)) text += wrapped(item, terminal.width, fmt::format("{}. ", ++number));
  const auto bars = bars_of(status);
  std::size_t title_width = 0;
  std::size_t value_width = 0;
  for (const auto& bar : bars) {
    title_width = std::max(title_width, model::display_width(bar.title));
    value_width = std::max(value_width, model::display_width(bar.value));
  }
  const std::size_t taken = value_width + word_width + between + least_cells;
  title_width = std::min({title_width, terminal.width / 3, terminal.width - std::min(terminal.width, taken)});
  if (!bars.empty())
    text += "\n" + wrapped("Margins, reserves kept; a full bar is five days or more.", terminal.width) + "\n";
  for (const auto& bar : bars) text += line_of(bar, title_width, value_width, terminal);
  return text + "\n" + wrapped(caution, terminal.width) + "\n";
}

}  // namespace daywright::write
