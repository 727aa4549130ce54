#include "record/bag.h"

#include <map>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>

#include "record/bag_check.h"
#include "record/bag_findings.h"
#include "record/bag_manifest.h"
#include "record/bag_text.h"
#include "record/bag_tree.h"
#include "record/digest.h"

namespace daywright::record {
namespace {

constexpr const char* always = "sha256";
constexpr std::string_view anchored_file = "tagmanifest-sha512.txt";
constexpr std::size_t mebibyte = std::size_t{1024} * 1024;
constexpr std::size_t largest_list = 64 * mebibyte;
constexpr std::size_t largest_info = mebibyte;
constexpr std::size_t largest_texts = 256 * mebibyte;

/// The algorithms that these manifests need and that are known, each once, with the one that is always needed first.
std::vector<std::string> algorithms_of(const std::vector<Manifest>& manifests, bool of_tags) {
  std::vector<std::string> names{always};
  for (const auto& manifest : manifests) {
    if (manifest.is_of_tags == of_tags && manifest.algorithm != always &&
        find_digest_algorithm(manifest.algorithm) != nullptr)
      names.push_back(manifest.algorithm);
  }
  return names;
}

class BagReader {
 public:
  BagReader(const Descriptor& folder, const OnBytes& on_bytes) : folder_(folder), reader_(on_bytes) {}

  Bag read() {
    hold_texts();
    if (const auto declaration = held_.find(std::string(declaration_file)); declaration != held_.end())
      contents_.declaration = parse_declaration(declaration->second, findings_);
    for (const auto& [name, bytes] : held_) parse(name, bytes);
    contents_.digests = {algorithms_of(contents_.manifests, false), algorithms_of(contents_.manifests, true)};
    contents_.tree = read_tree(folder_, held_, contents_.digests, reader_, findings_);

    Bag bag;
    bag.unlisted_tag_files = check_contents(contents_, findings_);
    bag.version = contents_.declaration.version;
    bag.info = std::move(contents_.info);
    for (const auto& [path, file] : contents_.tree.files) {
      if (path.starts_with(payload_prefix)) bag.payload.push_back({path, file.size, file.digests.front()});
      if (path == anchored_file) bag.digest = file.digests.front();
    }
    bag.bytes_read = reader_.bytes_read();
    bag.findings = findings_.take();
    return bag;
  }

 private:
  /// Takes the bag's own texts into memory: they say which digests all other files need.
  void hold_texts() {
    std::size_t held = 0;
    for (const auto& name : folder_.names()) {
      const bool is_info = name == declaration_file || name == info_file || name == old_info_file;
      if (!is_info && name != fetch_file && !manifest_named(name)) continue;
      const struct stat info = look_at(folder_, name);
      if (!S_ISREG(info.st_mode)) continue;  // the walk says what it is
      held += static_cast<std::size_t>(info.st_size);
      const std::size_t most = is_info ? largest_info : largest_list;
      if (static_cast<std::size_t>(info.st_size) > most || held > largest_texts) {
        findings_.add(BagFault::invalid, name, fmt::format("is larger than the {} bytes that are read of it", most));
        held -= static_cast<std::size_t>(info.st_size);
        continue;
      }
      std::string bytes;
      reader_.read(folder_, name, info, [&](std::string_view block) { bytes += block; });
      held_.emplace(name, std::move(bytes));
    }
  }

  void parse(const std::string& name, const std::string& bytes) {
    const auto& declaration = contents_.declaration;
    const bool is_old = !declaration.is_strict && declaration.version < "0.96";
    if (name == (is_old ? old_info_file : info_file)) {
      contents_.info_file = name;
      contents_.info = parse_labels(name, text_of(name, bytes), declaration, findings_);
    } else if (name == fetch_file) {
      contents_.fetched = parse_fetch(name, text_of(name, bytes), declaration, findings_);
    } else if (auto manifest = manifest_named(name)) {
      parse_manifest(*manifest, text_of(name, bytes), declaration, findings_);
      contents_.manifests.push_back(std::move(*manifest));
    }
  }

  std::string text_of(const std::string& name, const std::string& bytes) {
    return decode_text(name, bytes, contents_.declaration, findings_);
  }

  const Descriptor& folder_;
  BlockReader reader_;
  BagFindings findings_;
  std::map<std::string, std::string> held_;
  BagContents contents_;
};

}  // namespace

const std::string* Bag::find(std::string_view label) const { return find_label(info, label); }

std::optional<BagFault> Bag::worst() const {
  return findings.empty() ? std::nullopt : std::optional(findings.front().fault);
}

Bag read_bag(const std::filesystem::path& folder, const OnBytes& on_bytes) {
  return read_bag(Descriptor(folder, O_RDONLY | O_DIRECTORY), on_bytes);
}

Bag read_bag(const Descriptor& folder, const OnBytes& on_bytes) { return BagReader(folder, on_bytes).read(); }

}  // namespace daywright::record
