// Every byte of every file of a bag counts: whatever is changed, put in, taken out or cut off is reported.
#include <filesystem>
#include <stdexcept>
#include <string>
#include <vector>

#include <fcntl.h>
#include <unistd.h>

#include "catch_compat.h"
#include "record/bag_builder.h"

using namespace daywright::test;
using daywright::record::Descriptor;
using daywright::record::read_bag;
namespace fs = std::filesystem;

namespace {

#ifdef NDEBUG
constexpr std::size_t step = 1;
#else
constexpr std::size_t step = 5;  // sanitizers take ten times as long
#endif

/// Judges a bag with one file replaced, many times.
class Bytes {
 public:
  explicit Bytes(const fs::path& bag) : bag_(bag), folder_(bag, O_RDONLY | O_DIRECTORY) {}

  void judge(const std::string& file, const std::string& bytes, const std::string& what) {
    overwrite(file, bytes);
    ++tried;
    if (!read_bag(folder_).worst()) unseen.push_back(file + ": " + what);
  }

  /// Without emptying the file first, for which some file systems wait for the disk.
  void overwrite(const std::string& file, const std::string& bytes) const {
    const Descriptor open(bag_ / file, O_WRONLY);
    open.write_all(bytes);
    if (::ftruncate(open.number(), static_cast<off_t>(bytes.size())) != 0) throw std::runtime_error("ftruncate");
  }

  int tried = 0;
  std::vector<std::string> unseen;

 private:
  fs::path bag_;
  Descriptor folder_;
};

}  // namespace

TEST_CASE("every flip, insertion, deletion and truncation in every file of a bag is reported") {
  const TemporaryFolder work;
  make_bag(work.path());
  Bytes judge(work.path());
  for (const auto& [file, bytes] : files_in(work.path())) {
    for (std::size_t at = 0; at < bytes.size(); at += step) {
      const std::string place = " at " + std::to_string(at);
      std::string damaged = bytes;
      for (unsigned int bit = 0; bit < 8; ++bit) {
        damaged[at] = static_cast<char>(static_cast<unsigned char>(bytes[at]) ^ (1U << bit));
        judge.judge(file, damaged, "bit " + std::to_string(bit) + " flipped" + place);
      }
      for (const char c : {'\n', '\r', '\t', ' ', '\0'}) {
        damaged[at] = c;
        if (damaged != bytes) judge.judge(file, damaged, "another character" + place);
        judge.judge(file, std::string(bytes).insert(at, 1, c), "a character put in" + place);
      }
      for (const char c : {bytes[at], '0', '*', '%'})
        judge.judge(file, std::string(bytes).insert(at, 1, c), "a character put in" + place);
      judge.judge(file, std::string(bytes).erase(at, 1), "a character taken out" + place);
      judge.judge(file, bytes.substr(0, at), "cut off" + place);
    }
    for (const char c : {'\n', '\r', '\t', ' ', '\0', 'x'}) judge.judge(file, bytes + c, "a character added");
    judge.overwrite(file, bytes);
  }
  CHECK(judge.unseen == std::vector<std::string>{});
  CHECK(judge.tried > static_cast<int>(40'000 / step));
  CHECK(findings_in(work.path()).empty());
}
