#include "rules/estimate.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <string>
#include <utility>
#include <vector>

#include "catch_compat.h"
#include "strd.h"

using namespace daywright::rules;

namespace {

/// Nothing but level and use factor: every count is good and nothing leaks.
EstimateSettings plain_settings() {
  EstimateSettings settings;
  settings.miscount_chance = 0;
  settings.leak_chance = 0;
  return settings;
}

/// The flow of the Nile at Aswan from 1871 on, one value a year.
std::vector<double> nile() {
  std::ifstream file(TEST_DATA "/statespace/nile.csv");
  REQUIRE(file);
  std::vector<double> flow;
  std::string line;
  std::getline(file, line);
  while (std::getline(file, line)) flow.push_back(std::stod(line.substr(line.find(',') + 1)));
  REQUIRE(flow.size() == 100);
  return flow;
}

/// A local level: nothing is drawn, and between two counts the level changes by 0 give or take.
ItemHistory local_level(const std::vector<double>& counts, double count_variance, double change_variance,
                        double first_mean, double first_variance) {
  ItemHistory history;
  history.now = static_cast<double>(counts.size()) - 1;
  history.places = {{first_mean, std::sqrt(first_variance)}};
  for (std::size_t i = 0; i < counts.size(); ++i) {
    const auto at = static_cast<double>(i);
    if (i > 0) history.changes.push_back({at, {.sigma = std::sqrt(change_variance)}});
    history.counts.push_back({.at = at, .value = counts[i], .sigma = std::sqrt(count_variance)});
  }
  return history;
}

/// Log-likelihood of all counts but the first.
double without_first(const std::vector<double>& counts, double count_variance, double change_variance,
                     double first_variance) {
  const auto settings = plain_settings();
  const auto all = estimate_level(settings, local_level(counts, count_variance, change_variance, 0, first_variance));
  const auto first =
      estimate_level(settings, local_level({counts.front()}, count_variance, change_variance, 0, first_variance));
  return all.log_likelihood - first.log_likelihood;
}

/// The points (x, y) of a data set of NIST StRD, by x.
std::vector<std::pair<double, double>> strd(const std::string& name, std::size_t size) {
  auto points = daywright::test::read_strd(name, size);
  std::sort(points.begin(), points.end());
  return points;
}

/// A tank that fills by one unit per unit of x at plan, so that level is intercept + factor x x.
ItemHistory line_through(const std::vector<std::pair<double, double>>& points, double intercept_sd, double sigma) {
  ItemHistory history;
  history.now = points.back().first;
  history.places = {{0, intercept_sd}};
  history.spans = {{0, history.now, {{.draw = -history.now}}}};
  for (const auto& [x, y] : points) history.counts.push_back({.at = x, .value = y, .sigma = sigma});
  return history;
}

/// A mission like those of the study, with counts that were written down once: a leak from day 3, a miscount.
ItemHistory mission() {
  ItemHistory history;
  history.now = 7;
  history.places = {{100, 0.6}};
  history.daily_draw = 5;
  history.spans = {{0, 3, {{.draw = 15}}}, {3, 9, {{.draw = 36}}}, {9, 14, {{.draw = 25}}}};
  history.changes = {{2.25, {.make = 4, .sigma = 0.1}}};
  const std::vector<double> values{97.1, 95.6, 92.4, 89.7, 91.8, 88.5, 84.0, 79.9, 83.1, 71.6, 66.9, 63.1, 58.6, 54.3};
  for (std::size_t i = 0; i < values.size(); ++i)
    history.counts.push_back({.at = static_cast<double>(i + 1) / 2, .value = values[i], .sigma = 0.6});
  return history;
}

/// Two tanks, each counted by itself, one by a gauge with a bias, and now and then both together; at uneven times, with
/// a transfer from one to the other.
ItemHistory two_tanks() {
  ItemHistory history;
  history.now = 6;
  history.places = {{60, 0.5}, {40, 1.5}};
  history.bias_sds = {0.8};
  history.daily_draw = 6;
  history.spans = {{0, 2, {{.place = 0, .draw = 12}, {.place = 1, .make = 1, .sigma = 0.2}}},
                   {2.5, 14, {{.place = 0, .draw = 34.5}, {.place = 1, .draw = 23}}}};
  history.changes = {{3, {.place = 0, .make = 8, .sigma = 0.1}}, {3, {.place = 1, .make = -8, .sigma = 0.1}}};
  history.counts = {{.at = 0.4, .value = 57.9, .sigma = 0.6, .place = 0},
                    {.at = 1.3, .value = 41.2, .sigma = 0.4, .place = 1, .bias = 0},
                    {.at = 2, .value = 88.6, .sigma = 1.1},
                    {.at = 3, .value = 55.1, .sigma = 0.6, .place = 0},
                    {.at = 3, .value = 32.4, .sigma = 0.4, .place = 1, .bias = 0},
                    {.at = 4.7, .value = 49.2, .sigma = 0.6, .place = 0},
                    {.at = 5.2, .value = 77.0, .sigma = 1.1},
                    {.at = 5.9, .value = 26.3, .sigma = 0.4, .place = 1, .bias = 0}};
  return history;
}

std::vector<double> quantiles(const std::vector<WeightedNormal>& mixture) {
  return {quantile_of(mixture, 0.05), quantile_of(mixture, 0.5), quantile_of(mixture, 0.95)};
}

std::vector<double> forecast_quantiles(const ItemHistory& history) {
  const EstimateSettings settings;
  const auto now = estimate_level(settings, history);
  const double until = now.at + (now.at - history.start);
  return quantiles(forecast_level(settings, now, history.spans, history.changes, until).level());
}

}  // namespace

// Nile: Durbin and Koopman, Time Series Analysis by State Space Methods, 2nd ed., chapter 2. The values and the
// convention of each stand with their sources in tests/data/statespace/README.md.

TEST_CASE("the Nile's filtered levels and variances are the published ones") {
  const auto flow = nile();
  const auto first = estimate_level(plain_settings(), local_level({flow.front()}, 15099, 1469.1, 0, 1e6));
  CHECK(mean_of(first.level()) == Approx(1103.34065938).epsilon(1e-11));
  CHECK(std::pow(sd_of(first.level()), 2) == Approx(14874.41126432).epsilon(1e-11));
  const auto last = estimate_level(plain_settings(), local_level(flow, 15099, 1469.1, 0, 1e6));
  CHECK(mean_of(last.level()) == Approx(798.37029261).epsilon(1e-10));
  CHECK(std::pow(sd_of(last.level()), 2) == Approx(4032.15794181).epsilon(1e-11));
}

TEST_CASE("the Nile's likelihoods are the published ones, each in its convention") {
  const auto flow = nile();
  CHECK(estimate_level(plain_settings(), local_level(flow, 15099, 1469.1, 0, 1e7)).log_likelihood ==
        Approx(-641.5856).margin(5e-5));
  CHECK(without_first(flow, 15099, 1469.1, 1e6) == Approx(-632.537695048).margin(5e-9));
  CHECK(without_first(flow, 10000, 1, 1e6) == Approx(-687.5456216).margin(5e-7));
  // The exact diffuse likelihood is what a wide prior tends to; 1e10 is wide enough for four decimals.
  CHECK(without_first(flow, 15098.53, 1469.178, 1e10) == Approx(-632.5456).margin(5e-5));
}

TEST_CASE("the Nile with a narrow prior, complete and with years missing, has the published likelihood") {
  auto complete = local_level(nile(), 15247.7728343637, 1300.7770281326016, 1120, 100);
  CHECK(estimate_level(plain_settings(), complete).log_likelihood == Approx(-637.6260115846168).epsilon(1e-12));
  auto gaps = local_level(nile(), 15124.1312944227, 1385.0660439648536, 1120, 100);
  gaps.counts.erase(gaps.counts.begin() + 9);
  gaps.counts.erase(gaps.counts.begin() + 2);
  const double counted_for_missing = -std::log(2 * 3.14159265358979323846);  // the source counts a constant for these
  CHECK(estimate_level(plain_settings(), gaps).log_likelihood + counted_for_missing ==
        Approx(-627.0054683261661).epsilon(1e-12));
}

// NIST StRD: with a use factor that does not drift, the filter is linear least squares, and with the certified residual
// deviation as sigma its deviations are the certified ones. Norris has an intercept, the wide prior of the level;
// NoInt1 and NoInt2 have none, a level of exactly 0 at the start.

TEST_CASE("Norris: intercept, slope and their deviations are the certified ones to six digits") {
  auto settings = plain_settings();
  settings.factor_drift = 0;
  settings.factor_sd = 1e4;
  const auto points = strd("Norris.dat", 36);
  const auto end = estimate_level(settings, line_through(points, 1e5, 0.884796396144373));
  CHECK(mean_of(end.factor()) == Approx(1.00211681802045).epsilon(1e-7));
  CHECK(sd_of(end.factor()) == Approx(0.429796848199937E-03).epsilon(1e-6));
  const double x = points.back().first;
  const StateNormal& state = end.explanations.front().state;
  CHECK(state.mean[0] - state.mean[1] * x == Approx(-0.262323073774029).epsilon(1e-6));
  CHECK(std::sqrt(state.cov(0, 0) - 2 * x * state.cov(0, 1) + x * x * state.cov(1, 1)) ==
        Approx(0.232818234301152).epsilon(1e-6));
}

TEST_CASE("NoInt1 and NoInt2: slope and its deviation are the certified ones to six digits") {
  auto settings = plain_settings();
  settings.factor_drift = 0;
  settings.factor_sd = 1e2;  // level and factor are one unknown here: a wider prior costs digits
  const auto one = estimate_level(settings, line_through(strd("NoInt1.dat", 11), 0, 3.56753034006338));
  CHECK(mean_of(one.factor()) == Approx(2.07438016528926).epsilon(1e-7));
  CHECK(sd_of(one.factor()) == Approx(0.165289256198347E-01).epsilon(1e-6));
  const auto two = estimate_level(settings, line_through(strd("NoInt2.dat", 3), 0, 0.369274472937998));
  CHECK(mean_of(two.factor()) == Approx(0.727272727272727).epsilon(1e-7));
  CHECK(sd_of(two.factor()) == Approx(0.420827318078432E-01).epsilon(1e-6));
}

TEST_CASE("a leak and a miscount are told from each other") {
  const auto estimate = estimate_level({}, mission());
  CHECK(estimate.leak_chance() > 0.9);
  const auto& chances = estimate.miscount_chances;
  CHECK(std::max_element(chances.begin(), chances.end()) - chances.begin() == 8);
  CHECK(chances[8] > 0.99);
  CHECK(std::count_if(chances.begin(), chances.end(), [](double chance) { return chance > 0.2; }) == 1);
}

TEST_CASE("shifting start and counts alike shifts level and forecast, and nothing else") {
  auto shifted = mission();
  shifted.places[0].mean += 1000;
  for (auto& count : shifted.counts) count.value += 1000;
  const auto before = forecast_quantiles(mission());
  const auto after = forecast_quantiles(shifted);
  for (std::size_t i = 0; i < before.size(); ++i) CHECK(after[i] - before[i] == Approx(1000).epsilon(1e-10));
  CHECK(estimate_level({}, shifted).leak_chance() == Approx(estimate_level({}, mission()).leak_chance()).margin(1e-9));
}

TEST_CASE("more on board at the start and in every count never means less in the forecast") {
  for (const std::size_t place : {0U, 1U}) {
    auto before = forecast_quantiles(two_tanks());
    for (const double more : {0.001, 0.2, 3.0, 45.0, 2000.0}) {
      INFO("place " << place << ", " << more << " more");
      auto shifted = two_tanks();
      shifted.places[place].mean += more;
      for (auto& count : shifted.counts)
        if (count.place == place || count.place == every_place) count.value += more;
      const auto after = forecast_quantiles(shifted);
      for (std::size_t i = 0; i < before.size(); ++i) CHECK(after[i] > before[i]);
      before = after;
    }
  }
}

TEST_CASE("another unit scales every figure") {
  constexpr double pounds = 2.20462262;
  const auto scale = [](Flow& flow) {
    flow.draw *= pounds;
    flow.make *= pounds;
    flow.sigma *= pounds;
  };
  for (const ItemHistory& history : {mission(), two_tanks()}) {
    auto scaled = history;
    for (auto& place : scaled.places) place = {place.mean * pounds, place.sd * pounds};
    for (double& sd : scaled.bias_sds) sd *= pounds;
    scaled.daily_draw *= pounds;
    for (auto& count : scaled.counts) {
      count.value *= pounds;
      count.sigma *= pounds;
    }
    for (auto& span : scaled.spans) std::for_each(span.flows.begin(), span.flows.end(), scale);
    for (auto& change : scaled.changes) scale(change.flow);
    const auto before = forecast_quantiles(history);
    const auto after = forecast_quantiles(scaled);
    for (std::size_t i = 0; i < before.size(); ++i) CHECK(after[i] == Approx(before[i] * pounds).epsilon(1e-9));
    CHECK(estimate_level({}, scaled).leak_chance() == Approx(estimate_level({}, history).leak_chance()).margin(1e-9));
  }
}

TEST_CASE("another origin of time changes nothing") {
  constexpr double shift = 4096;
  const EstimateSettings settings;
  for (const ItemHistory& history : {mission(), two_tanks()}) {
    auto moved = history;
    moved.start += shift;
    moved.now += shift;
    for (auto& span : moved.spans) {
      span.begin += shift;
      span.end += shift;
    }
    for (auto& change : moved.changes) change.at += shift;
    for (auto& count : moved.counts) count.at += shift;
    const auto before = estimate_level(settings, history);
    const auto after = estimate_level(settings, moved);
    CHECK(after.leak_chance() == Approx(before.leak_chance()).margin(1e-9));
    CHECK(mean_of(after.level()) == Approx(mean_of(before.level())).epsilon(1e-9));
    const auto forecast_before = forecast_quantiles(history);
    const auto forecast_after = forecast_quantiles(moved);
    for (std::size_t i = 0; i < forecast_before.size(); ++i)
      CHECK(forecast_after[i] == Approx(forecast_before[i]).epsilon(1e-9));
  }
}

TEST_CASE("splitting a planned span changes nothing") {
  constexpr int parts = 7;
  for (const ItemHistory& history : {mission(), two_tanks()}) {
    auto split = history;
    split.spans.clear();
    for (const auto& span : history.spans) {
      auto flows = span.flows;
      for (Flow& flow : flows) {
        flow.draw /= parts;
        flow.make /= parts;
        flow.sigma /= std::sqrt(parts);
      }
      const double length = (span.end - span.begin) / parts;
      for (int i = 0; i < parts; ++i)
        split.spans.push_back({span.begin + i * length, span.begin + (i + 1) * length, flows});
    }
    const auto whole = forecast_quantiles(history);
    const auto pieces = forecast_quantiles(split);
    for (std::size_t i = 0; i < whole.size(); ++i) CHECK(pieces[i] == Approx(whole[i]).epsilon(1e-9));
  }
}

TEST_CASE("without miscounts and leaks, taking any count away widens the band") {
  const auto settings = plain_settings();
  const auto width = [&](const ItemHistory& history) {
    const auto now = estimate_level(settings, history);
    return sd_of(forecast_level(settings, now, history.spans, history.changes, 14).level());
  };
  for (const ItemHistory& history : {mission(), two_tanks()}) {
    const double all = width(history);
    for (std::size_t i = 0; i < history.counts.size(); ++i) {
      auto fewer = history;
      fewer.counts.erase(fewer.counts.begin() + static_cast<std::ptrdiff_t>(i));
      CHECK(width(fewer) > all);
    }
  }
}

TEST_CASE("a forecast without counts is the plan, as wide as start, factor and drift make it") {
  // By hand: level 100 - 2 x 10; variance 1 + 20^2 x 0.08^2 + 20^2 x q x 2 / 3 with q = 0.012^2 per day.
  const EstimateSettings settings;
  ItemHistory history;
  history.places = {{100, 1}};
  history.daily_draw = 10;
  const auto later = forecast_level(settings, estimate_level(settings, history), {{0, 2, {{.draw = 20}}}}, {}, 2);
  CHECK(mean_of(later.level()) == Approx(80));
  CHECK(std::pow(sd_of(later.level()), 2) == Approx(1 + 400 * 0.0064 + 400 * 0.000144 * 2 / 3));
  CHECK(later.leak_chance() == 0);
}

TEST_CASE("what is made is not multiplied by the use factor") {
  EstimateSettings settings;
  settings.factor_drift = 0;
  ItemHistory history;
  history.places = {{50, 0}};
  history.now = 1;
  history.spans = {{0, 1, {{.make = 10}}}};
  const auto now = estimate_level(settings, history);
  CHECK(mean_of(now.level()) == Approx(60));
  CHECK(sd_of(now.level()) == 0);
}

TEST_CASE("a bias that counts share does not average away") {
  auto settings = plain_settings();
  settings.factor_sd = 0;
  settings.factor_drift = 0;
  ItemHistory history;
  history.places = {{100, 50}};
  history.bias_sds = {1.2};
  history.now = 10;
  for (int i = 0; i < 1000; ++i)
    history.counts.push_back({.at = i / 100.0, .value = 100, .sigma = 0.6, .place = 0, .bias = 0});
  // By hand, prior of the level far wider than both: 0.6^2 / 1000 + 1.2^2, less a thousandth for the prior.
  CHECK(sd_of(estimate_level(settings, history).level()) == Approx(std::sqrt(0.36 / 1000 + 1.44)).epsilon(1e-3));
  for (auto& count : history.counts) count.bias = unbiased;
  CHECK(sd_of(estimate_level(settings, history).level()) == Approx(std::sqrt(0.36 / 1000)).epsilon(1e-3));
}

TEST_CASE("places have their own levels, share the use factor, and can be counted together") {
  auto settings = plain_settings();
  settings.factor_drift = 0;
  ItemHistory history;
  history.places = {{60, 0}, {40, 0}};
  history.now = 2;
  history.spans = {{0, 1, {{.place = 0, .draw = 10}}}, {1, 2, {{.place = 1, .draw = 10}}}};
  history.counts = {{.at = 1, .value = 49, .sigma = 0.01, .place = 0}};
  const auto one = estimate_level(settings, history);
  CHECK(mean_of(one.factor()) == Approx(1.1).epsilon(1e-3));
  CHECK(mean_of(one.level(0)) == Approx(49).epsilon(1e-4));
  CHECK(mean_of(one.level(1)) == Approx(29).epsilon(1e-3));  // drawn at 1.1 too
  CHECK(mean_of(one.level()) == Approx(78).epsilon(1e-3));
  history.counts = {{.at = 2, .value = 82, .sigma = 0.01}};
  const auto both = estimate_level(settings, history);
  CHECK(mean_of(both.factor()) == Approx(0.9).epsilon(1e-3));
}

TEST_CASE("a leak is found in the place that leaks") {
  ItemHistory history;
  history.places = {{60, 0.5}, {40, 0.5}};
  history.now = 6;
  history.daily_draw = 5;
  history.spans = {{0, 6, {{.place = 0, .draw = 30}}}};
  for (int i = 1; i <= 12; ++i) {
    const double at = i / 2.0;
    history.counts.push_back({.at = at, .value = 60 - 5 * at, .sigma = 0.5, .place = 0});
    history.counts.push_back({.at = at, .value = 40 - 2 * std::max(0.0, at - 3), .sigma = 0.5, .place = 1});
  }
  const auto estimate = estimate_level({}, history);
  CHECK(estimate.leak_chance() > 0.99);
  double in_second = 0;
  for (const auto& explanation : estimate.explanations)
    if (explanation.onset && explanation.onset->place == 1) in_second += explanation.weight;
  CHECK(in_second > 0.99);
  CHECK(mean_of(estimate.leak()) == Approx(2).epsilon(0.1));
}

TEST_CASE("a repair ends the leak, keeps what it took, and another leak can begin") {
  auto repaired = mission();
  repaired.repairs = {7};
  const auto leaking = estimate_level({}, mission());
  const auto closed = estimate_level({}, repaired);
  CHECK(closed.leak_chance() == 0);
  CHECK(closed.explanations.size() == 1);
  CHECK(mean_of(closed.level()) == Approx(mean_of(leaking.level())).margin(0.2));
  CHECK(closed.miscount_chances.size() == repaired.counts.size());
  repaired.repairs = {5.25};
  const auto after = estimate_level({}, repaired);
  CHECK(after.leak_chance() > 0.5);
  CHECK(after.explanations[1].onset->from == 5.25);
  CHECK(after.miscount_chances.size() == repaired.counts.size());
}

TEST_CASE("an item that nothing is drawn from, or whose leaks are switched off, has one explanation") {
  auto history = mission();
  history.daily_draw = 0;
  CHECK(estimate_level({}, history).explanations.size() == 1);
  EstimateSettings settings;
  settings.leak_chance = 0;
  CHECK(estimate_level(settings, mission()).explanations.size() == 1);
}

TEST_CASE("a leak that is surely none leaves an estimate of numbers") {
  // Use is far below a plan that is taken for nearly certain: a leak would have to be tens of deviations below zero.
  ItemHistory history = mission();
  history.spans = {{0, 60, {{.draw = 5 * 60.0}}}};
  history.now = 60;
  history.counts.clear();
  for (int i = 1; i <= 120; ++i) history.counts.push_back({.at = i / 2.0, .value = 100 - 0.5 * i, .sigma = 0.01});
  EstimateSettings settings;
  settings.factor_sd = 1e-4;
  settings.factor_drift = 0;
  settings.miscount_chance = 0;
  const auto estimate = estimate_level(settings, history);
  double total = 0;
  for (const auto& explanation : estimate.explanations) {
    total += explanation.weight;
    for (const double mean : explanation.state.mean) CHECK(std::isfinite(mean));
    for (const double covariance : explanation.state.covariance) CHECK(std::isfinite(covariance));
  }
  CHECK(total == Approx(1));
  CHECK(std::isfinite(mean_of(estimate.level())));
  CHECK(std::isfinite(estimate.leak_chance()));
}

TEST_CASE("no more explanations are kept than the settings say, and that changes little") {
  auto history = mission();
  const auto all = estimate_level({}, history);
  CHECK(all.explanations.size() == 1 + 2 * history.counts.size());  // two pieces of each half day
  EstimateSettings few;
  few.newest_onsets = 4;
  few.best_onsets = 4;
  const auto some = estimate_level(few, history);
  CHECK(some.explanations.size() == 9);
  CHECK(some.leak_chance() == Approx(all.leak_chance()).margin(0.01));
  CHECK(mean_of(some.level()) == Approx(mean_of(all.level())).margin(0.05 * sd_of(all.level())));
}

TEST_CASE("the two cases without and with a leak share the whole") {
  const auto all = estimate_level({}, mission());
  const auto none = given_leak(all, false);
  const auto leak = given_leak(all, true);
  REQUIRE(none.has_value());
  REQUIRE(leak.has_value());
  CHECK(mean_of(none->level()) * (1 - all.leak_chance()) + mean_of(leak->level()) * all.leak_chance() ==
        Approx(mean_of(all.level())));
  CHECK(none->leak_chance() == 0);
  CHECK(leak->leak_chance() == Approx(1));
  CHECK_FALSE(given_leak(*none, true).has_value());
}

TEST_CASE("a change at the instant of a count is in the count, one at the start is in the start") {
  auto settings = plain_settings();
  settings.factor_sd = 0;
  settings.factor_drift = 0;
  ItemHistory history;
  history.places = {{10, 0.1}};
  history.now = 1;
  history.changes = {{0, {.make = 100}}, {1, {.make = 5}}};
  history.counts = {{.at = 1, .value = 15, .sigma = 0.1}};
  const auto estimate = estimate_level(settings, history);
  CHECK(mean_of(estimate.level()) == Approx(15));
  CHECK(mean_of(forecast_level(settings, estimate, {}, {{1, {.make = 7}}, {2, {.make = 3}}}, 2).level()) == Approx(18));
}
