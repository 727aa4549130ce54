// The conformance suite of the Library of Congress: our verdict and our reason for each of its bags.
#include <algorithm>
#include <array>
#include <filesystem>
#include <set>
#include <string>
#include <string_view>

#include "catch_compat.h"
#include "record/bag.h"

using daywright::record::Bag;
using daywright::record::BagFault;
using daywright::record::read_bag;
namespace fs = std::filesystem;

namespace {

constexpr auto fine = static_cast<BagFault>(-1);

struct Row {
  std::string_view bag;
  BagFault fault;
  std::string_view where = {};
  std::string_view what = {};
};

constexpr std::array rows{
    Row{"v0.97/valid/ISO-8859-1-encoded-tag-files", fine},
    Row{"v0.97/valid/UTF-16-encoded-tag-files", fine},
    Row{"v0.97/valid/bag-in-a-bag", fine},
    Row{"v0.97/valid/bag-with-encoded-names", fine},
    Row{"v0.97/valid/bag-with-escapable-characters", fine},
    // Valid, and a word about it: the suite has the same in "warning/relative-path".
    Row{"v0.97/valid/bag-with-leading-dot-slash-in-manifest", BagFault::note, "manifest-md5.txt", "begin with './'"},
    Row{"v0.97/valid/bag-with-space", fine},
    Row{"v0.97/valid/basic-bag", fine},
    Row{"v0.97/valid/duplicate-metadata-entries", fine},
    Row{"v0.97/valid/holey-bag", fine},  // everything in fetch.txt has been fetched
    Row{"v0.97/valid/minimal-bag", fine},
    Row{"v0.97/valid/uncommon-metadata-separators", fine},

    // What the suite calls invalid is incomplete where something is missing and the rest is as it should be.
    Row{"v0.97/invalid/baginfo-missing-encoding", BagFault::invalid, "bagit.txt", "does not say 'Tag-File-Char"},
    Row{"v0.97/invalid/bom-in-bagit.txt", BagFault::invalid, "bagit.txt", "byte-order mark"},
    Row{"v0.97/invalid/corrupt-data-file", BagFault::invalid, "data/bare-filename",
        "another MD5 than manifest-md5.txt says"},
    Row{"v0.97/invalid/corrupt-tag-file", BagFault::invalid, "bag-info.txt",
        "another MD5 than tagmanifest-md5.txt says"},
    Row{"v0.97/invalid/extra-file-in-bag", BagFault::invalid, "data/bar", "is in no manifest"},
    Row{"v0.97/invalid/invalid-version-number", BagFault::invalid, "bagit.txt", "gives '.97' for a version"},
    Row{"v0.97/invalid/missing-baginfo", BagFault::incomplete, "bag-info.txt", "is missing"},
    Row{"v0.97/invalid/missing-bagit.txt", BagFault::incomplete, "bagit.txt", "is missing"},
    Row{"v0.97/invalid/out-of-scope-file-paths-using-dot-notation", BagFault::invalid, "manifest-md5.txt",
        "'../../../README.md' goes through '..'"},
    Row{"v0.97/invalid/out-of-scope-file-paths-using-dot-notation-for-fetch", BagFault::invalid, "fetch.txt",
        "'../../../README.md' goes through '..'"},
    Row{"v0.97/invalid/same-filename-listed-twice-with-different-hashes", BagFault::invalid, "data/README",
        "is twice in manifest-sha256.txt, with another checksum"},

    Row{"v0.97/linux-only/out-of-scope-file-paths-using-absolute-path", BagFault::invalid, "manifest-md5.txt",
        "'/tmp/foo' is an absolute path"},
    Row{"v0.97/linux-only/out-of-scope-file-paths-using-absolute-path-for-fetch", BagFault::invalid, "fetch.txt",
        "'/tmp/test.txt' is an absolute path"},
    Row{"v0.97/linux-only/out-of-scope-file-paths-using-shortcut", BagFault::invalid, "manifest-md5.txt",
        "'~/foo' begins with '~'"},
    Row{"v0.97/linux-only/out-of-scope-file-paths-using-shortcut-for-fetch", BagFault::invalid, "fetch.txt",
        "'~/test.txt' begins with '~'"},
    Row{"v0.97/linux-only/out-of-scope-file-paths-using-shortcut-username", BagFault::invalid, "manifest-md5.txt",
        "'~root/foo' begins with '~'"},
    Row{"v0.97/linux-only/out-of-scope-file-paths-using-shortcut-username-for-fetch", BagFault::invalid, "fetch.txt",
        "'~root/foo' begins with '~'"},

    // These lead out of a bag on another system only; here they are files that would not be payload.
    Row{"v0.97/windows-only/out-of-scope-file-paths-using-absolute-path", BagFault::invalid, "manifest-md5.txt",
        "setx.exe' is not within data/"},
    Row{"v0.97/windows-only/out-of-scope-file-paths-using-absolute-path-for-fetch", BagFault::invalid, "fetch.txt",
        "setx.exe' is not within data/"},
    Row{"v0.97/windows-only/out-of-scope-file-paths-using-shortcut", BagFault::invalid, "manifest-md5.txt",
        "setx.exe' is not within data/"},
    Row{"v0.97/windows-only/out-of-scope-file-paths-using-shortcut-for-fetch", BagFault::invalid, "fetch.txt",
        "setx.exe' is not within data/"},
    Row{"v0.97/windows-only/out-of-scope-file-paths-using-unc", BagFault::invalid, "manifest-md5.txt",
        "setx.exe' is not within data/"},
    Row{"v0.97/windows-only/out-of-scope-file-paths-using-unc-for-fetch", BagFault::invalid, "fetch.txt",
        "setx.exe' is not within data/"},

    // Disagreement with the suite, which has it valid with a warning: its manifest lists data/hello.txt and
    // data/HELLO.txt, and one file is there. Where names keep their case these are two files, and RFC 8493 section 3
    // asks for "every file listed in every payload manifest". To take one for the other would pass a file that somebody
    // renamed. The warning is given too.
    Row{"v0.97/warning/duplicate-file-with-different-case", BagFault::incomplete, "data/HELLO.txt", "is missing"},
    Row{"v0.97/warning/duplicate-file-with-different-case", BagFault::note, "data/HELLO.txt",
        "differs from 'data/hello.txt' only"},
    Row{"v0.97/warning/made-with-md5sum-tools", BagFault::note, "manifest-md5.txt", "'*' before names"},
    Row{"v0.97/warning/made-with-md5sum-tools", BagFault::note, "tagmanifest-md5.txt", "'*' before names"},
    Row{"v0.97/warning/relative-path", BagFault::note, "manifest-sha512.txt", "begin with './'"},
    Row{"v0.97/warning/same-filename-listed-twice-with-different-normalization", BagFault::note,
        "data/N\xC3\xBA\xC3\xB1"
        "ez",
        "is in manifest-sha512.txt in another Unicode normal form"},
    Row{"v0.97/warning/same-filename-listed-twice-with-the-same-hash", BagFault::note, "data/README",
        "is twice in manifest-sha256.txt, with the same checksum"},
    // Disagreement with the suite, which has it valid with a warning: data/.DS_Store is in the manifest and in the
    // Payload-Oxum (0.2), and not in the suite as it is published. No version of BagIt lets a listed file be absent for
    // its name. The warning is given for the file that is there.
    Row{"v0.97/warning/special-system-files", BagFault::incomplete, "data/.DS_Store", "is missing"},
    Row{"v0.97/warning/special-system-files", BagFault::incomplete, "bag-info.txt", "'0.2', and it is 0.1"},
    Row{"v0.97/warning/special-system-files", BagFault::note, "data/Thumbs.db", "desktops leave behind"},

    Row{"v1.0/valid/basicBag", fine},
    Row{"v1.0/invalid/bagit-with-invalid-whitespace", BagFault::invalid, "bagit.txt", "has other blanks than one"},
    Row{"v1.0/invalid/notAllManifestsListAllFiles", BagFault::invalid, "data/missingFromManifest.txt",
        "is in no manifest"},
    Row{"v1.0/invalid/same-filename-listed-twice-with-different-hashes", BagFault::invalid, "data/README",
        "is twice in manifest-sha256.txt, with another checksum"},
    Row{"v1.0/invalid/same-filename-listed-twice-with-the-same-hash", BagFault::invalid, "data/README",
        "is twice in manifest-sha256.txt, with the same checksum"},
};

bool has(const Bag& bag, const Row& row) {
  return std::any_of(bag.findings.begin(), bag.findings.end(), [&](const auto& finding) {
    return finding.fault == row.fault && finding.where == row.where && finding.what.find(row.what) != std::string::npos;
  });
}

/// The verdict is that of the bag's worst row.
BagFault expected(std::string_view bag) {
  BagFault worst = fine;
  for (const auto& row : rows)
    if (row.bag == bag) worst = std::max(worst, row.fault);
  return worst;
}

const fs::path suite = fs::path(TEST_DATA) / "bagit";

}  // namespace

TEST_CASE("the bags of the conformance suite are judged as it says, for the right reason") {
  for (const auto& row : rows) {
    INFO(row.bag);
    const Bag bag = read_bag(suite / row.bag);
    for (const auto& finding : bag.findings) UNSCOPED_INFO(finding.where << ": " << finding.what);
    CHECK(bag.worst().value_or(fine) == expected(row.bag));
    if (row.fault != fine) CHECK(has(bag, row));
  }
}

TEST_CASE("no bag of the conformance suite is left out") {
  std::set<std::string> judged;
  for (const auto& row : rows) judged.insert(std::string(row.bag));
  std::set<std::string> there;
  for (const auto& version : fs::directory_iterator(suite)) {
    if (!version.is_directory()) continue;
    for (const auto& kind : fs::directory_iterator(version))
      for (const auto& bag : fs::directory_iterator(kind)) there.insert(bag.path().lexically_relative(suite));
  }
  CHECK(there.size() == 46);
  CHECK(judged == there);
}
