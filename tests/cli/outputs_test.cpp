// What is written from the demo's status: numbers come from figures alone, and status.json keeps to its schema.
#include <algorithm>
#include <cctype>
#include <regex>
#include <sstream>

#include <nlohmann/json.hpp>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

#include "catch_compat.h"
#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "write/json.h"
#include "write/markdown.h"
#include "write/note.h"

using namespace daywright;
using nlohmann::json;

namespace {

const model::DayStatus& demo_status() {
  static const model::DayStatus status = [] {
    auto result = cli::run_stages(cli::read_mission(DEMO).files, {8, std::nullopt});
    REQUIRE(result.status);
    return std::move(*result.status);
  }();
  return status;
}

bool has_digit(const std::string& text) {
  return std::any_of(text.begin(), text.end(), [](unsigned char c) { return std::isdigit(c) != 0; });
}

std::string without_digits(std::string text) {
  for (char& c : text) {
    if (std::isdigit(static_cast<unsigned char>(c)) != 0) c = 'x';
  }
  return text;
}

/// What is wrong with `instance` by templates/status.schema.json; empty: nothing.
std::string schema_faults(const json& instance) {
  static const json text = json::parse(cli::read_file(TEMPLATES "/status.schema.json"));
  valijson::Schema schema;
  valijson::SchemaParser().populateSchema(valijson::adapters::NlohmannJsonAdapter(text), schema);
  valijson::ValidationResults results;
  valijson::Validator().validate(schema, valijson::adapters::NlohmannJsonAdapter(instance), &results);
  std::string faults;
  for (valijson::ValidationResults::Error error; results.popError(error);) {
    for (const auto& part : error.context) faults += part;
    faults += ": " + error.description + '\n';
  }
  return faults;
}

}  // namespace

TEST_CASE("where the figures lose their digits, the brief has none left but those of its own wording") {
  const std::string wording = cli::read_file(TEMPLATES "/brief.md.mustache");
  model::DayStatus masked = demo_status();
  for (auto& figure : masked.figures) {
    figure.text = without_digits(figure.text);
    figure.unit = without_digits(figure.unit);
  }
  const auto brief = write::render_brief(wording, masked);
  REQUIRE(brief.faults.empty());
  const std::regex list_marker("^[1-5]\\. ");
  std::size_t lines = 0;
  std::istringstream text(brief.text);
  for (std::string line; std::getline(text, line); ++lines) {
    CAPTURE(line);
    CHECK_FALSE(has_digit(std::regex_replace(line, list_marker, "")));
  }
  CHECK(lines > 50);
}

TEST_CASE("the test above sees a number that is no figure") {
  model::DayStatus status = demo_status();
  for (auto& table : status.tables) {
    if (table.name == "gates") table.rows[0].back() = model::Cell::say("17 of them");
  }
  CHECK(write::render_brief("@table gates\n", status).text.find("17 of them") != std::string::npos);
}

TEST_CASE("where the figures lose their digits, the note has none left but those of its sentences") {
  model::DayStatus masked = demo_status();
  for (auto& figure : masked.figures) {
    figure.text = without_digits(figure.text);
    figure.unit = without_digits(figure.unit);
  }
  const auto note = write::render_note(cli::read_file(TEMPLATES "/note.txt.mustache"), masked);
  REQUIRE(note.faults.empty());
  const std::regex number_of_sentence("^ ?[0-9]+\\. ");
  std::size_t lines = 0;
  std::istringstream text(note.text);
  for (std::string line; std::getline(text, line); ++lines) {
    CAPTURE(line);
    CHECK_FALSE(has_digit(std::regex_replace(line, number_of_sentence, "")));
  }
  CHECK(lines > 10);
}

TEST_CASE("what is a part says so and names what was asked for") {
  const json part = json::parse(write::render_inputs({}, {}, {}, {"md", "note"}));
  CHECK(part["partial"] == json{"md", "note"});
  CHECK_FALSE(json::parse(write::render_inputs({}, {}, {})).contains("partial"));
}

TEST_CASE("status.json of the demo keeps to its schema") {
  CHECK(schema_faults(json::parse(write::render_status(demo_status(), {{"daywright", "test"}}))) == "");
}

TEST_CASE("the schema refuses a status with a part damaged") {
  const json sound = json::parse(write::render_status(demo_status(), {{"daywright", "test"}}));
  const auto damaged = [&](const char* pointer, const json& value) {
    json copy = sound;
    copy.at(json::json_pointer(pointer)) = value;
    return copy;
  };
  for (const json& bad :
       {damaged("/format", 2), damaged("/figures/0/id", "Not an id"), damaged("/figures/0/kind", "guess"),
        damaged("/figures/0/trace/inputs", json::array()), damaged("/figures/0/trace/inputs/0/line", 0),
        damaged("/tables/0/rows/0/0", json::object()), damaged("/tables/0/columns", json::array())}) {
    CHECK_FALSE(schema_faults(bad).empty());
  }
  for (const char* member : {"id", "title", "kind", "value", "text", "trace"}) {
    CAPTURE(member);
    json copy = sound;
    copy["figures"][0].erase(member);
    CHECK_FALSE(schema_faults(copy).empty());
  }
}

TEST_CASE("every figure leads down to a file and a line") {
  const auto& status = demo_status();
  const auto leads_to_file = [&](const auto& self, const model::Figure& figure, int depth) -> bool {
    constexpr int deepest = 20;
    return depth < deepest && std::any_of(
                                  figure.trace.inputs.begin(), figure.trace.inputs.end(),
                                  [&](const auto& input) {
                                    if (input.source.is_known()) return true;
                                    const auto* inner = input.figure.empty() ? nullptr : status.find(input.figure);
                                    return inner != nullptr && self(self, *inner, depth + 1);
                                  });
  };
  for (const auto& figure : status.figures) {
    CAPTURE(figure.id);
    CHECK(leads_to_file(leads_to_file, figure, 0));
    for (const auto& input : figure.trace.inputs) {
      CAPTURE(input.name);
      CHECK((input.source.is_known() || status.find(input.figure) != nullptr));
    }
  }
}
