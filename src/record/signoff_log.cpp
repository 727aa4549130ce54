#include "record/signoff_log.h"

#include <algorithm>
#include <set>
#include <stdexcept>
#include <string_view>
#include <system_error>
#include <utility>

#include <fmt/format.h>

#include "record/descriptor.h"
#include "record/digest.h"
#include "record/series.h"
#include "record/signoff.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t largest_signature = std::size_t{64} * 1024;

/// Nobody takes back or corrects what another has said.
bool is_superseding_its_own(const model::SignOff& signoff, const SignOffLog& log) {
  return std::any_of(log.records.begin(), log.records.end(), [&](const auto& old) {
    return old.signoff.number == *signoff.supersedes && model::can_supersede(signoff, old.signoff);
  });
}

/// Reads the records one after the other.
class LogReader {
 public:
  explicit LogReader(const Descriptor& signoffs) : signoffs_(signoffs) {}

  SignOffLog read_all() {
    const std::int64_t last = find_last();
    for (std::int64_t number = 1; number <= last && log_.breaks.size() < most_breaks; ++number) read_record(number);
    return std::move(log_);
  }

 private:
  static constexpr std::size_t most_breaks = 1000;

  /// Lists the folder; returns the largest number in it.
  std::int64_t find_last() {
    const SeriesList list = list_series(signoffs_);
    present_ = list.numbers;
    for (const auto& name : list.strangers)
      log_.breaks.push_back({fmt::format("{}/{}", signoffs_folder, name), "is no record"});
    return present_.empty() ? 0 : *present_.rbegin();
  }

  void add(std::int64_t number, std::string_view file, std::string what, bool is_missing = false) {
    const std::string where = place_of_record(number) + (file.empty() ? "" : "/") + std::string(file);
    log_.breaks.push_back({where, std::move(what), is_missing});
  }

  void read_record(std::int64_t number) {
    const std::string before = std::exchange(digest_before_, "");
    if (!present_.contains(number)) return add(number, "", "is missing", true);
    try {
      const Descriptor folder(signoffs_, name_of_member(number), open_folder);
      read_files(number, folder, before);
    } catch (const std::system_error& error) {
      if (!is_of_the_thing(error)) throw;
      add(number, "", error.what());
    }
  }

  void read_files(std::int64_t number, const Descriptor& folder, const std::string& before) {
    StoredSignOff stored;
    const auto names = folder.names();
    for (const auto& name : names) {
      if (name != record_file && name != signature_file) add(number, name, "is more than a record has");
    }
    const auto has = [&](const char* name) { return std::find(names.begin(), names.end(), name) != names.end(); };
    if (!has(record_file)) return add(number, record_file, "is missing", true);
    stored.bytes = Descriptor(folder, record_file, open_file).read_regular(largest_record);
    stored.digest = sha256_hex(stored.bytes);
    digest_before_ = stored.digest;
    if (has(signature_file)) {
      stored.signature = Descriptor(folder, signature_file, open_file).read_regular(largest_signature);
      if (stored.signature.empty()) add(number, signature_file, "is empty");
    }
    auto parsed = parse_signoff(stored.bytes);
    if (const auto* fault = std::get_if<std::string>(&parsed)) return add(number, record_file, *fault);
    stored.signoff = std::move(std::get<model::SignOff>(parsed));
    const auto& signoff = stored.signoff;
    if (signoff.number != number) add(number, record_file, fmt::format("says that it is record {}", signoff.number));
    const std::string expected = number == 1 ? std::string(no_record) : before;
    if (!expected.empty() && signoff.previous != expected)
      add(number, record_file, "does not follow the record before: the digest in 'previous' is another");
    if (!signoff.signer.key.empty() && !has(signature_file)) add(number, signature_file, "is missing", true);
    if (signoff.signer.key.empty() && has(signature_file))
      add(number, signature_file, "is there, and the record says that it is not signed");
    if (signoff.supersedes && !is_superseding_its_own(signoff, log_))
      add(number, record_file,
          fmt::format("supersedes record {}, which is not there, another's, or signed where this one is not",
                      *signoff.supersedes));
    const auto* last = log_.records.empty() ? nullptr : &log_.records.back().signoff;
    const bool is_after = last == nullptr || signoff.signed_at >= last->signed_at;
    if (last != nullptr && last->number == number - 1 && signoff.is_after_previous != is_after)
      add(number, record_file, "says the wrong thing about whether its time runs after that of the record before");
    log_.records.push_back(std::move(stored));
  }

  const Descriptor& signoffs_;
  std::set<std::int64_t> present_;
  std::string digest_before_;
  SignOffLog log_;
};

}  // namespace

std::vector<model::SignOff> SignOffLog::signoffs() const {
  std::vector<model::SignOff> said;
  for (const auto& stored : records) said.push_back(stored.signoff);
  return said;
}

std::string fault_of_signature(const StoredSignOff& stored, const TrustList& trust) {
  const auto& signoff = stored.signoff;
  return fault_of_signature(stored.bytes, stored.signature,
                            {signoff.signer.principal, signoff.signer.key, signoff.signed_at}, trust);
}

std::string place_of_record(std::int64_t number) {
  return fmt::format("{}/{}", signoffs_folder, name_of_member(number));
}

SignOffLog read_signoffs(const fs::path& mission) {
  const Descriptor parent(mission, O_RDONLY | O_DIRECTORY);
  if (!is_there(parent, signoffs_folder)) return {};
  try {
    const Descriptor signoffs(parent, signoffs_folder, open_folder);
    return LogReader(signoffs).read_all();
  } catch (const std::system_error& error) {
    if (!is_of_the_thing(error)) throw;
    return {{}, {{signoffs_folder, error.what()}}};
  }
}

SignOffLog read_sound_signoffs(const fs::path& mission) {
  SignOffLog log = read_signoffs(mission);
  if (!log.breaks.empty())
    throw std::runtime_error(
        fmt::format("the sign-offs are not sound: '{}' {}", log.breaks.front().where, log.breaks.front().what));
  return log;
}

std::optional<StoredSignOff> append_signoff(const fs::path& mission, const Compose& compose, const Sign& sign) {
  const Series signoffs(mission / signoffs_folder);
  signoffs.wait_for_others();
  signoffs.clear_leftovers();
  constexpr int tries = 20;
  for (int i = 0; i < tries; ++i) {
    const SignOffLog log = read_sound_signoffs(mission);
    auto signoff = compose(log);
    if (!signoff) {
      // Whoever put there what says the same may have been killed before it was forced to disk.
      signoffs.folder().sync();
      return std::nullopt;
    }
    const auto* before = log.records.empty() ? nullptr : &log.records.back();
    signoff->number = before == nullptr ? 1 : before->signoff.number + 1;
    signoff->previous = before == nullptr ? std::string(no_record) : before->digest;
    signoff->is_after_previous = before == nullptr || signoff->signed_at >= before->signoff.signed_at;
    if (signoff->supersedes && !is_superseding_its_own(*signoff, log))
      throw std::invalid_argument(fmt::format(
          "record {} is not there, is another's, or is signed where this one is not", *signoff->supersedes));
    StoredSignOff stored{*signoff, render_signoff(*signoff), {}, {}};
    if (const auto parsed = parse_signoff(stored.bytes); std::holds_alternative<std::string>(parsed))
      throw std::invalid_argument(fmt::format("the sign-off can't be recorded: {}", std::get<std::string>(parsed)));
    stored.digest = sha256_hex(stored.bytes);
    stored.signature = sign(stored.bytes);
    NewMember building(signoffs.folder());
    building.write(record_file, stored.bytes);
    if (!stored.signature.empty()) building.write(signature_file, stored.signature);
    if (building.place(stored.signoff.number)) return stored;
  }
  throw std::runtime_error("others sign all the time, so that this sign-off found no place");
}

}  // namespace daywright::record
