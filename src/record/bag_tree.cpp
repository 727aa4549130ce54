#include "record/bag_tree.h"

#include <cerrno>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include "record/bag_manifest.h"
#include "record/digest.h"

namespace daywright::record {
namespace {

constexpr int open_folder = O_RDONLY | O_DIRECTORY | O_NOFOLLOW;
constexpr int open_file = O_RDONLY | O_NOFOLLOW | O_NONBLOCK;

std::string kind_of(mode_t mode) {
  if (S_ISLNK(mode)) return "is a symbolic link, which is not followed";
  if (S_ISFIFO(mode)) return "is a pipe, which is not opened";
  if (S_ISSOCK(mode)) return "is a socket, which is not opened";
  return "is a device, which is not opened";
}

bool is_same(const struct stat& one, const struct stat& other) {
  return one.st_dev == other.st_dev && one.st_ino == other.st_ino && one.st_size == other.st_size &&
         one.st_mtim.tv_sec == other.st_mtim.tv_sec && one.st_mtim.tv_nsec == other.st_mtim.tv_nsec;
}

class Walk {
 public:
  Walk(const std::map<std::string, std::string>& held, const BagDigests& digests, BlockReader& reader,
       BagFindings& findings)
      : held_(held), payload_(digests.payload), tags_(digests.tags), reader_(reader), findings_(findings) {}

  BagTree walk(const Descriptor& folder) {
    read_folder(folder, "", 0);
    return std::move(tree_);
  }

 private:
  void add(const std::string& where, std::string what, BagFault fault = BagFault::invalid) {
    findings_.add(fault, where, std::move(what));
  }

  void read_folder(const Descriptor& folder, const std::string& path, std::size_t depth) {
    const std::string prefix = path.empty() ? "" : path + "/";
    const auto names = folder.names();
    if (names.empty() && path != payload_folder)
      add(path, "is an empty folder, which no manifest can list", BagFault::note);
    for (const auto& name : names) {
      if (tree_.files.size() >= most_files) {
        if (!std::exchange(is_full_, true)) add("", fmt::format("has more than {} files", most_files));
        return;
      }
      read_entry(folder, name, prefix + name, depth);
    }
  }

  void read_entry(const Descriptor& folder, const std::string& name, const std::string& path, std::size_t depth) {
    const struct stat info = look_at(folder, name);
    if (path.size() > longest_path) {
      tree_.others.insert(path);
      add(path.substr(0, longest_path), fmt::format("has a path of more than {} bytes", longest_path));
    } else if (S_ISREG(info.st_mode)) {
      tree_.files.emplace(path, read_file(folder, name, path, info));
    } else if (!S_ISDIR(info.st_mode)) {
      tree_.others.insert(path);
      add(path, kind_of(info.st_mode));
    } else if (depth == deepest_folder) {
      tree_.others.insert(path);
      add(path, fmt::format("is more than {} folders deep", deepest_folder));
    } else {
      tree_.folders.insert(path);
      read_folder(Descriptor(folder, name, open_folder), path, depth + 1);
    }
  }

  FoundFile read_file(const Descriptor& folder, const std::string& name, const std::string& path,
                      const struct stat& info) {
    Digester& digester = path.starts_with(payload_prefix) ? payload_ : tags_;
    FoundFile found{info.st_size, {}};
    if (const auto known = held_.find(path); known != held_.end()) {
      found.size = static_cast<std::int64_t>(known->second.size());
      digester.add(known->second);
    } else {
      reader_.read(folder, name, info, [&](std::string_view block) { digester.add(block); });
    }
    found.digests = digester.finish();
    return found;
  }

  const std::map<std::string, std::string>& held_;
  Digester payload_;
  Digester tags_;
  BlockReader& reader_;
  BagFindings& findings_;
  BagTree tree_;
  bool is_full_ = false;
};

}  // namespace

BlockReader::BlockReader(const OnBytes& on_bytes) : on_bytes_(on_bytes) {
  // Small enough to stay in the processor's cache from one digest to the next.
  constexpr std::size_t block = std::size_t{64} * 1024;
  block_.resize(block);
}

void BlockReader::read(const Descriptor& folder, const std::string& name, const struct stat& seen,
                       const std::function<void(std::string_view)>& take) {
  const Descriptor file(folder, name, open_file);
  off_t size = 0;
  while (size <= seen.st_size) {  // once more than it has: it may have grown
    const ssize_t got = ::read(file.number(), block_.data(), block_.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) fail(errno, "cannot read", file.path());
    if (got == 0) break;
    take(std::string_view(block_).substr(0, static_cast<std::size_t>(got)));
    size += got;
    bytes_read_ += static_cast<std::uint64_t>(got);
    if (on_bytes_) on_bytes_(bytes_read_);
  }
  if (size != seen.st_size || !is_same(file.info(), seen)) fail(EAGAIN, "changed while it was read:", file.path());
}

struct stat look_at(const Descriptor& folder, const std::string& name) {
  struct stat info{};
  if (::fstatat(folder.number(), name.c_str(), &info, AT_SYMLINK_NOFOLLOW) != 0)
    fail(errno, "cannot look at", folder.path() / name);
  return info;
}

BagTree read_tree(const Descriptor& folder, const std::map<std::string, std::string>& held, const BagDigests& digests,
                  BlockReader& reader, BagFindings& findings) {
  return Walk(held, digests, reader, findings).walk(folder);
}

}  // namespace daywright::record
