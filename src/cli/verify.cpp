// What `verify` does: proves, or names each thing that breaks the proof.
#include <algorithm>
#include <array>
#include <atomic>
#include <stdexcept>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include "cli/at_once.h"
#include "cli/judge_bag.h"
#include "cli/remake.h"
#include "cli/session.h"
#include "cli/signed_outputs.h"
#include "model/printable.h"
#include "record/archive.h"
#include "record/descriptor.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

constexpr std::array bag_marks{"bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt"};

/// Whether each signature is that of the signer whom its record names, at the time that it names.
void judge_signatures(const fs::path& mission, record::SignOffLog& log) {
  const auto trust = record::read_trust_list(mission);
  const bool is_any_signed =
      std::any_of(log.records.begin(), log.records.end(), [](const auto& stored) { return !stored.signature.empty(); });
  if (is_any_signed && trust.allowed_signers.empty())
    return log.breaks.push_back({"allowed_signers", "is missing or empty, so that no signature can be judged", true});
  for (const auto& stored : log.records) {
    const auto& signoff = stored.signoff;
    if (stored.signature.empty()) continue;
    const auto fault = record::fault_of_signature(stored, trust);
    if (!fault.empty())
      log.breaks.push_back({record::place_of_record(signoff.number) + "/" + record::signature_file, fault});
  }
}

/// Whether what the sign-offs that stand cover is there, or filed; returns where the latter is.
std::string judge_subjects(const Command& command, record::SignOffLog& log) {
  const auto inputs = list_mission_files(read_mission(command.folder), last_day);
  const FiledSubjects filed(command.folder);
  const auto records = log.signoffs();
  std::string notes;
  for (const auto* signoff : model::standing(records)) {
    const auto others = other_files_since(*signoff, command, inputs);
    const std::string where = record::place_of_record(signoff->number);
    if (others.empty()) continue;
    if (const std::string bag = filed.find(*signoff); !bag.empty()) {
      notes += fmt::format("{}: note: what it covers is another since, and filed as {}\n", where, bag);
      continue;
    }
    for (const auto& other : others)
      log.breaks.push_back({where, fmt::format("covers bytes that are not there: '{}' is another", other), true});
  }
  return notes;
}

/// What an anchor holds: records or filed days, one resting on the other.
struct Chain {
  std::string place;
  const char* members;
  std::vector<std::string> digests;
};

/// What the newest member of a chain was when somebody noted it, held against what it is.
ExitCode judge_anchor(const Anchor& anchor, const Chain& chain, std::vector<record::LogBreak>& breaks) {
  const auto count = static_cast<std::int64_t>(chain.digests.size());
  if (anchor.count > count) {
    breaks.push_back(
        {chain.place, fmt::format("holds {} {}, expected at least {}", count, chain.members, anchor.count), true});
    return ExitCode::incomplete;
  }
  if (!chain.digests[static_cast<std::size_t>(anchor.count - 1)].starts_with(anchor.digest)) {
    breaks.push_back({chain.place + "/" + record::name_of_member(anchor.count), "has another digest than expected"});
    return ExitCode::invalid;
  }
  return anchor.count == count ? ExitCode::done : ExitCode::not_anchored;
}

/// The answer, given that of the anchor and what was found.
ExitCode with_breaks(ExitCode code, const std::vector<record::LogBreak>& breaks) {
  for (const auto& found : breaks) {
    if (!found.is_missing) return ExitCode::invalid;
    code = ExitCode::incomplete;
  }
  return code;
}

std::string lines_of(const std::vector<record::LogBreak>& breaks) {
  std::string text;
  for (const auto& found : breaks)
    text += fmt::format("{}{}: {}\n", found.where.empty() ? "" : model::printable(found.where) + ": ",
                        found.is_missing ? "incomplete" : "invalid", model::printable(found.what));
  return text;
}

const char* words_of(ExitCode code) {
  switch (code) {
    case ExitCode::done: return "valid and anchored";
    case ExitCode::not_anchored: return "valid, not anchored";
    case ExitCode::incomplete: return "INCOMPLETE";
    default: return "INVALID";
  }
}

ExitCode verify_mission(const Command& command) {
  record::SignOffLog log = record::read_signoffs(command.folder);
  const bool is_whole = log.breaks.empty();
  judge_signatures(command.folder, log);
  const std::string notes = judge_subjects(command, log);
  // A number means something only where there are no gaps.
  Chain chain{record::signoffs_folder, "records", {}};
  for (const auto& stored : log.records) chain.digests.push_back(stored.digest);
  const ExitCode anchored =
      command.anchor && is_whole ? judge_anchor(*command.anchor, chain, log.breaks) : ExitCode::not_anchored;
  const ExitCode code = with_breaks(anchored, log.breaks);
  std::string text = lines_of(log.breaks) + notes;
  for (const auto& stored : log.records) {
    const auto& signoff = stored.signoff;
    const std::string where = record::place_of_record(signoff.number);
    if (stored.signature.empty()) text += where + ": note: UNSIGNED, so nothing proves who made it\n";
    if (!signoff.is_after_previous) text += where + ": note: dated before the record that it follows\n";
  }
  const fs::path archive = command.folder / record::archive_folder;
  if (fs::symlink_status(archive).type() != fs::file_type::not_found)
    text += fmt::format("{}: note: not looked at here; 'daywright verify {}' does\n", record::archive_folder,
                        model::printable(archive.string()));
  text += fmt::format("{}: {} sign-off{}{}\n", words_of(code), log.records.size(), log.records.size() == 1 ? "" : "s",
                      log.records.empty() ? ""
                                          : fmt::format("; the last is record {}:{}", log.records.back().signoff.number,
                                                        log.records.back().digest));
  print(text);
  return code;
}

/// What one bag gives, with its outputs made again where that is asked for.
JudgedBag judge(const Command& command, const fs::path& place, SignatureJudge& signatures) {
  JudgedBag judged = judge_bag(place, signatures);
  if (!command.remakes || !judged.breaks.empty() || !judged.filed) return judged;
  Remade remade;
  try {
    remade = remake(place, judged.filed->day);
  } catch (const std::system_error&) {
    throw;
  } catch (const std::runtime_error& error) {
    remade.breaks.push_back({"data", fmt::format("can't be made again: {}", error.what())});
  }
  judged.breaks.insert(judged.breaks.end(), remade.breaks.begin(), remade.breaks.end());
  judged.notes.insert(judged.notes.end(), remade.notes.begin(), remade.notes.end());
  return judged;
}

ExitCode verify_bag(const Command& command) {
  SignatureJudge signatures;
  JudgedBag judged = judge(command, command.folder, signatures);
  ExitCode anchored = ExitCode::not_anchored;
  std::string text;
  if (judged.filed) {
    const record::Descriptor bag(command.folder, O_RDONLY | O_DIRECTORY);
    for (auto& found : record::check_tag_lists(bag)) judged.breaks.push_back(std::move(found));
  }
  if (const auto& filed = judged.filed; command.anchor) {
    const auto& anchor = *command.anchor;
    if (!filed) {
      judged.breaks.push_back({"", "is no filed day, and one was expected"});
    } else if (anchor.count != filed->number) {
      judged.breaks.push_back(
          {"", fmt::format("is number {} of its archive, and number {} was expected", filed->number, anchor.count)});
    } else if (!filed->digest.starts_with(anchor.digest)) {
      judged.breaks.push_back({"", fmt::format("is number {} with another digest than expected", filed->number)});
    } else {
      anchored = ExitCode::done;
    }
  }
  const ExitCode code = with_breaks(anchored, judged.breaks);
  text += lines_of(judged.breaks);
  for (const auto& note : judged.notes) text += "note: " + model::printable(note) + "\n";
  text += fmt::format("{}: a bag with {} files", words_of(code), judged.bag.payload.size());
  if (const auto& filed = judged.filed)
    text += fmt::format(", day {} of {}, revision {}; {}:{}", filed->day, model::printable(filed->mission),
                        filed->revision, filed->number, filed->digest);
  print(text + "\n");
  return code;
}

/// Judges all bags of an archive, several at once, and says on a terminal how far it is.
std::vector<JudgedBag> judge_all(const Command& command, const std::vector<std::int64_t>& numbers) {
  std::vector<JudgedBag> judged(numbers.size());
  SignatureJudge signatures;
  std::atomic<std::size_t> done = 0;
  const bool shows_progress = ::isatty(STDERR_FILENO) != 0;
  for_each_at_once(numbers.size(), [&](std::size_t i) {
    judged[i] = judge(command, command.folder / record::name_of_member(numbers[i]), signatures);
    if (shows_progress) complain(fmt::format("\r{} of {} days verified", ++done, numbers.size()));
  });
  if (shows_progress) complain("\r\033[K");
  return judged;
}

ExitCode verify_archive(const Command& command) {
  const record::Archive archive = record::read_archive(command.folder);
  auto breaks = archive.breaks;
  std::vector<std::int64_t> numbers;
  for (const auto number : record::list_series(record::Descriptor(command.folder, O_RDONLY | O_DIRECTORY)).numbers)
    numbers.push_back(number);
  const auto judged = judge_all(command, numbers);
  std::string notes;
  std::uint64_t bytes = 0;
  for (std::size_t i = 0; i < numbers.size(); ++i) {
    const std::string place = record::name_of_member(numbers[i]) + "/";
    for (const auto& found : judged[i].breaks) breaks.push_back({place + found.where, found.what, found.is_missing});
    for (const auto& note : judged[i].notes) notes += place + ": note: " + model::printable(note) + "\n";
    bytes += judged[i].bag.bytes_read;
  }
  std::stable_sort(breaks.begin(), breaks.end(), [](const auto& a, const auto& b) { return a.where < b.where; });
  Chain chain{record::archive_folder, "filed days", {}};
  for (const auto& filed : archive.days) chain.digests.push_back(filed.digest);
  const ExitCode anchored =
      command.anchor && archive.breaks.empty() ? judge_anchor(*command.anchor, chain, breaks) : ExitCode::not_anchored;
  const ExitCode code = with_breaks(anchored, breaks);
  std::string text = lines_of(breaks) + notes;
  text += fmt::format("{}: {} filed day{}, {} bytes{}\n", words_of(code), numbers.size(),
                      numbers.size() == 1 ? "" : "s", bytes,
                      archive.days.empty()
                          ? ""
                          : fmt::format("; the last is {}:{}", archive.days.back().number, archive.days.back().digest));
  if (code == ExitCode::not_anchored && command.anchor)
    text += fmt::format("up to {} it is what was noted; what is newer is not proved\n", command.anchor->count);
  print(text);
  return code;
}

/// Whether a folder holds numbered folders, those of an archive, or is the one for them and holds nothing yet.
bool is_archive(const fs::path& place) {
  const record::Descriptor folder(place, O_RDONLY | O_DIRECTORY);
  const auto list = record::list_series(folder);
  return !list.numbers.empty() || fs::weakly_canonical(place).filename() == record::archive_folder;
}

/// Whether a folder holds any of what only bags hold: what else a bag has may be what is missing.
bool is_bag(const fs::path& place) {
  std::error_code error;
  return std::any_of(bag_marks.begin(), bag_marks.end(),
                     [&](const char* name) { return fs::is_regular_file(place / name, error); });
}

}  // namespace

ExitCode run_verify(const Command& command) {
  std::error_code error;
  if (fs::is_regular_file(command.folder / "mission.toml", error)) {
    if (!command.remakes) return verify_mission(command);
    complain("daywright: --remake is for archives and their bags\n");
    return ExitCode::usage;
  }
  if (is_bag(command.folder)) return verify_bag(command);
  if (fs::is_directory(command.folder, error) && is_archive(command.folder)) return verify_archive(command);
  complain(
      fmt::format("daywright: '{}' is no mission folder, archive or bag: it has no mission.toml, no numbered days "
                  "and no bagit.txt\n",
                  model::printable(command.folder.string())));
  return ExitCode::usage;
}

}  // namespace daywright::cli
