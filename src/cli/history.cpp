// What `history` does: figures over the filed days, how verdicts changed, and how good forecasts were.
#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "cli/at_once.h"
#include "cli/commands.h"
#include "cli/filed_brief.h"
#include "cli/outputs.h"
#include "cli/session.h"
#include "cli/templates.h"
#include "cli/terminal.h"
#include "model/printable.h"
#include "model/suggest.h"
#include "record/filed_files.h"
#include "record/output_file.h"
#include "rules/forecast_score.h"
#include "write/caution.h"
#include "write/history.h"
#include "write/history_page.h"
#include "write/overview.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// The newest revision of each day in order of day, or all in order of number.
std::vector<record::FiledDay> chosen_days(const record::Archive& archive, bool all) {
  if (all) return archive.days;
  std::map<std::int64_t, record::FiledDay> newest;
  for (const auto& filed : archive.days) newest[filed.day] = filed;
  std::vector<record::FiledDay> days;
  for (auto& [day, filed] : newest) days.push_back(std::move(filed));
  return days;
}

/// A day as it was filed, with the digest of the plan that it rests on.
struct ReadDay {
  write::PastDay past;
  std::string plan;
  std::vector<std::string> ids;  ///< of all figures; only where they are asked for
};

enum class Asked { figures, overview, ids };

ReadDay read_day(const fs::path& archive, const record::FiledDay& filed, const std::vector<std::string>& figures,
                 Asked asked) {
  ReadDay day{{filed.number, filed.day, filed.revision, {}, {}, {}}, {}, {}};
  try {
    const record::FiledFiles files(archive / record::name_of_member(filed.number), filed.digest);
    const std::string status = files.read(fmt::format("outputs/{}", status_file));
    if (const auto cutoff = write::find_past_figure(status, "now.utc")) day.past.cutoff = cutoff->value;
    day.plan = files.digest_of("inputs/mission.toml");
    if (asked == Asked::overview) day.past.figures = write::read_past_figures(status, write::is_of_overview);
    if (asked == Asked::ids) {
      for (const auto& figure : write::read_past_figures(status)) day.ids.push_back(figure.id);
    }
    for (const auto& id : figures) {
      if (auto figure = write::find_past_figure(status, id)) day.past.figures.push_back(std::move(*figure));
    }
    std::sort(day.past.figures.begin(), day.past.figures.end(),
              [](const auto& a, const auto& b) { return a.id < b.id; });
  } catch (const record::NotAsFiled& fault) {
    day.past.fault = fault.what();
  }
  return day;
}

/// Reads the days, several at once: most of the time goes into digests.
std::vector<ReadDay> read_days(const fs::path& archive, const std::vector<record::FiledDay>& filed,
                               const std::vector<std::string>& figures) {
  std::vector<ReadDay> days(filed.size());
  for_each_at_once(filed.size(), [&](std::size_t i) {
    days[i] = read_day(archive, filed[i], figures, figures.empty() ? Asked::overview : Asked::figures);
  });
  return days;
}

write::Overview make_overview(const std::vector<write::PastDay>& days, const std::vector<std::string>& plans) {
  write::Overview overview{write::gate_histories(days), {}, write::nominal_share(days)};
  for (auto& levels : write::item_levels(days, plans)) {
    const auto score = rules::score_forecasts(levels.days);
    overview.items.push_back({std::move(levels), score});
  }
  return overview;
}

/// Says which of the figures no day has, with the nearest name that the newest day has.
bool has_unknown(const fs::path& archive, const std::vector<record::FiledDay>& filed,
                 const std::vector<write::PastDay>& days, const std::vector<std::string>& figures) {
  bool is_any = false;
  for (const auto& id : figures) {
    if (std::any_of(days.begin(), days.end(), [&](const auto& day) { return day.find(id) != nullptr; })) continue;
    is_any = true;
    const auto known = read_day(archive, filed.back(), {}, Asked::ids).ids;
    complain(fmt::format("daywright: no filed day has a figure '{}'{} ('explain DIR --list' shows all)\n",
                         model::printable(id), model::did_you_mean(id, known)));
  }
  return is_any;
}

}  // namespace

ExitCode run_history(const Command& command) {
  const fs::path place = archive_of(command.folder);
  const auto archive = record::read_archive(place);
  auto warnings = faults_of(archive);
  warn_of_faults(place, warnings);
  // Forecasts are scored, and verdicts followed, by what held in the end.
  const auto filed = chosen_days(archive, command.all_revisions && !command.figures.empty());
  std::vector<write::PastDay> days;
  std::vector<std::string> plans;
  for (auto& day : read_days(place, filed, command.figures)) {
    if (!day.past.fault.empty()) {
      warnings.push_back(
          fmt::format("'{}' is {}: {}", record::name_of_member(day.past.number), write::not_as_filed, day.past.fault));
      complain(fmt::format("daywright: {}\n", model::printable(warnings.back())));
    }
    days.push_back(std::move(day.past));
    plans.push_back(std::move(day.plan));
  }
  const bool is_any_as_filed = std::any_of(days.begin(), days.end(), [](const auto& day) { return day.fault.empty(); });
  if (is_any_as_filed && has_unknown(place, filed, days, command.figures)) return ExitCode::nothing_changed;
  std::optional<write::Overview> overview;
  if (command.figures.empty()) overview = make_overview(days, plans);

  if (command.page) {
    const std::string shown = place.lexically_normal().string();
    record::save_file(*command.page,
                      write::render_history_page({shown, days, command.figures, overview, warnings}, brief_style));
    print(command.page->string() + "\n");
  } else if (command.form == OutputForm::json) {
    print(overview ? write::render_overview_json(*overview) : write::render_history_json(days, command.figures));
  } else if (command.form == OutputForm::csv) {
    print(write::render_history_csv(days, command.figures));
    complain(fmt::format("daywright: {}\n", write::caution));
  } else if (overview) {
    print(fmt::format("{}\n{}\n", write::render_overview(*overview), write::caution));
  } else {
    std::string text;
    for (const auto& id : command.figures) text += write::render_history(days, id, read_terminal()) + "\n";
    print(fmt::format("{}{}\n", text, write::caution));
  }
  return warnings.empty() ? ExitCode::done : ExitCode::done_with_faults;
}

}  // namespace daywright::cli
