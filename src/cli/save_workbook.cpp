#include "cli/save_workbook.h"

#include <cmath>
#include <map>
#include <memory>
#include <stdexcept>
#include <string>

#include <expat.h>
#include <fmt/format.h>
#include <xlsxwriter.h>
#include <zip.h>

#include "model/printable.h"

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
        right_(workbook_add_format(file)),
        time_(workbook_add_format(file)) {
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
    for (lxw_format* format : {head_, text_, time_}) format_set_indent(format, 1);
    format_set_num_format(time_, "yyyy-mm-dd hh:mm");
    format_set_align(time_, LXW_ALIGN_LEFT);
    format_set_align(time_, LXW_ALIGN_VERTICAL_TOP);
  }

  std::size_t run() {
    for (const auto& sheet : book_.sheets) save(sheet);
    return cells_;
  }

 private:
  static constexpr lxw_row_t head_row = 2;
  static constexpr double line_height = 15;  // points

  void text(lxw_worksheet* sheet, lxw_row_t row, lxw_col_t column, const std::string& value, lxw_format* format) {
    if (value.empty()) return;
    check(worksheet_write_string(sheet, row, column, cell_text(value).c_str(), format), "text");
    ++cells_;
  }

  lxw_format* number_format(const write::SheetNumber& number) {
    auto& format = numbers_[{number.decimals, number.unit}];
    if (format == nullptr) {
      format = workbook_add_format(file_);
      std::string code = "0";
      if (number.decimals > 0) code += "." + std::string(static_cast<std::size_t>(number.decimals), '0');
      if (!number.unit.empty()) code += "\" " + number.unit + "\"";
      format_set_num_format(format, code.c_str());
      format_set_align(format, LXW_ALIGN_VERTICAL_TOP);
    }
    return format;
  }

  void cell(lxw_worksheet* sheet, lxw_row_t row, lxw_col_t column, const write::SheetCell& value, bool is_number) {
    if (const auto* words = std::get_if<std::string>(&value))
      return text(sheet, row, column, *words, is_number ? right_ : text_);
    if (const auto* number = std::get_if<write::SheetNumber>(&value)) {
      if (!std::isfinite(number->value)) refuse("a number is not finite");
      check(worksheet_write_number(sheet, row, column, number->value, number_format(*number)), "number");
    } else {
      lxw_datetime when = to_datetime(std::get<model::Instant>(value));
      check(worksheet_write_datetime(sheet, row, column, &when, time_), "time");
    }
    ++cells_;
  }

  void save(const write::Sheet& sheet) {
    constexpr std::size_t longest_name = 31;
    if (sheet.name.empty() || sheet.name.size() > longest_name) refuse("a sheet's name is empty or too long");
    lxw_worksheet* out = workbook_add_worksheet(file_, sheet.name.c_str());
    if (out == nullptr) refuse("the sheet " + sheet.name + " can't be added");
    check(worksheet_set_row(out, 0, 1.5 * line_height, nullptr), "height");
    text(out, 0, 0, sheet.title + ". " + book_.title, title_);
    text(out, 1, 0, book_.caution, nullptr);
    for (std::size_t c = 0; c < sheet.columns.size(); ++c) {
      const auto column = static_cast<lxw_col_t>(c);
      check(worksheet_set_column(out, column, column, static_cast<double>(sheet.columns[c].width), nullptr), "width");
      text(out, head_row, column, sheet.columns[c].header, sheet.columns[c].is_number ? right_head_ : head_);
    }
    lxw_row_t row = head_row + 1;
    for (const auto& cells : sheet.rows) {
      for (std::size_t c = 0; c < cells.size(); ++c)
        cell(out, row, static_cast<lxw_col_t>(c), cells[c], sheet.columns[c].is_number);
      // Not every program makes a row as high as its wrapped text by itself.
      check(worksheet_set_row(out, row, line_height * static_cast<double>(sheet.lines_of(cells)), nullptr), "height");
      ++row;
    }
    if (sheet.rows.empty()) text(out, row, 0, "none", text_);
    worksheet_freeze_panes(out, head_row + 1, 0);
    worksheet_set_landscape(out);
    worksheet_set_paper(out, 9);  // A4
    worksheet_fit_to_pages(out, 1, 0);
    check(worksheet_repeat_rows(out, head_row, head_row), "repeated row");
    check(worksheet_set_footer(out, ("&L" + book_.caution + "&R&P of &N").c_str()), "footer");
  }

  const write::Workbook& book_;
  lxw_workbook* file_;
  lxw_format* title_;
  lxw_format* head_;
  lxw_format* right_head_;
  lxw_format* text_;
  lxw_format* right_;
  lxw_format* time_;
  std::map<std::pair<int, std::string>, lxw_format*> numbers_;  ///< by decimals and unit
  std::size_t cells_ = 0;
};

/// Counts cells with a value or an inline text while a part is parsed.
void on_element(void* count, const XML_Char* name, const XML_Char** attributes) {
  static_cast<void>(attributes);
  const std::string_view element(name);
  if (element == "v" || element == "is") ++*static_cast<std::size_t*>(count);
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

std::size_t count_cells(const std::filesystem::path& path) {
  int error = 0;
  const std::unique_ptr<zip_t, decltype(&zip_discard)> archive(
      zip_open(path.c_str(), ZIP_RDONLY | ZIP_CHECKCONS, &error), &zip_discard);
  if (archive == nullptr) refuse("it does not read back as an archive");
  std::size_t cells = 0;
  const auto parts = static_cast<zip_uint64_t>(zip_get_num_entries(archive.get(), 0));
  for (zip_uint64_t i = 0; i < parts; ++i) {
    const std::string name = zip_get_name(archive.get(), i, 0);
    const std::string bytes = read_part(archive.get(), i, name);
    std::size_t found = 0;
    const std::unique_ptr<XML_ParserStruct, decltype(&XML_ParserFree)> parser(XML_ParserCreate(nullptr),
                                                                              &XML_ParserFree);
    XML_SetUserData(parser.get(), &found);
    XML_SetElementHandler(parser.get(), on_element, nullptr);
    if (XML_Parse(parser.get(), bytes.data(), static_cast<int>(bytes.size()), XML_TRUE) != XML_STATUS_OK) {
      refuse("part " + name + " is not well-formed");
    }
    if (name.starts_with("xl/worksheets/")) cells += found;
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
  std::size_t written = 0;
  try {
    check(workbook_set_properties(file, &properties), "properties");
    written = Saver(book, file).run();
  } catch (...) {
    lxw_workbook_free(file);
    throw;
  }
  check(workbook_close(file), "close");
  if (const std::size_t found = count_cells(path); found != written) {
    refuse(fmt::format("{} cells were written, but {} read back", written, found));
  }
}

}  // namespace daywright::cli
