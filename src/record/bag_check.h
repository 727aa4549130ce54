// Holds what is in a bag against what its lists say.
#pragma once

#include <string>
#include <vector>

#include "record/bag.h"
#include "record/bag_findings.h"
#include "record/bag_manifest.h"
#include "record/bag_text.h"
#include "record/bag_tree.h"

namespace daywright::record {

inline constexpr std::string_view info_file = "bag-info.txt";
inline constexpr std::string_view old_info_file = "package-info.txt";  ///< its name up to 0.95
inline constexpr std::string_view fetch_file = "fetch.txt";

/// All that was read of a bag.
struct BagContents {
  BagDeclaration declaration;
  std::string info_file;  ///< the one that `info` comes from
  std::vector<BagLabel> info;
  std::vector<Manifest> manifests;
  std::vector<FetchEntry> fetched;
  BagDigests digests;
  BagTree tree;
};

/// Adds what is missing, too much or changed. Returns the tag files that not every tag manifest lists.
std::vector<std::string> check_contents(const BagContents& contents, BagFindings& findings);

/// The first value with this label, whatever the case of its letters; nullptr: there is none.
[[nodiscard]] const std::string* find_label(const std::vector<BagLabel>& info, std::string_view label);

}  // namespace daywright::record
