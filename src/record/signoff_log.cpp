#include "record/signoff_log.h"

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <set>
#include <stdexcept>
#include <string_view>
#include <system_error>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include "record/descriptor.h"
#include "record/digest.h"
#include "record/output_folder.h"
#include "record/signoff.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t largest_signature = std::size_t{64} * 1024;
constexpr int open_folder = O_RDONLY | O_DIRECTORY | O_NOFOLLOW;
constexpr int open_file = O_RDONLY | O_NOFOLLOW | O_NONBLOCK;
constexpr std::string_view building_prefix = ".building-";

std::string folder_name(std::int64_t number) { return fmt::format("{:06}", number); }

/// The number that a folder's name stands for, or nothing.
std::optional<std::int64_t> number_of(const std::string& name) {
  std::int64_t number = 0;
  const auto read = std::from_chars(name.data(), name.data() + name.size(), number);
  const bool is_number = read.ec == std::errc{} && number > 0 && folder_name(number) == name;
  return is_number ? std::optional(number) : std::nullopt;
}

bool is_there(const Descriptor& folder, const std::string& name) {
  struct stat info{};
  if (::fstatat(folder.number(), name.c_str(), &info, AT_SYMLINK_NOFOLLOW) == 0) return true;
  if (errno != ENOENT) fail(errno, "cannot look at", folder.path() / name);
  return false;
}

/// Nobody takes back or corrects what another has said.
bool is_superseding_its_own(const model::SignOff& signoff, const SignOffLog& log) {
  return std::any_of(log.records.begin(), log.records.end(), [&](const auto& old) {
    return old.signoff.number == *signoff.supersedes && model::can_supersede(signoff, old.signoff);
  });
}

/// What makes a file be no record, in contrast to what keeps it from being read.
bool is_of_the_file(const std::system_error& error) {
  const int code = error.code().value();
  return code == EINVAL || code == EFBIG || code == ELOOP || code == ENOTDIR || code == EAGAIN || code == ENXIO;
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

  /// Lists the folder; returns the largest number in it. A list that ended too early would make an old log of a new
  /// one, so the next number must not be there. It may be when somebody signs just now: then the list is made again.
  std::int64_t find_last() {
    constexpr int tries = 100;
    for (int i = 0; i < tries; ++i) {
      log_.breaks.clear();
      present_.clear();
      for (const auto& name : signoffs_.names()) {
        if (name.starts_with(building_prefix)) continue;  // being built, or left by a try that was interrupted
        if (const auto number = number_of(name)) {
          present_.insert(*number);
        } else {
          log_.breaks.push_back({fmt::format("{}/{}", signoffs_folder, name), "is no record"});
        }
      }
      const std::int64_t last = present_.empty() ? 0 : *present_.rbegin();
      if (!is_there(signoffs_, folder_name(last + 1))) return last;
    }
    fail(EAGAIN, "can't be listed whole:", signoffs_.path());
  }

  void add(std::int64_t number, std::string_view file, std::string what, bool is_missing = false) {
    const std::string where = place_of_record(number) + (file.empty() ? "" : "/") + std::string(file);
    log_.breaks.push_back({where, std::move(what), is_missing});
  }

  void read_record(std::int64_t number) {
    const std::string before = std::exchange(digest_before_, "");
    if (!present_.contains(number)) return add(number, "", "is missing", true);
    try {
      const Descriptor folder(signoffs_, folder_name(number), open_folder);
      read_files(number, folder, before);
    } catch (const std::system_error& error) {
      if (!is_of_the_file(error)) throw;
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
          fmt::format("supersedes record {}, which is not there or another's", *signoff.supersedes));
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

/// The folder of sign-offs, made where it is missing and then taken away again if nothing came into it.
class Signoffs {
 public:
  explicit Signoffs(const fs::path& mission)
      : mission_(mission, O_RDONLY | O_DIRECTORY), is_new_(make()), folder_(mission_, signoffs_folder, open_folder) {
    // Each time: whoever made the folder may not have come this far.
    mission_.sync();
  }
  ~Signoffs() {
    if (is_new_) ::unlinkat(mission_.number(), signoffs_folder, AT_REMOVEDIR);  // only while it is empty
  }
  Signoffs(const Signoffs&) = delete;
  Signoffs& operator=(const Signoffs&) = delete;
  Signoffs(Signoffs&&) = delete;
  Signoffs& operator=(Signoffs&&) = delete;

  [[nodiscard]] const Descriptor& folder() const { return folder_; }

  /// Waits for others who sign, so that nobody signs in vain. Somebody may sit before a question of theirs, and some
  /// file systems have no locks, so it is not waited for long: what keeps records apart is the rename.
  void wait_for_others() const {
    constexpr int tries = 3000;
    constexpr useconds_t pause = 10'000;
    for (int i = 0; i < tries && ::flock(folder_.number(), LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK; ++i)
      ::usleep(pause);
  }

  /// Removes what tries that were interrupted have left. Whoever still builds holds a lock on it.
  void clear_leftovers() const {
    for (const auto& name : folder_.names()) {
      if (!name.starts_with(building_prefix)) continue;
      const int number = ::openat(folder_.number(), name.c_str(), open_folder | O_CLOEXEC);
      if (number < 0) continue;
      const Descriptor leftover(number, folder_.path() / name);
      std::error_code ignored;
      if (::flock(number, LOCK_EX | LOCK_NB) == 0) fs::remove_all(leftover.path(), ignored);
    }
  }

 private:
  bool make() const {
    constexpr mode_t open_to_all = 0755;
    if (::mkdirat(mission_.number(), signoffs_folder, open_to_all) == 0) return true;
    if (errno != EEXIST) fail(errno, "cannot make the folder", mission_.path() / signoffs_folder);
    return false;
  }

  Descriptor mission_;
  bool is_new_;
  Descriptor folder_;
};

/// A record before it is in place.
class Building {
 public:
  explicit Building(const Descriptor& signoffs) : signoffs_(signoffs), folder_(make(signoffs)) {}
  ~Building() {
    std::error_code ignored;
    if (!is_placed_) fs::remove_all(folder_.path(), ignored);
  }
  Building(const Building&) = delete;
  Building& operator=(const Building&) = delete;
  Building(Building&&) = delete;
  Building& operator=(Building&&) = delete;

  void write(const char* name, std::string_view bytes) const {
    Descriptor file(folder_, name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW);
    file.write_all(bytes);
    file.sync();
    file.close();
  }

  /// False: another record has the place.
  [[nodiscard]] bool place(std::int64_t number) {
    folder_.sync();
    const std::string building = folder_.path().filename();
    const std::string final = folder_name(number);
    if (::renameat2(signoffs_.number(), building.c_str(), signoffs_.number(), final.c_str(), RENAME_NOREPLACE) != 0) {
      if (errno == EEXIST) return false;
      fail(errno, "cannot put in place", signoffs_.path() / final);
    }
    is_placed_ = true;
    try {
      signoffs_.sync();
    } catch (const std::system_error& error) {
      throw InDoubt(fmt::format("record {} is in place, but {}", number, error.what()));
    }
    return true;
  }

 private:
  static Descriptor make(const Descriptor& signoffs) {
    constexpr mode_t open_to_all = 0755;
    while (true) {
      std::string pattern = (signoffs.path() / fmt::format("{}XXXXXX", building_prefix)).string();
      if (::mkdtemp(pattern.data()) == nullptr) fail(errno, "cannot make a folder in", signoffs.path());
      Descriptor folder(fs::path(pattern), open_folder);
      if (::fchmod(folder.number(), open_to_all) != 0) fail(errno, "cannot open up", folder.path());
      ::flock(folder.number(), LOCK_EX | LOCK_NB);
      // Between the two somebody may have taken it for a leftover.
      if (folder.info().st_nlink > 0) return folder;
    }
  }

  const Descriptor& signoffs_;
  Descriptor folder_;
  bool is_placed_ = false;
};

}  // namespace

std::string place_of_record(std::int64_t number) { return fmt::format("{}/{}", signoffs_folder, folder_name(number)); }

SignOffLog read_signoffs(const fs::path& mission) {
  const Descriptor parent(mission, O_RDONLY | O_DIRECTORY);
  if (!is_there(parent, signoffs_folder)) return {};
  try {
    const Descriptor signoffs(parent, signoffs_folder, open_folder);
    return LogReader(signoffs).read_all();
  } catch (const std::system_error& error) {
    if (!is_of_the_file(error)) throw;
    return {{}, {{signoffs_folder, error.what()}}};
  }
}

std::optional<StoredSignOff> append_signoff(const fs::path& mission, const Compose& compose, const Sign& sign) {
  const Signoffs signoffs(mission);
  signoffs.wait_for_others();
  signoffs.clear_leftovers();
  constexpr int tries = 20;
  for (int i = 0; i < tries; ++i) {
    const SignOffLog log = read_signoffs(mission);
    if (!log.breaks.empty())
      throw std::runtime_error(
          fmt::format("the sign-offs are not sound: '{}' {}", log.breaks.front().where, log.breaks.front().what));
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
      throw std::invalid_argument(fmt::format("record {} is not there, or is another's", *signoff->supersedes));
    StoredSignOff stored{*signoff, render_signoff(*signoff), {}, {}};
    if (const auto parsed = parse_signoff(stored.bytes); std::holds_alternative<std::string>(parsed))
      throw std::invalid_argument(fmt::format("the sign-off can't be recorded: {}", std::get<std::string>(parsed)));
    stored.digest = sha256_hex(stored.bytes);
    stored.signature = sign(stored.bytes);
    Building building(signoffs.folder());
    building.write(record_file, stored.bytes);
    if (!stored.signature.empty()) building.write(signature_file, stored.signature);
    if (building.place(stored.signoff.number)) return stored;
  }
  throw std::runtime_error("others sign all the time, so that this sign-off found no place");
}

}  // namespace daywright::record
