// The page: the brief as HTML, tables, marks, and what no input may do to it. Seen by a browser in cli/page_test.py.
#include "write/page.h"

#include <string>

#include "builders.h"
#include "catch_compat.h"
#include "write/html.h"

using Catch::Matchers::ContainsSubstring;
using daywright::model::Cell;
using daywright::model::DayStatus;
using daywright::model::Table;
using daywright::model::Verdict;
using daywright::test::make_instant;
using daywright::test::make_number;
using daywright::test::make_status;
using daywright::test::make_table;
using daywright::test::make_verdict;
using daywright::test::make_words;
using daywright::write::Brief;
using daywright::write::escape_html;
using daywright::write::render_brief;
using daywright::write::render_html_table;
using daywright::write::render_page;

namespace {

std::string body_of(const std::string& template_text, const DayStatus& status) {
  const Brief brief = render_brief(template_text, status);
  REQUIRE(brief.faults.empty());
  return brief.html;
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++found;
  return found;
}

}  // namespace

TEST_CASE("text is escaped for elements and attributes, and what can't be seen is written out") {
  CHECK(escape_html("<a href=\"x\">&amp;</a>") == "&lt;a href=&quot;x&quot;&gt;&amp;amp;&lt;/a&gt;");
  CHECK(escape_html("\x1b[31m") == "\\x1B[31m");
  CHECK(escape_html("\u202e") == "\\u{202E}");
  CHECK(escape_html("état 漢字") == "état 漢字");
}

TEST_CASE("what stands before the second heading is the header, and each such heading begins a section") {
  CHECK(body_of("# One\n\nfirst\n\n## Two\n\nsecond\n\n### Three\n\n## Four\n", {}) ==
        "<header>\n<h1>One</h1>\n<p>first</p>\n</header>\n<section>\n<h2>Two</h2>\n<p>second</p>\n<h3>Three</h3>\n"
        "</section>\n<section>\n<h2>Four</h2>\n</section>\n");
  CHECK(body_of("only this\n", {}) == "<header>\n<p>only this</p>\n</header>\n");
}

TEST_CASE("the page has the same words as the Markdown, tildes included, and HTML of a template is left out") {
  const auto status = make_status({make_words("x", "a ~~~ b <i>")});
  CHECK_THAT(body_of("{{x}}\n", status), ContainsSubstring("<p>a ~~~ b &lt;i&gt;</p>"));
  CHECK_THAT(body_of("<script>alert(1)</script>\n", status), !ContainsSubstring("<script"));
}

TEST_CASE("a verdict gets its mark in a table and where a template sets it in bold, words from a log do not") {
  Table table = make_table("gates", {{"", "READY"}});
  table.rows[0][0] = Cell::of("gate.entry.verdict");
  table.rows[0].push_back(Cell::of("remark"));
  table.columns.push_back({"c", "C", "", false, true});
  const auto status =
      make_status({make_verdict("gate.entry.verdict", Verdict::not_ready), make_words("remark", "READY")}, {table});
  const std::string html = render_html_table(table, status, false);
  CHECK(count(html, "<svg") == 1);
  CHECK_THAT(html, ContainsSubstring("href=\"#mark-not-ready\"/></svg>NOT READY</th>"));
  CHECK_THAT(body_of("**{{gate.entry.verdict}}**\n", status),
             ContainsSubstring("<strong><svg class=\"mark not-ready\" aria-hidden=\"true\">"));
  CHECK_THAT(body_of("{{gate.entry.verdict}}, **not {{remark}}**\n", status), !ContainsSubstring("<svg"));
}

TEST_CASE("each verdict has a mark of its own among the shapes of the page") {
  const std::string page = render_page(render_brief("x\n", {}), "", {});
  for (const auto verdict : {Verdict::ready, Verdict::ready_with_conditions, Verdict::not_ready, Verdict::no_data}) {
    const std::string mark = daywright::write::verdict_mark(verdict);
    const auto begin = mark.find("#mark-") + 1;
    CHECK(count(page, "id=\"" + mark.substr(begin, mark.find('"', begin) - begin) + "\"") == 1);
  }
}

TEST_CASE("a table is a table: caption, heads of columns and rows, numbers to the right, times in one piece") {
  Table table = make_table("t", {{"one", "", ""}});
  table.columns[1] = {"b", "Level", "kg", true, true};
  table.columns.push_back({"d", "Hidden", "", false, false});
  table.rows[0] = {Cell::say("o<ne"), Cell::of("n"), Cell::of("when"), Cell::say("hidden")};
  const auto status = make_status({make_number("n", 12.5, "kg", 0.1), make_instant("when", daywright::test::evening)});
  CHECK(render_html_table(table, status, false) ==
        "<div class=\"table\" role=\"region\" aria-labelledby=\"table-t\" tabindex=\"0\">\n"
        "<table class=\"t\"><caption id=\"table-t\">Table of t</caption>\n"
        "<thead><tr><th scope=\"col\">A</th><th scope=\"col\" class=\"number\">Level,&nbsp;kg</th>"
        "<th scope=\"col\">C</th></tr></thead>\n"
        "<tbody>\n<tr><th scope=\"row\">o&lt;ne</th><td class=\"number\">12.5</td>"
        "<td class=\"time\">2031-05-13T16:20Z</td></tr>\n</tbody></table></div>");
}

TEST_CASE("a caption is seen unless the heading above says the same") {
  const auto status = make_status({}, {make_table("t", {{"x"}})});
  const std::string hidden = "<caption id=\"table-t\" class=\"unseen\">";
  CHECK_THAT(body_of("## Table of t\n\n@table t\n", status), ContainsSubstring(hidden));
  CHECK_THAT(body_of("## Table of t\n\n@chart work\n\n@table t\n", status), ContainsSubstring(hidden));
  CHECK_THAT(body_of("## Other\n\n@table t\n", status), !ContainsSubstring(hidden));
  CHECK_THAT(body_of("## Table of t\n\nwords\n\n@table t\n", status), !ContainsSubstring(hidden));
}

TEST_CASE("a table is cut as in the brief and says how many rows are left out; an empty one says that it is") {
  Table table = make_table("t", {{"r1"}, {"r2"}, {"r3"}});
  table.brief_rows = 2;
  const auto status = make_status({make_number("table.t.more", 1)});
  const std::string html = render_html_table(table, status, false);
  CHECK_THAT(html, ContainsSubstring("r2") && !ContainsSubstring("r3"));
  CHECK_THAT(html, ContainsSubstring("And 1 more; all of them are in the workbook."));
  CHECK(render_html_table(make_table("t", {}), status, false) == "<p>None.</p>");
}

TEST_CASE("the page is told apart from others by mission and day") {
  const auto status = make_status(
      {make_words("mission.name", "Tern <4>"), make_words("words.day", "FD"), make_number("now.flight_day", 8)});
  const Brief brief = render_brief("x\n", status);
  CHECK_THAT(render_page(brief, "", status), ContainsSubstring("<title>Tern &lt;4&gt;, FD 8: evening brief</title>"));
  CHECK_THAT(render_page(brief, "", {}), ContainsSubstring("<title>Evening brief</title>"));
}

TEST_CASE("the caution stands on the page once, whether the template says it or not") {
  const std::string words = "Decision support only. The mission's own flight rules and certified authorities prevail.";
  for (const auto& text : {std::string("x\n"), "x\n\n**Caution.** " + words + "\n"}) {
    CAPTURE(text);
    CHECK(count(render_page(render_brief(text, {}), "", {}), words) == 1);
  }
}

TEST_CASE("a style sheet can't end the element that it stands in") {
  const std::string page = render_page(render_brief("x\n", {}), "a::after { content: '</style><script>' }\n", {});
  CHECK(count(page, "</style>") == 1);
  CHECK_THAT(page, ContainsSubstring("content: '<\\/style><script>' }"));
}
