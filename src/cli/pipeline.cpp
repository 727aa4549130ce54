#include "cli/pipeline.h"

#include <algorithm>

#include "load/merge.h"
#include "rules/decisions.h"
#include "rules/handover.h"
#include "rules/options.h"
#include "rules/status.h"

namespace daywright::cli {
namespace {

const model::Day* find_day(const load::Inputs& inputs, int number) {
  const auto found =
      std::find_if(inputs.days.begin(), inputs.days.end(), [&](const auto& d) { return d.number == number; });
  return found == inputs.days.end() ? nullptr : &*found;
}

/// A time given on the command line, UTC or elapsed time of the mission.
std::optional<model::Instant> read_time(const std::string& text, const model::Mission& mission) {
  const auto elapsed = model::parse_elapsed(text);
  if (elapsed.value) return mission.launch + *elapsed.value;
  return model::parse_utc(text).value;
}

/// The changes in terms of the mission. Requires times that the command line has let through.
rules::WhatIf read_changes(const Changes& changes, const model::Mission& mission, model::Instant cutoff) {
  rules::WhatIf what_if;
  what_if.extra_days = changes.extra_days;
  what_if.choice.in.insert(changes.transfers_in.begin(), changes.transfers_in.end());
  what_if.choice.not_out.insert(changes.transfers_not_out.begin(), changes.transfers_not_out.end());
  what_if.choice.rates.insert(changes.rates.begin(), changes.rates.end());
  if (changes.crew) what_if.crew = rules::WhatIf::Crew{*changes.crew, *read_time(*changes.crew_from, mission)};
  if (changes.return_option) {
    const auto at = changes.return_at ? *read_time(*changes.return_at, mission) : cutoff;
    what_if.going_home = rules::WhatIf::Return{*changes.return_option, at};
  }
  return what_if;
}

}  // namespace

std::optional<int> newest_day(std::span<const model::InputFile> files) {
  std::optional<int> newest;
  for (const auto& file : files) {
    const auto day = load::day_of_path(file.name);
    if (day && (!newest || *day > *newest)) newest = day;
  }
  return newest;
}

bool RunResult::has_faults() const {
  return std::any_of(diagnostics.begin(), diagnostics.end(),
                     [](const auto& d) { return d.severity != model::Severity::note; });
}

RunResult run_stages(std::span<const model::InputFile> files, const RunOptions& options) {
  RunResult result;
  const auto day = options.day ? options.day : newest_day(files);
  if (!day) {
    result.refusal = "there is no day folder such as days/001, so there is nothing to make a brief of";
    return result;
  }
  result.day = *day;
  result.inputs = load::load_inputs(files, *day);
  result.diagnostics = result.inputs.diagnostics;
  if (!options.filed.fault.empty())
    result.diagnostics.push_back(
        {model::Severity::warning, {}, "the archive is not sound: " + options.filed.fault, "archive-unsound"});
  // From here on plan, rules and rows do not change any more.
  const load::Inputs& inputs = result.inputs;
  const model::Day* today = find_day(inputs, *day);
  if (!inputs.usable || today == nullptr) return result;
  result.cutoff = today->cutoff;
  if (options.cutoff) {
    const auto cutoff = read_time(*options.cutoff, inputs.mission);
    if (!cutoff) {
      result.refusal = "the cut-off is not a time";
      return result;
    }
    result.cutoff = *cutoff;
    if (result.cutoff < today->end && result.cutoff != today->cutoff)
      result.diagnostics.push_back({model::Severity::warning, today->cutoff_source,
                                    "the cut-off lies before the end of the day: what was written down after it, and "
                                    "the word that a log is complete, do not count",
                                    "cutoff-early"});
  }
  if (result.cutoff < inputs.mission.launch) {
    result.refusal = "the cut-off lies before the start of the mission";
    return result;
  }
  const model::Facts facts = load::merge(inputs, *day, result.cutoff, result.diagnostics);

  // Yesterday's brief is the same function at yesterday's cut-off. What is wrong in it was said yesterday.
  const model::Day* yesterday = find_day(inputs, *day - 1);
  model::Diagnostics said_before;
  const model::Mission plan = rules::plan_in_effect(inputs.mission, facts, result.cutoff);
  const rules::Evening evening{plan, inputs.rules, facts, *today, result.cutoff};
  rules::Issue issue;
  for (const auto& file : files) issue.files.push_back(file.name);
  issue.filed = options.filed;
  issue.is_to_be_tried = options.is_to_be_tried;
  if (options.changes != nullptr) {
    auto status = rules::compute_options(evening, read_changes(*options.changes, plan, result.cutoff), issue);
    if (auto* why = std::get_if<std::string>(&status)) {
      result.refusal = std::move(*why);
    } else {
      result.status = std::move(std::get<model::DayStatus>(status));
    }
    return result;
  }
  if (yesterday != nullptr && yesterday->cutoff < result.cutoff) {
    const model::Facts facts_before = load::merge(inputs, *day - 1, yesterday->cutoff, said_before);
    const model::Mission plan_before = rules::plan_in_effect(inputs.mission, facts_before, yesterday->cutoff);
    const rules::Evening before{plan_before, inputs.rules, facts_before, *yesterday, yesterday->cutoff};
    result.status = rules::compute_status(evening, &before, issue);
  } else {
    result.status = rules::compute_status(evening, nullptr, issue);
  }
  if (options.needs_handover) {
    const double hours = options.shift_hours.value_or(inputs.mission.shift_hours);
    result.handover = rules::compute_handover(evening, model::from_days(hours / 24), issue);
  }
  for (const auto& diagnostic : result.status->diagnostics) result.diagnostics.push_back(diagnostic);
  return result;
}

}  // namespace daywright::cli
