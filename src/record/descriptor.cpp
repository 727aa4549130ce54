#include "record/descriptor.h"

#include <algorithm>
#include <cerrno>
#include <memory>
#include <system_error>
#include <utility>

#include <dirent.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

namespace daywright::record {
namespace {

constexpr mode_t readable_by_all = 0644;

}  // namespace

void fail(int error, const std::string& doing, const std::filesystem::path& path) {
  throw std::system_error(error, std::generic_category(), fmt::format("{} '{}'", doing, path.string()));
}

Descriptor::Descriptor(const std::filesystem::path& path, int flags)
    : path_(path), number_(::open(path.c_str(), flags | O_CLOEXEC, readable_by_all)) {
  if (number_ < 0) fail(errno, "cannot open", path_);
}

Descriptor::Descriptor(const Descriptor& folder, const std::string& name, int flags)
    : path_(folder.path_ / name), number_(::openat(folder.number_, name.c_str(), flags | O_CLOEXEC, readable_by_all)) {
  if (number_ < 0) fail(errno, "cannot open", path_);
}

Descriptor::~Descriptor() {
  if (number_ >= 0) ::close(number_);
}

Descriptor::Descriptor(Descriptor&& other) noexcept
    : path_(std::move(other.path_)), number_(std::exchange(other.number_, -1)) {}

struct stat Descriptor::info() const {
  struct stat info{};
  if (::fstat(number_, &info) != 0) fail(errno, "cannot look at", path_);
  return info;
}

std::string Descriptor::read_regular(std::size_t most) const {
  const struct stat before = info();
  if (!S_ISREG(before.st_mode)) fail(EINVAL, "not a regular file:", path_);
  if (before.st_size < 0 || static_cast<std::size_t>(before.st_size) > most) fail(EFBIG, "cannot take", path_);
  std::string bytes(static_cast<std::size_t>(before.st_size) + 1, '\0');  // one more shows that it grew
  std::size_t have = 0;
  while (have < bytes.size()) {
    const ssize_t got = ::read(number_, bytes.data() + have, bytes.size() - have);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) fail(errno, "cannot read", path_);
    if (got == 0) break;
    have += static_cast<std::size_t>(got);
  }
  if (have != static_cast<std::size_t>(before.st_size)) fail(EAGAIN, "changed while it was read:", path_);
  bytes.resize(have);
  return bytes;
}

std::vector<std::string> Descriptor::names() const {
  const auto close_folder = [](DIR* folder) { ::closedir(folder); };
  Descriptor own(*this, ".", O_RDONLY | O_DIRECTORY);  // has a place of its own, which is the start
  const std::unique_ptr<DIR, decltype(close_folder)> folder(::fdopendir(own.number_), close_folder);
  if (folder == nullptr) fail(errno, "cannot list", path_);
  own.number_ = -1;  // the stream closes it
  std::vector<std::string> names;
  while (true) {
    errno = 0;
    const dirent* entry = ::readdir(folder.get());
    if (entry == nullptr && errno != 0) fail(errno, "cannot list", path_);
    if (entry == nullptr) break;
    const std::string name = std::begin(entry->d_name);
    if (name != "." && name != "..") names.push_back(name);
  }
  std::sort(names.begin(), names.end());
  return names;
}

void Descriptor::write_all(std::string_view bytes) const {
  while (!bytes.empty()) {
    const ssize_t written = ::write(number_, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) fail(errno, "cannot write", path_);
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
}

void Descriptor::sync() const {
  if (::fsync(number_) != 0) fail(errno, "cannot force to disk", path_);
}

void Descriptor::close() {
  const int result = ::close(std::exchange(number_, -1));
  if (result != 0) fail(errno, "cannot close", path_);
}

}  // namespace daywright::record
