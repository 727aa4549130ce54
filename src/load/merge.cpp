#include "load/merge.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

#include "load/utf8.h"
#include "model/suggest.h"

namespace daywright::load {
namespace {

using model::Instant;
using model::Severity;
/// The parts of a key joined by a character that no text holds. Sorting keys sorts by part, then by part.
std::string joined(std::initializer_list<std::string_view> parts) {
  std::string key;
  for (const std::string_view part : parts) {
    key += part;
    key += '\x1F';
  }
  return key;
}

/// Sorts as the instants do, so that lists come out in order of time.
std::string sortable(Instant when) { return fmt::format("{:020}", when.time_since_epoch().count() + (1LL << 62)); }

// The key of each log, as the table in the README has it.
std::string key_of(const model::PlanRow& r) { return joined({r.task}); }
std::string key_of(const model::TaskRow& r) { return joined({r.task, sortable(r.begin)}); }
std::string key_of(const model::SortieRow& r) {
  const std::string who = r.is_period ? fmt::format("{}", fmt::join(r.who, ";")) : "";
  return joined({r.sortie, r.is_period ? "period" : "hardware", who, r.hardware});
}
std::string key_of(const model::CloseoutRow& r) { return joined({r.closeout, sortable(r.when)}); }
std::string key_of(const model::SurveyRow& r) { return joined({r.survey, r.zone, r.part}); }
std::string key_of(const model::FindingRow& r) { return joined({r.finding, sortable(r.when)}); }
std::string key_of(const model::ClearanceRow& r) { return joined({r.zone, r.gate, sortable(r.effective)}); }
std::string key_of(const model::CountRow& r) { return joined({r.item, r.place, sortable(r.when)}); }
std::string key_of(const model::TransferRow& r) { return joined({r.transfer}); }
std::string key_of(const model::ReadingRow& r) { return joined({r.what, sortable(r.when)}); }
std::string key_of(const model::EquipmentRow& r) { return joined({r.unit, sortable(r.when)}); }
std::string key_of(const model::AnomalyRow& r) { return joined({r.anomaly}); }
std::string key_of(const model::DecisionRow& r) { return joined({r.decision}); }
std::string key_of(const model::ActionRow& r) { return joined({r.action}); }
std::string key_of(const model::StatementRow& r) { return joined({r.position, sortable(r.at)}); }
std::string key_of(const model::CrewRow& r) {
  return joined({r.person, r.is_sleep ? "sleep" : "duty", sortable(r.begin)});
}

// Whether two rows of one key say the same. Who wrote it down and remarks do not count.
template <class Row>
bool say_the_same(const Row& a, const Row& b) {
  const auto values = [](const Row& r) {
    if constexpr (std::is_same_v<Row, model::PlanRow>)
      return std::tie(r.title, r.day, r.crew, r.minutes, r.priority, r.needs, r.gate, r.get_ahead);
    if constexpr (std::is_same_v<Row, model::TaskRow>) return std::tie(r.state, r.percent, r.who, r.end);
    if constexpr (std::is_same_v<Row, model::SortieRow>)
      return std::tie(r.depressurised, r.repressurised, r.out, r.back, r.left, r.who);
    if constexpr (std::is_same_v<Row, model::CloseoutRow>) return std::tie(r.done, r.of);
    if constexpr (std::is_same_v<Row, model::SurveyRow>)
      return std::tie(r.kind, r.coverage, r.taken, r.received, r.reviewed);
    if constexpr (std::is_same_v<Row, model::FindingRow>) return std::tie(r.zone, r.severity, r.state, r.disposition);
    if constexpr (std::is_same_v<Row, model::ClearanceRow>)
      return std::tie(r.state, r.rests_on, r.conditions, r.authority, r.until);
    if constexpr (std::is_same_v<Row, model::TransferRow>)
      return std::tie(r.when, r.item, r.from_place, r.to_place, r.quantity, r.state);
    if constexpr (std::is_same_v<Row, model::ReadingRow>) return std::tie(r.quantity, r.unit);
    if constexpr (std::is_same_v<Row, model::EquipmentRow>) return std::tie(r.state, r.function);
    if constexpr (std::is_same_v<Row, model::AnomalyRow>)
      return std::tie(r.opened, r.severity, r.gate, r.state, r.disposition);
    if constexpr (std::is_same_v<Row, model::DecisionRow>)
      return std::tie(r.state, r.authority, r.effective, r.expires, r.changes, r.value, r.waiver.criterion,
                      r.waiver.data, r.waiver.worst, r.waiver.unit, r.reason);
    if constexpr (std::is_same_v<Row, model::ActionRow>)
      return std::tie(r.asked_by, r.asked_of, r.text, r.due, r.state);
    if constexpr (std::is_same_v<Row, model::StatementRow>) return std::tie(r.says, r.valid_until);
    if constexpr (std::is_same_v<Row, model::CrewRow>) return std::tie(r.end);
  };
  return values(a) == values(b);
}

// The times at which the things in a row happened; planned and valid-from times are not among them.
std::vector<std::optional<Instant>> happened(const model::TaskRow& r) { return {r.begin, r.end}; }
std::vector<std::optional<Instant>> happened(const model::SortieRow& r) { return {r.depressurised, r.repressurised}; }
std::vector<std::optional<Instant>> happened(const model::CloseoutRow& r) { return {r.when}; }
std::vector<std::optional<Instant>> happened(const model::SurveyRow& r) { return {r.taken, r.received, r.reviewed}; }
std::vector<std::optional<Instant>> happened(const model::FindingRow& r) { return {r.when}; }
std::vector<std::optional<Instant>> happened(const model::CountRow& r) { return {r.when}; }
std::vector<std::optional<Instant>> happened(const model::TransferRow& r) {
  return {r.state == model::TransferState::done ? std::optional(r.when) : std::nullopt};
}
std::vector<std::optional<Instant>> happened(const model::ReadingRow& r) { return {r.when}; }
std::vector<std::optional<Instant>> happened(const model::EquipmentRow& r) { return {r.when}; }
std::vector<std::optional<Instant>> happened(const model::AnomalyRow& r) { return {r.opened}; }
std::vector<std::optional<Instant>> happened(const model::StatementRow& r) { return {r.at}; }
std::vector<std::optional<Instant>> happened(const model::CrewRow& r) { return {r.begin, r.end}; }
std::vector<std::optional<Instant>> happened(const model::PlanRow&) { return {}; }
std::vector<std::optional<Instant>> happened(const model::ClearanceRow&) { return {}; }
std::vector<std::optional<Instant>> happened(const model::DecisionRow&) { return {}; }
std::vector<std::optional<Instant>> happened(const model::ActionRow&) { return {}; }

class Merger {
 public:
  Merger(const Inputs& inputs, int last_day, Instant cutoff, model::Diagnostics& faults)
      : inputs_(inputs), last_day_(last_day), cutoff_(cutoff), faults_(faults) {}

  model::Facts run() {
    find_rejected();
    merge_log<model::PlanRow>(facts_.plan);
    merge_log<model::TaskRow>(facts_.tasks);
    merge_log<model::SortieRow>(facts_.sorties);
    merge_log<model::CloseoutRow>(facts_.closeouts);
    merge_log<model::SurveyRow>(facts_.surveys);
    merge_log<model::FindingRow>(facts_.findings);
    merge_log<model::ClearanceRow>(facts_.clearances);
    merge_log<model::CountRow>(facts_.counts);
    merge_log<model::TransferRow>(facts_.transfers);
    merge_log<model::ReadingRow>(facts_.readings);
    merge_log<model::EquipmentRow>(facts_.equipment);
    merge_log<model::AnomalyRow>(facts_.anomalies);
    merge_log<model::DecisionRow>(facts_.decisions);
    merge_log<model::ActionRow>(facts_.actions);
    merge_log<model::StatementRow>(facts_.statements);
    merge_log<model::CrewRow>(facts_.crew);
    check_tasks_are_planned();
    check_closeouts_are_asked_for();
    check_surveys_are_known();
    drop_corrected_rejects();
    find_gaps();
    return std::move(facts_);
  }

 private:
  void fault(Severity severity, model::Source at, std::string text, std::string rule) {
    faults_.push_back({severity, at, std::move(text), std::move(rule)});
  }

  void find_rejected() {
    for (const auto& row : inputs_.rejected) {
      if (row.recorded <= cutoff_) facts_.rejected.push_back(row);
    }
  }

  void reject(model::Log log, std::string subject, const model::Provenance& from, const std::string& why,
              const std::string& rule) {
    fault(Severity::error, from.source, why, rule);
    facts_.rejected.push_back({log, std::move(subject), {}, from.ref, from.origin, from.source, from.recorded, why});
  }

  template <class Row>
  void merge_log(std::vector<model::Merged<Row>>& merged) {
    std::vector<const Row*> known;
    for (const Row& row : std::get<std::vector<Row>>(inputs_.rows)) {
      if (row.from.recorded <= cutoff_ && !lies_in_the_future(row)) known.push_back(&row);
    }
    const Targets targets = find_corrected(known);
    std::vector<bool> is_corrected(known.size());
    for (const auto& target : targets) {
      if (target) is_corrected[*target] = true;
    }
    std::vector<std::pair<std::string, std::size_t>> keys;  // of the rows that no other row corrects
    for (std::size_t i = 0; i < known.size(); ++i) {
      if (!is_corrected[i]) keys.emplace_back(key_of(*known[i]), i);
    }
    std::stable_sort(keys.begin(), keys.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    for (auto first = keys.begin(); first != keys.end();) {
      const auto last = std::find_if(first, keys.end(), [&](const auto& k) { return k.first != first->first; });
      std::vector<const Row*> rows;
      std::vector<const Row*> superseded;  // by a correction, which may have changed the key
      for (; first != last; ++first) {
        rows.push_back(known[first->second]);
        for (auto old = targets[first->second]; old; old = targets[*old]) superseded.push_back(known[*old]);
      }
      merge_group(rows, superseded, merged.emplace_back());
    }
  }

  /// For each row the one it corrects, by index; no row corrects itself, not by way of others either.
  using Targets = std::vector<std::optional<std::size_t>>;

  template <class Row>
  Targets find_corrected(const std::vector<const Row*>& rows) {
    std::multimap<std::string_view, std::size_t> by_ref;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (!rows[i]->from.ref.empty()) by_ref.emplace(rows[i]->from.ref, i);
    }
    Targets targets(rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const model::Provenance& from = rows[i]->from;
      if (from.corrects.empty()) continue;
      std::string place;
      if constexpr (std::is_same_v<Row, model::CountRow>) place = rows[i]->place;
      corrections_.push_back({Row::log, from.corrects, from.origin, subject_of(*rows[i]), std::move(place)});
      // Two people may number their rows alike: a ref of the same source comes first, another's has to be the only one.
      const auto [first, last] = by_ref.equal_range(from.corrects);
      std::vector<std::size_t> own;
      std::vector<std::size_t> others;
      for (auto found = first; found != last; ++found)
        (rows[found->second]->from.origin == from.origin ? own : others).push_back(found->second);
      if (!own.empty()) {
        targets[i] = own.back();
      } else if (others.size() == 1) {
        targets[i] = others.front();
      } else if (others.size() > 1) {
        say_corrects_nothing(from, "which rows of several sources bear");
      } else if (!is_rejected_ref(Row::log, from.corrects)) {
        say_corrects_nothing(from, fmt::format("but no row of log '{}' has that ref", model::name_of(Row::log)));
      }
    }
    const Targets as_told = targets;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      auto at = as_told[i];
      for (std::size_t steps = 0; at && *at != i && steps < rows.size(); ++steps) at = as_told[*at];
      if (!at || *at != i) continue;
      say_corrects_nothing(rows[i]->from, "which leads back to this row");
      targets[i].reset();
    }
    return targets;
  }

  void say_corrects_nothing(const model::Provenance& from, const std::string& why) {
    fault(Severity::warning, from.source, fmt::format("corrects {}, {}", in_quotes(from.corrects), why),
          "corrects-nothing");
  }

  template <class Row>
  bool lies_in_the_future(const Row& row) {
    for (const auto& when : happened(row)) {
      if (!when || *when <= cutoff_) continue;
      reject(Row::log, subject_of(row), row.from,
             fmt::format("the row tells of {}, after the cut-off {}", model::format_utc(*when),
                         model::format_utc(cutoff_)),
             "after-cutoff");
      return true;
    }
    return false;
  }

  template <class Row>
  static std::string subject_of(const Row& row) {
    if constexpr (std::is_same_v<Row, model::SurveyRow> || std::is_same_v<Row, model::FindingRow>)
      return row.zone;
    else if constexpr (std::is_same_v<Row, model::CountRow> || std::is_same_v<Row, model::TransferRow>)
      return row.item;
    else if constexpr (std::is_same_v<Row, model::TaskRow>)
      return row.task;
    else if constexpr (std::is_same_v<Row, model::CloseoutRow>)
      return row.closeout;
    else if constexpr (std::is_same_v<Row, model::StatementRow>)
      return row.position;
    else if constexpr (std::is_same_v<Row, model::EquipmentRow>)
      return row.unit;
    else if constexpr (std::is_same_v<Row, model::ReadingRow>)
      return row.what;
    else if constexpr (std::is_same_v<Row, model::SortieRow>)
      return row.sortie;
    else if constexpr (std::is_same_v<Row, model::CrewRow>)
      return row.person;
    else
      return {};
  }

  /// One fact out of the rows of one key.
  template <class Row>
  void merge_group(std::vector<const Row*>& rows, std::vector<const Row*>& superseded, model::Merged<Row>& merged) {
    // The newest row of each source stands for it.
    std::stable_sort(rows.begin(), rows.end(),
                     [](const Row* a, const Row* b) { return a->from.recorded < b->from.recorded; });
    std::vector<const Row*> newest;
    for (const Row* row : rows) {
      const auto older =
          std::find_if(newest.begin(), newest.end(), [&](const Row* n) { return n->from.origin == row->from.origin; });
      if (older == newest.end()) {
        newest.push_back(row);
      } else {
        *older = row;
      }
    }
    std::vector<const Row*> rivals;
    std::vector<const Row*> confirmed;
    for (const Row* row : rows) {
      const Row* later =
          *std::find_if(newest.begin(), newest.end(), [&](const Row* n) { return n->from.origin == row->from.origin; });
      if (later == row || agree(*row, *later)) continue;
      // Two rows of one source and one time can't be put in order, so neither is the correction of the other.
      const bool is_correction = row->from.recorded < later->from.recorded || !later->from.corrects.empty();
      (is_correction ? superseded : rivals).push_back(row);
    }
    const Row* best = newest.front();
    for (const Row* row : newest) {
      if (is_better(*row, *best)) best = row;
    }
    for (const Row* row : newest) {
      if (row != best) (agree(*row, *best) ? confirmed : rivals).push_back(row);
    }
    merged.row = *best;
    merged.superseded = copies_of(superseded);
    merged.confirmed = copies_of(confirmed);
    merged.rivals = copies_of(rivals);
    for (const Row* rival : rivals) {
      say_conflict(Row::log, best->from.source, told(*best), rival->from.source, told(*rival));
    }
  }

  template <class Row>
  static std::vector<Row> copies_of(const std::vector<const Row*>& rows) {
    std::vector<Row> copies;
    for (const Row* row : rows) copies.push_back(*row);
    return copies;
  }

  void say_conflict(model::Log log, model::Source best, const std::string& told_best, model::Source rival,
                    const std::string& told_rival) {
    fault(Severity::warning, best,
          fmt::format(
              "log '{}' tells {} in two ways that disagree; the worse verdict stands until a correction settles it",
              model::name_of(log), told_best),
          "conflict");
    fault(Severity::note, rival, fmt::format("the other way: {}", told_rival), "conflict");
  }

  template <class Row>
  std::string told(const Row& row) const {
    if constexpr (std::is_same_v<Row, model::CountRow>) {
      const auto* item = model::find_by_id(inputs_.mission.items, row.item);
      const double shown = model::round_to(row.quantity, item->step, model::Rounding::nearest);
      return fmt::format("{} {} of '{}' in '{}' at {} ({})", model::format_number(shown, item->step),
                         item->unit->spelling, row.item, row.place, model::format_utc(row.when), row.method);
    } else {
      const std::string key = key_of(row);
      return in_quotes(key.substr(0, key.find('\x1F')));
    }
  }

  template <class Row>
  [[nodiscard]] bool agree(const Row& a, const Row& b) const {
    if constexpr (std::is_same_v<Row, model::CountRow>) {
      if (a.from.origin == b.from.origin) return a.quantity == b.quantity && a.method == b.method;
      const double spread = std::hypot(sigma_of(a), sigma_of(b));
      return std::abs(a.quantity - b.quantity) <= inputs_.rules.margins.conflict_sigmas * spread;
    } else {
      return say_the_same(a, b);
    }
  }

  [[nodiscard]] double sigma_of(const model::CountRow& row) const {
    const auto* item = model::find_by_id(inputs_.mission.items, row.item);
    const auto sigma = item->sigma.find(row.method);
    return sigma == item->sigma.end() ? 0 : sigma->second;
  }

  template <class Row>
  [[nodiscard]] bool is_better(const Row& a, const Row& b) const {
    if (a.from.rank != b.from.rank) return a.from.rank < b.from.rank;
    if constexpr (std::is_same_v<Row, model::CountRow>) {
      const auto kind = [&](const Row& row) { return model::find_by_id(inputs_.mission.methods, row.method)->kind; };
      if (kind(a) != kind(b)) return kind(a) < kind(b);
    }
    return a.from.recorded > b.from.recorded;
  }

  [[nodiscard]] bool is_rejected_ref(model::Log log, const std::string& ref) const {
    return std::any_of(facts_.rejected.begin(), facts_.rejected.end(),
                       [&](const auto& r) { return r.log == log && r.ref == ref; });
  }

  /// A task row that names no planned task can't be placed: it may bear on any of them.
  void check_tasks_are_planned() {
    std::vector<std::string> planned;
    for (const auto& fact : facts_.plan) planned.push_back(fact.row.task);
    const auto is_unknown = [&](const model::Merged<model::TaskRow>& fact) {
      return !std::binary_search(planned.begin(), planned.end(), fact.row.task);
    };
    for (const auto& fact : facts_.tasks) {
      if (is_unknown(fact))
        reject(model::Log::tasks, {}, fact.row.from,
               fmt::format("unknown task {}, expected one of log 'plan'{}", in_quotes(fact.row.task),
                           model::did_you_mean(fact.row.task, planned)),
               "task-unknown");
    }
    std::erase_if(facts_.tasks, is_unknown);
    for (auto& row : facts_.rejected) {
      if (row.log == model::Log::tasks && !std::binary_search(planned.begin(), planned.end(), row.subject))
        row.subject.clear();
    }
    for (const auto& fact : facts_.plan) {
      for (const auto& need : fact.row.needs) {
        if (std::binary_search(planned.begin(), planned.end(), need)) continue;
        fault(Severity::warning, fact.row.from.source,
              fmt::format("task {} needs {}, which is not planned{}", in_quotes(fact.row.task), in_quotes(need),
                          model::did_you_mean(need, planned)),
              "task-unknown");
      }
    }
  }

  /// A close-out that no criterion names, but nearly one that is named, is a slip of the pen: it may bear on that one.
  void check_closeouts_are_asked_for() {
    std::vector<std::string> asked;
    for (const auto& criterion : inputs_.rules.criteria) {
      if (const auto* demand = std::get_if<model::CloseoutsCriterion>(&criterion.demand))
        asked.insert(asked.end(), demand->closeouts.begin(), demand->closeouts.end());
    }
    const auto slip_of = [&](const std::string& name) {
      const bool is_asked = std::find(asked.begin(), asked.end(), name) != asked.end();
      return is_asked ? std::string{} : model::did_you_mean(name, asked);
    };
    for (const auto& fact : facts_.closeouts) {
      if (const std::string hint = slip_of(fact.row.closeout); !hint.empty())
        reject(model::Log::closeouts, {}, fact.row.from,
               fmt::format("no criterion asks for close-out {}{}", in_quotes(fact.row.closeout), hint),
               "closeout-unknown");
    }
    std::erase_if(facts_.closeouts, [&](const auto& fact) { return !slip_of(fact.row.closeout).empty(); });
  }

  /// What a clearance rests on is for the reader; whether surveys suffice is judged from the surveys themselves.
  void check_surveys_are_known() {
    for (const auto& fact : facts_.clearances) {
      std::vector<std::string> known;
      for (const auto& survey : facts_.surveys) {
        if (survey.row.zone == fact.row.zone) known.push_back(survey.row.survey);
      }
      for (const auto& survey : fact.row.rests_on) {
        if (std::find(known.begin(), known.end(), survey) != known.end()) continue;
        fault(Severity::warning, fact.row.from.source,
              fmt::format("the clearance of {} for {} rests on {}, which is no survey of that zone{}", fact.row.zone,
                          fact.row.gate, in_quotes(survey), model::did_you_mean(survey, known)),
              "survey-unknown");
      }
    }
  }

  /// A rejected row that a later one of its source corrects, and that spoke of the same thing, bears on nothing any
  /// more; its fault stays in sight as a note.
  void drop_corrected_rejects() {
    std::erase_if(facts_.rejected, [&](const auto& row) {
      const bool is_corrected = std::any_of(corrections_.begin(), corrections_.end(), [&](const Correction& c) {
        const bool is_of_it = c.log == row.log && c.ref == row.ref && c.origin == row.origin;
        return is_of_it && (row.subject.empty() || c.subject == row.subject) &&
               (row.place.empty() || c.place == row.place);
      });
      if (row.ref.empty() || !is_corrected) return false;
      for (auto& fault : faults_) {
        const bool is_of_the_row = fault.source.file == row.source.file && fault.source.line == row.source.line;
        if (!is_of_the_row || fault.severity == Severity::note) continue;
        fault.severity = Severity::note;
        fault.text += "; a later row corrects it";
      }
      return true;
    });
  }

  /// Silence is not good news: a log that is not closed as its owner says it is has a gap.
  void find_gaps() {
    for (int number = 1; number <= last_day_; ++number) {
      const auto day =
          std::find_if(inputs_.days.begin(), inputs_.days.end(), [&](const auto& d) { return d.number == number; });
      for (std::size_t i = 0; i < model::log_count; ++i) {
        const auto log = static_cast<model::Log>(i);
        if (day == inputs_.days.end()) {
          facts_.gaps.push_back({log, fmt::format("{} {}", inputs_.mission.words.day, number), inputs_.mission.source,
                                 "the day's own file is missing or can't be used"});
          continue;
        }
        find_gap(*day, log);
      }
    }
  }

  void find_gap(const model::Day& day, model::Log log) {
    const auto closure =
        std::find_if(day.closures.begin(), day.closures.end(), [&](const auto& c) { return c.log == log; });
    const auto volume = std::find_if(inputs_.volumes.begin(), inputs_.volumes.end(),
                                     [&](const auto& v) { return v.log == log && v.day == day.number; });
    const bool has_files = volume != inputs_.volumes.end();
    const std::vector<Instant> none;
    const auto& recorded = has_files ? volume->recorded : none;
    const auto rows = static_cast<int>(recorded.size());
    const auto late = std::count_if(recorded.begin(), recorded.end(), [&](Instant when) { return when > cutoff_; });
    const std::string name_of_day = fmt::format("{} {}", inputs_.mission.words.day, day.number);
    const auto gap = [&](model::Source at, std::string why) {
      fault(Severity::warning, at, fmt::format("log '{}' of {}: {}", model::name_of(log), name_of_day, why),
            "log-not-closed");
      facts_.gaps.push_back({log, name_of_day, at, std::move(why)});
    };
    if (closure == day.closures.end()) return gap(day.closed_source, "nobody closed it");
    if (has_files && !volume->is_whole) return gap(volume->source, "a file of it could not be read whole");
    if (closure->rows != rows)
      return gap(closure->source, fmt::format("closed with {} rows, found {}", closure->rows, rows));
    if (late > 0)
      return gap(closure->source, fmt::format("{} of its {} rows were written down after the cut-off", late, rows));
    if (closure->complete_to > cutoff_)
      return gap(closure->source,
                 fmt::format("closed as complete to {}, after the cut-off", model::format_utc(closure->complete_to)));
    if (closure->complete_to < std::min(day.end, cutoff_))
      return gap(closure->source, fmt::format("complete only to {}", model::format_utc(closure->complete_to)));
  }

  /// A row that says which one it takes the place of, and what it speaks of itself.
  struct Correction {
    model::Log log;
    std::string ref;
    std::string origin;
    std::string subject;
    std::string place;
  };

  const Inputs& inputs_;
  int last_day_;
  Instant cutoff_;
  model::Diagnostics& faults_;
  model::Facts facts_;
  std::vector<Correction> corrections_;
};

}  // namespace

model::Facts merge(const Inputs& inputs, int last_day, Instant cutoff, model::Diagnostics& faults) {
  return Merger(inputs, last_day, cutoff, faults).run();
}

}  // namespace daywright::load
