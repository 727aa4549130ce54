// The archive of a mission: one bag of BagIt 1.0 (RFC 8493) for each day that was filed, in a chain.
//
//   In:  what belongs to a day, as bytes
//   Out: archive/000012/, verified as a stranger would before it gets its name, and never changed
//
// Each bag names the digest of the one before: the SHA-256 of its tagmanifest-sha512.txt, on which every byte of the
// bag rests. A later revision of a day is a bag of its own that names the one it replaces, and why.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "record/bag.h"
#include "record/descriptor.h"
#include "record/series.h"

namespace daywright::record {

inline constexpr const char* archive_folder = "archive";

/// What a bag says of itself in bag-info.txt, and its digest.
struct FiledDay {
  std::int64_t number = 1;  ///< in the archive
  std::string mission;
  std::int64_t day = 1;
  std::int64_t revision = 1;                ///< of that day in this archive
  std::string previous;                     ///< digest of the bag before; zeros for the first
  std::int64_t replaces = 0;                ///< number of the bag that it replaces; 0: none
  std::string reason;                       ///< why it replaces that
  std::vector<std::int64_t> void_signoffs;  ///< records whose signature did not hold when the day was filed
  std::string digest;                       ///< SHA-256 of tagmanifest-sha512.txt

  bool operator==(const FiledDay&) const = default;
};

/// The filed days in order of number, and every break: of the numbers, of the chain, of what bags say of themselves.
struct Archive {
  std::vector<FiledDay> days;
  std::vector<LogBreak> breaks;
};

/// How many days an archive holds, and the digest of the last: what to note elsewhere.
struct ArchiveHead {
  std::int64_t count = 0;
  std::string digest;  ///< zeros where there is none

  bool operator==(const ArchiveHead&) const = default;
};

/// Reads what the bags say of themselves and checks numbers and chain; payloads are `read_bag`'s. Without a folder
/// nothing is filed. Throws std::system_error where something can't be read.
[[nodiscard]] Archive read_archive(const std::filesystem::path& archive);

/// What bag-info.txt of a bag says; otherwise what is wrong with it.
[[nodiscard]] std::variant<FiledDay, std::string> read_filed_day(const Bag& bag);

/// What is wrong with how the tag manifests of a filed bag are written. A bag is sound with other letters or blanks in
/// them, or without one, and that would show in no digest. Throws std::system_error where they can't be read.
[[nodiscard]] std::vector<LogBreak> check_tag_lists(const Descriptor& bag);

/// The longest beginning of the archive that holds only days before `day`.
[[nodiscard]] ArchiveHead head_before(const std::vector<FiledDay>& days, std::int64_t day);

/// How often `day` has been filed.
[[nodiscard]] std::int64_t revisions_of(const std::vector<FiledDay>& days, std::int64_t day);

/// The newest revision of `day`, or null.
[[nodiscard]] const FiledDay* newest_of(const std::vector<FiledDay>& days, std::int64_t day);

/// A file as it goes into a bag.
struct PayloadFile {
  std::string path;  ///< below data/
  std::string_view bytes;
};

/// Why a file of this path can't go into a bag, or an empty text: the stock tools have to find it under just the name
/// that the manifests give, on any machine.
[[nodiscard]] std::string fault_of_payload_path(std::string_view path);

struct DayToFile {
  std::string mission;  ///< one line
  std::int64_t day = 1;
  std::vector<PayloadFile> files;
  std::vector<std::int64_t> void_signoffs;
  std::string date;      ///< "2031-05-14"
  std::string software;  ///< program and version
};

/// Why a day is filed again, given its newest revision and the paths, with data/, that differ from that. May throw to
/// stop.
using GiveReason = std::function<std::string(const FiledDay& newest, const std::vector<std::string>& changed)>;

struct Filing {
  FiledDay day;
  bool is_new = true;  ///< false: the newest revision holds just this already
};

/// Files a day. Requires a sound archive and paths without a fault. Throws std::system_error, std::runtime_error or
/// what `reason` throws where nothing has changed, and InDoubt where the bag is in place but not known to be on disk.
[[nodiscard]] Filing file_day(const std::filesystem::path& archive, const DayToFile& day, const GiveReason& reason);

}  // namespace daywright::record
