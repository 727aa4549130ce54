// A folder of numbered folders, 000001, 000002 and so on, that are added and never changed: sign-offs, archived days.
//
//   In:  where it is
//   Out: what is in it; a new member, whole or not at all
//
// Each member is built aside, forced to disk and put in place by one rename that replaces nothing.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <fcntl.h>

#include "record/descriptor.h"

namespace daywright::record {

inline constexpr int open_folder = O_RDONLY | O_DIRECTORY | O_NOFOLLOW;
inline constexpr int open_file = O_RDONLY | O_NOFOLLOW | O_NONBLOCK;

/// Something that is not as it was written.
struct LogBreak {
  std::string where;  ///< below the folder that was looked at
  std::string what;
  bool is_missing = false;  ///< something is not there; otherwise it is there and wrong
};

/// "000012".
[[nodiscard]] std::string name_of_member(std::int64_t number);
/// The number that a member's name stands for, or nothing.
[[nodiscard]] std::optional<std::int64_t> number_of_member(std::string_view name);

/// Whether there is something of that name in an open folder, whatever it is. Throws std::system_error.
[[nodiscard]] bool is_there(const Descriptor& folder, const std::string& name);

/// Whether an error is one of the thing itself, which is no file or folder of ours, and not one of reading it.
[[nodiscard]] bool is_of_the_thing(const std::system_error& error);

/// What is in a series.
struct SeriesList {
  std::set<std::int64_t> numbers;
  std::vector<std::string> strangers;  ///< what is no member and is not being built either
};

/// Lists a series. A list that ended too early would make an old series of a new one, so the number after the last must
/// not be there. Throws std::system_error.
[[nodiscard]] SeriesList list_series(const Descriptor& series);

/// A series that is added to. It is made where it is missing, and taken away again if nothing came into it.
class Series {
 public:
  explicit Series(const std::filesystem::path& place);
  ~Series();
  Series(const Series&) = delete;
  Series& operator=(const Series&) = delete;
  Series(Series&&) = delete;
  Series& operator=(Series&&) = delete;

  [[nodiscard]] const Descriptor& folder() const { return folder_; }
  /// Waits for others who add to it. Somebody may sit before a question of theirs, and some file systems have no
  /// locks, so it is not waited for long: what keeps members apart is the rename.
  void wait_for_others() const;
  /// Removes what tries that were interrupted have left. Whoever still builds holds a lock on it.
  void clear_leftovers() const;

 private:
  [[nodiscard]] bool make() const;

  std::string name_;
  Descriptor parent_;
  bool is_new_;
  Descriptor folder_;
};

/// A member before it is in place; one that is never placed is removed.
class NewMember {
 public:
  explicit NewMember(const Descriptor& series);
  ~NewMember();
  NewMember(const NewMember&) = delete;
  NewMember& operator=(const NewMember&) = delete;
  NewMember(NewMember&&) = delete;
  NewMember& operator=(NewMember&&) = delete;

  /// Writes one file and forces it to disk; `name` may lead through folders, which are made.
  void write(const std::string& name, std::string_view bytes);
  /// Where it is being built.
  [[nodiscard]] const Descriptor& folder() const { return folder_; }
  /// Forces the folders to disk and puts them in place. False: another member has that number. Throws
  /// std::system_error where nothing has changed, and InDoubt where it is in place but not known to be on disk.
  [[nodiscard]] bool place(std::int64_t number);

 private:
  static Descriptor make(const Descriptor& series);
  void make_folders_of(const std::string& name);

  const Descriptor& series_;
  Descriptor folder_;
  std::set<std::string> inner_;  ///< folders within it, each before those that lie in it
  bool is_placed_ = false;
};

}  // namespace daywright::record
