// What is really in the folder of a bag, each file read once and digested on the way.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include <sys/stat.h>

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

  /// Hands the bytes of a regular file in an open folder to `take`, block by block. Throws std::system_error where it
  /// can't be read, or where it is not any more what `seen` says or changes meanwhile.
  void read(const Descriptor& folder, const std::string& name, const struct stat& seen,
            const std::function<void(std::string_view)>& take);
  [[nodiscard]] std::uint64_t bytes_read() const { return bytes_read_; }

 private:
  const OnBytes& on_bytes_;
  std::string block_;
  std::uint64_t bytes_read_ = 0;
};

/// What lies under a name in an open folder, itself and not what it leads to.
[[nodiscard]] struct stat look_at(const Descriptor& folder, const std::string& name);

struct BagDigests {
  std::vector<std::string> payload;  ///< algorithms for files in data/
  std::vector<std::string> tags;     ///< and for all others
};

/// Walks the whole folder. `held` are files right in it that have been read already: name and bytes.
[[nodiscard]] BagTree read_tree(const Descriptor& folder, const std::map<std::string, std::string>& held,
                                const BagDigests& digests, BlockReader& reader, BagFindings& findings);

}  // namespace daywright::record
