// Single files of a filed day, read as they were filed or not at all.
//
//   In:  a bag of an archive, and its digest in the chain
//   Out: the bytes of a file below data/, held against the lists on which that digest rests
//
// No full verification: of a thousand days the one file that is wanted is read, and what leads from the chain to it.
#pragma once

#include <filesystem>
#include <stdexcept>
#include <string>
#include <string_view>

#include "record/descriptor.h"

namespace daywright::record {

/// What stands there is not what was filed; says what, as "status.json has another SHA-256 than ...".
struct NotAsFiled : std::runtime_error {
  using std::runtime_error::runtime_error;
};

class FiledFiles {
 public:
  /// Reads the lists of the bag in `place`. `digest`: what its tag manifest has to have; empty: it stands alone, and
  /// its lists are only held against each other. Throws NotAsFiled, or std::system_error where something can't be read.
  FiledFiles(const std::filesystem::path& place, std::string_view digest);

  /// The SHA-256 that the lists give for a path below data/; empty: they do not name it.
  [[nodiscard]] std::string_view digest_of(std::string_view path) const;

  /// The bytes of a file below data/, "outputs/status.json". Throws as the constructor does.
  [[nodiscard]] std::string read(std::string_view path) const;

 private:
  std::filesystem::path place_;
  std::string payload_;  ///< manifest-sha256.txt
};

}  // namespace daywright::record
