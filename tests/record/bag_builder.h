// Small bags for tests: BagIt 1.0 with both SHA-256 and SHA-512 unless told otherwise.
#pragma once

#include <algorithm>
#include <filesystem>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "record/bag.h"
#include "record/digest.h"
#include "temporary_folder.h"

namespace daywright::test {

/// The regular files below `bag`, by path.
inline std::map<std::string, std::string> files_in(const std::filesystem::path& bag) {
  std::map<std::string, std::string> files;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(bag))
    if (entry.is_regular_file() && !entry.is_symlink())
      files.emplace(entry.path().lexically_relative(bag).string(), bytes_of(entry.path()));
  return files;
}

inline std::string digest_of(const std::string& algorithm, std::string_view bytes) {
  record::Digester digester({algorithm});
  digester.add(bytes);
  return digester.finish().front();
}

inline std::string listed_as(std::string path) {
  const std::string_view encoded = "%\n\r";
  std::string result;
  for (const char c : path) {
    constexpr std::string_view digits = "0123456789ABCDEF";
    const auto byte = static_cast<unsigned char>(c);
    result += encoded.find(c) == std::string_view::npos ? std::string(1, c)
                                                        : std::string{'%', digits[byte >> 4U], digits[byte & 0xFU]};
  }
  return result;
}

inline void list(const std::filesystem::path& bag, const std::string& algorithm, bool of_tags) {
  std::string lines;
  for (const auto& [path, bytes] : files_in(bag)) {
    if (path.starts_with("data/") == of_tags || path.starts_with("tagmanifest-")) continue;
    lines += digest_of(algorithm, bytes) + "  " + listed_as(path) + "\n";
  }
  put(bag / ((of_tags ? "tagmanifest-" : "manifest-") + algorithm + ".txt"), lines);
}

/// Writes the tag manifests again, so that what was done to other tag files is all that is wrong.
inline void seal(const std::filesystem::path& bag, const std::vector<std::string>& algorithms = {"sha256", "sha512"}) {
  for (const auto& algorithm : algorithms) list(bag, algorithm, true);
}

/// Writes all manifests for what is there.
inline void list_and_seal(const std::filesystem::path& bag,
                          const std::vector<std::string>& algorithms = {"sha256", "sha512"}) {
  for (const auto& algorithm : algorithms) list(bag, algorithm, false);
  seal(bag, algorithms);
}

inline std::string declaration(const std::string& version = "1.0", const std::string& encoding = "UTF-8") {
  return "BagIt-Version: " + version + "\nTag-File-Character-Encoding: " + encoding + "\n";
}

/// A day's bag: two payload files, labels and a tag file in a folder of its own.
inline void make_bag(const std::filesystem::path& bag) {
  put(bag / "data/inputs/mission.toml", "name = 'Petrel 3'\n");
  put(bag / "data/outputs/brief.md", "# Day 8\n\nREADY\n");
  put(bag / "bagit.txt", declaration());
  put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\nPayload-Oxum: 33.2\n");
  put(bag / "about/program.txt", "daywright\n");
  list_and_seal(bag);
}

/// "invalid data/a: is in no manifest", one a finding.
inline std::vector<std::string> findings_of(const record::Bag& bag) {
  std::vector<std::string> lines;
  for (const auto& [fault, where, what] : bag.findings) {
    const std::string_view word = fault == record::BagFault::note         ? "note "
                                  : fault == record::BagFault::incomplete ? "incomplete "
                                                                          : "invalid ";
    lines.push_back(std::string(word) + (where.empty() ? "the bag" : where) + ": " + what);
  }
  return lines;
}

inline std::vector<std::string> findings_in(const std::filesystem::path& bag) {
  return findings_of(record::read_bag(bag));
}

}  // namespace daywright::test
