// Bags of 1.0 with one thing done to each: all that the judge says about it, and whether stock tools say so too.
#include <array>
#include <filesystem>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>

#include "catch_compat.h"
#include "record/bag_builder.h"
#include "record/program.h"

using namespace daywright::test;
using daywright::record::Bag;
using daywright::record::read_bag;
namespace fs = std::filesystem;

namespace {

using Lines = std::vector<std::string>;

/// What sha256sum and sha512sum say of the manifests.
enum class Stock { passes, fails, not_asked };

struct Planted {
  std::string name;
  std::function<void(const fs::path&)> plant;
  Lines findings;
  Stock stock = Stock::passes;
};

const std::string brief = "data/outputs/brief.md";
const std::string mission = "data/inputs/mission.toml";

void replace(const fs::path& file, const std::string& from, const std::string& to) {
  std::string bytes = bytes_of(file);
  const auto at = bytes.find(from);
  REQUIRE(at != std::string::npos);
  put(file, bytes.replace(at, from.size(), to));
}

void append(const fs::path& file, const std::string& bytes) { put(file, bytes_of(file) + bytes); }

std::string capitals(std::string text) {
  for (char& c : text)
    if (c >= 'a' && c <= 'f') c = static_cast<char>(c - 'a' + 'A');
  return text;
}

Lines changed(const std::string& file, const std::string& prefix = "") {
  return {"invalid " + file + ": has another SHA-256 than " + prefix + "manifest-sha256.txt says",
          "invalid " + file + ": has another SHA-512 than " + prefix + "manifest-sha512.txt says"};
}

Lines together(Lines one, const Lines& other) {
  one.insert(one.end(), other.begin(), other.end());
  return one;
}

/// A line of manifest-sha256.txt that is written anew, with the tag manifests made right again.
std::function<void(const fs::path&)> with_line(const std::string& line) {
  return [line](const fs::path& bag) {
    append(bag / "manifest-sha256.txt", line);
    seal(bag);
  };
}

std::function<void(const fs::path&)> with_text(const std::string& file, const std::string& text) {
  return [file, text](const fs::path& bag) {
    put(bag / file, text);
    seal(bag);
  };
}

const std::string some_digest(64, 'a');

void make_socket(const fs::path& path) {
  const int number = ::socket(AF_UNIX, SOCK_STREAM, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  REQUIRE(path.string().size() < sizeof address.sun_path);
  path.string().copy(std::begin(address.sun_path), sizeof address.sun_path - 1);
  REQUIRE(::bind(number, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
  ::close(number);
}

// clang-format off
const std::vector<Planted> planted{
    {"nothing", [](const fs::path&) {}, {}},

    // files
    {"a changed file", [](const fs::path& bag) { replace(bag / brief, "READY", "ready"); }, changed(brief), Stock::fails},
    {"a file cut short", [](const fs::path& bag) { fs::resize_file(bag / brief, 3); },
     together({"invalid bag-info.txt: gives the Payload-Oxum '33.2', and it is 21.2"}, changed(brief)), Stock::fails},
    {"an emptied file", [](const fs::path& bag) { put(bag / brief, ""); },
     together({"invalid bag-info.txt: gives the Payload-Oxum '33.2', and it is 18.2"}, changed(brief)), Stock::fails},
    {"a missing file", [](const fs::path& bag) { fs::remove(bag / brief); put(bag / "data/outputs/x", ""); },
     {"invalid bag-info.txt: gives the Payload-Oxum '33.2', and it is 18.2", "invalid data/outputs/x: is in no manifest",
      "incomplete " + brief + ": is missing"}, Stock::fails},
    {"a removed folder", [](const fs::path& bag) { fs::remove_all(bag / "data/outputs"); },
     {"incomplete bag-info.txt: gives the Payload-Oxum '33.2', and it is 18.1", "incomplete " + brief + ": is missing"},
     Stock::fails},
    {"an extra file", [](const fs::path& bag) { put(bag / "data/.git/config", ""); },
     {"invalid bag-info.txt: gives the Payload-Oxum '33.2', and it is 33.3", "invalid data/.git/config: is in no manifest"}},
    {"a renamed file", [](const fs::path& bag) { fs::rename(bag / brief, bag / "data/outputs/Brief.md"); },
     {"invalid data/outputs/Brief.md: is in no manifest", "incomplete " + brief + ": is missing",
      "note " + brief + ": differs from 'data/outputs/Brief.md' only in case or Unicode normal form"}, Stock::fails},
    {"two swapped files", [](const fs::path& bag) {
       fs::rename(bag / brief, bag / "data/x");
       fs::rename(bag / mission, bag / brief);
       fs::rename(bag / "data/x", bag / mission);
     }, together(changed(mission), changed(brief)), Stock::fails},
    {"a folder in place of a file", [](const fs::path& bag) { fs::remove(bag / brief); fs::create_directory(bag / brief); },
     {"invalid " + brief + ": is a folder, and manifest-sha256.txt lists it as a file",
      "invalid " + brief + ": is a folder, and manifest-sha512.txt lists it as a file",
      "incomplete bag-info.txt: gives the Payload-Oxum '33.2', and it is 18.1",
      "note " + brief + ": is an empty folder, which no manifest can list"}, Stock::fails},
    {"an empty folder in the payload", [](const fs::path& bag) { fs::create_directory(bag / "data/empty"); },
     {"note data/empty: is an empty folder, which no manifest can list"}},
    {"a hard link", [](const fs::path& bag) {
       fs::create_hard_link(bag / brief, bag / "elsewhere");
       fs::rename(bag / "elsewhere", bag.parent_path() / "elsewhere");
     }, {}},
    {"a link to the same bytes elsewhere", [](const fs::path& bag) {
       fs::rename(bag / brief, bag.parent_path() / "brief.md");
       fs::create_symlink(bag.parent_path() / "brief.md", bag / brief);
     }, {"invalid " + brief + ": is a symbolic link, which is not followed",
         "incomplete bag-info.txt: gives the Payload-Oxum '33.2', and it is 18.1"}, Stock::passes},
    {"a link to a folder elsewhere", [](const fs::path& bag) {
       fs::rename(bag / "data", bag.parent_path() / "data");
       fs::create_symlink(bag.parent_path() / "data", bag / "data");
     }, {"invalid data: is a symbolic link, which is not followed",
         "incomplete bag-info.txt: gives the Payload-Oxum '33.2', and it is 0.0",
         "incomplete " + mission + ": is missing", "incomplete " + brief + ": is missing"}, Stock::passes},
    {"a pipe in place of a file", [](const fs::path& bag) {
       fs::remove(bag / brief);
       REQUIRE(::mkfifo((bag / brief).c_str(), 0600) == 0);
     }, {"invalid " + brief + ": is a pipe, which is not opened",
         "incomplete bag-info.txt: gives the Payload-Oxum '33.2', and it is 18.1"}, Stock::not_asked},
    {"a pipe in place of a manifest", [](const fs::path& bag) {
       fs::remove(bag / "tagmanifest-sha256.txt");
       REQUIRE(::mkfifo((bag / "tagmanifest-sha256.txt").c_str(), 0600) == 0);
     }, {"invalid tagmanifest-sha256.txt: is a pipe, which is not opened"}, Stock::not_asked},
    {"a socket", [](const fs::path& bag) { make_socket(bag / "data/s"); },
     {"invalid data/s: is a socket, which is not opened"}},

    // required elements
    {"no bagit.txt", [](const fs::path& bag) { fs::remove(bag / "bagit.txt"); },
     {"incomplete bagit.txt: is missing"}, Stock::fails},
    {"a link as bagit.txt", [](const fs::path& bag) {
       fs::rename(bag / "bagit.txt", bag.parent_path() / "bagit.txt");
       fs::create_symlink("../bagit.txt", bag / "bagit.txt");
     }, {"invalid bagit.txt: is a symbolic link, which is not followed"}},
    {"no payload folder", [](const fs::path& bag) {
       fs::remove_all(bag / "data");
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       list_and_seal(bag);
     }, {"incomplete data: is missing"}, Stock::fails},
    {"a file as payload folder", [](const fs::path& bag) {
       fs::remove_all(bag / "data");
       put(bag / "data", "");
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       for (const auto* list : {"manifest-sha256.txt", "manifest-sha512.txt"}) put(bag / list, "");
       seal(bag);
     }, {"invalid data: is a file and not a folder"}, Stock::not_asked},
    {"no payload manifest", [](const fs::path& bag) {
       for (const auto* list : {"manifest-sha256.txt", "manifest-sha512.txt"}) fs::remove(bag / list);
       seal(bag);
     }, {"incomplete the bag: has no payload manifest"}, Stock::not_asked},
    {"no tag manifests, which 1.0 allows", [](const fs::path& bag) {
       for (const auto* list : {"tagmanifest-sha256.txt", "tagmanifest-sha512.txt"}) fs::remove(bag / list);
     }, {}, Stock::not_asked},

    // bagit.txt
    {"another version", with_text("bagit.txt", declaration("2.0")),
     {"invalid bagit.txt: has version '2.0'; known are 0.93 to 0.97 and 1.0"}},
    {"a version that is none", with_text("bagit.txt", declaration("1")),
     {"invalid bagit.txt: gives '1' for a version, which is not two numbers and a point"}},
    {"a third line", with_text("bagit.txt", declaration() + "\n"), {"invalid bagit.txt: does not have just two lines"}},
    {"lines in another order", with_text("bagit.txt", "Tag-File-Character-Encoding: UTF-8\nBagIt-Version: 1.0\n"),
     {"invalid bagit.txt: does not say 'BagIt-Version: ' and a version in its first line",
      "invalid bagit.txt: does not say 'Tag-File-Character-Encoding: ' and an encoding in its second line"}},
    {"a blank too many", with_text("bagit.txt", declaration("1.0 ")),
     {"invalid bagit.txt: has other blanks than one behind each colon, which 1.0 does not allow"}},
    {"no end of bagit.txt", with_text("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8"),
     {"invalid bagit.txt: has no end of its last line"}},
    {"lines that end in CR and LF", with_text("bagit.txt", "BagIt-Version: 1.0\r\nTag-File-Character-Encoding: UTF-8\r\n"), {}},
    {"lines that end in CR", with_text("bagit.txt", "BagIt-Version: 1.0\rTag-File-Character-Encoding: UTF-8\r"), {}},
    {"a byte-order mark", with_text("bagit.txt", "\xEF\xBB\xBF" + declaration()),
     {"invalid bagit.txt: begins with a byte-order mark"}},
    {"an unknown encoding", with_text("bagit.txt", declaration("1.0", "\x1B[31m")),
     {"incomplete bagit.txt: declares the encoding '\\x1B[31m', which is not known here"}},

    // bag-info.txt
    {"a wrong sum of the payload", with_text("bag-info.txt", "payload-oxum: 34.2\n"),
     {"invalid bag-info.txt: gives the Payload-Oxum '34.2', and it is 33.2"}},
    {"a sum that is none", with_text("bag-info.txt", "Payload-Oxum: 33.2.1\n"),
     {"invalid bag-info.txt: gives the Payload-Oxum '33.2.1', which is not bytes, a point and files"}},
    {"two sums", with_text("bag-info.txt", "Payload-Oxum: 33.2\nPAYLOAD-OXUM: 33.2\n"),
     {"invalid bag-info.txt: gives the Payload-Oxum more than once"}},
    {"a blank before the colon", with_text("bag-info.txt", "Label : value\n"),
     {"invalid bag-info.txt: line 1: does not have a colon and one blank between label and value"}},
    {"no label", with_text("bag-info.txt", "Label: value\nvalue\n"),
     {"invalid bag-info.txt: line 2: is no label, colon and value"}},
    {"nothing that is continued", with_text("bag-info.txt", "  value\n"),
     {"invalid bag-info.txt: line 1: continues a value, and there is none before it"}},
    {"labels that are not UTF-8", with_text("bag-info.txt", "Label: \xFF\n"),
     {"invalid bag-info.txt: is not UTF-8, as bagit.txt says it is"}},
    {"a changed label", [](const fs::path& bag) { replace(bag / "bag-info.txt", "2031", "2032"); },
     changed("bag-info.txt", "tag"), Stock::fails},

    // manifests
    {"a path that leads out", with_line(some_digest + "  ../../etc/passwd\n"),
     {"invalid manifest-sha256.txt: line 3: '../../etc/passwd' goes through '..', which leads out of the bag"}, Stock::fails},
    {"a path that leads out and back", with_line(some_digest + "  data/../data/outputs/brief.md\n"),
     {"invalid manifest-sha256.txt: line 3: 'data/../data/outputs/brief.md' goes through '..', which leads out of the bag"},
     Stock::fails},
    {"a path that leads out of the payload", with_line(some_digest + "  bagit.txt\n"),
     {"invalid manifest-sha256.txt: line 3: 'bagit.txt' is not within data/"}, Stock::fails},
    {"an absolute path", with_line(some_digest + "  /dev/zero\n"),
     {"invalid manifest-sha256.txt: line 3: '/dev/zero' is an absolute path, which leads out of the bag"}, Stock::not_asked},
    {"somebody's home", with_line(some_digest + "  ~mara/brief\n"),
     {"invalid manifest-sha256.txt: line 3: '~mara/brief' begins with '~', which may lead out of the bag"}, Stock::fails},
    {"a doubled slash", with_line(some_digest + "  data//x\n"),
     {"invalid manifest-sha256.txt: line 3: 'data//x' has an empty part or '.' within"}, Stock::fails},
    {"a zero byte in a path", with_line(some_digest + "  data/a" + std::string(1, '\0') + "b\n"),
     {"invalid manifest-sha256.txt: line 3: 'data/a\\x00b' has a zero byte"}, Stock::fails},
    {"a path without end", with_line(some_digest + "  data/" + std::string(5000, 'x') + "\n"),
     {"invalid manifest-sha256.txt: line 3: 'data/" + std::string(115, 'x') + "…' is longer than 4096 bytes"}, Stock::fails},
    {"a path that would move a cursor", with_line(some_digest + "  data/\x1B[2J\n"),
     {"incomplete data/\x1B[2J: is missing"}, Stock::fails},
    {"a checksum cut short", with_line(some_digest.substr(1) + "  data/x\n"),
     {"invalid manifest-sha256.txt: line 3: has 63 digits, and SHA-256 has 64"}, Stock::fails},
    {"a checksum that is none", with_line("none  data/x\n"),
     {"invalid manifest-sha256.txt: line 3: does not begin with a checksum in hexadecimal digits"}, Stock::fails},
    {"no path", with_line(some_digest + "\n"),
     {"invalid manifest-sha256.txt: line 3: is not a checksum, blanks and a path"}, Stock::fails},
    {"an empty line", with_line("\n"), {"invalid manifest-sha256.txt: line 3: is empty"}},
    {"no end of a manifest", [](const fs::path& bag) {
       const std::string lines = bytes_of(bag / "manifest-sha256.txt");
       put(bag / "manifest-sha256.txt", lines.substr(0, lines.size() - 1));
       seal(bag);
     }, {"invalid manifest-sha256.txt: has no end of its last line",
         "note manifest-sha256.txt: is not written as checksum tools write it, from line 2 on"}},
    {"a line twice", [](const fs::path& bag) {
       const std::string lines = bytes_of(bag / "manifest-sha512.txt");
       append(bag / "manifest-sha512.txt", lines.substr(lines.find('\n') + 1));
       seal(bag);
     }, {"invalid " + brief + ": is twice in manifest-sha512.txt, with the same checksum"}},
    {"a file twice, with two checksums", with_line(some_digest + "  " + brief + "\n"),
     {"invalid " + brief + ": has another SHA-256 than manifest-sha256.txt says",
      "invalid " + brief + ": is twice in manifest-sha256.txt, with another checksum"}, Stock::fails},
    {"a file twice, once from here", [](const fs::path& bag) {
       append(bag / "manifest-sha256.txt", digest_of("sha256", bytes_of(bag / brief)) + "  ./" + brief + "\n");
       seal(bag);
     }, {"invalid " + brief + ": is twice in manifest-sha256.txt, with the same checksum",
         "note manifest-sha256.txt: has names that begin with './'"}},
    {"a file in one manifest only", [](const fs::path& bag) {
       put(bag / "data/x", "");
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       list(bag, "sha512", false);
       seal(bag);
     }, {"invalid data/x: is not in manifest-sha256.txt"}},
    {"a folder in a manifest", with_line(some_digest + "  data/outputs\n"),
     {"invalid data/outputs: is a folder, and manifest-sha256.txt lists it as a file"}, Stock::fails},
    {"digits in capitals", [](const fs::path& bag) {
       const std::string digest = digest_of("sha256", bytes_of(bag / brief));
       replace(bag / "manifest-sha256.txt", digest, capitals(digest));
       seal(bag);
     }, {"note manifest-sha256.txt: is not written as checksum tools write it, from line 2 on"}},
    {"one blank", [](const fs::path& bag) { replace(bag / "manifest-sha256.txt", "  ", " "); seal(bag); },
     {"note manifest-sha256.txt: is not written as checksum tools write it, from line 1 on"}, Stock::fails},
    {"a tabulator", [](const fs::path& bag) { replace(bag / "manifest-sha256.txt", "  ", "\t"); seal(bag); },
     {"note manifest-sha256.txt: is not written as checksum tools write it, from line 1 on"}, Stock::fails},
    {"an asterisk", [](const fs::path& bag) { replace(bag / "manifest-sha256.txt", "  ", " *"); seal(bag); },
     {"note manifest-sha256.txt: has '*' before names, as md5sum writes them; strict readers refuse that",
      "note manifest-sha256.txt: is not written as checksum tools write it, from line 1 on"}},
    {"CR and LF in a manifest", [](const fs::path& bag) { replace(bag / "manifest-sha256.txt", "\n", "\r\n"); seal(bag); },
     {"note manifest-sha256.txt: is not written as checksum tools write it, from line 1 on"}, Stock::not_asked},
    {"a byte-order mark in a manifest", [](const fs::path& bag) {
       put(bag / "manifest-sha256.txt", "\xEF\xBB\xBF" + bytes_of(bag / "manifest-sha256.txt"));
       seal(bag);
     }, {"invalid manifest-sha256.txt: begins with a byte-order mark"}, Stock::fails},
    {"a percent sign as it is", [](const fs::path& bag) {
       fs::rename(bag / brief, bag / "data/outputs/100%.md");
       list_and_seal(bag);
       for (const auto* list : {"manifest-sha256.txt", "manifest-sha512.txt"}) replace(bag / list, "%25", "%");
       seal(bag);
     }, {"invalid manifest-sha256.txt: line 2: has '%' in a path, which is to be written as %25",
         "invalid manifest-sha512.txt: line 2: has '%' in a path, which is to be written as %25"}},
    {"an algorithm that is not known", [](const fs::path& bag) {
       put(bag / "manifest-whirl.txt", "ab  " + mission + "\n" "cd  " + brief + "\n");
       seal(bag);
     }, {"incomplete manifest-whirl.txt: needs the checksum algorithm 'whirl', which is not known here"}},
    {"an algorithm in capitals", [](const fs::path& bag) {
       fs::copy_file(bag / "manifest-sha256.txt", bag / "manifest-SHA256.txt");
       seal(bag);
     }, {"incomplete manifest-SHA256.txt: needs the checksum algorithm 'SHA256', which is not known here",
      "note manifest-sha256.txt: differs from 'manifest-SHA256.txt' only in case or Unicode normal form"}},

    // tag manifests
    {"an unlisted tag file", [](const fs::path& bag) { put(bag / "about/more.txt", ""); },
     {"note about/more.txt: is not in tagmanifest-sha256.txt", "note about/more.txt: is not in tagmanifest-sha512.txt"}},
    {"a missing tag file", [](const fs::path& bag) { fs::remove(bag / "bag-info.txt"); },
     {"incomplete bag-info.txt: is missing"}, Stock::fails},
    {"a payload manifest that no tag manifest lists", [](const fs::path& bag) { list(bag, "md5", false); },
     {"invalid manifest-md5.txt: is not in tagmanifest-sha256.txt",
      "invalid manifest-md5.txt: is not in tagmanifest-sha512.txt"}},
    {"payload in a tag manifest", [](const fs::path& bag) {
       append(bag / "tagmanifest-sha256.txt", digest_of("sha256", bytes_of(bag / brief)) + "  " + brief + "\n");
     }, {"invalid tagmanifest-sha256.txt: line 6: '" + brief + "' is payload, which a tag manifest must not list"}},
    {"a tag manifest in a tag manifest", [](const fs::path& bag) {
       append(bag / "tagmanifest-sha256.txt",
              digest_of("sha256", bytes_of(bag / "tagmanifest-sha512.txt")) + "  tagmanifest-sha512.txt\n");
     }, {"invalid tagmanifest-sha256.txt: lists the tag manifest 'tagmanifest-sha512.txt'"}},

    // fetch.txt
    {"a file to be fetched", [](const fs::path& bag) {
       put(bag / "fetch.txt", "https://logs.example/brief.md 15 " + brief + "\n");
       seal(bag);
       fs::remove(bag / brief);
     }, {"incomplete bag-info.txt: gives the Payload-Oxum '33.2', and it is 18.1",
         "incomplete " + brief + ": is missing and has to be fetched",
         "note data/outputs: is an empty folder, which no manifest can list"}, Stock::fails},
    {"a file that has been fetched", with_text("fetch.txt", "https://logs.example/brief.md - " + brief + "\n"), {}},
    {"a fetched file of another size", with_text("fetch.txt", "https://logs.example/brief.md 16 " + brief + "\n"),
     {"note " + brief + ": has another size than fetch.txt says"}},
    {"a file to be fetched that nobody lists", with_text("fetch.txt", "https://logs.example/x - data/x\n"),
     {"invalid data/x: is in fetch.txt and not in manifest-sha256.txt",
      "invalid data/x: is in fetch.txt and not in manifest-sha512.txt"}},
    {"a file to be fetched into the bag's own", with_text("fetch.txt", "https://logs.example/x - bag-info.txt\n"),
     {"invalid fetch.txt: line 1: 'bag-info.txt' is not within data/"}},
    {"a line to be fetched that is none", with_text("fetch.txt", "logs.example/x - data/x\nhttps://logs.example x\n"),
     {"invalid fetch.txt: line 1: is not a URL, a size or '-', and a path",
      "invalid fetch.txt: line 2: is not a URL, a size or '-', and a path"}},

    // names
    {"names that some systems can't keep apart", [](const fs::path& bag) {
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       put(bag / "data/outputs/BRIEF.md", "");
       put(bag / "data/\xC3\x84", "");
       put(bag / "data/a\xCC\x88", "");
       list_and_seal(bag);
     }, {"note data/outputs/brief.md: differs from 'data/outputs/BRIEF.md' only in case or Unicode normal form",
         "note data/\xC3\x84: differs from 'data/a\xCC\x88' only in case or Unicode normal form"}},
    {"a name that moved to another normal form", [](const fs::path& bag) {
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       put(bag / "data/\xC3\xA4", "");
       list_and_seal(bag);
       fs::rename(bag / "data/\xC3\xA4", bag / "data/a\xCC\x88");
     }, {"note data/a\xCC\x88: is in manifest-sha256.txt in another Unicode normal form",
         "note data/a\xCC\x88: is in manifest-sha512.txt in another Unicode normal form"}, Stock::fails},
    {"names with line ends, percent signs and blanks", [](const fs::path& bag) {
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       for (const auto* name : {"a\nb", "a\rb", "a\r\nb", "100%", "%0A", " a ", "*", "\\"}) put(bag / "data" / name, name);
       list_and_seal(bag);
     }, {}, Stock::not_asked},
    {"a name of 255 bytes", [](const fs::path& bag) {
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       put(bag / "data" / std::string(255, 'x'), "");
       list_and_seal(bag);
     }, {}},
    {"a name that is not UTF-8", [](const fs::path& bag) {
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       put(bag / "data/\xFF", "");
       list_and_seal(bag);
     }, {"invalid manifest-sha256.txt: is not UTF-8, as bagit.txt says it is",
         "invalid manifest-sha512.txt: is not UTF-8, as bagit.txt says it is"}},
    {"what a desktop leaves behind", [](const fs::path& bag) {
       put(bag / "bag-info.txt", "Bagging-Date: 2031-05-13\n");
       put(bag / "data/.DS_Store", "");
       list_and_seal(bag);
     }, {"note data/.DS_Store: is a file that desktops leave behind"}},
};
// clang-format on

/// Whether all manifests are read and confirmed by the tools that every Debian has.
bool stock_tools_confirm(const fs::path& bag) {
  for (const std::string algorithm : {"sha256", "sha512"}) {
    for (const std::string kind : {"manifest-", "tagmanifest-"}) {
      const auto end = daywright::record::run_program(
          {daywright::record::find_program("env"),
           {"-C", bag.string(), algorithm + "sum", "--strict", "--quiet", "-c", kind + algorithm + ".txt"}});
      if (end.exit_code != 0) return false;
    }
  }
  return true;
}

}  // namespace

TEST_CASE("whatever is done to a bag is found, and nothing else") {
  for (const auto& variant : planted) {
    const TemporaryFolder work;
    const fs::path bag = work.path() / "bag";
    make_bag(bag);
    variant.plant(bag);
    INFO(variant.name);
    CHECK(findings_in(bag) == variant.findings);
  }
}

TEST_CASE("sha256sum and sha512sum agree wherever they can see") {
  int confirmed = 0;
  int refused = 0;
  for (const auto& variant : planted) {
    if (variant.stock == Stock::not_asked) continue;
    const TemporaryFolder work;
    const fs::path bag = work.path() / "bag";
    make_bag(bag);
    variant.plant(bag);
    INFO(variant.name);
    CHECK(stock_tools_confirm(bag) == (variant.stock == Stock::passes));
    // What they refuse is not valid, or it is valid in a form that they don't read, and then there is a note.
    if (variant.stock == Stock::fails) CHECK(read_bag(bag).worst());
    ++(variant.stock == Stock::passes ? confirmed : refused);
  }
  CHECK(confirmed >= 40);
  CHECK(refused >= 30);
}
