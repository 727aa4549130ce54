#include "record/filed_files.h"

#include <cerrno>
#include <optional>
#include <system_error>

#include <fmt/format.h>

#include "record/bag_manifest.h"
#include "record/digest.h"
#include "record/series.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

constexpr const char* chained_file = "tagmanifest-sha512.txt";
constexpr const char* payload_manifest = "manifest-sha256.txt";
constexpr std::size_t largest_list = std::size_t{64} << 20U;
constexpr std::size_t largest_file = std::size_t{256} << 20U;

/// The bytes of a file of the bag; no link is followed on the way. What is missing, or no file, is not as it was filed.
std::string read_within(const fs::path& place, std::string_view path, std::size_t most) {
  try {
    std::optional<Descriptor> folder(std::in_place, place, O_RDONLY | O_DIRECTORY);
    for (auto slash = path.find('/'); slash != std::string_view::npos; slash = path.find('/')) {
      folder.emplace(Descriptor(*folder, std::string(path.substr(0, slash)), open_folder));
      path.remove_prefix(slash + 1);
    }
    return Descriptor(*folder, std::string(path), open_file).read_regular(most);
  } catch (const std::system_error& error) {
    if (error.code().value() == ENOENT || is_of_the_thing(error)) throw NotAsFiled(error.what());
    throw;
  }
}

}  // namespace

FiledFiles::FiledFiles(const fs::path& place, std::string_view digest)
    : place_(place), payload_(read_within(place, payload_manifest, largest_list)) {
  const std::string chained = read_within(place, chained_file, largest_list);
  if (!digest.empty() && sha256_hex(chained) != digest)
    throw NotAsFiled(fmt::format("{} has another digest than the chain says", chained_file));
  Digester digester({"sha512"});
  digester.add(payload_);
  if (chained.find(fmt::format("{}  {}\n", digester.finish().front(), payload_manifest)) == std::string::npos)
    throw NotAsFiled(fmt::format("{} has another SHA-512 than {} says", payload_manifest, chained_file));
}

std::string_view FiledFiles::digest_of(std::string_view path) const {
  constexpr std::size_t digits = 64;
  const std::string_view list = payload_;
  const std::string entry = fmt::format("  {}{}\n", payload_prefix, path);
  for (auto at = list.find(entry); at != std::string_view::npos; at = list.find(entry, at + 1)) {
    // A path that ends like this one stands further right on its line.
    if (at >= digits && (at == digits || list[at - digits - 1] == '\n')) return list.substr(at - digits, digits);
  }
  return {};
}

std::string FiledFiles::read(std::string_view path) const {
  const auto listed = digest_of(path);
  if (listed.empty()) throw NotAsFiled(fmt::format("{} does not list '{}{}'", payload_manifest, payload_prefix, path));
  std::string bytes = read_within(place_, fmt::format("{}{}", payload_prefix, path), largest_file);
  if (sha256_hex(bytes) != listed)
    throw NotAsFiled(fmt::format("'{}{}' has another SHA-256 than {} says", payload_prefix, path, payload_manifest));
  return bytes;
}

}  // namespace daywright::record
