// The lists in a bag: payload manifests, tag manifests and fetch.txt, and which paths they may name.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "record/bag_findings.h"
#include "record/bag_text.h"

namespace daywright::record {

inline constexpr std::string_view payload_folder = "data";
inline constexpr std::string_view payload_prefix = "data/";
inline constexpr std::size_t longest_path = 4096;
inline constexpr std::size_t most_files = 1'000'000;

struct ManifestEntry {
  std::string checksum;  ///< in small letters
  std::string path;
};

struct Manifest {
  std::string file;       ///< "manifest-sha256.txt"
  std::string algorithm;  ///< "sha256"
  bool is_of_tags = false;
  std::vector<ManifestEntry> entries;  ///< those that can be used
};

struct FetchEntry {
  std::string path;
  std::optional<std::int64_t> size;
};

/// The manifest that a file of this name in the bag's folder is, still without entries; nothing: it is none.
[[nodiscard]] std::optional<Manifest> manifest_named(const std::string& file);

/// Fills in what the manifest's text says. Every line that can't be used is a finding.
void parse_manifest(Manifest& manifest, std::string_view text, const BagDeclaration& declaration,
                    BagFindings& findings);

/// What fetch.txt says. Every line that can't be used is a finding.
[[nodiscard]] std::vector<FetchEntry> parse_fetch(std::string_view file, std::string_view text,
                                                  const BagDeclaration& declaration, BagFindings& findings);

/// A path with %0A and %0D put back, as earlier bags may have it.
[[nodiscard]] std::string with_line_ends(std::string_view path);

}  // namespace daywright::record
