#include "record/bag_check.h"

#include <algorithm>
#include <charconv>
#include <cstdlib>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <utility>

#include <fmt/format.h>
#include <utf8proc.h>

#include "record/digest.h"

namespace daywright::record {
namespace {

char small(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

bool is_same_label(std::string_view one, std::string_view other) {
  return std::equal(one.begin(), one.end(), other.begin(), other.end(),
                    [](char a, char b) { return small(a) == small(b); });
}

bool is_ascii(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x80; });
}

/// `path` in Unicode normal form C, and without the case of its letters where that is wanted.
std::string normalized(std::string path, bool folds_case) {
  if (is_ascii(path)) {
    if (folds_case) std::transform(path.begin(), path.end(), path.begin(), small);
    return path;
  }
  const int options = UTF8PROC_STABLE | UTF8PROC_COMPOSE | (folds_case ? UTF8PROC_CASEFOLD : 0);
  utf8proc_uint8_t* normal = nullptr;
  const auto size =
      utf8proc_map(reinterpret_cast<const utf8proc_uint8_t*>(path.data()), static_cast<utf8proc_ssize_t>(path.size()),
                   &normal, static_cast<utf8proc_option_t>(options));
  const std::unique_ptr<utf8proc_uint8_t, decltype(&std::free)> owner(normal, &std::free);
  if (size < 0) return path;  // is not UTF-8
  return {reinterpret_cast<const char*>(normal), static_cast<std::size_t>(size)};
}

bool is_payload(std::string_view path) { return path.starts_with(payload_prefix); }

bool is_tag_manifest(const std::string& path) {
  const auto manifest = manifest_named(path);
  return manifest && manifest->is_of_tags;
}

bool is_left_by_desktops(std::string_view path) {
  const std::string_view name = path.substr(path.find_last_of('/') + 1);
  return name == ".DS_Store" || name == "Thumbs.db" || name == "desktop.ini";
}

/// "123.4" as bytes and files.
struct Oxum {
  std::uint64_t bytes = 0;
  std::uint64_t files = 0;

  friend bool operator==(const Oxum&, const Oxum&) = default;
};

std::optional<Oxum> parse_oxum(const std::string& text) {
  Oxum oxum;
  const char* const end = text.data() + text.size();
  const auto bytes = std::from_chars(text.data(), end, oxum.bytes);
  if (bytes.ec != std::errc{} || bytes.ptr == end || *bytes.ptr != '.') return std::nullopt;
  const auto files = std::from_chars(bytes.ptr + 1, end, oxum.files);
  return files.ec == std::errc{} && files.ptr == end ? std::optional(oxum) : std::nullopt;
}

class Check {
 public:
  Check(const BagContents& contents, BagFindings& findings)
      : contents_(contents),
        files_(contents.tree.files),
        is_strict_(contents.declaration.is_strict),
        findings_(findings) {}

  std::vector<std::string> check() {
    for (const auto& entry : contents_.fetched) to_fetch_.insert(entry.path);
    check_elements();
    for (const auto& manifest : contents_.manifests) check_manifest(manifest);
    for (const auto& [path, file] : files_) {
      check_coverage(path);
      if (is_left_by_desktops(path)) add(BagFault::note, path, "is a file that desktops leave behind");
    }
    for (const auto& entry : contents_.fetched) check_fetch(entry);
    check_oxum();
    check_twins();
    return std::move(unlisted_);
  }

 private:
  void add(BagFault fault, std::string_view where, std::string what) { findings_.add(fault, where, std::move(what)); }

  bool is_other(const std::string& path) const { return contents_.tree.others.contains(path); }
  bool is_folder(const std::string& path) const { return contents_.tree.folders.contains(path); }

  void check_elements() {
    const std::string declaration(declaration_file);
    const std::string payload(payload_folder);
    if (is_folder(declaration)) add(BagFault::invalid, declaration, "is a folder and not a file");
    if (files_.contains(payload)) add(BagFault::invalid, payload, "is a file and not a folder");
    for (const auto& path : {declaration, payload}) {
      if (files_.contains(path) || is_folder(path) || is_other(path)) continue;
      add(BagFault::incomplete, path, "is missing");
      missing_.insert(path);
    }
    const auto& manifests = contents_.manifests;
    if (std::all_of(manifests.begin(), manifests.end(), [](const auto& manifest) { return manifest.is_of_tags; }))
      add(BagFault::incomplete, "", "has no payload manifest");
  }

  /// The file that an entry names, also where the bag went through a system that writes names in another Unicode
  /// normal form; nullptr: there is none.
  const std::string* resolve(const std::string& path) {
    if (const auto exact = files_.find(path); exact != files_.end()) return &exact->first;
    if (!is_strict_) {
      if (const auto file = files_.find(with_line_ends(path)); file != files_.end()) return &file->first;
    }
    if (is_ascii(path)) return nullptr;
    if (by_normal_form_.empty()) {
      for (const auto& [name, file] : files_)
        if (!is_ascii(name)) by_normal_form_.emplace(normalized(name, false), &name);
    }
    const auto other = by_normal_form_.find(normalized(path, false));
    return other == by_normal_form_.end() ? nullptr : other->second;
  }

  void check_manifest(const Manifest& manifest) {
    const auto* algorithm = find_digest_algorithm(manifest.algorithm);
    if (algorithm == nullptr)
      add(BagFault::incomplete, manifest.file,
          fmt::format("needs the checksum algorithm {}, which is not known here", in_quotes(manifest.algorithm)));
    const auto& algorithms = manifest.is_of_tags ? contents_.digests.tags : contents_.digests.payload;
    const auto place = static_cast<std::size_t>(std::find(algorithms.begin(), algorithms.end(), manifest.algorithm) -
                                                algorithms.begin());
    auto& listed = listed_[manifest.file];
    std::map<const std::string*, std::string_view> checksums;
    for (const auto& entry : manifest.entries) {
      listed.insert(entry.path);
      const std::string* path = resolve(entry.path);
      if (path == nullptr) {
        note_absent(manifest, entry.path);
        continue;
      }
      if (listed.insert(*path).second && *path != with_line_ends(entry.path))
        add(BagFault::note, *path, fmt::format("is in {} in another Unicode normal form", manifest.file));
      const auto [first, is_first] = checksums.emplace(path, entry.checksum);
      if (!is_first) note_twice(manifest, *path, first->second == entry.checksum);
      if (is_strict_ && manifest.is_of_tags && is_tag_manifest(*path))
        add(BagFault::invalid, manifest.file, fmt::format("lists the tag manifest {}", in_quotes(*path)));
      if (algorithm != nullptr && files_.at(*path).digests.at(place) != entry.checksum)
        add(BagFault::invalid, *path, fmt::format("has another {} than {} says", algorithm->label, manifest.file));
    }
  }

  void note_absent(const Manifest& manifest, const std::string& path) {
    if (is_folder(path))
      return add(BagFault::invalid, path, fmt::format("is a folder, and {} lists it as a file", manifest.file));
    if (is_other(path) || !missing_.insert(path).second) return;  // said already
    add(BagFault::incomplete, path, to_fetch_.contains(path) ? "is missing and has to be fetched" : "is missing");
  }

  void note_twice(const Manifest& manifest, const std::string& path, bool is_same) {
    add(is_strict_ || !is_same ? BagFault::invalid : BagFault::note, path,
        fmt::format("is twice in {}, with {} checksum", manifest.file, is_same ? "the same" : "another"));
  }

  /// In 1.0 every payload file has to be in every payload manifest, before in one; every payload manifest has to be in
  /// every tag manifest, and every other tag file should be.
  void check_coverage(const std::string& path) {
    if (is_tag_manifest(path)) return;
    const bool is_tag = !is_payload(path);
    std::size_t lists = 0;
    std::vector<std::string_view> lacking;
    for (const auto& manifest : contents_.manifests) {
      if (manifest.is_of_tags != is_tag) continue;
      ++lists;
      if (!listed_.at(manifest.file).contains(path)) lacking.push_back(manifest.file);
    }
    if (is_tag && (lists == 0 || !lacking.empty())) unlisted_.push_back(path);
    if (lists == 0) return;  // said once for the whole bag where it matters
    if (!is_tag && lacking.size() == lists) return add(BagFault::invalid, path, "is in no manifest");
    if (!is_strict_) return;
    const BagFault fault = is_tag && !manifest_named(path) ? BagFault::note : BagFault::invalid;
    for (const auto& manifest : lacking) add(fault, path, fmt::format("is not in {}", manifest));
  }

  void check_fetch(const FetchEntry& entry) {
    for (const auto& manifest : contents_.manifests) {
      if (!manifest.is_of_tags && !listed_.at(manifest.file).contains(entry.path))
        add(BagFault::invalid, entry.path, fmt::format("is in fetch.txt and not in {}", manifest.file));
    }
    const std::string* path = resolve(entry.path);
    if (path != nullptr && entry.size && files_.at(*path).size != *entry.size)
      add(BagFault::note, *path, "has another size than fetch.txt says");
  }

  void check_oxum() {
    constexpr std::string_view label = "Payload-Oxum";
    const auto& info = contents_.info;
    if (std::count_if(info.begin(), info.end(), [&](const auto& line) { return is_same_label(line.label, label); }) > 1)
      add(BagFault::invalid, contents_.info_file, fmt::format("gives the {} more than once", label));
    const std::string* text = find_label(info, label);
    if (text == nullptr) return;
    Oxum found;
    for (const auto& [path, file] : files_) {
      if (!is_payload(path)) continue;
      found.bytes += static_cast<std::uint64_t>(file.size);
      ++found.files;
    }
    const auto given = parse_oxum(*text);
    if (!given) {
      add(BagFault::invalid, contents_.info_file,
          fmt::format("gives the {} {}, which is not bytes, a point and files", label, in_quotes(*text)));
    } else if (*given != found) {
      add(found.files < given->files ? BagFault::incomplete : BagFault::invalid, contents_.info_file,
          fmt::format("gives the {} {}, and it is {}.{}", label, in_quotes(*text), found.bytes, found.files));
    }
  }

  /// Names that some systems can't keep apart.
  void check_twins() {
    std::map<std::string, const std::string*> first_of_form;
    const auto look = [&](const std::string& path) {
      const auto [first, is_new] = first_of_form.emplace(normalized(path, true), &path);
      if (!is_new)
        add(BagFault::note, path,
            fmt::format("differs from {} only in case or Unicode normal form", in_quotes(*first->second)));
    };
    for (const auto& [path, file] : files_) look(path);
    for (const auto& path : missing_) look(path);
  }

  const BagContents& contents_;
  const std::map<std::string, FoundFile>& files_;
  bool is_strict_;
  BagFindings& findings_;
  std::set<std::string_view> to_fetch_;
  std::map<std::string, std::set<std::string>> listed_;  ///< by manifest: the paths in it, as written and as found
  std::set<std::string> missing_;
  std::map<std::string, const std::string*> by_normal_form_;
  std::vector<std::string> unlisted_;
};

}  // namespace

std::vector<std::string> check_contents(const BagContents& contents, BagFindings& findings) {
  return Check(contents, findings).check();
}

const std::string* find_label(const std::vector<BagLabel>& info, std::string_view label) {
  const auto found =
      std::find_if(info.begin(), info.end(), [&](const auto& line) { return is_same_label(line.label, label); });
  return found == info.end() ? nullptr : &found->value;
}

}  // namespace daywright::record
