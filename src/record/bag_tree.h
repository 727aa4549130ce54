// What is really in the folder of a bag, each file read once and digested on the way.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "record/bag.h"
#include "record/bag_findings.h"
#include "record/descriptor.h"

namespace daywright::record {

inline constexpr std::size_t deepest_folder = 64;

struct FoundFile {
  std::int64_t size = 0;
  std::vector<std::string> digests;  ///< in the order of the algorithms asked for
};

struct BagTree {
  std::map<std::string, FoundFile> files;  ///< regular files by path
  std::set<std::string> folders;
  std::set<std::string> others;  ///< links, pipes and what else was not opened; each is a finding
};

/// Reads regular files in blocks and counts the bytes.
class BlockReader {
 public:
  explicit BlockReader(const OnBytes& on_bytes);

  /// Hands the bytes of an open file to `take`, block by block; returns how many. Throws std::system_error where it is
  /// no regular file, can't be read or changes meanwhile. Requires that the file was opened with O_NONBLOCK.
  std::int64_t read(const Descriptor& file, const std::function<void(std::string_view)>& take);
  [[nodiscard]] std::uint64_t bytes_read() const { return bytes_read_; }

 private:
  const OnBytes& on_bytes_;
  std::string block_;
  std::uint64_t bytes_read_ = 0;
};

/// Opens a file in an open folder to read it, and never something else that got there under its name.
[[nodiscard]] Descriptor open_bagged(const Descriptor& folder, const std::string& name);

struct BagDigests {
  std::vector<std::string> payload;  ///< algorithms for files in data/
  std::vector<std::string> tags;     ///< and for all others
};

/// Walks the whole folder. `held` are files right in it that have been read already: name and bytes.
[[nodiscard]] BagTree read_tree(const Descriptor& folder, const std::map<std::string, std::string>& held,
                                const BagDigests& digests, BlockReader& reader, BagFindings& findings);

}  // namespace daywright::record
