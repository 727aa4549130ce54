#include "write/handover.h"

#include <array>
#include <cassert>
#include <string>

#include <fmt/format.h>

#include "write/caution.h"
#include "write/markdown.h"

namespace daywright::write {
namespace {

/// The parts of the page in the order in which they are read.
constexpr std::array parts{"deadlines", "actions",  "conditions",  "waivers_in_force", "needs",
                           "anomalies", "findings", "off_nominal", "stale_counts"};

// What suffices where there is time for five lines only, in the language of templates; between the two stands what the
// brief is that it rests on.
constexpr const char* first_line =
    "# Handover: {{mission.name}}, {{words.day}} {{handover.day}}\n\n"
    "1. Rests on revision {{brief.revision}} of the brief, data cut-off {{now.utc}} ({{words.day}} {{now.flight_day}}, "
    "{{words.elapsed}} {{now.met}}), prepared by {{day.prepared_by}}. ";
constexpr const char* other_lines =
    "\n"
    "2. Shift to {{handover.until}}. Deadlines: {{handover.deadlines}}, of them overdue: {{handover.overdue}}.\n"
    "3. {{#table.next_gate}}Next: {{gate}}, poll {{poll}}: **{{verdict}}** ({{holding}}).{{/table.next_gate}}"
    "{{^table.next_gate}}No gate is to come.{{/table.next_gate}}"
    "{{#table.held_gates}} Later: {{gate}} **{{verdict}}** ({{holding}}).{{/table.held_gates}}\n"
    "4. {{words.landing}} as planned {{plan.landing}}.{{#table.limiting}} Limited by {{item}}: {{words}}, {{basis}}."
    "{{/table.limiting}}\n"
    "5. Data: {{quality.stale}} stale, {{quality.missing}} never counted, {{quality.rejected}} rejected, "
    "{{quality.not_closed}} not closed, {{quality.conflict}} in conflict.\n";

}  // namespace

std::string render_handover(const model::DayStatus& status, const std::string& brief_digest) {
  const std::string brief = brief_digest.empty() ? "**Its brief is not in place: make it first.**"
                                                 : fmt::format("SHA-256 of its brief.md: {}.", brief_digest);
  std::string page = first_line + brief + other_lines;
  std::string empty;
  for (const std::string name : parts) {
    const auto* table = status.find_table(name);
    assert(table != nullptr);
    const std::string unsure = "handover.unsure." + name;
    const bool is_sure = status.find(unsure) == nullptr;
    if (table->rows.empty() && is_sure) {
      if (!empty.empty()) empty += ", ";
      empty += table->title;
      continue;
    }
    page += fmt::format("\n## {}\n\n@table {}\n", table->title, name);
    if (!is_sure) page += fmt::format("\n**May lack something:** {{{{{}}}}}.\n", unsure);
  }
  if (!empty.empty()) page += fmt::format("\n**None:** {}.\n", empty);
  page += fmt::format("\n**Caution.** {}\n", caution);
  const Brief rendered = render_brief(page, status);
  assert(rendered.faults.empty());
  return rendered.text;
}

}  // namespace daywright::write
