#include "study/flown_mission.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace daywright::study {
namespace {

constexpr double step = 0.5;  // days; counts, onsets and changes of the plan all fall on half-days

double planned_rate(double day) { return day >= 3 && day < 9 ? 1.2 * usual_draw : usual_draw; }

}  // namespace

double Chance::uniform(double low, double high) {
  constexpr double to_unit = 0x1p-53;
  return low + (high - low) * static_cast<double>(bits_() >> 11U) * to_unit;
}

double Chance::normal(double mean, double sd) {
  // Box and Muller (1958), from memory; the second deviate is not kept, so that a draw does not depend on the last.
  const double radius = std::sqrt(-2 * std::log(1 - uniform(0, 1)));
  return mean + sd * radius * std::cos(2 * std::numbers::pi * uniform(0, 1));
}

FlownMission fly(const MissionKind& kind, Chance& chance) {
  FlownMission mission;
  auto& history = mission.history;
  history.now = cutoff_day;
  history.places = {{100, count_sigma}};
  history.daily_draw = (8 * usual_draw + 6 * 1.2 * usual_draw) / required_day;
  history.spans = {{0, 3, {{.draw = 3 * usual_draw}}},
                   {3, 9, {{.draw = 6 * 1.2 * usual_draw}}},
                   {9, required_day, {{.draw = 5 * usual_draw}}}};
  double bias = 0;
  if (kind.bias_sigmas > 0) {
    history.bias_sds = {kind.bias_sigmas * count_sigma};
    bias = history.bias_sds[0] * (chance.happens(0.5) ? 1 : -1);
  }
  double leak = 0;
  if (kind.leaks) {
    const double onsets = (kind.last_onset - kind.first_onset) / step + 1;
    mission.onset = kind.first_onset + step * std::floor(chance.uniform(0, onsets));
    leak = usual_draw * chance.uniform(kind.smallest_leak, kind.largest_leak);
  }

  int number = 0;
  double level = chance.normal(100, count_sigma);
  double factor = chance.normal(1, 0.08);
  constexpr double drift = 0.012 * 0.012;
  for (double day = 0; day < required_day; day += step) {
    // A step of a Wiener process and its integral: variances q t and q t^3 / 3, covariance q t^2 / 2.
    const double moved = chance.normal(0, std::sqrt(drift * step));
    const double area = moved * step / 2 + chance.normal(0, std::sqrt(drift * step * step * step / 12));
    level -= planned_rate(day) * (factor * step + area);
    factor += moved;
    if (mission.onset && day >= *mission.onset) level -= leak * step;
    const double at = day + step;
    if (at > cutoff_day) continue;
    const bool is_miscount = chance.happens(0.03);
    double error = chance.normal(bias, count_sigma);
    if (is_miscount) error += chance.uniform(4, 12) * (chance.happens(0.5) ? 1 : -1);
    const bool is_derived = chance.happens(kind.derived_share) || (kind.third_is_derived && ++number % 3 == 0);
    if (is_derived) continue;
    history.counts.push_back({.at = at,
                              .value = level + error,
                              .sigma = count_sigma,
                              .bias = kind.bias_sigmas > 0 ? std::size_t{0} : rules::unbiased});
    mission.is_miscount.push_back(is_miscount);
  }
  mission.final_level = level;
  return mission;
}

}  // namespace daywright::study
