#include "load/row_reader.h"

#include <chrono>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "catch_compat.h"
#include "load/csv.h"
#include "model/instant.h"
#include "model/quantity.h"

using daywright::load::CsvReader;
using daywright::load::KnownNames;
using daywright::load::LogFile;
using daywright::load::RowReader;
using daywright::model::Diagnostics;
using daywright::model::find_unit;
using daywright::model::LogSource;
using daywright::model::Mission;
using daywright::model::parse_utc;
using daywright::model::Rulebook;
using daywright::model::Severity;
using daywright::model::Source;

namespace {

constexpr int this_file = 4;

/// One row of a log whose columns are when,item,quantity,unit, ready to be read.
class Row {
 public:
  explicit Row(std::string text, LogSource source = {}) : text_(std::move(text)), source_(std::move(source)) {}
  Row(const Row&) = delete;
  Row(Row&&) = delete;
  Row& operator=(const Row&) = delete;
  Row& operator=(Row&&) = delete;
  ~Row() = default;
  RowReader* operator->() { return &row_; }
  [[nodiscard]] const Diagnostics& faults() const { return faults_; }

 private:
  static Mission tern() {
    Mission mission;
    mission.launch = *parse_utc("2031-05-06T12:00Z").value;
    return mission;
  }
  const std::vector<daywright::load::CsvCell>& read_cells() {
    const auto* cells = reader_.next();
    REQUIRE(cells != nullptr);
    REQUIRE_FALSE(reader_.fault().has_value());
    return *cells;
  }

  std::string text_;
  LogSource source_;
  Mission mission_ = tern();
  Rulebook rules_;
  KnownNames names_{mission_, rules_};
  Diagnostics faults_;
  LogFile file_{mission_, rules_, names_, source_, this_file, text_, {}, faults_, {"when", "item", "quantity", "unit"}};
  CsvReader reader_{text_, source_.delimiter};
  RowReader row_{file_, read_cells(), 0, 1};
};

std::string_view rule_of(Row& row) { return row.faults().empty() ? std::string_view{} : row.faults().back().rule; }

}  // namespace

TEST_CASE("a quantity comes in the unit of its item") {
  Row row("2031-05-13T16:20Z,water,100,lb");
  CHECK(row->quantity_in(*find_unit("kg")) == Approx(45.359237));
  CHECK(row->is_sound());
  CHECK(row.faults().empty());
}

TEST_CASE("a quantity in a unit of another dimension is a fault: meals are not cartridges, and mass is not volume") {
  for (const auto& [cell, unit] :
       {std::pair{"meal", "cartridge"}, std::pair{"cartridge", "each"}, std::pair{"bag", "pack"}, std::pair{"kg", "L"},
        std::pair{"each", "kg"}, std::pair{"crew-h", "h"}, std::pair{"%", "kg"}}) {
    Row row(std::string("2031-05-13T16:20Z,water,5,") + cell);
    CAPTURE(cell, unit);
    CHECK(row->quantity_in(*find_unit(unit)) == 0);
    CHECK_FALSE(row->is_sound());
    REQUIRE(row.faults().size() == 1);
    CHECK(row.faults()[0].rule == "unit-dimension");
    CHECK(row.faults()[0].source == Source{this_file, 1, 27});
  }
}

TEST_CASE("an unknown unit is a fault at its cell, with the nearest that is known") {
  Row row("2031-05-13T16:20Z,water,5,kgs");
  CHECK(row->quantity_in(*find_unit("kg")) == 0);
  REQUIRE(row.faults().size() == 1);
  CHECK(row.faults()[0].rule == "unit-unknown");
  CHECK(row.faults()[0].text.starts_with("unknown unit 'kgs'"));
  CHECK(row.faults()[0].text.ends_with("did you mean 'kg'?"));
}

TEST_CASE("numbers are plain decimals, and nothing else") {
  for (const auto& [cell, value] : {std::pair{"12.5", 12.5}, std::pair{"+3", 3.0}, std::pair{"0", 0.0},
                                    std::pair{"-4", -4.0}, std::pair{" 7 ", 7.0}, std::pair{".5", 0.5}}) {
    Row row(std::string("x,water,") + cell + ",kg");
    CAPTURE(cell);
    CHECK(row->number("quantity") == value);
    CHECK(row.faults().empty());
  }
  for (const char* cell : {"1O", "12;5", "1e3", "0x10", "nan", "inf", "1 000", "12.5kg", "--3", "+-3", "+", "-", "."}) {
    Row row(std::string("x,water,") + cell + ",kg");
    CAPTURE(cell);
    CHECK(row->number("quantity") == 0);
    CHECK_FALSE(row->is_sound());
    CHECK(rule_of(row) == "number");
  }
}

TEST_CASE("with a decimal comma a point is not guessed at") {
  LogSource source;
  source.delimiter = ';';
  source.decimal_comma = true;
  Row good("x;water;12,5;kg", source);
  CHECK(good->number("quantity") == 12.5);
  for (const char* cell : {"1.250", "1.250,5", "1,2,5"}) {
    Row bad(std::string("x;water;") + cell + ";kg", source);
    CAPTURE(cell);
    CHECK(bad->number("quantity") == 0);
    CHECK(rule_of(bad) == "number");
  }
}

TEST_CASE("a negative count is a fault") {
  Row row("x,water,-1,kg");
  CHECK(row->quantity_in(*find_unit("kg")) == 0);
  CHECK(rule_of(row) == "value-range");
}

TEST_CASE("an empty cell is a fault where a value is needed, and names its column") {
  Row row("2031-05-13T16:20Z,water,,kg");
  CHECK(row->amount("quantity") == 0);
  REQUIRE(row.faults().size() == 1);
  CHECK(row.faults()[0].text == "the cell 'quantity' is empty, expected a value");
  CHECK(row.faults()[0].source == Source{this_file, 1, 25});
  CHECK(row->text_or_empty("remark").empty());
  CHECK(row.faults().size() == 1);
}

TEST_CASE("a fault is placed by characters, not bytes") {
  Row row("\"\xC3\xA4\xC3\xB6\",water,1O,kg");
  CHECK(row->number("quantity") == 0);
  REQUIRE(row.faults().size() == 1);
  CHECK(row.faults()[0].source == Source{this_file, 1, 12});
}

TEST_CASE("an unknown name is a fault with the nearest known one") {
  Row row("x,watr,1,kg");
  Mission mission;
  mission.items.resize(1);
  mission.items[0].id = "water";
  const KnownNames names(mission, {});
  CHECK(row->name("item", names.items) == "watr");
  REQUIRE(row.faults().size() == 1);
  CHECK(row.faults()[0].text ==
        "unknown item 'watr', expected one that the plan or the rules name; did you mean 'water'?");
  CHECK(row.faults()[0].rule == "name-unknown");
}

TEST_CASE("a time is UTC or elapsed, told apart by its form") {
  const auto evening = parse_utc("2031-05-13T16:20Z").value;
  for (const char* cell : {"2031-05-13T16:20Z", "2031-133T16:20Z", "7/04:20", " 7/04:20:00 "}) {
    Row row(std::string(cell) + ",water,1,kg");
    CAPTURE(cell);
    CHECK(row->time("when") == evening);
    CHECK(row.faults().empty());
  }
  Row wrong("7/24:20,water,1,kg");
  static_cast<void>(wrong->time("when"));
  CHECK(rule_of(wrong) == "time");
}

TEST_CASE("second 60 is taken with a warning and the row stays sound") {
  Row row("2016-12-31T23:59:60Z,water,1,kg");
  CHECK(row->time("when") == parse_utc("2017-01-01T00:00Z").value);
  REQUIRE(row.faults().size() == 1);
  CHECK(row.faults()[0].severity == Severity::warning);
  CHECK(row.faults()[0].rule == "leap-second");
  CHECK(row->is_sound());
}

TEST_CASE("a source with a clock of its own is read by its pattern and set to UTC") {
  LogSource source;
  source.time_pattern = "DD.MM.YYYY hh:mm";
  source.utc_offset = std::chrono::minutes{120};
  Row row("13.05.2031 18:20,water,1,kg", source);
  CHECK(row->time("when") == parse_utc("2031-05-13T16:20Z").value);
}

TEST_CASE("their words are mapped onto ours, and a default fills what they leave empty") {
  LogSource source;
  source.values["item"]["Wasser"] = "water";
  source.defaults["unit"] = "kg";
  Row row("x,Wasser,5,", source);
  CHECK(row->text("item") == "water");
  CHECK(row->quantity_in(*find_unit("g")) == 5000);
  CHECK(row.faults().empty());
}

TEST_CASE("a list in a cell is parted by semicolons, and blanks about its parts do not count") {
  Row row("p1; p2 ;;p3,water,1,kg");
  CHECK(row->list("when") == std::vector<std::string>{"p1", "p2", "p3"});
  Row none(",water,1,kg");
  CHECK(none->list("when").empty());
}
