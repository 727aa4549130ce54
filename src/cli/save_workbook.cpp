#include "cli/save_workbook.h"

#include <array>
#include <cmath>
#include <cstdint>
#include <map>
#include <memory>
#include <stdexcept>
#include <string>
#include <tuple>
#include <type_traits>

#include <expat.h>
#include <fmt/format.h>
#include <xlsxwriter.h>
#include <zip.h>

#include "model/printable.h"
#include "write/trial_sheets.h"

namespace daywright::cli {
namespace {

[[noreturn]] void refuse(const std::string& why) { throw std::runtime_error("cannot write the workbook: " + why); }

void check(lxw_error error, const char* doing) {
  if (error != LXW_NO_ERROR) refuse(fmt::format("{}: {}", doing, lxw_strerror(error)));
}

/// "_x0041_" would be read back as the character it names, so its underscore is written as one itself.
std::string escape_codes(const std::string& text) {
  std::string escaped;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool names_a_code = text.size() - i >= 7 && text[i] == '_' && text[i + 1] == 'x' && text[i + 6] == '_' &&
                              text.find_first_not_of("0123456789abcdefABCDEF", i + 2) == i + 6;
    escaped += names_a_code ? "_x005F_" : std::string(1, text[i]);
  }
  return escaped;
}

/// Text as a cell can hold it: at most 32,767 units of UTF-16, counted here as bytes, which are never fewer.
std::string cell_text(const std::string& text) {
  constexpr std::size_t longest = 32000;
  std::string shown = escape_codes(text);
  if (shown.size() <= longest) return shown;
  std::size_t cut = longest;
  while (cut > 0 && (shown[cut] & 0xC0) == 0x80) --cut;
  return shown.substr(0, cut) + " (cut)";
}

lxw_datetime to_datetime(model::Instant when) {
  const auto date = std::chrono::floor<std::chrono::days>(when);
  const std::chrono::year_month_day ymd{date};
  const auto clock = std::chrono::floor<std::chrono::seconds>(when - model::Instant{date}).count();
  lxw_datetime out{};
  out.year = static_cast<int>(ymd.year());
  out.month = static_cast<int>(static_cast<unsigned>(ymd.month()));
  out.day = static_cast<int>(static_cast<unsigned>(ymd.day()));
  out.hour = static_cast<int>(clock / 3600);
  out.min = static_cast<int>(clock / 60 % 60);
  out.sec = static_cast<double>(clock % 60);
  return out;
}

/// Days since the epoch of spreadsheets, as formulas give times.
double serial_of(model::Instant when) {
  constexpr double unix_epoch = 25569;  // 1970-01-01 counted from 1899-12-30
  return unix_epoch + model::in_days(when.time_since_epoch());
}

/// Writes the sheets of one workbook and counts the cells it has written.
class Saver {
 public:
  Saver(const write::Workbook& book, lxw_workbook* file)
      : book_(book),
        file_(file),
        title_(workbook_add_format(file)),
        head_(workbook_add_format(file)),
        right_head_(workbook_add_format(file)),
        text_(workbook_add_format(file)),
        note_(workbook_add_format(file)),
        right_(workbook_add_format(file)),
        time_(workbook_add_format(file)),
        state_(workbook_add_format(file)),
        warning_(workbook_add_format(file)) {
    format_set_bold(title_);
    format_set_font_size(title_, 14);
    for (lxw_format* format : {head_, right_head_}) {
      format_set_bold(format);
      format_set_text_wrap(format);
      format_set_bottom(format, LXW_BORDER_THIN);
    }
    for (lxw_format* format : {text_, right_}) {
      format_set_text_wrap(format);
      format_set_align(format, LXW_ALIGN_VERTICAL_TOP);
    }
    for (lxw_format* format : {right_head_, right_}) format_set_align(format, LXW_ALIGN_RIGHT);
    for (lxw_format* format : {head_, text_, note_, time_}) format_set_indent(format, 1);
    format_set_num_format(time_, "yyyy-mm-dd hh:mm");
    format_set_align(time_, LXW_ALIGN_LEFT);
    for (lxw_format* format : {time_, note_}) format_set_align(format, LXW_ALIGN_VERTICAL_TOP);
    format_set_bold(state_);
    format_set_bold(warning_);
    format_set_font_color(warning_, LXW_COLOR_WHITE);
    format_set_bg_color(warning_, warning_colour);
  }

  CellCount run() {
    for (const auto& sheet : book_.sheets) save(sheet);
    return cells_;
  }

 private:
  static constexpr lxw_row_t state_row = 1;
  static constexpr lxw_row_t caution_row = 2;
  static constexpr lxw_row_t head_row = 3;
  static_assert(head_row + 2 == write::Sheet::first_row);  // formulas count from 1
  static constexpr double line_height = 15;                // points
  static constexpr lxw_row_t chart_rows = 26;              // that a chart covers
  static constexpr lxw_color_t warning_colour = 0xB00000;
  static constexpr lxw_color_t input_colour = 0xFFF2CC;

  void text(lxw_worksheet* sheet, lxw_row_t row, lxw_col_t column, const std::string& value, lxw_format* format) {
    if (value.empty()) return;
    check(worksheet_write_string(sheet, row, column, cell_text(value).c_str(), format), "text");
    ++cells_.values;
  }

  lxw_format* number_format(int decimals, const std::string& unit, bool is_input = false) {
    auto& format = numbers_[{decimals, unit, is_input}];
    if (format == nullptr) {
      format = workbook_add_format(file_);
      std::string code = "0";
      if (decimals > 0) code += "." + std::string(static_cast<std::size_t>(decimals), '0');
      if (!unit.empty()) code += "\" " + unit + "\"";
      format_set_num_format(format, code.c_str());
      format_set_align(format, LXW_ALIGN_VERTICAL_TOP);
      format_set_align(format, LXW_ALIGN_RIGHT);
      if (is_input) {
        format_set_bg_color(format, input_colour);
        format_set_border(format, LXW_BORDER_THIN);
        format_set_unlocked(format);
      }
    }
    return format;
  }

  void define(const std::string& name, const std::string& sheet, lxw_row_t row, lxw_col_t column) {
    if (name.empty()) return;
    // The library writes down whatever it is given.
    constexpr std::string_view plain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_";
    if (name.find_first_not_of(plain) != std::string::npos || (name[0] >= '0' && name[0] <= '9'))
      refuse("a cell can't be named " + name);
    std::array<char, LXW_MAX_CELL_NAME_LENGTH> cell{};
    lxw_rowcol_to_cell_abs(cell.data(), row, column, 1, 1);
    check(workbook_define_name(file_, name.c_str(), ("=" + sheet + "!" + cell.data()).c_str()), "name");
  }

  void put(lxw_worksheet* sheet, lxw_row_t row, lxw_col_t column, const write::SheetFormula& cell, bool is_number) {
    const std::string formula = "=" + cell.formula;
    if (const auto* words = std::get_if<std::string>(&cell.result)) {
      check(worksheet_write_formula_str(sheet, row, column, formula.c_str(), is_number ? right_ : text_,
                                        cell_text(*words).c_str()),
            "formula");
    } else {
      const auto* when = std::get_if<model::Instant>(&cell.result);
      const double value = when != nullptr ? serial_of(*when) : std::get<double>(cell.result);
      if (!std::isfinite(value)) refuse("a number is not finite");
      check(worksheet_write_formula_num(sheet, row, column, formula.c_str(),
                                        when != nullptr ? time_ : number_format(cell.decimals, {}), value),
            "formula");
    }
    ++cells_.values;
    ++cells_.formulas;
  }

  void put(lxw_worksheet* sheet, lxw_row_t row, lxw_col_t column, const write::SheetInput& cell) {
    constexpr int factor_decimals = 2;
    const bool is_decimal = cell.kind == write::SheetInput::Kind::decimal;
    lxw_format* format = number_format(is_decimal ? factor_decimals : 0, {}, true);
    if (const auto* words = std::get_if<std::string>(&cell.value)) {
      text(sheet, row, column, *words, format);
    } else if (const auto* value = std::get_if<double>(&cell.value)) {
      check(worksheet_write_number(sheet, row, column, *value, format), "number");
      ++cells_.values;
    } else {
      check(worksheet_write_blank(sheet, row, column, format), "blank");
    }
    lxw_data_validation rule{};
    if (cell.kind == write::SheetInput::Kind::yes_or_no) {
      rule.validate = LXW_VALIDATION_TYPE_LIST;
      std::string yes = "yes";
      std::string no = "no";
      // Whether the library takes pointers to constant text differs between its versions.
      std::array<std::remove_pointer_t<decltype(rule.value_list)>, 3> words{yes.data(), no.data(), nullptr};
      rule.value_list = words.data();
      rule.ignore_blank = LXW_VALIDATION_OFF;
      return check(worksheet_data_validation_cell(sheet, row, column, &rule), "validation");
    }
    rule.validate = is_decimal ? LXW_VALIDATION_TYPE_DECIMAL : LXW_VALIDATION_TYPE_INTEGER;
    rule.criteria = LXW_VALIDATION_CRITERIA_BETWEEN;
    rule.minimum_number = cell.least;
    rule.maximum_number = cell.most;
    rule.ignore_blank = LXW_VALIDATION_ON;
    check(worksheet_data_validation_cell(sheet, row, column, &rule), "validation");
  }

  void cell(lxw_worksheet* sheet, const std::string& sheet_name, lxw_row_t row, lxw_col_t column,
            const write::SheetCell& value, bool is_number) {
    if (const auto* words = std::get_if<std::string>(&value)) {
      text(sheet, row, column, *words, is_number ? right_ : text_);
    } else if (const auto* heading = std::get_if<write::SheetHeading>(&value)) {
      text(sheet, row, column, heading->text, is_number ? right_head_ : head_);
    } else if (const auto* note = std::get_if<write::SheetNote>(&value)) {
      text(sheet, row, column, note->text, note_);
    } else if (const auto* formula = std::get_if<write::SheetFormula>(&value)) {
      put(sheet, row, column, *formula, is_number);
      define(formula->name, sheet_name, row, column);
    } else if (const auto* input = std::get_if<write::SheetInput>(&value)) {
      put(sheet, row, column, *input);
      define(input->name, sheet_name, row, column);
    } else if (const auto* number = std::get_if<write::SheetNumber>(&value)) {
      if (!std::isfinite(number->value)) refuse("a number is not finite");
      check(worksheet_write_number(sheet, row, column, number->value, number_format(number->decimals, number->unit)),
            "number");
      ++cells_.values;
    } else {
      lxw_datetime when = to_datetime(std::get<model::Instant>(value));
      check(worksheet_write_datetime(sheet, row, column, &when, time_), "time");
      ++cells_.values;
    }
  }

  /// On each sheet, and so on each printed page: whether what is shown is of record.
  void say_state(lxw_worksheet* out) {
    if (!book_.is_live) return;
    check(worksheet_write_formula_str(out, state_row, 0, "=what_if", state_, write::of_record), "formula");
    ++cells_.values;
    ++cells_.formulas;
    std::string rule = "=LEFT($A$2,7)=\"WHAT-IF\"";
    lxw_conditional_format changed{};
    changed.type = LXW_CONDITIONAL_TYPE_FORMULA;
    changed.value_string = rule.data();
    changed.format = warning_;
    constexpr lxw_col_t last = 4;
    check(worksheet_conditional_format_range(out, state_row, 0, state_row, last, &changed), "conditional format");
  }

  void draw(lxw_worksheet* out, const write::SheetChart& chart) {
    lxw_chart* drawn =
        workbook_add_chart(file_, chart.is_line ? LXW_CHART_SCATTER_STRAIGHT_WITH_MARKERS : LXW_CHART_BAR);
    if (drawn == nullptr) refuse("a chart can't be added");
    // Told apart by the colour-blind as well: M. Okabe and K. Ito, Color Universal Design (2008), from memory.
    constexpr std::array<lxw_color_t, 3> colours{0x0072B2, 0xE69F00, 0x009E73};
    std::size_t next = 0;
    for (const auto& series : chart.series) {
      lxw_chart_series* added = chart_add_series(drawn, series.categories.c_str(), series.values.c_str());
      if (added == nullptr) refuse("a chart's series can't be added");
      chart_series_set_name(added, series.name.c_str());
      lxw_chart_fill fill{};
      lxw_chart_line line{};
      fill.color = line.color = colours[next++ % colours.size()];
      constexpr float line_width = 1.75F;
      line.width = line_width;
      if (!chart.is_line) chart_series_set_fill(added, &fill);
      if (chart.is_line) chart_series_set_line(added, &line);
    }
    chart_title_set_name(drawn, chart.title.c_str());
    lxw_chart_axis* values = chart.is_line ? drawn->y_axis : drawn->x_axis;
    chart_axis_set_name(values, chart.value_axis.c_str());
    if (chart.is_line) chart_axis_set_num_format(drawn->x_axis, "dd.mm. hh:mm");
    constexpr double wide = 1.7;
    lxw_chart_options options{};
    options.x_scale = wide;
    options.y_scale = wide;
    check(worksheet_insert_chart_opt(out, head_row + 1 + static_cast<lxw_row_t>(chart.row),
                                     static_cast<lxw_col_t>(chart.column), drawn, &options),
          "chart");
  }

  /// Pages that can be read: as wide as the caution, and on more than one beside each other where one is too narrow.
  void set_up_print(lxw_worksheet* out, const write::Sheet& sheet, lxw_row_t last_row) {
    constexpr double caution_width = 80;  // in characters
    constexpr double page_width = 260;    // in characters that can still be read
    constexpr double other_width = 8.43;  // of a column that nothing was said of
    double width = 0;
    for (const auto& column : sheet.columns) width += static_cast<double>(column.width);
    auto last_column = static_cast<lxw_col_t>(std::max<std::size_t>(sheet.columns.size(), 1) - 1);
    for (; width < caution_width; width += other_width) ++last_column;
    for (const auto& chart : sheet.charts)
      last_row = std::max(last_row, head_row + 1 + static_cast<lxw_row_t>(chart.row) + chart_rows);
    worksheet_set_landscape(out);
    worksheet_set_paper(out, 9);  // A4
    const auto pages = static_cast<std::uint16_t>(std::max(1.0, std::ceil(width / page_width)));
    worksheet_fit_to_pages(out, pages, 0);
    check(worksheet_repeat_rows(out, 0, head_row), "repeated rows");
    if (pages > 1) check(worksheet_repeat_columns(out, 0, 0), "repeated column");
    check(worksheet_print_area(out, 0, 0, last_row, last_column), "print area");
  }

  void save(const write::Sheet& sheet) {
    constexpr std::size_t longest_name = 31;
    if (sheet.name.empty() || sheet.name.size() > longest_name) refuse("a sheet's name is empty or too long");
    lxw_worksheet* out = workbook_add_worksheet(file_, sheet.name.c_str());
    if (out == nullptr) refuse("the sheet " + sheet.name + " can't be added");
    check(worksheet_set_row(out, 0, 1.5 * line_height, nullptr), "height");
    text(out, 0, 0, sheet.title + ". " + book_.title, title_);
    say_state(out);
    text(out, caution_row, 0, book_.caution, nullptr);
    std::vector<write::SheetCell> heads;
    for (std::size_t c = 0; c < sheet.columns.size(); ++c) {
      const auto column = static_cast<lxw_col_t>(c);
      const auto& [header, width, is_number] = sheet.columns[c];
      check(worksheet_set_column(out, column, column, static_cast<double>(width), nullptr), "width");
      text(out, head_row, column, header, is_number ? right_head_ : head_);
      heads.emplace_back(header);
    }
    check(worksheet_set_row(out, head_row, line_height * static_cast<double>(sheet.lines_of(heads)), nullptr),
          "height");
    lxw_row_t row = head_row + 1;
    for (const auto& cells : sheet.rows) {
      for (std::size_t c = 0; c < cells.size(); ++c)
        cell(out, sheet.name, row, static_cast<lxw_col_t>(c), cells[c],
             c < sheet.columns.size() && sheet.columns[c].is_number);
      // Not every program makes a row as high as its wrapped text by itself.
      check(worksheet_set_row(out, row, line_height * static_cast<double>(sheet.lines_of(cells)), nullptr), "height");
      ++row;
    }
    if (sheet.rows.empty()) text(out, row++, 0, "none", text_);
    for (const auto& chart : sheet.charts) draw(out, chart);
    worksheet_freeze_panes(out, head_row + 1, 0);
    set_up_print(out, sheet, std::max(row, head_row + 2) - 1);
    check(worksheet_set_footer(out, ("&L" + book_.caution + "&R&P of &N").c_str()), "footer");
  }

  const write::Workbook& book_;
  lxw_workbook* file_;
  lxw_format* title_;
  lxw_format* head_;
  lxw_format* right_head_;
  lxw_format* text_;
  lxw_format* note_;
  lxw_format* right_;
  lxw_format* time_;
  lxw_format* state_;
  lxw_format* warning_;
  std::map<std::tuple<int, std::string, bool>, lxw_format*> numbers_;  ///< by decimals, unit, and whether an input
  CellCount cells_;
};

/// Counts cells with a value or an inline text, and formulas, while a part is parsed.
void on_element(void* count, const XML_Char* name, const XML_Char** attributes) {
  static_cast<void>(attributes);
  const std::string_view element(name);
  auto& cells = *static_cast<CellCount*>(count);
  if (element == "v" || element == "is") ++cells.values;
  if (element == "f") ++cells.formulas;
}

std::string read_part(zip_t* archive, zip_uint64_t index, const std::string& name) {
  zip_stat_t info;
  zip_stat_init(&info);
  if (zip_stat_index(archive, index, 0, &info) != 0) refuse("part " + name + " is not in the index");
  const std::unique_ptr<zip_file_t, decltype(&zip_fclose)> part(zip_fopen_index(archive, index, 0), &zip_fclose);
  if (part == nullptr) refuse("part " + name + " can't be opened");
  std::string bytes(info.size, '\0');
  // One byte more than there is, so that the library gets to the end and checks the checksum.
  bytes.resize(info.size + 1);
  std::size_t have = 0;
  while (true) {
    const zip_int64_t got = zip_fread(part.get(), bytes.data() + have, bytes.size() - have);
    if (got < 0) refuse("part " + name + " does not read back");
    if (got == 0) break;
    have += static_cast<std::size_t>(got);
  }
  if (have != info.size) refuse("part " + name + " reads back in another size");
  bytes.resize(have);
  return bytes;
}

}  // namespace

CellCount count_cells(const std::filesystem::path& path) {
  int error = 0;
  const std::unique_ptr<zip_t, decltype(&zip_discard)> archive(
      zip_open(path.c_str(), ZIP_RDONLY | ZIP_CHECKCONS, &error), &zip_discard);
  if (archive == nullptr) refuse("it does not read back as an archive");
  CellCount cells;
  const auto parts = static_cast<zip_uint64_t>(zip_get_num_entries(archive.get(), 0));
  for (zip_uint64_t i = 0; i < parts; ++i) {
    const std::string name = zip_get_name(archive.get(), i, 0);
    const std::string bytes = read_part(archive.get(), i, name);
    CellCount found;
    const std::unique_ptr<XML_ParserStruct, decltype(&XML_ParserFree)> parser(XML_ParserCreate(nullptr),
                                                                              &XML_ParserFree);
    XML_SetUserData(parser.get(), &found);
    XML_SetElementHandler(parser.get(), on_element, nullptr);
    if (XML_Parse(parser.get(), bytes.data(), static_cast<int>(bytes.size()), XML_TRUE) != XML_STATUS_OK) {
      refuse("part " + name + " is not well-formed");
    }
    if (!name.starts_with("xl/worksheets/")) continue;
    cells.values += found.values;
    cells.formulas += found.formulas;
  }
  return cells;
}

void save_workbook(const write::Workbook& book, const std::filesystem::path& path) {
  std::string folder = path.parent_path().string();
  lxw_workbook_options options{};
  options.tmpdir = folder.data();
  lxw_workbook* file = workbook_new_opt(path.c_str(), &options);
  if (file == nullptr) refuse("no memory");
  lxw_doc_properties properties{};
  std::string title = book.title;
  properties.title = title.data();
  properties.created =
      static_cast<time_t>(std::chrono::floor<std::chrono::seconds>(book.created).time_since_epoch().count());
  CellCount written;
  try {
    check(workbook_set_properties(file, &properties), "properties");
    written = Saver(book, file).run();
  } catch (...) {
    lxw_workbook_free(file);
    throw;
  }
  check(workbook_close(file), "close");
  if (const CellCount found = count_cells(path); found != written) {
    refuse(fmt::format("{} cells and {} formulas were written, but {} and {} read back", written.values,
                       written.formulas, found.values, found.formulas));
  }
}

}  // namespace daywright::cli
