// The page of the handover as text. What it has to say is made in the rules and tested there.
#include "write/handover.h"

#include <string>
#include <vector>

#include "builders.h"
#include "catch_compat.h"
#include "write/summary.h"

using namespace daywright;
using namespace daywright::test;
using Catch::Matchers::ContainsSubstring;
using write::render_handover;

namespace {

model::Table make_part(const std::string& name, std::vector<std::vector<std::string>> rows = {}) {
  model::Table table = make_table(name, rows);
  table.title = "Part " + name;
  return table;
}

/// A status as the rules give it, with `deadlines` and nothing else that is open.
model::DayStatus make_handover(std::vector<std::vector<std::string>> deadlines, std::vector<model::Figure> more = {}) {
  std::vector<model::Figure> figures{make_words("mission.name", "Tern"),
                                     make_words("words.day", "FD"),
                                     make_words("words.elapsed", "MET"),
                                     make_words("words.landing", "Landing"),
                                     make_words("day.prepared_by", "second lead"),
                                     make_number("handover.day", 8),
                                     make_number("brief.revision", 2),
                                     make_words("now.utc", "2031-05-13T16:20Z"),
                                     make_number("now.flight_day", 8),
                                     make_words("now.met", "7/04:45"),
                                     make_instant("handover.until", evening),
                                     make_number("handover.deadlines", 3),
                                     make_number("handover.overdue", 1),
                                     make_instant("plan.landing", evening),
                                     make_number("quality.stale", 4),
                                     make_number("quality.missing", 0),
                                     make_number("quality.rejected", 5),
                                     make_number("quality.not_closed", 6),
                                     make_number("quality.conflict", 7)};
  for (auto& figure : more) figures.push_back(std::move(figure));
  std::vector<model::Table> tables{make_part("deadlines", std::move(deadlines)), make_part("next_gate"),
                                   make_part("held_gates"), make_part("limiting")};
  for (const char* name :
       {"actions", "conditions", "waivers_in_force", "needs", "anomalies", "findings", "off_nominal", "stale_counts"})
    tables.push_back(make_part(name));
  return make_status(std::move(figures), std::move(tables));
}

}  // namespace

TEST_CASE("five lines come first and say what the page rests on") {
  const std::string page = render_handover(make_handover({{"now", "poll"}}), std::string(64, 'a'));
  const auto lines = write::five_lines_of(page);
  REQUIRE(lines.size() == 5);
  CHECK(lines[0] ==
        "Rests on revision 2 of the brief, data cut-off 2031-05-13T16:20Z (FD 8, MET 7/04:45), prepared by "
        "second lead. SHA-256 of its brief.md: " +
            std::string(64, 'a') + ".");
  CHECK(lines[1] == "Shift to 2031-05-13T16:20Z. Deadlines: 3, of them overdue: 1.");
  CHECK(lines[2] == "No gate is to come.");
  CHECK(lines[4] == "Data: 4 stale, 0 never counted, 5 rejected, 6 not closed, 7 in conflict.");
}

TEST_CASE("without a brief the page says so loudly") {
  const std::string page = render_handover(make_handover({}), "");
  CHECK_THAT(page, ContainsSubstring("**Its brief is not in place: make it first.**"));
  CHECK_THAT(page, !ContainsSubstring("SHA-256"));
}

TEST_CASE("a part without anything is named in one line, unless its logs are not whole") {
  const std::string page = render_handover(
      make_handover({{"now", "poll"}}, {make_words("handover.unsure.findings", "log findings is cut")}), "");
  CHECK_THAT(page, ContainsSubstring("## Part deadlines\n\n| A   | B    |"));
  CHECK_THAT(page, ContainsSubstring("## Part findings\n\nNone.\n\n**May lack something:** log findings is cut.\n"));
  CHECK_THAT(page, ContainsSubstring("**None:** Part actions, Part conditions, Part waivers\\_in\\_force") ||
                       ContainsSubstring("**None:** Part actions, Part conditions, Part waivers_in_force"));
  CHECK_THAT(page, !ContainsSubstring("## Part actions"));
}

TEST_CASE("rows that are cut are counted, with the place where they are") {
  auto status = make_handover({{"1"}, {"2"}, {"3"}}, {make_number("table.deadlines.more", 2)});
  status.tables.front().brief_rows = 1;
  status.tables.front().whole_in = "the brief and the plan";
  CHECK_THAT(render_handover(status, ""), ContainsSubstring("And 2 more; all of them are in the brief and the plan."));
}

TEST_CASE("what logs say stays text") {
  const std::string hostile = "<script>x</script> | **bold** | {{now.utc}} @table needs \u202e \x1b[2J\n# head";
  const std::string page =
      render_handover(make_handover({{hostile, "x"}}, {make_words("handover.unsure.actions", hostile)}), "");
  CHECK_THAT(page, !ContainsSubstring("<script>"));
  CHECK_THAT(page, !ContainsSubstring("**bold**"));
  CHECK_THAT(page, !ContainsSubstring("\u202e"));
  CHECK_THAT(page, !ContainsSubstring("\x1b"));
  CHECK_THAT(page, !ContainsSubstring("\n# head"));
  CHECK_THAT(page, !ContainsSubstring("Part needs\n\nNone."));
}

TEST_CASE("the caution stands on the page") {
  CHECK_THAT(render_handover(make_handover({}), ""), ContainsSubstring("Decision support only."));
}
