#include "cli/signed_outputs.h"

#include <algorithm>
#include <iterator>
#include <optional>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/outputs.h"
#include "model/printable.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "record/filed_files.h"
#include "record/signoff_log.h"
#include "write/json.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// The bytes of an output; nothing where it is not there, or is no file.
std::optional<std::string> read_output(const fs::path& path) {
  try {
    return record::Descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
  } catch (const std::system_error&) {
    return std::nullopt;
  }
}

/// The figures of the record itself that are others now.
std::vector<write::FigureChange> changes_of_record(const model::SignOff& signoff, const Session& session) {
  std::vector<write::FigureChange> changes;
  const auto& status = *session.result.status;
  const auto now = seen_verdicts(session.result.inputs.mission, status);
  for (const auto& was : signoff.verdicts) {
    const auto is = std::find_if(now.begin(), now.end(), [&](const auto& v) { return v.gate == was.gate; });
    const std::string verdict = is == now.end() ? "" : is->verdict;
    if (verdict != was.verdict) changes.push_back({"gate." + was.gate + ".verdict", was.verdict, verdict});
  }
  const std::string limiting = limiting_words(status);
  if (limiting != signoff.limiting) changes.push_back({"limiting", signoff.limiting, limiting});
  return changes;
}

/// Those of the files that the brief of a day rests on.
std::vector<write::InputRecord> up_to(const std::vector<write::InputRecord>& inputs, int day) {
  std::vector<write::InputRecord> some;
  std::copy_if(inputs.begin(), inputs.end(), std::back_inserter(some),
               [&](const auto& input) { return is_of_day(input.path, day); });
  return some;
}

}  // namespace

std::string limiting_words(const model::DayStatus& status) {
  const auto* table = status.find_table("limiting");
  if (table == nullptr || table->rows.empty()) return "no item limits";
  std::string words;
  for (std::size_t i = 0; i < table->columns.size(); ++i)
    words += (i == 0 ? "" : " ") + model::printable(status.text_of(table->rows.front().at(i), table->columns.at(i)));
  return words;
}

std::vector<model::SeenVerdict> seen_verdicts(const model::Mission& mission, const model::DayStatus& status) {
  std::vector<model::SeenVerdict> verdicts;
  for (const auto& gate : mission.gates) {
    const auto* verdict = status.find("gate." + gate.id + ".verdict");
    if (verdict != nullptr) verdicts.push_back({gate.id, verdict->text});
  }
  return verdicts;
}

std::vector<std::string> other_files_since(const model::SignOff& signoff, const Command& command,
                                           const std::vector<write::InputRecord>& inputs) {
  const int day = static_cast<int>(signoff.day);
  const bool is_of_handover = model::is_of_handover(signoff);
  const fs::path place = is_of_handover ? handover_folder(command, day) : day_folder(command, day);
  std::vector<std::string> others;
  for (const auto& subject : signoff.subjects) {
    const auto bytes = read_output(place / subject.path);
    if (!bytes || record::sha256_hex(*bytes) != subject.sha256) others.push_back("output " + subject.path);
  }
  if (is_of_handover) return others;  // it covers a page and no list of inputs
  const auto list = read_output(place / inputs_file);
  if (others.empty() && list) return write::changed_inputs(*list, up_to(inputs, day));
  return others;
}

FiledSubjects::FiledSubjects(const fs::path& mission) : mission_(mission) {
  auto archive = record::read_archive(mission / record::archive_folder);
  // One that is not sound proves nothing.
  if (archive.breaks.empty()) days_ = std::move(archive.days);
}

std::string FiledSubjects::find(const model::SignOff& signoff) const {
  const char* const folder = model::is_of_handover(signoff) ? "handover" : "outputs";
  for (auto filed = days_.rbegin(); filed != days_.rend(); ++filed) {
    if (filed->day != signoff.day) continue;
    const fs::path place = fs::path(record::archive_folder) / record::name_of_member(filed->number);
    try {
      const record::FiledFiles files(mission_ / place, filed->digest);
      if (std::all_of(signoff.subjects.begin(), signoff.subjects.end(), [&](const auto& subject) {
            return files.digest_of(fmt::format("{}/{}", folder, subject.path)) == subject.sha256;
          }))
        return place.string();
    } catch (const record::NotAsFiled&) {
      continue;  // what its lists say is not what was filed
    }
  }
  return {};
}

OtherSince others_since(const model::SignOff& signoff, const Command& command, const Session& session,
                        const std::vector<write::InputRecord>& inputs) {
  OtherSince others{other_files_since(signoff, command, inputs), {}};
  if (others.files.empty() || signoff.day != session.result.day) return others;
  const auto is_signed = [&](const std::string& bytes) {
    return std::any_of(signoff.subjects.begin(), signoff.subjects.end(), [&](const auto& subject) {
      return subject.path == status_file && record::sha256_hex(bytes) == subject.sha256;
    });
  };
  const auto before = read_output(day_folder(command, session.result.day) / status_file);
  others.figures = before && is_signed(*before)
                       ? write::find_figure_changes(*before, write::render_status(*session.result.status, versions()))
                       : changes_of_record(signoff, session);
  return others;
}

std::vector<std::string> say_what_is_overtaken(const Command& command, const Session& session) {
  std::vector<std::string> said;
  const record::SignOffLog log = record::read_signoffs(command.folder);
  if (!log.breaks.empty())
    said.push_back(fmt::format("the sign-offs are not sound ('{}' {}); 'daywright verify' says all",
                               log.breaks.front().where, log.breaks.front().what));
  const auto records = log.signoffs();
  if (records.empty()) return said;
  constexpr std::size_t most_figures = 3;
  const auto inputs = list_mission_files(session.files, last_day);
  const FiledSubjects filed(command.folder);
  std::size_t of_other_days = 0;
  for (const auto* signoff : model::standing(records)) {
    const auto others = others_since(*signoff, command, session, inputs);
    if (others.files.empty()) continue;
    if (signoff->day != session.result.day) {
      of_other_days += filed.find(*signoff).empty() ? 1 : 0;
      continue;
    }
    said.push_back(fmt::format("sign-off {} of {} on day {} is overtaken: '{}'{} changed since{}{}", signoff->number,
                               signoff->signer.principal, signoff->day, others.files.front(),
                               others.files.size() == 1 ? "" : fmt::format(" and {} more", others.files.size() - 1),
                               others.figures.empty() ? "" : "; ", write::sum_up(others.figures, most_figures)));
  }
  if (of_other_days > 0)
    said.push_back(fmt::format("of other days, {} sign-off{} overtaken and not filed; 'daywright verify' names them",
                               of_other_days, of_other_days == 1 ? " is" : "s are"));
  return said;
}

}  // namespace daywright::cli
