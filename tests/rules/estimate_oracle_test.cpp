// The filter against a general-purpose state-space library: series whose leaks and miscounts are known, and what the
// library statsmodels made of them. tests/tools/state_space_oracle.py wrote the file.
#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "catch_compat.h"
#include "rules/count_filter.h"
#include "rules/estimate.h"

using namespace daywright::rules;

namespace {

constexpr double agreed = 1e-8;  ///< relative; what is written has twelve digits

/// A line of the file: its first field says what it tells, see tests/data/statespace/README.md.
struct Told {
  std::string what;
  std::vector<std::string> fields;

  [[nodiscard]] double number(std::size_t field) const { return std::stod(fields.at(field)); }
  [[nodiscard]] std::size_t index(std::size_t field) const { return std::stoul(fields.at(field)); }
};

struct Series {
  std::string name;
  StateLayout layout;
  double drift = 0;
  std::vector<Told> told;
};

std::vector<Series> read_series() {
  std::ifstream file(TEST_DATA "/statespace/given_labels.csv");
  REQUIRE(file);
  std::vector<Series> all;
  for (std::string line; std::getline(file, line);) {
    std::istringstream fields(line);
    Told told;
    std::getline(fields, told.what, ',');
    for (std::string field; std::getline(fields, field, ',');) told.fields.push_back(field);
    if (told.what == "series")
      all.push_back({told.fields.at(0), {.places = told.index(1), .biases = told.index(2)}, told.number(3), {}});
    else
      all.back().told.push_back(told);
  }
  return all;
}

Flow flow_of(const Told& told) {
  return {.place = told.index(0), .draw = told.number(1), .make = told.number(2), .sigma = told.number(3)};
}

/// A label is known, so that a miscount is nothing but a count with a wider variance.
Observation observation_of(const Told& told) {
  return {.value = told.number(0),
          .variance = told.number(1),
          .place = told.fields.at(2) == "all" ? every_place : told.index(2),
          .bias = told.fields.at(3) == "none" ? unbiased : told.index(3)};
}

void check_state(const StateNormal& state, const Told& seen) {
  std::size_t field = 1;
  for (const double mean : state.mean) CHECK(mean == Approx(seen.number(field++)).epsilon(agreed));
  for (std::size_t i = 0; i < state.mean.size(); ++i)
    for (std::size_t j = 0; j <= i; ++j) {
      const double expected = seen.number(field++);
      CHECK(state.cov(i, j) == Approx(expected).epsilon(agreed));
      CHECK(state.cov(j, i) == Approx(expected).epsilon(agreed));
    }
  CHECK(field == seen.fields.size());
}

/// Goes through one series and holds each period's state and likelihood against the library's. Returns how many.
int follow(const Series& series) {
  CountFilter filter(series.layout);
  StateNormal state(series.layout.size());
  std::vector<Flow> flows;
  double log_likelihood = 0;
  int periods = 0;
  for (const Told& told : series.told) {
    if (told.what == "prior") {
      const std::size_t member = told.index(0);
      state.mean[member] = told.number(1);
      state.cov(member, member) = told.number(2) * told.number(2);
    } else if (told.what == "flow") {
      flows.push_back(flow_of(told));
    } else if (told.what == "span") {
      filter.advance(state, told.number(0), flows, series.drift, told.index(1));
      flows.clear();
    } else if (told.what == "leak") {
      filter.begin_leak(state, told.index(0), 0, 0, told.number(1), told.number(2));  // within 0 days: just now
    } else if (told.what == "count") {
      log_likelihood += filter.take_count(state, observation_of(told)).log_likelihood;
    } else {
      REQUIRE(told.what == "seen");
      INFO("period " << ++periods);
      CHECK(log_likelihood == Approx(told.number(0)).epsilon(agreed));
      check_state(state, told);
      log_likelihood = 0;
    }
  }
  return periods;
}

/// The series as a caller of the estimator gives it.
struct Given {
  EstimateSettings settings;
  ItemHistory history;
  double log_likelihood = 0;  ///< of all counts, by the library
};

Given given(const Series& series) {
  Given given;
  given.settings.miscount_chance = 0;
  given.settings.leak_chance = 0;
  given.settings.factor_drift = series.drift;
  ItemHistory& history = given.history;
  history.places.resize(series.layout.places);
  history.bias_sds.resize(series.layout.biases);
  std::vector<Flow> flows;
  for (const Told& told : series.told) {
    if (told.what == "prior") {
      const std::size_t member = told.index(0);
      if (member < series.layout.places)
        history.places[member] = {.mean = told.number(1), .sd = told.number(2)};
      else if (member == series.layout.factor())
        given.settings.factor_sd = told.number(2);
      else
        history.bias_sds.at(member - series.layout.bias(0)) = told.number(2);
    } else if (told.what == "flow") {
      flows.push_back(flow_of(told));
    } else if (told.what == "span") {
      const double begin = history.now;
      history.now += told.number(0);
      history.spans.push_back({begin, history.now, flows});
      flows.clear();
    } else if (told.what == "count") {
      const Observation count = observation_of(told);
      history.counts.push_back({history.now, count.value, std::sqrt(count.variance), count.place, count.bias});
    } else {
      REQUIRE(told.what == "seen");
      given.log_likelihood += told.number(0);
    }
  }
  return given;
}

}  // namespace

TEST_CASE("given leak and miscounts, every state and likelihood is that of a state-space library") {
  const auto all = read_series();
  REQUIRE(all.size() == 5);
  int periods = 0;
  for (const Series& series : all) {
    INFO(series.name);
    periods += follow(series);
  }
  CHECK(periods == 46);
}

TEST_CASE("without leaks the estimate of a whole history is that of a state-space library") {
  int compared = 0;
  for (const Series& series : read_series()) {
    const auto leaks = [](const Told& told) { return told.what == "leak"; };
    if (std::any_of(series.told.begin(), series.told.end(), leaks)) continue;
    INFO(series.name);
    const Given whole = given(series);
    const auto estimate = estimate_level(whole.settings, whole.history);
    CHECK(estimate.log_likelihood == Approx(whole.log_likelihood).epsilon(agreed));
    check_state(estimate.explanations.front().state, series.told.back());
    ++compared;
  }
  CHECK(compared == 4);
}
