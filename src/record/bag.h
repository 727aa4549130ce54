// The judge of a bag: reads any bag of RFC 8493 (BagIt 0.93 to 1.0) from a folder and says what is wrong with it.
//
//   In:  a folder
//   Out: what is in it, with digests, and every finding: what is missing, changed, too much or not as the RFC has it
//
// Nothing outside of the folder is ever opened: no symbolic link is followed, and paths in manifests are looked up in
// the list of what was found, never opened. Each file is read once, in blocks. Nothing is ever fetched.
//
// Limits: 1,000,000 files, paths of 4,096 bytes, 64 folders deep; manifests and fetch.txt 64 MiB each and 256 MiB
// together, bagit.txt and bag-info.txt 1 MiB. What exceeds them makes the bag invalid and is not read.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "record/descriptor.h"

namespace daywright::record {

/// How bad something about a bag is.
enum class BagFault {
  note,        ///< still valid, worth a word
  incomplete,  ///< nothing is known to be wrong, but what is needed to say that all is right isn't there: a file, a
               ///< manifest, a known algorithm
  invalid,     ///< something is there and isn't as it has to be
};

struct BagFinding {
  BagFault fault = BagFault::invalid;
  std::string where;  ///< file within the bag as on disk (escape it to show it), or empty: the bag as a whole
  std::string what;   ///< "has another SHA-256 than manifest-sha256.txt says"; can be shown as it is

  friend bool operator==(const BagFinding&, const BagFinding&) = default;
};

/// A line of bag-info.txt. Lines of a value that is continued are joined by one blank.
struct BagLabel {
  std::string label;
  std::string value;

  friend bool operator==(const BagLabel&, const BagLabel&) = default;
};

struct BaggedFile {
  std::string path;  ///< with data/
  std::int64_t size = 0;
  std::string sha256;

  friend bool operator==(const BaggedFile&, const BaggedFile&) = default;
};

struct Bag {
  std::string version;                          ///< "1.0"; empty: unknown
  std::vector<BagLabel> info;                   ///< in the file's order
  std::vector<BaggedFile> payload;              ///< what is really there, sorted by path
  std::vector<std::string> unlisted_tag_files;  ///< other than tag manifests, not in all of these; sorted
  std::string digest;                           ///< SHA-256 of tagmanifest-sha512.txt; empty: there is none
  std::uint64_t bytes_read = 0;
  std::vector<BagFinding> findings;  ///< worst first, then by place; at most 1000, the last says how many more

  /// The value of the first with this label, whatever the case of its letters; nullptr: there is none.
  [[nodiscard]] const std::string* find(std::string_view label) const;
  /// The worst that was found; nothing: no finding.
  [[nodiscard]] std::optional<BagFault> worst() const;
  /// Complete, and every checksum verified, as RFC 8493 section 3 defines it.
  [[nodiscard]] bool is_valid() const { return worst().value_or(BagFault::note) == BagFault::note; }
};

/// Told of the bytes read so far, after each block.
using OnBytes = std::function<void(std::uint64_t)>;

/// Reads and judges the bag in a folder. A symbolic link in place of the folder itself is followed, none below it.
/// Throws std::system_error where something that is there can't be read or changes meanwhile, so that unreadable never
/// reads as empty.
[[nodiscard]] Bag read_bag(const std::filesystem::path& folder, const OnBytes& on_bytes = {});
/// The same in an open folder.
[[nodiscard]] Bag read_bag(const Descriptor& folder, const OnBytes& on_bytes = {});

}  // namespace daywright::record
