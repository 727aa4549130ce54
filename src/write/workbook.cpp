#include "write/workbook.h"

#include <algorithm>
#include <array>
#include <string_view>
#include <variant>

#include <fmt/format.h>

#include "model/printable.h"
#include "model/quantity.h"
#include "write/caution.h"
#include "write/trial_sheets.h"

namespace daywright::write {
namespace {

using model::DayStatus;

/// Which table goes on which sheet, in the order of the sheets.
struct SheetOf {
  std::string_view table;
  std::string_view sheet;
};
constexpr std::array sheets{
    SheetOf{"gates", "Readiness"},         SheetOf{"criteria", "Criteria"},
    SheetOf{"conditions", "Conditions"},   SheetOf{"waivers", "Waivers"},
    SheetOf{"consumables", "Consumables"}, SheetOf{"configurations", "By configuration"},
    SheetOf{"ledger", "Ledgers"},          SheetOf{"extension", "Extension"},
    SheetOf{"returns", "Return"},          SheetOf{"redlines", "Redlines"},
    SheetOf{"counts", "Counts"},           SheetOf{"transfers", "Transfers"},
    SheetOf{"clearance", "Clearance"},     SheetOf{"zones", "Zones"},
    SheetOf{"findings", "Findings"},       SheetOf{"work", "Work"},
    SheetOf{"carry_over", "Carried over"}, SheetOf{"next_day", "Next day"},
    SheetOf{"unfit", "Work without room"}, SheetOf{"crew_time", "Crew time"},
    SheetOf{"sorties", "Sorties"},         SheetOf{"closeouts", "Close-outs"},
    SheetOf{"anomalies", "Anomalies"},     SheetOf{"equipment", "Equipment"},
    SheetOf{"readings", "Readings"},       SheetOf{"statements", "Statements"},
    SheetOf{"rest", "Rest and duty"},      SheetOf{"decisions", "Decisions"},
    SheetOf{"actions", "Actions"},         SheetOf{"needs", "Data needed"},
    SheetOf{"quality", "Data quality"},    SheetOf{"changes", "Changes"},
    SheetOf{"credibility", "Credibility"},
};

SheetCell cell_of(const model::Figure& figure, const model::Column& column) {
  if (const auto* number = std::get_if<double>(&figure.value))
    return SheetNumber{*number, model::decimals_of(figure.step), column.mixes_units ? figure.unit : ""};
  if (const auto* when = std::get_if<model::Instant>(&figure.value)) return *when;
  return model::printable(figure.text);
}

/// The characters that a cell wants to be shown in.
struct WantedWidth {
  static constexpr std::size_t time = 16;

  static std::size_t of_number(double value, int decimals) { return fmt::format("{:.{}f}", value, decimals).size(); }

  std::size_t operator()(const std::string& text) const { return model::display_width(text); }
  std::size_t operator()(const SheetNumber& number) const {
    return of_number(number.value, number.decimals) + 1 + number.unit.size();
  }
  std::size_t operator()(model::Instant) const { return time; }
  std::size_t operator()(const SheetHeading& heading) const { return model::display_width(heading.text); }
  std::size_t operator()(const SheetNote&) const { return 0; }
  std::size_t operator()(const SheetFormula& formula) const {
    if (const auto* number = std::get_if<double>(&formula.result)) return of_number(*number, formula.decimals) + 2;
    const auto* text = std::get_if<std::string>(&formula.result);
    return text == nullptr ? time : model::display_width(*text);
  }
  std::size_t operator()(const SheetInput&) const { return 6; }
};

std::size_t width_of(const SheetCell& cell) { return std::visit(WantedWidth{}, cell); }

/// The brief's first lines, one a row.
Sheet lay_out_five_lines(const std::vector<std::string>& lines) {
  Sheet sheet{"Five lines", "In five lines", {{"", 4, true}, {"", 110, false}}, {}};
  for (const auto& line : lines)
    sheet.rows.push_back({SheetNumber{static_cast<double>(sheet.rows.size() + 1), 0, ""}, model::printable(line)});
  return sheet;
}

Sheet lay_out_table(const model::Table& table, std::string_view name, const DayStatus& status) {
  Sheet sheet{std::string(name), table.title, {}, {}};
  for (const auto& column : table.columns) {
    const bool is_time = std::any_of(table.rows.begin(), table.rows.end(), [&](const auto& row) {
      const auto* figure = status.find(row[static_cast<std::size_t>(&column - table.columns.data())].figure);
      return figure != nullptr && std::holds_alternative<model::Instant>(figure->value);
    });
    const std::string unit = is_time ? "UTC" : column.unit;
    sheet.columns.push_back({unit.empty() ? column.title : column.title + ", " + unit, 0, column.is_number});
  }
  for (const auto& row : table.rows) {
    auto& cells = sheet.rows.emplace_back();
    for (std::size_t c = 0; c < row.size(); ++c) {
      const auto* figure = row[c].figure.empty() ? nullptr : status.find(row[c].figure);
      cells.push_back(figure != nullptr ? cell_of(*figure, table.columns[c]) : SheetCell(row[c].words));
    }
  }
  sheet.fit_widths();
  return sheet;
}

}  // namespace

void Sheet::fit_widths() {
  constexpr std::size_t widest = 60;
  constexpr std::size_t widest_heading = 24;  // longer ones are wrapped
  for (std::size_t c = 0; c < columns.size(); ++c) {
    std::size_t width = std::min(widest_heading, model::display_width(columns[c].header));
    for (const auto& row : rows) {
      if (c >= row.size()) continue;
      const bool is_heading = std::holds_alternative<SheetHeading>(row[c]);
      width = std::max(width, is_heading ? std::min(widest_heading, width_of(row[c])) : width_of(row[c]));
    }
    columns[c].width = std::min(widest, width + 3);
  }
}

std::size_t Sheet::lines_of(const std::vector<SheetCell>& row) const {
  std::size_t lines = 1;
  for (std::size_t c = 0; c < row.size() && c < columns.size(); ++c) {
    // Words do not fill a line to its end, and programs differ in their fonts: a fifth is left for that.
    const std::size_t room = std::max<std::size_t>(1, columns[c].width * 4 / 5);
    const std::size_t width = width_of(row[c]);
    if (width + 3 > columns[c].width) lines = std::max(lines, (width + room - 1) / room);
  }
  return lines;
}

Workbook lay_out_workbook(const DayStatus& status, model::Instant cutoff, const std::vector<std::string>& five_lines) {
  Workbook book;
  const auto* mission = status.find("mission.name");
  const auto* now = status.find("now.utc");
  book.title =
      (mission != nullptr ? model::printable(mission->text) : "") + (now != nullptr ? ", cut-off " + now->text : "");
  book.caution = caution;
  book.created = cutoff;
  if (!five_lines.empty()) book.sheets.push_back(lay_out_five_lines(five_lines));
  std::vector<Sheet> live = lay_out_trial_sheets(status);
  book.is_live = !live.empty();
  // What is changed stands in front, what it rests on behind all else.
  if (book.is_live) book.sheets.push_back(std::move(live.front()));
  for (const auto& [table, name] : sheets) {
    if (const auto* found = status.find_table(std::string(table)))
      book.sheets.push_back(lay_out_table(*found, name, status));
  }
  for (std::size_t i = 1; i < live.size(); ++i) book.sheets.push_back(std::move(live[i]));
  return book;
}

}  // namespace daywright::write
