#include "cli/judge_bag.h"

#include <algorithm>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/outputs.h"
#include "load/inputs.h"
#include "model/signoff.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "record/series.h"
#include "write/json.h"
#include "write/past_figures.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view inputs_begin = "data/inputs/";
constexpr std::string_view outputs_begin = "data/outputs/";
constexpr std::string_view handover_begin = "data/handover/";
constexpr std::string_view templates_begin = "data/templates/";

/// The files of the payload below a folder, as a list of inputs has them, with `before` in front of their names.
std::vector<write::InputRecord> records_below(const record::Bag& bag, std::string_view folder, const char* before) {
  std::vector<write::InputRecord> records;
  for (const auto& file : bag.payload) {
    if (file.path.starts_with(folder))
      records.push_back({before + file.path.substr(folder.size()), static_cast<std::size_t>(file.size), file.sha256});
  }
  return records;
}

/// One bag while it is judged.
class Judge {
 public:
  Judge(const fs::path& place, SignatureJudge& signatures) : place_(place), signatures_(signatures) {}

  JudgedBag judge(const record::OnBytes& on_bytes) {
    found_.bag = record::read_bag(place_, on_bytes);
    for (const auto& finding : found_.bag.findings) {
      if (finding.fault == record::BagFault::note) {
        found_.notes.push_back(finding.where + ": " + finding.what);
      } else {
        found_.breaks.push_back({finding.where, finding.what, finding.fault == record::BagFault::incomplete});
      }
    }
    auto filed = record::read_filed_day(found_.bag);
    if (const auto* fault = std::get_if<std::string>(&filed)) {
      found_.notes.push_back(fmt::format("is no day that was filed here: bag-info.txt {}", *fault));
      return std::move(found_);
    }
    found_.filed = std::get<record::FiledDay>(std::move(filed));
    for (const auto& file : found_.bag.unlisted_tag_files) add(file, "is in no list of the bag, and so not protected");
    try {
      judge_lists();
      judge_signoffs();
    } catch (const std::system_error& error) {
      if (!record::is_of_the_thing(error)) throw;
      add("", error.what());
    }
    return std::move(found_);
  }

 private:
  void add(const std::string& where, std::string what, bool is_missing = false) {
    found_.breaks.push_back({where, std::move(what), is_missing});
  }

  /// Whether inputs, templates and outputs are those of one brief.
  void judge_lists() {
    const auto& payload = found_.bag.payload;
    for (const auto& name : output_files()) {
      const std::string path = std::string(outputs_begin) + name;
      if (std::none_of(payload.begin(), payload.end(), [&](const auto& file) { return file.path == path; }))
        add(path, "is missing", true);
    }
    const fs::path list_file = place_ / outputs_begin / inputs_file;
    if (!fs::is_regular_file(fs::symlink_status(list_file))) return;
    const std::string list =
        record::Descriptor(list_file, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
    const auto inputs = records_below(found_.bag, inputs_begin, "");
    judge_labels(inputs);
    for (const auto& path : write::changed_inputs(list, inputs))
      add(std::string(inputs_begin) + path, fmt::format("is not what {} of the brief lists", inputs_file));
    for (const auto& path : write::changed_templates(list, records_below(found_.bag, templates_begin, "templates/")))
      add("data/" + path, fmt::format("is not what {} of the brief lists", inputs_file));
  }

  /// Whether bag-info.txt names the mission and the day of what is in the bag.
  void judge_labels(const std::vector<write::InputRecord>& inputs) {
    constexpr const char* info_file = "bag-info.txt";
    int newest = 0;
    for (const auto& input : inputs) newest = std::max(newest, load::day_of_path(input.path).value_or(0));
    if (newest != found_.filed->day)
      add(info_file, fmt::format("names day {}, and the newest inputs are those of day {}", found_.filed->day, newest));
    const fs::path status = place_ / outputs_begin / status_file;
    if (!fs::is_regular_file(fs::symlink_status(status))) return;
    const auto name = write::find_past_figure(
        record::Descriptor(status, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output), "mission.name");
    if (name && name->text != found_.filed->mission)
      add(info_file,
          fmt::format("names the mission '{}', and the brief is of '{}'", found_.filed->mission, name->text));
  }

  /// The chain of sign-offs, and those of this day by the list of signers that was filed with them.
  void judge_signoffs() {
    const fs::path data = place_ / "data";
    if (!fs::is_directory(fs::symlink_status(data))) return;
    const record::SignOffLog log = record::read_signoffs(data);
    for (const auto& found : log.breaks) add("data/" + found.where, found.what, found.is_missing);
    const auto trust = record::read_trust_list(data);
    const auto& was_void = found_.filed->void_signoffs;
    std::vector<model::SignOff> records;
    for (const auto& stored : log.records) {
      const auto& signoff = stored.signoff;
      records.push_back(signoff);
      if (signoff.day != found_.filed->day) continue;
      const std::string where = "data/" + record::place_of_record(signoff.number);
      if (stored.signature.empty()) {
        found_.notes.push_back(where + ": UNSIGNED, so nothing proves who made it");
        continue;
      }
      const std::string fault = signatures_.fault_of(stored, trust);
      const bool is_known = std::find(was_void.begin(), was_void.end(), signoff.number) != was_void.end();
      if (!fault.empty() && !is_known) add(where + "/" + record::signature_file, fault);
      if (!fault.empty() && is_known)
        found_.notes.push_back(fmt::format("{}: VOID, as it was when filed: {}", where, fault));
      if (fault.empty() && is_known) add(where, "is filed as void, and its signature holds");
    }
    for (const auto* signoff : model::standing(records)) {
      if (signoff->day == found_.filed->day && !covers_what_is_here(*signoff))
        found_.notes.push_back(
            fmt::format("data/{}: covers another brief or handover of that day than what is filed here",
                        record::place_of_record(signoff->number)));
    }
  }

  [[nodiscard]] bool covers_what_is_here(const model::SignOff& signoff) const {
    const auto& payload = found_.bag.payload;
    const auto folder = model::is_of_handover(signoff) ? handover_begin : outputs_begin;
    return std::all_of(signoff.subjects.begin(), signoff.subjects.end(), [&](const auto& subject) {
      return std::any_of(payload.begin(), payload.end(), [&](const auto& file) {
        return file.path == std::string(folder) + subject.path && file.sha256 == subject.sha256;
      });
    });
  }

  const fs::path& place_;
  SignatureJudge& signatures_;
  JudgedBag found_;
};

}  // namespace

std::string SignatureJudge::fault_of(const record::StoredSignOff& stored, const record::TrustList& trust) {
  std::string key;
  for (const auto* part : {&stored.bytes, &stored.signature, &trust.allowed_signers, &trust.revoked_keys})
    key += record::sha256_hex(*part);
  {
    const std::lock_guard lock(access_);
    if (const auto known = faults_.find(key); known != faults_.end()) return known->second;
  }
  std::string fault = record::fault_of_signature(stored, trust);
  const std::lock_guard lock(access_);
  return faults_.emplace(key, std::move(fault)).first->second;
}

JudgedBag judge_bag(const fs::path& place, SignatureJudge& signatures, const record::OnBytes& on_bytes) {
  return Judge(place, signatures).judge(on_bytes);
}

}  // namespace daywright::cli
