// What can't be relied on, and which datum, given by whom, would mend it. Tables: quality, needs.

#include <algorithm>

#include <fmt/format.h>

#include "rules/assembly.h"

namespace daywright::rules {
namespace {

using model::Cell;
using model::Table;

/// Enters rows of both tables; each gets figures of its own.
class QualityEntries {
 public:
  explicit QualityEntries(Assembly& a) : a_(a), poll_(next_poll(a)) {}

  /// Something that is wrong with the data, at its place.
  void add_trouble(const char* kind, const std::string& text, model::Source source) {
    const std::string id = fmt::format("quality.{}.", ++troubles_);
    troubles.rows.push_back({Cell::say(kind), a_.quote(id + "text", kind, text, source),
                             a_.quote(id + "place", "place", a_.place_of(source), source)});
  }
  /// A datum that is wanted. `by`: when it is wanted; none: by the next poll.
  void add_need(const std::string& datum, const std::string& who, std::optional<model::Instant> by,
                model::Source source) {
    const std::string id = fmt::format("need.{}.", ++needs_);
    needs.rows.push_back({a_.quote(id + "datum", "datum", datum, source),
                          a_.quote(id + "who", "who can give it", who, source),
                          a_.quote(id + "by", "wanted by", by ? by : poll_, source)});
  }

  Table troubles{
      "quality",
      "Data quality",
      {{"kind", "Kind", "", false, true}, {"text", "What", "", false, true}, {"place", "Where", "", false, true}},
      {},
      8};
  Table needs{
      "needs",
      "Data needed",
      {{"datum", "Datum", "", false, true}, {"who", "Who can give it", "", false, true}, {"by", "By", "", false, true}},
      {},
      6};

 private:
  Assembly& a_;
  std::optional<model::Instant> poll_;
  std::size_t troubles_ = 0;
  std::size_t needs_ = 0;
};

/// What a fact that is told in two ways speaks of.
template <class Row>
std::string subject_of(const Assembly& a, const Row& row) {
  if constexpr (std::is_same_v<Row, model::CountRow>) {
    return fmt::format("count of {} in {} at {}", model::find_by_id(a.mission().items, row.item)->title,
                       model::find_by_id(a.mission().places, row.place)->title, model::format_utc(row.when));
  } else {
    return fmt::format("a row of log {}", model::name_of(Row::log));
  }
}

template <class Row>
void add_conflicts_of(const Assembly& a, const std::vector<model::Merged<Row>>& facts, QualityEntries& entries) {
  for (const auto& fact : facts) {
    for (const auto& rival : fact.rivals) {
      const std::string subject = subject_of(a, fact.row);
      entries.add_trouble("conflict", subject + ", told in two ways that disagree", rival.from.source);
      entries.add_need(subject + ": which way holds, as a correction", "owner of the log", std::nullopt,
                       rival.from.source);
    }
  }
}

void add_counts_wanted(const Assembly& a, QualityEntries& entries) {
  for (const auto& [level, place] : find_counts_wanted(a)) {
    const auto& item = *level->item;
    const std::string who = item.by_hand ? "crew, by hand" : "whoever counts it";
    const model::Source source = place->count == nullptr ? item.source : place->count->row.from.source;
    if (place->count == nullptr) {
      entries.add_trouble("missing", fmt::format("{} was never counted in {}", item.title, place->place->title),
                          source);
    } else {
      entries.add_trouble("stale",
                          fmt::format("{} in {} was last counted {}", item.title, place->place->title,
                                      format_instant(place->count->row.when, a.mission())),
                          source);
    }
    entries.add_need(fmt::format("count of {} in {}", item.title, place->place->title), who, std::nullopt, source);
  }
}

}  // namespace

std::optional<model::Instant> next_poll(const Assembly& a) {
  std::optional<model::Instant> next;
  for (const auto& gate : a.mission().gates) {
    if (gate.poll > a.evening.cutoff && (!next || gate.poll < *next)) next = gate.poll;
  }
  return next;
}

std::vector<CountWanted> find_counts_wanted(const Assembly& a) {
  std::vector<CountWanted> wanted;
  for (const auto& level : a.now.levels) {
    const double oldest = level.item->count_every_hours.value_or(a.evening.rules.margins.count_every_hours);
    for (const auto& place : level.places) {
      if (place.count == nullptr || model::in_days(a.evening.cutoff - place.count->row.when) * 24 > oldest)
        wanted.push_back({&level, &place});
    }
  }
  return wanted;
}

void add_quality(Assembly& a) {
  QualityEntries entries(a);
  for (const auto& row : a.facts().rejected) {
    entries.add_trouble("rejected", fmt::format("log {}: {}", model::name_of(row.log), row.why), row.source);
    entries.add_need(
        fmt::format("the row of log {} rejected at {}, corrected", model::name_of(row.log), a.place_of(row.source)),
        "owner of the log", std::nullopt, row.source);
  }
  for (const auto& gap : a.facts().gaps) {
    entries.add_trouble("not closed", fmt::format("log {} of {}: {}", model::name_of(gap.log), gap.day, gap.why),
                        gap.source);
    entries.add_need(fmt::format("log {} of {}, closed by its owner", model::name_of(gap.log), gap.day),
                     "owner of the log", std::nullopt, gap.source);
  }
  add_counts_wanted(a, entries);
  const model::Facts& f = a.facts();
  add_conflicts_of(a, f.plan, entries);
  add_conflicts_of(a, f.tasks, entries);
  add_conflicts_of(a, f.closeouts, entries);
  add_conflicts_of(a, f.surveys, entries);
  add_conflicts_of(a, f.findings, entries);
  add_conflicts_of(a, f.clearances, entries);
  add_conflicts_of(a, f.counts, entries);
  add_conflicts_of(a, f.transfers, entries);
  add_conflicts_of(a, f.anomalies, entries);
  add_conflicts_of(a, f.statements, entries);
  for (const GateResult& gate : a.now.gates) {
    if (gate.gate->poll <= a.evening.cutoff) continue;
    for (const auto& result : gate.criteria) {
      if (result.verdict != model::Verdict::no_data) continue;
      entries.add_need(fmt::format("{}: {}", result.criterion->title, result.reason),
                       a.role_title(result.criterion->owner), gate.gate->poll, result.criterion->source);
    }
  }
  auto& figures = a.figures();
  const auto count_kind = [&](const std::string& id, const std::string& kind, model::Source otherwise) {
    model::Trace trace{"rows of the table of data quality of this kind",
                       {from_file("day", "inputs up to the cut-off", otherwise)}};
    std::size_t count = 0;
    for (const auto& row : entries.troubles.rows) {
      if (row.front().words != kind) continue;
      ++count;
      trace.inputs.push_back(from_figure(figures.at(row[1].figure)));
    }
    figures.count({id, "data " + kind, std::move(trace), {}}, count);
  };
  const auto source = a.evening.day.source;
  count_kind("quality.rejected", "rejected", source);
  count_kind("quality.not_closed", "not closed", source);
  count_kind("quality.stale", "stale", source);
  count_kind("quality.missing", "missing", source);
  count_kind("quality.conflict", "conflict", source);
  a.status.tables.push_back(std::move(entries.needs));
  a.status.tables.push_back(std::move(entries.troubles));
}

}  // namespace daywright::rules
