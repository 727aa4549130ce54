// Damaged evidence is seen and never helps: every input file of the demo deleted, cut short, or with a value set to
// nonsense. A seeded sample by default; everything when DAYWRIGHT_FULL is set, as `tests/run.sh --full` does.
#include <algorithm>
#include <array>
#include <atomic>
#include <cstdlib>
#include <functional>
#include <future>
#include <map>
#include <mutex>
#include <random>
#include <set>
#include <sstream>
#include <stdexcept>
#include <thread>

#include "catch_compat.h"
#include "cli/pipeline.h"
#include "cli/read_files.h"
#include "cli/save_workbook.h"
#include "temporary_folder.h"
#include "write/handover.h"
#include "write/workbook.h"

using namespace daywright;

namespace {

using Files = std::vector<model::InputFile>;
using Ranks = std::map<std::string, int>;

const Files& demo() {
  static const Files files = cli::read_mission(DEMO).files;
  return files;
}

/// What a run says of the gates and of the inputs.
struct Outcome {
  Ranks ranks;  ///< of every verdict: gates, criteria, zones, longer flights, ways home; empty when there is no brief
  std::set<std::string> faults;  ///< what is said of a place: file, line, text
  std::size_t unplaced = 0;
};

/// Whether cases are tried on the evening, and its workbook and the handover are made, too: that takes as long as all
/// the rest.
enum class Tried { no, yes };

/// So for one damage in 32.
Tried now_and_then(std::size_t number) { return number % 32 == 0 ? Tried::yes : Tried::no; }

void try_cases(const cli::RunResult& result, Ranks& ranks) {
  const auto& trial = result.status->trial;
  if (!trial.items.empty()) ranks["trial"] = model::rank(trial.verdict);
  for (const auto& item : trial.items) ranks["trial, " + item.id] = model::rank(item.verdict);
  for (const auto& criterion : trial.criteria) {
    for (std::size_t days = 0; days < criterion.verdicts.size(); ++days)
      ranks["trial, " + criterion.title + std::to_string(days)] = model::rank(criterion.verdicts[days]);
  }
  // Saving reads back how many cells and formulas there are.
  const test::TemporaryFolder work;
  cli::save_workbook(write::lay_out_workbook(*result.status, result.cutoff), work.path() / "brief.xlsx");
  if (write::render_handover(*result.handover, "").empty()) throw std::logic_error("the handover has no text");
}

Outcome outcome_of(const Files& files, Tried tried) {
  Outcome outcome;
  cli::RunOptions options{8, std::nullopt, tried == Tried::yes};
  options.needs_handover = tried == Tried::yes;
  const auto result = cli::run_stages(files, options);
  for (const auto& d : result.diagnostics) {
    if (!d.source.is_known()) {
      ++outcome.unplaced;
      continue;
    }
    const auto& name = files.at(static_cast<std::size_t>(d.source.file)).name;
    outcome.faults.insert(name + ":" + std::to_string(d.source.line) + " " + d.rule + " " + d.text);
  }
  if (!result.status) return outcome;
  for (const auto& figure : result.status->figures) {
    const auto* verdict = std::get_if<model::Verdict>(&figure.value);
    if (verdict != nullptr) outcome.ranks[figure.id] = model::rank(*verdict);
  }
  if (tried == Tried::yes) try_cases(result, outcome.ranks);
  return outcome;
}

const Outcome& sound() {
  static const Outcome outcome = outcome_of(demo(), Tried::yes);
  return outcome;
}

/// A verdict that is better in `damaged` than without the damage, or nothing. One that is new is no better.
std::string raised_rank(const Outcome& damaged) {
  for (const auto& [verdict, rank] : damaged.ranks) {
    const auto before = sound().ranks.find(verdict);
    if (before != sound().ranks.end() && rank > before->second) return verdict + " rises";
  }
  return {};
}

bool has_new_fault(const Outcome& damaged) {
  return std::any_of(damaged.faults.begin(), damaged.faults.end(),
                     [](const auto& fault) { return !sound().faults.contains(fault); });
}

bool full() { return std::getenv("DAYWRIGHT_FULL") != nullptr; }

/// One damage: the file, and what stands there instead.
struct Damage {
  std::size_t file = 0;
  std::string text;
  std::string what;
  bool may_be_silent = false;  ///< what remains is itself a valid file
};

/// Runs the demo with each damage, on all cores, and gives what went wrong.
std::vector<std::string> sweep(std::size_t count, const std::function<Damage(std::size_t)>& make) {
  std::ignore = sound();
  std::vector<std::string> failures;
  std::mutex guard;
  std::atomic<std::size_t> next = 0;
  const auto work = [&] {
    Files files = demo();
    for (std::size_t n = next++; n < count; n = next++) {
      Damage damage = make(n);
      std::swap(files[damage.file].text, damage.text);
      const Outcome outcome = outcome_of(files, now_and_then(n));
      std::swap(files[damage.file].text, damage.text);
      std::string failure = raised_rank(outcome);
      if (failure.empty() && !damage.may_be_silent && !has_new_fault(outcome)) failure = "no fault with a place";
      if (failure.empty()) continue;
      const std::lock_guard lock(guard);
      failures.push_back(demo()[damage.file].name + " " + damage.what + ": " + failure);
    }
  };
  std::vector<std::future<void>> workers;
  for (unsigned i = 0; i < std::max(1U, std::thread::hardware_concurrency()); ++i)
    workers.push_back(std::async(std::launch::async, work));
  for (auto& worker : workers) worker.get();
  std::sort(failures.begin(), failures.end());
  return failures;
}

/// Every one of `count` things, or so many of them picked by a fixed seed.
std::vector<std::size_t> choose(std::size_t count, std::size_t sample, unsigned seed) {
  std::vector<std::size_t> all(count);
  for (std::size_t i = 0; i < count; ++i) all[i] = i;
  if (full() || count <= sample) return all;
  std::mt19937 random(seed);
  std::vector<std::size_t> chosen;
  std::sample(all.begin(), all.end(), std::back_inserter(chosen), sample, random);
  return chosen;
}

/// Where a value stands in a file, and the column or key it belongs to.
struct Value {
  std::size_t file = 0;
  std::size_t begin = 0;
  std::size_t end = 0;
  std::string name;
};

/// The cells below the first line of a CSV file, quotes included.
void add_cells(std::size_t file, std::vector<Value>& values) {
  const std::string& text = demo()[file].text;
  const char delimiter = text.substr(0, text.find('\n')).find(';') == std::string::npos ? ',' : ';';
  std::vector<std::string> names;
  std::size_t begin = text.starts_with("\xEF\xBB\xBF") ? 3 : 0;
  std::size_t column = 0;
  const std::string& path = demo()[file].name;
  const std::string log = path.substr(path.rfind('/') + 1, path.size() - path.rfind('/') - 5);  // without ".csv"
  bool in_first_line = true;
  bool is_quoted = false;
  for (std::size_t at = begin; at < text.size(); ++at) {
    if (text[at] == '"') is_quoted = !is_quoted;
    if (is_quoted || (text[at] != delimiter && text[at] != '\n')) continue;
    const std::size_t end = at > begin && text[at - 1] == '\r' ? at - 1 : at;
    if (in_first_line) {
      names.push_back(text.substr(begin, end - begin));
    } else {
      values.push_back({file, begin, end, log + '.' + names.at(column)});
    }
    ++column;
    begin = at + 1;
    if (text[at] == '\n') {
      in_first_line = false;
      column = 0;
    }
  }
}

/// The rows below the first line of a CSV file, line breaks included.
void add_rows(std::size_t file, std::vector<Value>& values) {
  const std::string& text = demo()[file].text;
  const std::string name = demo()[file].name == "days/008/readings.csv" ? "readings of day 8" : "row";
  std::size_t begin = text.find('\n') + 1;
  bool is_quoted = false;
  for (std::size_t at = begin; at < text.size(); ++at) {
    if (text[at] == '"') is_quoted = !is_quoted;
    if (is_quoted || text[at] != '\n') continue;
    values.push_back({file, begin, at + 1, name});
    begin = at + 1;
  }
}

/// The values of a TOML file that stand on the line of their key.
void add_settings(std::size_t file, std::vector<Value>& values) {
  const std::string& text = demo()[file].text;
  std::size_t begin = 0;
  for (std::size_t end = text.find('\n'); end != std::string::npos; begin = end + 1, end = text.find('\n', begin)) {
    const std::string line = text.substr(begin, end - begin);
    const std::size_t equals = line.find(" = ");
    if (line.starts_with('#') || equals == std::string::npos) continue;
    values.push_back({file, begin + equals + 3, end, line.substr(0, equals)});
  }
}

std::vector<Value> values_of(std::string_view suffix, void (*add)(std::size_t, std::vector<Value>&)) {
  std::vector<Value> values;
  for (std::size_t i = 0; i < demo().size(); ++i) {
    if (demo()[i].name.ends_with(suffix)) add(i, values);
  }
  return values;
}

Damage replace(const Value& value, std::string_view by, const std::set<std::string>& free_text) {
  const std::string& text = demo()[value.file].text;
  std::string damaged = text;
  damaged.replace(value.begin, value.end - value.begin, by);
  const bool is_free = free_text.contains(value.name);
  return {value.file, std::move(damaged), "value of '" + value.name + "' at byte " + std::to_string(value.begin),
          is_free};
}

}  // namespace

TEST_CASE("the undamaged demo has a READY gate, one that is NOT READY and one with NO DATA") {
  const auto result = cli::run_stages(demo(), {8, std::nullopt});
  REQUIRE(result.status);
  CHECK(result.status->find("gate.eva_3.verdict")->text == "READY");
  CHECK(result.status->find("gate.undock.verdict")->text == "NOT READY");
  CHECK(result.status->find("gate.entry.verdict")->text == "NO DATA");
}

TEST_CASE("an input file that is deleted is missed, and no rank rises", "[sweep]") {
  for (std::size_t i = 0; i < demo().size(); ++i) {
    Files damaged = demo();
    damaged.erase(damaged.begin() + static_cast<std::ptrdiff_t>(i));
    const Outcome outcome = outcome_of(damaged, now_and_then(i));
    INFO(demo()[i].name << " deleted");
    CHECK(raised_rank(outcome).empty());
    // A file that is not there has no line; what needs it has one. Nobody has closed this log, which is said already.
    const bool is_missed_anyway = demo()[i].name == "days/008/readings.csv";
    CHECK((has_new_fault(outcome) || outcome.unplaced > sound().unplaced || is_missed_anyway));
  }
}

TEST_CASE("an input file that is cut short is seen to be, with a place, and no rank rises", "[sweep]") {
  std::vector<std::pair<std::size_t, std::size_t>> cuts;  // file, and the bytes that are left
  for (std::size_t i = 0; i < demo().size(); ++i) {
    for (const std::size_t at : choose(demo()[i].text.size(), 1, 20310513)) cuts.emplace_back(i, at);
  }
  const auto failures = sweep(cuts.size(), [&](std::size_t n) {
    const auto& [file, left] = cuts[n];
    const std::string& text = demo()[file].text;
    // The closing marker of a TOML file without its line break is still the whole file. A log that nobody closed has no
    // number of rows to be held against: cut between two rows it is a valid log, and its want of a word is said
    // already.
    const bool is_whole = demo()[file].name.ends_with(".toml") && left + 1 == text.size() && text.back() == '\n';
    const bool is_valid_log = demo()[file].name == "days/008/readings.csv" && left > 0 && text[left - 1] == '\n';
    return Damage{file, text.substr(0, left), "cut at byte " + std::to_string(left), is_whole || is_valid_log};
  });
  CHECK(failures == std::vector<std::string>{});
  WARN("cuts tried: " << cuts.size());
}

TEST_CASE("a row that is left out is missed, with a place, and no rank rises", "[sweep]") {
  const auto rows = values_of(".csv", add_rows);
  const auto chosen = choose(rows.size(), 60, 5);
  const auto failures = sweep(chosen.size(), [&](std::size_t n) {
    // Nobody has closed this log, which is said already.
    return replace(rows[chosen[n]], "", {"readings of day 8"});
  });
  CHECK(failures == std::vector<std::string>{});
  WARN("rows tried: " << chosen.size());
}

TEST_CASE("a cell set to nonsense is seen to be, with a place, and no rank rises", "[sweep]") {
  // Where any words are as good as any others: text, names that the log itself makes up, and who said it; and the
  // needs of a task that was planned anew, which no longer count.
  const std::set<std::string> free_text{"actions.action",
                                        "actions.from",
                                        "actions.text",
                                        "actions.to",
                                        "anomalies.anomaly",
                                        "anomalies.disposition",
                                        "clearances.conditions",
                                        "clearances.remark",
                                        "closeouts.by",
                                        "closeouts.closeout",
                                        "closeouts.remark",
                                        "counts-bench.who",
                                        "counts-gauges.ref",
                                        "counts-gauges.remark",
                                        "counts-gauges.sensor",
                                        "counts-stowage.line",
                                        "counts-stowage.note",
                                        "counts-stowage.told by",
                                        "counts.by",
                                        "counts.remark",
                                        "decisions.changes",
                                        "decisions.decision",
                                        "decisions.reason",
                                        "decisions.value",
                                        "equipment.function",
                                        "equipment.remark",
                                        "findings.disposition",
                                        "findings.finding",
                                        "plan.needs",
                                        "plan.remark",
                                        "plan.task",
                                        "plan.title",
                                        "sorties.hardware",
                                        "sorties.remark",
                                        "statements.says",
                                        "surveys-arm.looked at by",
                                        "surveys-arm.pass",
                                        "surveys-arm.sort",
                                        "surveys.kind",
                                        "surveys.remark",
                                        "surveys.reviewer",
                                        "surveys.survey",
                                        "tasks-depot.note",
                                        "tasks.remark",
                                        "transfers.remark",
                                        "transfers.transfer"};
  const auto cells = values_of(".csv", add_cells);
  const auto chosen = choose(cells.size(), 60, 8);
  const auto failures = sweep(chosen.size(), [&](std::size_t n) { return replace(cells[chosen[n]], "?!", free_text); });
  CHECK(failures == std::vector<std::string>{});
  WARN("cells tried: " << chosen.size());
}

TEST_CASE("a setting set to nonsense is seen to be, with a place, and no rank rises", "[sweep]") {
  // Words for people, and names that the rules or the plan themselves make up.
  const std::set<std::string> free_text{"accepts",
                                        "approved_by",
                                        "at_least",
                                        "at_most",
                                        "audience",
                                        "by",
                                        "closeouts",
                                        "gives_up",
                                        "destination",
                                        "kind",
                                        "launch_site_utc_offset_hours",
                                        "lead_title",
                                        "name",
                                        "prepared_by",
                                        "rate_source",
                                        "rationale",
                                        "survey_kind",
                                        "text",
                                        "title",
                                        "utc_offset_hours",
                                        "voided_by",
                                        "\"not begun\""};
  const auto settings = values_of(".toml", add_settings);
  for (const char* nonsense : {"\"?!\"", "-1.5", "[]"}) {
    const auto chosen = choose(settings.size(), 20, 9);
    const auto failures =
        sweep(chosen.size(), [&](std::size_t n) { return replace(settings[chosen[n]], nonsense, free_text); });
    INFO(nonsense);
    CHECK(failures == std::vector<std::string>{});
    WARN("settings tried: " << chosen.size());
  }
}
