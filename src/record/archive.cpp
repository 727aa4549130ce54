#include "record/archive.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <map>
#include <set>
#include <stdexcept>
#include <system_error>
#include <utility>

#include <fmt/format.h>
#include <utf8.h>

#include "record/bag_text.h"
#include "record/digest.h"
#include "record/signoff.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

constexpr const char* info_file = "bag-info.txt";
constexpr const char* chained_file = "tagmanifest-sha512.txt";
constexpr const char* payload_manifest = "manifest-sha256.txt";
constexpr std::array listed_files{info_file, "bagit.txt", payload_manifest, "manifest-sha512.txt"};
constexpr std::size_t largest_tag_file = std::size_t{64} << 20U;
constexpr std::size_t most_breaks = 1000;

std::string sha512_hex(std::string_view bytes) {
  Digester digester({"sha512"});
  digester.add(bytes);
  return digester.finish().front();
}

std::optional<std::int64_t> read_number(const std::string* text) {
  if (text == nullptr) return std::nullopt;
  std::int64_t number = 0;
  const char* const end = text->data() + text->size();
  const auto read = std::from_chars(text->data(), end, number);
  return read.ec == std::errc{} && read.ptr == end && number > 0 ? std::optional(number) : std::nullopt;
}

bool is_digest(std::string_view text) {
  return text.size() == no_record.size() && text.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

/// What the labels say, without the digest.
std::variant<FiledDay, std::string> read_labels(const Bag& bag) {
  FiledDay filed;
  for (const auto& [label, into] :
       {std::pair{"Archive-Number", &filed.number}, {"Mission-Day", &filed.day}, {"Day-Revision", &filed.revision}}) {
    const auto number = read_number(bag.find(label));
    if (!number) return fmt::format("has no whole number as {}", label);
    *into = *number;
  }
  for (const auto& [label, into] : {std::pair{"Mission", &filed.mission}, {"Previous-Digest", &filed.previous}}) {
    const auto* text = bag.find(label);
    if (text == nullptr) return fmt::format("has no {}", label);
    *into = *text;
  }
  if (!is_digest(filed.previous)) return "has no SHA-256 as Previous-Digest";
  if (const auto* text = bag.find("Replaces"); text != nullptr) {
    const auto number = read_number(text);
    if (!number) return "has no whole number as Replaces";
    filed.replaces = *number;
  }
  if (const auto* text = bag.find("Reason"); text != nullptr) filed.reason = *text;
  for (const auto& [label, value] : bag.info) {
    if (label != "Void-Sign-Off") continue;
    const auto number = read_number(&value);
    if (!number) return "has no whole number as Void-Sign-Off";
    filed.void_signoffs.push_back(*number);
  }
  return filed;
}

/// Whether a list of tag files is written as `TagFiles` does it; the digests in it are the bag's judge's.
bool is_as_written(std::string_view list, std::size_t digits) {
  for (const auto* name : listed_files) {
    const std::string rest = fmt::format("  {}\n", name);
    if (list.substr(0, digits).find_first_not_of("0123456789abcdef") != std::string_view::npos ||
        list.substr(std::min(digits, list.size()), rest.size()) != rest)
      return false;
    list.remove_prefix(digits + rest.size());
  }
  return list.empty();
}

/// Reads the bags one after the other.
class ArchiveReader {
 public:
  explicit ArchiveReader(const Descriptor& folder) : folder_(folder) {}

  Archive read_all() {
    const SeriesList list = list_series(folder_);
    for (const auto& name : list.strangers) archive_.breaks.push_back({name, "is no filed day"});
    const std::int64_t last = list.numbers.empty() ? 0 : *list.numbers.rbegin();
    for (std::int64_t number = 1; number <= last && archive_.breaks.size() < most_breaks; ++number) {
      const std::string before = std::exchange(digest_before_, "");
      if (!list.numbers.contains(number)) {
        add(number, "", "is missing", true);
        continue;
      }
      try {
        read_day(number, number == 1 ? std::string(no_record) : before);
      } catch (const std::system_error& error) {
        if (error.code().value() == ENOENT) {
          add(number, "", fmt::format("is not whole: {}", error.what()), true);
        } else if (is_of_the_thing(error)) {
          add(number, "", error.what());
        } else {
          throw;
        }
      }
    }
    return std::move(archive_);
  }

 private:
  void add(std::int64_t number, std::string_view file, std::string what, bool is_missing = false) {
    const std::string where = name_of_member(number) + (file.empty() ? "" : "/") + std::string(file);
    archive_.breaks.push_back({where, std::move(what), is_missing});
  }

  void read_day(std::int64_t number, const std::string& expected) {
    const Descriptor folder(folder_, name_of_member(number), open_folder);
    const std::string chained = Descriptor(folder, chained_file, open_file).read_regular(largest_tag_file);
    digest_before_ = sha256_hex(chained);
    const std::string info = Descriptor(folder, info_file, open_file).read_regular(largest_tag_file);
    if (chained.find(fmt::format("{}  {}\n", sha512_hex(info), info_file)) == std::string::npos)
      return add(number, info_file, fmt::format("has another SHA-512 than {} says", chained_file));
    for (auto& found : check_tag_lists(folder)) add(number, found.where, std::move(found.what), found.is_missing);
    BagFindings findings;
    Bag bag;
    bag.info = parse_labels(info_file, info, {}, findings);
    auto read = read_labels(bag);
    if (const auto* fault = std::get_if<std::string>(&read)) return add(number, info_file, *fault);
    auto& filed = std::get<FiledDay>(read);
    filed.digest = digest_before_;
    if (filed.number != number) add(number, info_file, fmt::format("says that it is number {}", filed.number));
    if (!expected.empty() && filed.previous != expected)
      add(number, info_file, "does not follow the day before: the digest in Previous-Digest is another");
    const auto* newest = newest_of(archive_.days, filed.day);
    const std::int64_t revision = newest == nullptr ? 1 : newest->revision + 1;
    const std::int64_t replaces = newest == nullptr ? 0 : newest->number;
    const bool is_whole_so_far = archive_.days.size() == static_cast<std::size_t>(number) - 1;
    if (is_whole_so_far && (filed.revision != revision || filed.replaces != replaces))
      add(number, info_file,
          fmt::format("is revision {} of its day, which does not fit the days before", filed.revision));
    if (!archive_.days.empty() && archive_.days.front().mission != filed.mission)
      add(number, info_file, "is of another mission than the first day");
    archive_.days.push_back(std::move(filed));
  }

  const Descriptor& folder_;
  std::string digest_before_;
  Archive archive_;
};

/// The text files of a bag, in the order in which they are made.
class TagFiles {
 public:
  explicit TagFiles(const DayToFile& day) {
    for (const auto& file : day.files) {
      Digester digester({"sha256", "sha512"});
      digester.add(file.bytes);
      const auto digests = digester.finish();
      sha256_[file.path] = digests[0];
      sha512_[file.path] = digests[1];
      size_ += file.bytes.size();
    }
    payload_sha256_ = list(sha256_);
  }

  [[nodiscard]] const std::string& payload_sha256() const { return payload_sha256_; }
  [[nodiscard]] const std::map<std::string, std::string>& digests() const { return sha256_; }

  /// All of them, with their names.
  [[nodiscard]] std::vector<std::pair<std::string, std::string>> render(const DayToFile& day,
                                                                        const FiledDay& filed) const {
    std::vector<std::pair<std::string, std::string>> files{
        {"bag-info.txt", render_info(day, filed)},
        {"bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"},
        {payload_manifest, payload_sha256_},
        {"manifest-sha512.txt", list(sha512_)}};
    std::string sha256;
    std::string sha512;
    for (const auto& [name, text] : files) {
      sha256 += fmt::format("{}  {}\n", sha256_hex(text), name);
      sha512 += fmt::format("{}  {}\n", sha512_hex(text), name);
    }
    files.emplace_back("tagmanifest-sha256.txt", sha256);
    files.emplace_back(chained_file, sha512);
    return files;
  }

 private:
  static std::string list(const std::map<std::string, std::string>& digests) {
    std::string text;
    for (const auto& [path, digest] : digests) text += fmt::format("{}  data/{}\n", digest, path);
    return text;
  }

  [[nodiscard]] std::string render_info(const DayToFile& day, const FiledDay& filed) const {
    std::string text = fmt::format(
        "Bagging-Date: {}\nBag-Software-Agent: {}\nExternal-Identifier: {}, day {}, revision {}\nPayload-Oxum: "
        "{}.{}\nArchive-Number: {}\nMission: {}\nMission-Day: {}\nDay-Revision: {}\nPrevious-Digest: {}\n",
        day.date, day.software, filed.mission, filed.day, filed.revision, size_, sha256_.size(), filed.number,
        filed.mission, filed.day, filed.revision, filed.previous);
    if (filed.replaces != 0) text += fmt::format("Replaces: {}\nReason: {}\n", filed.replaces, filed.reason);
    for (const auto number : filed.void_signoffs) text += fmt::format("Void-Sign-Off: {}\n", number);
    return text;
  }

  std::map<std::string, std::string> sha256_;  ///< by path below data/
  std::map<std::string, std::string> sha512_;
  std::size_t size_ = 0;
  std::string payload_sha256_;
};

/// The paths whose bytes differ between two lists of the payload, or that only one of them has.
std::vector<std::string> changed_paths(const std::string& one, const std::string& other) {
  const auto lines_of = [](const std::string& text) {
    std::set<std::string> lines;
    TextLine line;
    for (TextLines all(text); all.next(line);) lines.emplace(line.text);
    return lines;
  };
  const auto had = lines_of(one);
  const auto has = lines_of(other);
  std::set<std::string> changed;
  const auto add_those_of = [&](const std::set<std::string>& some, const std::set<std::string>& others) {
    for (const auto& line : some) {
      const auto path = line.find("  ");
      if (!others.contains(line) && path != std::string::npos) changed.insert(line.substr(path + 2));
    }
  };
  add_those_of(had, has);
  add_those_of(has, had);
  return {changed.begin(), changed.end()};
}

/// Reads what was built as a stranger would. Throws std::runtime_error where it is not what was to be filed.
void verify_built(const Descriptor& folder, const TagFiles& tags, const FiledDay& filed) {
  const Bag bag = read_bag(folder);
  if (!bag.findings.empty()) {
    const auto& finding = bag.findings.front();
    if (finding.fault == BagFault::note)
      throw std::runtime_error(fmt::format("'{}' {}: rename it or take it out, make the brief again, and file that",
                                           finding.where, finding.what));
    throw std::runtime_error(fmt::format("the bag that was built is not sound: '{}' {}", finding.where, finding.what));
  }
  std::map<std::string, std::string> found;
  for (const auto& file : bag.payload) found[file.path.substr(std::string_view("data/").size())] = file.sha256;
  const auto read = read_filed_day(bag);
  const auto* is = std::get_if<FiledDay>(&read);
  if (found != tags.digests() || !bag.unlisted_tag_files.empty() || is == nullptr || is->previous != filed.previous ||
      is->number != filed.number)
    throw std::runtime_error("the bag that was built is not what was to be filed");
}

}  // namespace

Archive read_archive(const fs::path& archive) {
  std::error_code error;
  const auto there = fs::symlink_status(archive, error);
  if (there.type() == fs::file_type::not_found) return {};
  return ArchiveReader(Descriptor(archive, O_RDONLY | O_DIRECTORY)).read_all();
}

std::variant<FiledDay, std::string> read_filed_day(const Bag& bag) {
  auto read = read_labels(bag);
  if (auto* filed = std::get_if<FiledDay>(&read)) filed->digest = bag.digest;
  return read;
}

std::vector<LogBreak> check_tag_lists(const Descriptor& bag) {
  std::vector<LogBreak> breaks;
  for (const auto& [name, digits] : {std::pair{"tagmanifest-sha256.txt", 64U}, {chained_file, 128U}}) {
    try {
      if (!is_there(bag, name)) {
        breaks.push_back({name, "is missing", true});
      } else if (!is_as_written(Descriptor(bag, name, open_file).read_regular(largest_tag_file), digits)) {
        breaks.push_back({name, "is not written as it was when the day was filed"});
      }
    } catch (const std::system_error& error) {
      if (!is_of_the_thing(error)) throw;
      breaks.push_back({name, error.what()});
    }
  }
  return breaks;
}

ArchiveHead head_before(const std::vector<FiledDay>& days, std::int64_t day) {
  ArchiveHead head{0, std::string(no_record)};
  for (const auto& filed : days) {
    if (filed.day >= day) break;
    head = {filed.number, filed.digest};
  }
  return head;
}

std::int64_t revisions_of(const std::vector<FiledDay>& days, std::int64_t day) {
  return std::count_if(days.begin(), days.end(), [&](const auto& filed) { return filed.day == day; });
}

const FiledDay* newest_of(const std::vector<FiledDay>& days, std::int64_t day) {
  const auto newest = std::find_if(days.rbegin(), days.rend(), [&](const auto& filed) { return filed.day == day; });
  return newest == days.rend() ? nullptr : &*newest;
}

std::string fault_of_payload_path(std::string_view path) {
  constexpr std::size_t longest = 1000;
  if (path.size() > longest) return fmt::format("has a path longer than {} bytes", longest);
  // sha256sum puts a backslash before names with line ends or backslashes; RFC 8493 writes % as %25, which it doesn't.
  for (const char c : path) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7F || c == '%' || c == '\\')
      return "has %, a backslash or a control character in its name, which the stock tools read otherwise in a "
             "manifest";
  }
  if (!utf8::is_valid(path.begin(), path.end())) return "has a name that is not UTF-8, as manifests are";
  return {};
}

Filing file_day(const fs::path& archive, const DayToFile& day, const GiveReason& reason) {
  const Series series(archive);
  series.wait_for_others();
  series.clear_leftovers();
  const TagFiles tags(day);
  constexpr int tries = 20;
  for (int i = 0; i < tries; ++i) {
    const Archive there = read_archive(archive);
    if (!there.breaks.empty())
      throw std::runtime_error(
          fmt::format("the archive is not sound: '{}' {}", there.breaks.front().where, there.breaks.front().what));
    FiledDay filed;
    filed.number = static_cast<std::int64_t>(there.days.size()) + 1;
    filed.mission = day.mission;
    filed.day = day.day;
    filed.void_signoffs = day.void_signoffs;
    filed.previous = there.days.empty() ? std::string(no_record) : there.days.back().digest;
    if (!there.days.empty() && there.days.front().mission != day.mission)
      throw std::runtime_error(
          fmt::format("this archive is that of '{}', not of '{}'", there.days.front().mission, day.mission));
    if (const auto* newest = newest_of(there.days, day.day); newest != nullptr) {
      const Descriptor folder(series.folder(), name_of_member(newest->number), open_folder);
      const std::string had = Descriptor(folder, payload_manifest, open_file).read_regular(largest_tag_file);
      const auto changed = changed_paths(had, tags.payload_sha256());
      if (changed.empty()) {
        // Whoever filed it may have been killed before it was forced to disk.
        series.folder().sync();
        return {*newest, false};
      }
      filed.revision = newest->revision + 1;
      filed.replaces = newest->number;
      filed.reason = reason(*newest, changed);
    }
    NewMember bag(series.folder());
    for (const auto& file : day.files) bag.write("data/" + file.path, file.bytes);
    for (const auto& [name, text] : tags.render(day, filed)) {
      bag.write(name, text);
      if (name == chained_file) filed.digest = sha256_hex(text);
    }
    verify_built(bag.folder(), tags, filed);
    if (bag.place(filed.number)) return {filed, true};
  }
  throw std::runtime_error("others file all the time, so that this day found no place");
}

}  // namespace daywright::record
