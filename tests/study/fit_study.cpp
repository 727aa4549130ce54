// How good the fit of activities into resources is, on cases whose shortest length was proved.
//
//   fit_study FOLDER TABLE
//
// FOLDER has cases in the format of PSPLIB (Kolisch and Sprecher, PSPLIB - a project scheduling problem library,
// European Journal of Operational Research 96, 1997), single mode; TABLE a line "file,length" each, after a heading.
// Prints a line for each case; exits with 1 if a demand is missed, with 2 if something can't be read.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "rules/fit.h"
#include "study/misfits.h"

using namespace daywright;
using rules::Fit;
using rules::FitProblem;

namespace {

// What is demanded.
constexpr double most_mean_gap = 2;  // percent
constexpr double most_milliseconds = 50;

std::vector<std::string> read_lines(const std::filesystem::path& path) {
  std::ifstream file(path);
  std::vector<std::string> lines;
  for (std::string line; std::getline(file, line);) lines.push_back(line);
  if (lines.empty()) throw std::runtime_error(fmt::format("cannot read '{}'", path.string()));
  return lines;
}

/// The rows of numbers below the line that begins with `title`; what is between is the heading of the columns.
std::vector<std::vector<int>> read_section(const std::vector<std::string>& lines, std::string_view title) {
  const auto begins = [&](const std::string& line) { return line.starts_with(title); };
  std::vector<std::vector<int>> rows;
  for (auto line = std::find_if(lines.begin(), lines.end(), begins); line != lines.end(); ++line) {
    std::istringstream words(*line);
    std::vector<int> row;
    for (int number = 0; words >> number;) row.push_back(number);
    if (!row.empty()) rows.push_back(row);
    if (row.empty() && !rows.empty()) break;
  }
  if (rows.empty()) throw std::runtime_error(fmt::format("nothing below '{}'", title));
  return rows;
}

FitProblem read_case(const std::filesystem::path& path) {
  const auto lines = read_lines(path);
  FitProblem problem;
  const auto capacities = read_section(lines, "RESOURCEAVAILABILITIES").front();
  for (const int capacity : capacities) {
    constexpr std::int64_t endless = std::int64_t{1} << 40;
    problem.resources.push_back({{{.begin = 0, .end = endless, .capacity = capacity}}});
  }
  for (const auto& row : read_section(lines, "REQUESTS/DURATIONS")) {  // job, mode, duration, amounts
    auto& activity = problem.activities.emplace_back();
    activity.minutes = row.at(2);
    for (std::size_t r = 0; r < problem.resources.size(); ++r)
      if (row.at(r + 3) > 0) activity.demands.push_back({.resource = r, .amount = row.at(r + 3)});
  }
  for (const auto& row : read_section(lines, "PRECEDENCE RELATIONS"))  // job, modes, successors, which
    for (std::size_t k = 3; k < row.size(); ++k)
      problem.activities.at(static_cast<std::size_t>(row[k] - 1)).needs.push_back(static_cast<std::size_t>(row[0] - 1));
  return problem;
}

std::map<std::string, int> read_optima(const std::filesystem::path& path) {
  std::map<std::string, int> optima;
  const auto lines = read_lines(path);
  for (std::size_t k = 1; k < lines.size(); ++k) {
    const auto comma = lines[k].find(',');
    if (comma != std::string::npos) optima[lines[k].substr(0, comma)] = std::stoi(lines[k].substr(comma + 1));
  }
  return optima;
}

/// The length of the longest chain of needs. PSPLIB numbers every job after what it needs.
std::int64_t find_critical_path(const FitProblem& problem) {
  std::vector<std::int64_t> ends;
  for (const auto& activity : problem.activities) {
    std::int64_t start = 0;
    for (const std::size_t need : activity.needs) start = std::max(start, ends.at(need));
    ends.push_back(start + activity.minutes);
  }
  return *std::max_element(ends.begin(), ends.end());
}

/// Fits every case and prints how it went. Returns whether all demands are met.
bool run(const std::filesystem::path& folder, const std::map<std::string, int>& optima) {
  std::vector<std::filesystem::path> paths;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().extension() == ".sm") paths.push_back(entry.path());
  if (paths.empty()) throw std::runtime_error(fmt::format("no case in '{}'", folder.string()));
  std::sort(paths.begin(), paths.end());

  bool is_right = true;
  double gaps = 0;
  double worst_gap = 0;
  double milliseconds = 0;
  double longest = 0;
  int optimal = 0;
  fmt::print("{:<16}{:>9}{:>9}{:>6}{:>8}{:>8}\n", "case", "critical", "optimum", "fit", "gap %", "ms");
  for (const auto& path : paths) {
    const FitProblem problem = read_case(path);
    const int optimum = optima.at(path.filename().string());
    const auto begin = std::chrono::steady_clock::now();
    const Fit fit = rules::fit_activities(problem);
    const std::chrono::duration<double, std::milli> time = std::chrono::steady_clock::now() - begin;

    const std::int64_t critical = find_critical_path(problem);
    const double gap = 100.0 * static_cast<double>(fit.end - optimum) / optimum;
    fmt::print("{:<16}{:>9}{:>9}{:>6}{:>8.2f}{:>8.2f}\n", path.filename().string(), critical, optimum, fit.end, gap,
               time.count());
    auto misfits = study::find_misfits(problem, fit);
    if (std::count(fit.starts.begin(), fit.starts.end(), std::nullopt) > 0)
      misfits.emplace_back("something is left out, though time is endless");
    if (fit.end < critical) misfits.emplace_back("shorter than the critical path");
    if (fit.end < optimum) misfits.emplace_back("shorter than the proved optimum");
    for (const auto& misfit : misfits) fmt::print("  wrong: {}\n", misfit);
    is_right = is_right && misfits.empty();
    gaps += gap;
    worst_gap = std::max(worst_gap, gap);
    milliseconds += time.count();
    longest = std::max(longest, time.count());
    if (fit.end == optimum) ++optimal;
  }
  const auto cases = static_cast<double>(paths.size());
  fmt::print("\n{} cases, {} optimal; gap: mean {:.2f} %, worst {:.2f} %; time: mean {:.1f} ms, longest {:.1f} ms\n",
             paths.size(), optimal, gaps / cases, worst_gap, milliseconds / cases, longest);
  fmt::print("Demands: every fit right, mean gap at most {} %, no case above {} ms.\n", most_mean_gap,
             most_milliseconds);
  return is_right && gaps / cases <= most_mean_gap && longest <= most_milliseconds;
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 3) {
    fmt::print(stderr, "usage: fit_study FOLDER TABLE\n");
    return 2;
  }
  try {
    return run(arguments[1], read_optima(arguments[2])) ? 0 : 1;
  } catch (const std::exception& error) {
    fmt::print(stderr, "fit_study: {}\n", error.what());
    return 2;
  }
}
