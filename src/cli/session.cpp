#include "cli/session.h"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <stdexcept>
#include <system_error>

#include <cmark.h>
#include <fmt/format.h>
#include <openssl/crypto.h>
#include <unistd.h>
#include <xlsxwriter.h>
#include <boost/version.hpp>

#include "cli/report.h"
#include "load/inputs.h"
#include "model/printable.h"
#include "record/archive.h"
#include "record/digest.h"

namespace daywright::cli {

void print(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() || std::fflush(stdout) != 0) {
    throw std::system_error(errno, std::generic_category(), "cannot write to standard output");
  }
}

void complain(std::string_view text) { std::fwrite(text.data(), 1, text.size(), stderr); }

bool wants_colour() { return ::isatty(STDERR_FILENO) != 0 && std::getenv("NO_COLOR") == nullptr; }

std::string shown_folder(const Command& command) {
  const std::string folder = command.folder.lexically_normal().string();
  return folder == "." ? "" : folder.ends_with('/') ? folder.substr(0, folder.size() - 1) : folder;
}

namespace {

/// What the archive of the mission holds, seen from a day.
model::Filed read_filed(const Command& command, int day) {
  const auto archive = record::read_archive(command.folder / record::archive_folder);
  const auto head = record::head_before(archive.days, day);
  model::Filed filed{head.count, head.count == 0 ? "" : head.digest, record::revisions_of(archive.days, day), ""};
  if (!archive.breaks.empty())
    filed.fault = fmt::format("'{}' {}", model::printable(archive.breaks.front().where),
                              model::printable(archive.breaks.front().what));
  return filed;
}

}  // namespace

int day_of(const Command& command, const MissionFiles& files) {
  const auto day = command.day ? command.day : newest_day(files.files);
  if (!day) throw std::runtime_error("there is no day folder such as days/001");
  return *day;
}

Session run_mission(const Command& command, bool is_to_be_tried) {
  MissionFiles files = read_mission(command.folder);
  const auto day = command.day ? command.day : newest_day(files.files);
  const model::Filed filed = day ? read_filed(command, *day) : model::Filed{};
  return run_files(command, std::move(files), filed, is_to_be_tried);
}

Session run_files(const Command& command, MissionFiles files, const model::Filed& filed, bool is_to_be_tried) {
  Session session{std::move(files), filed, {}};
  RunOptions options{.day = command.day, .cutoff = command.cutoff, .is_to_be_tried = is_to_be_tried, .filed = filed};
  if (command.name == "options") options.changes = &command.changes;
  options.needs_handover = command.name == "handover" || command.figure.starts_with("handover.");
  options.shift_hours = command.shift_hours;
  session.result = run_stages(session.files.files, options);
  for (const auto& name : session.files.passed_over) {
    session.result.diagnostics.push_back(
        {model::Severity::warning,
         {},
         fmt::format("'{}' is a link, or not a file of a day folder such as days/008, and was passed over", name),
         "passed-over"});
  }
  return session;
}

void report_faults(const Command& command, const Session& session) {
  complain(format_report(session.result.diagnostics, session.files.files, shown_folder(command), wants_colour()));
  if (!session.result.refusal.empty())
    complain(fmt::format("daywright: {}\n", model::printable(session.result.refusal)));
}

std::string count_of_faults(const model::Diagnostics& diagnostics) {
  const auto count = [&](model::Severity severity) {
    return std::count_if(diagnostics.begin(), diagnostics.end(), [&](const auto& d) { return d.severity == severity; });
  };
  const auto plural = [](std::ptrdiff_t n, const char* word) {
    return fmt::format("{} {}{}", n, word, n == 1 ? "" : "s");
  };
  return plural(count(model::Severity::error), "error") + ", " + plural(count(model::Severity::warning), "warning");
}

ExitCode end_of(const RunResult& result, std::string_view where) {
  if (!result.has_faults()) return ExitCode::done;
  complain(fmt::format("daywright: the inputs have faults ({}); {}\n", count_of_faults(result.diagnostics), where));
  return ExitCode::done_with_faults;
}

write::Versions versions() {
  return {{"daywright", DAYWRIGHT_VERSION},
          {"boost", fmt::format("{}.{}.{}", BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100)},
          {"cmark", cmark_version_string()},
          {"fmt", fmt::format("{}.{}.{}", FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100)},
          {"libxlsxwriter", lxw_version()},
          {"openssl", OpenSSL_version(OPENSSL_VERSION_STRING)}};
}

bool is_of_day(const std::string& name, int day) {
  const auto day_of_file = load::day_of_path(name);
  return !day_of_file || *day_of_file <= day;
}

std::vector<write::InputRecord> list_mission_files(const MissionFiles& files, int day) {
  std::vector<write::InputRecord> records;
  for (const auto& file : files.files) {
    if (is_of_day(file.name, day)) records.push_back({file.name, file.text.size(), record::sha256_hex(file.text)});
  }
  return records;
}

std::filesystem::path day_folder(const Command& command, int day) {
  return command.out.value_or(command.folder / "out") / fmt::format("day-{:03}", day);
}

std::filesystem::path handover_folder(const Command& command, int day) {
  return day_folder(command, day).string() + "-handover";
}

}  // namespace daywright::cli
