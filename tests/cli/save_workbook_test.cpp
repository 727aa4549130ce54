#include "cli/save_workbook.h"

#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include <expat.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <unistd.h>
#include <zip.h>

#include "catch_compat.h"
#include "file_size_limit.h"
#include "temporary_folder.h"

using Catch::Matchers::ContainsSubstring;
using daywright::cli::CellCount;
using daywright::cli::count_cells;
using daywright::cli::save_workbook;
using daywright::model::Instant;
using daywright::test::bytes_of;
using daywright::test::FileSizeLimit;
using daywright::test::names_in;
using daywright::test::put;
using daywright::test::TemporaryFolder;
using daywright::write::Sheet;
using daywright::write::SheetCell;
using daywright::write::SheetFormula;
using daywright::write::SheetHeading;
using daywright::write::SheetInput;
using daywright::write::SheetNote;
using daywright::write::SheetNumber;
using daywright::write::Workbook;
namespace fs = std::filesystem;
using namespace std::chrono_literals;
using namespace std::string_literals;

namespace {

/// 2031-05-13T16:20:30Z, made up.
const Instant cutoff = std::chrono::sys_days{std::chrono::year{2031} / 5 / 13} + 16h + 20min + 30s;

SheetNumber make_number(double value, int decimals) {
  SheetNumber number;
  number.value = value;
  number.decimals = decimals;
  return number;
}

/// A workbook with one sheet of one row.
Workbook make_book(const std::vector<SheetCell>& row, std::string sheet_name = "Readiness") {
  Sheet sheet{std::move(sheet_name), "Readiness by gate", {}, {row}};
  sheet.columns.resize(row.size());
  for (auto& column : sheet.columns) column.header = "Column";
  return {"Tern 4, invented", "Decision support only.", cutoff, {std::move(sheet)}, false};
}

/// A workbook large enough for several blocks of a disk.
Workbook make_large_book() {
  Workbook book = make_book({std::string("x"), make_number(1, 0), cutoff});
  for (int sheet = 0; sheet < 3; ++sheet) {
    if (sheet > 0) book.sheets.push_back(book.sheets.front());
    book.sheets.back().name = "Sheet " + std::to_string(sheet);
    for (int row = 0; row < 100; ++row) {
      book.sheets.back().rows.push_back(
          {"text " + std::to_string(row * 7919 % 10007), make_number(row * 0.37, 2), cutoff + std::chrono::hours{row}});
    }
  }
  return book;
}

/// Every part of the archive by name, read without the product's own reader.
std::map<std::string, std::string> parts_of(const fs::path& path) {
  int error = 0;
  const std::unique_ptr<zip_t, decltype(&zip_discard)> archive(zip_open(path.c_str(), ZIP_RDONLY, &error),
                                                               &zip_discard);
  REQUIRE(archive != nullptr);
  std::map<std::string, std::string> parts;
  for (zip_int64_t i = 0; i < zip_get_num_entries(archive.get(), 0); ++i) {
    zip_stat_t info;
    REQUIRE(zip_stat_index(archive.get(), static_cast<zip_uint64_t>(i), 0, &info) == 0);
    std::string bytes(info.size, '\0');
    zip_file_t* part = zip_fopen_index(archive.get(), static_cast<zip_uint64_t>(i), 0);
    REQUIRE(zip_fread(part, bytes.data(), bytes.size()) == static_cast<zip_int64_t>(info.size));
    zip_fclose(part);
    parts[info.name] = std::move(bytes);
  }
  return parts;
}

/// What stands in one element of a sheet or of the table of texts.
struct Element {
  std::string name;
  std::map<std::string, std::string> attributes;
  std::string text;
};

/// The elements of a part in the order in which they end. Fails the test where the part is not well-formed.
std::vector<Element> elements_of(const std::string& xml) {
  struct State {
    std::vector<Element> open;
    std::vector<Element> all;
  } state;
  const std::unique_ptr<XML_ParserStruct, decltype(&XML_ParserFree)> parser(XML_ParserCreate(nullptr), &XML_ParserFree);
  XML_SetUserData(parser.get(), &state);
  XML_SetElementHandler(
      parser.get(),
      [](void* data, const XML_Char* name, const XML_Char** attributes) {
        Element element{name, {}, {}};
        for (; *attributes != nullptr; attributes += 2) element.attributes[attributes[0]] = attributes[1];
        static_cast<State*>(data)->open.push_back(std::move(element));
      },
      [](void* data, const XML_Char* /*name*/) {
        auto* s = static_cast<State*>(data);
        s->all.push_back(std::move(s->open.back()));
        s->open.pop_back();
      });
  XML_SetCharacterDataHandler(parser.get(), [](void* data, const XML_Char* text, int length) {
    static_cast<State*>(data)->open.back().text.append(text, static_cast<std::size_t>(length));
  });
  REQUIRE(XML_Parse(parser.get(), xml.data(), static_cast<int>(xml.size()), XML_TRUE) == XML_STATUS_OK);
  return state.all;
}

/// "_x0041_" in a part stands for the character with that code (ECMA-376, part 1, 22.9.2.19); only ASCII is needed.
std::string without_codes(const std::string& text) {
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool is_code = text.size() - i >= 7 && text[i] == '_' && text[i + 1] == 'x' && text[i + 6] == '_' &&
                         text.find_first_not_of("0123456789abcdefABCDEF", i + 2) == i + 6;
    if (is_code) {
      plain += static_cast<char>(std::stoi(text.substr(i + 2, 4), nullptr, 16));
      i += 6;
    } else {
      plain += text[i];
    }
  }
  return plain;
}

/// The cells of row 5, the first below the headers, as elements 'c' whose text is the value or the shared text.
std::vector<Element> first_row_of(const fs::path& path, bool may_have_formulas = false) {
  const auto parts = parts_of(path);
  std::vector<std::string> texts;
  std::string runs;
  for (const auto& element : elements_of(parts.at("xl/sharedStrings.xml"))) {
    if (element.name == "t") runs += element.text;
    if (element.name == "si") texts.push_back(without_codes(std::exchange(runs, {})));
  }
  std::vector<Element> cells;
  std::string value;
  for (const auto& element : elements_of(parts.at("xl/worksheets/sheet1.xml"))) {
    if (!may_have_formulas) CHECK(element.name != "f");  // nothing that is saved is a formula
    if (element.name == "v") value = element.text;
    if (element.name != "c" || !element.attributes.at("r").ends_with('5')) continue;
    cells.push_back(element);
    const bool is_text = element.attributes.contains("t") && element.attributes.at("t") == "s";
    cells.back().text = is_text ? texts.at(std::stoul(value)) : value;
  }
  return cells;
}

/// The first cell of a book saved and read back.
Element saved(const SheetCell& cell) {
  const TemporaryFolder work;
  save_workbook(make_book({cell}), work.path() / "brief.xlsx");
  const auto cells = first_row_of(work.path() / "brief.xlsx", std::holds_alternative<SheetFormula>(cell));
  REQUIRE(cells.size() == 1);
  return cells.front();
}

bool is_refused(const Workbook& book) {
  const TemporaryFolder work;
  try {
    save_workbook(book, work.path() / "brief.xlsx");
  } catch (const std::runtime_error& error) {
    CHECK_THAT(error.what(), ContainsSubstring("cannot write the workbook: "));
    return true;
  }
  return false;
}

bool is_whole(const fs::path& path, std::size_t cells) {
  try {
    return count_cells(path).values == cells;
  } catch (const std::runtime_error&) {
    return false;
  }
}

/// How saving on a disk without enough room ended.
enum class Outcome { refused, whole, silently_broken };

/// Saves the large book to `path`, with `make_room` called before it is looked at.
template <class MakeRoom>
Outcome save_large(const fs::path& path, std::size_t cells, const MakeRoom& make_room) {
  bool is_saved = true;
  try {
    save_workbook(make_large_book(), path);
  } catch (const std::runtime_error&) {
    is_saved = false;
  }
  make_room();
  return !is_saved ? Outcome::refused : is_whole(path, cells) ? Outcome::whole : Outcome::silently_broken;
}

}  // namespace

TEST_CASE("every part of a saved workbook is well-formed, and none is missing") {
  const TemporaryFolder work;
  const fs::path path = work.path() / "brief.xlsx";
  Workbook book = make_book({"a & b < c > d \"e\" 'f' ]]> 漢字 🙂"s, make_number(12.5, 1), cutoff});
  book.sheets.push_back(make_book({std::string("x")}, "Criteria").sheets.front());
  book.title = "Tern & <4>";
  save_workbook(book, path);
  const auto parts = parts_of(path);
  for (const auto& [name, bytes] : parts) {
    CAPTURE(name);
    CHECK_FALSE(elements_of(bytes).empty());
  }
  for (const char* name :
       {"[Content_Types].xml", "_rels/.rels", "docProps/core.xml", "xl/workbook.xml", "xl/styles.xml",
        "xl/sharedStrings.xml", "xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"}) {
    CAPTURE(name);
    CHECK(parts.contains(name));
  }
  CHECK(names_in(work.path()) == std::vector<std::string>{"brief.xlsx"});
}

TEST_CASE("text that looks like a formula, a number or a link is saved as text") {
  for (const char* text : {"=1+1", "=HYPERLINK(\"x\")", "+1", "-1", "@SUM(A1)", "{=A1}", "12.5", "TRUE", "#REF!",
                           "http://example.invalid/"}) {
    CAPTURE(text);
    const Element cell = saved(std::string(text));
    CHECK(cell.attributes.at("t") == "s");
    CHECK(cell.text == text);
  }
}

TEST_CASE("text that looks like a code for a character reads back as it was") {
  for (const char* text : {"_x0041_", "_x005F_", "_x005F_x0041_", "__x0041__", "_x0041_x0042_", "_x0041_x0042_x0043_",
                           "_xZZZZ_", "_x004_", "_x0041", "_X0041_", "_x00e9_", "_x0041", "_"}) {
    CAPTURE(text);
    CHECK(saved(std::string(text)).text == text);
  }
}

TEST_CASE("blanks around a text and line breaks in it are kept") {
  for (const char* text : {" x", "x  ", "  ", "a\nb"}) {
    CAPTURE(text);
    CHECK(saved(std::string(text)).text == text);
  }
}

TEST_CASE("a control character in a text does not break the part it stands in") {
  CHECK(saved("a\x01\x07\x1b[31m\x1f z"s).text == "a\x01\x07\x1b[31m\x1f z");
}

TEST_CASE("a number is a number to the last digit that a cell holds, and a time is a serial number of days") {
  for (const double value : {0.0, -0.1, 12.5, 1e-6, 123456789.25, 1.0 / 3}) {
    const Element cell = saved(make_number(value, 3));
    CHECK_FALSE(cell.attributes.contains("t"));
    CHECK(std::stod(cell.text) == Approx(value).epsilon(1e-15));
  }
  // Day 0 of a workbook is 1899-12-30.
  const Instant day_zero = std::chrono::sys_days{std::chrono::year{1899} / 12 / 30};
  const double wanted = std::chrono::duration<double, std::ratio<86400>>(cutoff - day_zero).count();
  for (const auto fraction : {0us, 1us, 999'999us}) {
    const Element cell = saved(cutoff + fraction);
    CHECK_FALSE(cell.attributes.contains("t"));
    CHECK(std::abs(std::stod(cell.text) - wanted) < 0.01 / 86400);
  }
}

TEST_CASE("a text of 32,000 bytes is saved whole, a longer one is cut between characters and says so") {
  CHECK(saved(std::string(32'000, 'x')).text == std::string(32'000, 'x'));
  CHECK(saved(std::string(32'001, 'x')).text == std::string(32'000, 'x') + " (cut)");
  CHECK(saved(std::string(40'000, 'x')).text == std::string(32'000, 'x') + " (cut)");
  std::string wide;
  for (int i = 0; i < 40'000; ++i) wide += "漢";
  CHECK(saved(wide).text == wide.substr(0, 31'998) + " (cut)");
}

TEST_CASE("a number that is not finite is refused") {
  for (const double value : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(),
                             -std::numeric_limits<double>::infinity()}) {
    CHECK(is_refused(make_book({make_number(value, 1)})));
  }
  CHECK_FALSE(is_refused(make_book({make_number(std::numeric_limits<double>::max(), 1)})));
  CHECK_FALSE(is_refused(make_book({make_number(std::numeric_limits<double>::lowest(), 1)})));
}

TEST_CASE("a workbook that is refused before it is written leaves no file") {
  const TemporaryFolder work;
  CHECK_THROWS_AS(save_workbook(make_book({make_number(std::nan(""), 1)}), work.path() / "brief.xlsx"),
                  std::runtime_error);
  CHECK_THROWS_AS(save_workbook(make_book({std::string("x")}, "a/b"), work.path() / "brief.xlsx"), std::runtime_error);
  CHECK(names_in(work.path()).empty());
}

TEST_CASE("the name of a sheet has 1 to 31 characters") {
  CHECK_FALSE(is_refused(make_book({std::string("x")}, std::string(31, 'n'))));
  CHECK(is_refused(make_book({std::string("x")}, std::string(32, 'n'))));
  CHECK(is_refused(make_book({std::string("x")}, "")));
}

TEST_CASE("a sheet's name with a character that none can have, or that comes twice, is refused") {
  for (const char* name : {"a/b", "a\\b", "a[b", "a]b", "a:b", "a*b", "a?b", "'ab", "ab'"}) {
    CAPTURE(name);
    CHECK(is_refused(make_book({std::string("x")}, name)));
  }
  Workbook book = make_book({std::string("x")}, "Counts");
  book.sheets.push_back(book.sheets.front());
  CHECK(is_refused(book));
  book.sheets.back().name = "COUNTS";
  CHECK(is_refused(book));
}

TEST_CASE("the same workbook gives the same bytes, in any folder and in any zone") {
  const char* zone = std::getenv("TZ");
  const std::optional<std::string> old_zone = zone == nullptr ? std::nullopt : std::optional<std::string>(zone);
  std::vector<std::string> saved_bytes;
  for (const char* name : {"UTC0", "EAST-14", "WEST11"}) {
    const TemporaryFolder work;
    ::setenv("TZ", name, 1);
    ::tzset();
    save_workbook(make_large_book(), work.path() / (name + ".xlsx"s));
    saved_bytes.push_back(bytes_of(work.path() / (name + ".xlsx"s)));
  }
  if (old_zone) {
    ::setenv("TZ", old_zone->c_str(), 1);
  } else {
    ::unsetenv("TZ");
  }
  ::tzset();
  CHECK(saved_bytes[0] == saved_bytes[1]);
  CHECK(saved_bytes[0] == saved_bytes[2]);
}

TEST_CASE("the workbook says that it was made at the cut-off") {
  const TemporaryFolder work;
  save_workbook(make_book({std::string("x")}), work.path() / "brief.xlsx");
  std::string created;
  for (const auto& element : elements_of(parts_of(work.path() / "brief.xlsx").at("docProps/core.xml"))) {
    if (element.name == "dcterms:created") created = element.text;
  }
  CHECK(created == "2031-05-13T16:20:30Z");
}

TEST_CASE("a sheet without rows says that there is none, below its headers") {
  const TemporaryFolder work;
  Workbook book = make_book({std::string("x")});
  book.sheets[0].rows.clear();
  save_workbook(book, work.path() / "brief.xlsx");
  const auto cells = first_row_of(work.path() / "brief.xlsx");
  REQUIRE(cells.size() == 1);
  CHECK(cells[0].text == "none");
}

TEST_CASE("the cells that are counted are those with a value") {
  const TemporaryFolder work;
  const fs::path path = work.path() / "brief.xlsx";
  save_workbook(make_book({std::string("x"), std::string(), make_number(0, 0), cutoff}), path);
  // Title, caution, four headers, and three of the four cells.
  CHECK(count_cells(path) == CellCount{9, 0});
}

TEST_CASE("formulas are counted beside the values they have") {
  const TemporaryFolder work;
  const fs::path path = work.path() / "brief.xlsx";
  Workbook book = make_book({SheetFormula{"1+1", 2.0}, SheetFormula{"\"a\"", "a"s}, SheetFormula{"A1", cutoff},
                             SheetInput{"extra_days", SheetInput::Kind::whole, 0, 10, 0.0}, SheetHeading{"head"},
                             SheetNote{"note"}});
  save_workbook(book, path);
  // Title, caution, six headers, six cells.
  CHECK(count_cells(path) == CellCount{14, 3});
  book.is_live = true;  // the name that its state goes by need not be there for the file to be whole
  save_workbook(book, path);
  CHECK(count_cells(path) == CellCount{15, 4});
}

TEST_CASE("a formula keeps the result that it was given") {
  CHECK(saved(SheetFormula{"1+1", 2.5}).text == "2.5");
  CHECK(saved(SheetFormula{"1+1", "words"s}).text == "words");
  // 2031-05-13 is day 47981 of spreadsheets (counted from 1899-12-30, worked out by hand).
  CHECK(std::stod(saved(SheetFormula{"1+1", cutoff}).text) == Approx(47981 + (16 * 60 + 20.5) / 1440));
}

TEST_CASE("a formula whose result is no number is refused, and so is a name that can't be one") {
  CHECK(is_refused(make_book({SheetFormula{"1/0", std::nan("")}})));
  CHECK(is_refused(make_book({SheetFormula{"1+1", 2.0, 0, "1 name"}})));
}

TEST_CASE("an input is empty, a number or a word, and what may be put in is checked") {
  const TemporaryFolder work;
  const fs::path path = work.path() / "brief.xlsx";
  save_workbook(make_book({SheetInput{"crew", SheetInput::Kind::whole, 0, 99, {}},
                           SheetInput{"rate", SheetInput::Kind::decimal, 0, 1000, 1.5},
                           SheetInput{"made", SheetInput::Kind::yes_or_no, 0, 0, "no"s}}),
                path);
  std::map<std::string, std::string> rules;
  std::map<std::string, std::string> names;
  for (const auto& element : elements_of(parts_of(path).at("xl/worksheets/sheet1.xml"))) {
    if (element.name == "dataValidation") rules[element.attributes.at("sqref")] = element.attributes.at("type");
  }
  for (const auto& element : elements_of(parts_of(path).at("xl/workbook.xml"))) {
    if (element.name == "definedName") names[element.attributes.at("name")] = element.text;
  }
  CHECK(rules == std::map<std::string, std::string>{{"A5", "whole"}, {"B5", "decimal"}, {"C5", "list"}});
  CHECK(names.at("crew") == "Readiness!$A$5");
  CHECK(names.at("made") == "Readiness!$C$5");
}

TEST_CASE("a workbook is refused where its folder does not exist or where a folder stands in its place") {
  const TemporaryFolder work;
  fs::create_directory(work.path() / "taken.xlsx");
  CHECK_THROWS_AS(save_workbook(make_book({std::string("x")}), work.path() / "absent" / "brief.xlsx"),
                  std::runtime_error);
  CHECK_THROWS_AS(save_workbook(make_book({std::string("x")}), work.path() / "taken.xlsx"), std::runtime_error);
  CHECK(names_in(work.path()) == std::vector<std::string>{"taken.xlsx"});
}

TEST_CASE("a text that is not UTF-8 is refused") {
  for (const auto& text : {"\xff"s, "a\xc3"s, "\xed\xa0\x80"s, "\xc0\x80"s}) CHECK(is_refused(make_book({text})));
}

TEST_CASE("a workbook cut short anywhere does not count as one") {
  const TemporaryFolder work;
  save_workbook(make_large_book(), work.path() / "whole.xlsx");
  const std::string bytes = bytes_of(work.path() / "whole.xlsx");
  for (std::size_t length = 0; length < bytes.size(); length += 101) {
    put(work.path() / "cut.xlsx", bytes.substr(0, length));
    CAPTURE(length);
    CHECK_THROWS_AS(count_cells(work.path() / "cut.xlsx"), std::runtime_error);
  }
  CHECK_THROWS_AS(count_cells(work.path() / "absent.xlsx"), std::runtime_error);
}

TEST_CASE("a workbook with a damaged byte is refused, or nothing in its cells has changed") {
  const TemporaryFolder work;
  save_workbook(make_book({std::string("x"), make_number(1.5, 1), cutoff}), work.path() / "whole.xlsx");
  const std::string bytes = bytes_of(work.path() / "whole.xlsx");
  const auto parts = parts_of(work.path() / "whole.xlsx");
  std::size_t refused = 0;
  for (std::size_t at = 0; at < bytes.size(); at += 13) {
    std::string damaged = bytes;
    damaged[at] = static_cast<char>(damaged[at] ^ 0x20);
    put(work.path() / "damaged.xlsx", damaged);
    try {
      const std::size_t found = count_cells(work.path() / "damaged.xlsx").values;
      CAPTURE(at);
      CHECK(found == 8);
      for (const auto& [name, text] : parts_of(work.path() / "damaged.xlsx")) {
        if (name.starts_with("xl/worksheets/")) CHECK(text == parts.at(name));
      }
    } catch (const std::runtime_error&) {
      ++refused;
    }
  }
  CHECK(refused > 100);
}

TEST_CASE("where files can't grow to their size, saving fails instead of leaving a workbook that lacks something") {
  const TemporaryFolder work;
  save_workbook(make_large_book(), work.path() / "whole.xlsx");
  const std::size_t cells = count_cells(work.path() / "whole.xlsx").values;
  std::map<Outcome, int> outcomes;
  for (rlim_t room = 0; room < 60'000; room += 977) {
    std::optional<FileSizeLimit> limit;
    limit.emplace(room);
    ++outcomes[save_large(work.path() / "brief.xlsx", cells, [&] { limit.reset(); })];
  }
  CHECK(outcomes[Outcome::silently_broken] == 0);
  CHECK(outcomes[Outcome::refused] > 0);
  CHECK(outcomes[Outcome::whole] > 0);
}

TEST_CASE("on a disk that is too small, saving fails instead of leaving a workbook that lacks something") {
  const TemporaryFolder work;
  save_workbook(make_large_book(), work.path() / "whole.xlsx");
  const std::size_t cells = count_cells(work.path() / "whole.xlsx").values;
  const fs::path disk = work.path() / "disk";
  fs::create_directory(disk);
  enum Exit { good, bad, cannot_mount };
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    // The mounts are the child's own and go with it.
    if (::unshare(CLONE_NEWNS) != 0 || ::mount("none", "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0)
      ::_exit(cannot_mount);
    std::map<Outcome, int> outcomes;
    for (int kilobytes = 4; kilobytes <= 160; kilobytes += 4) {
      const std::string size = "size=" + std::to_string(kilobytes) + "k";
      if (::mount("tmpfs", disk.c_str(), "tmpfs", 0, size.c_str()) != 0) ::_exit(cannot_mount);
      ++outcomes[save_large(disk / "brief.xlsx", cells, [] {})];
      ::umount(disk.c_str());
    }
    ::_exit(outcomes[Outcome::silently_broken] == 0 && outcomes[Outcome::refused] > 0 && outcomes[Outcome::whole] > 0
                ? good
                : bad);
  }
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  REQUIRE(WIFEXITED(status));
  if (WEXITSTATUS(status) == cannot_mount) return;  // an ordinary user; the test above covers what can be covered
  CHECK(WEXITSTATUS(status) == good);
}
