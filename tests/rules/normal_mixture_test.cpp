#include "rules/normal_mixture.h"

#include <cmath>
#include <utility>
#include <vector>

#include "catch_compat.h"

using namespace daywright::rules;

TEST_CASE("quantiles of one normal distribution are those of the printed tables") {
  // Percentage points of the normal distribution as every statistics table prints them; from memory.
  const std::vector<WeightedNormal> standard{{1, 0, 1}};
  for (const auto& [chance, z] : {std::pair{0.5, 0.0},
                                  {0.75, 0.674490},
                                  {0.90, 1.281552},
                                  {0.95, 1.644854},
                                  {0.975, 1.959964},
                                  {0.99, 2.326348},
                                  {0.995, 2.575829},
                                  {0.999, 3.090232},
                                  {0.9995, 3.290527}}) {
    CHECK(quantile_of(standard, chance) == Approx(z).margin(6e-7));
    CHECK(quantile_of(standard, 1 - chance) == Approx(-z).margin(6e-7));
  }
}

TEST_CASE("chances of a normal value are those of the printed tables, in the far tail too") {
  // From memory: the table of the normal integral, and the chance beyond six standard deviations.
  CHECK(normal_chance(0) == 0.5);
  CHECK(normal_chance(1) == Approx(0.8413447).epsilon(1e-7));
  CHECK(normal_chance(2) == Approx(0.9772499).epsilon(1e-7));
  CHECK(normal_chance(-3) == Approx(0.001349898).epsilon(1e-6));
  CHECK(normal_chance(-6) == Approx(9.8659e-10).epsilon(1e-4));
}

TEST_CASE("chances of a normal value are those of Abramowitz and Stegun to their last digit") {
  // Handbook of Mathematical Functions, table 26.1: P(x) to fifteen decimals; from memory.
  for (const auto& [x, chance] : {std::pair{0.5, 0.691462461274013},
                                  {1.0, 0.841344746068543},
                                  {1.5, 0.933192798731142},
                                  {2.0, 0.977249868051821},
                                  {2.5, 0.993790334674224},
                                  {3.0, 0.998650101968370}}) {
    CHECK(normal_chance(x) == Approx(chance).epsilon(0).margin(6e-16));
    CHECK(normal_chance(-x) == Approx(1 - chance).epsilon(0).margin(6e-16));
  }
  // Table 26.2: -log10 of the chance to lie above x; from memory.
  for (const auto& [x, digits] : {std::pair{5.0, 6.54265}, {10.0, 23.11805}, {20.0, 88.56010}, {30.0, 197.30921}})
    CHECK(-std::log10(normal_chance(-x)) == Approx(digits).epsilon(0).margin(6e-6));
}

TEST_CASE("areas of the normal curve are those of the engineers' handbook") {
  // NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.1: the area between 0 and x; from memory.
  for (const auto& [x, area] : {std::pair{0.5, 0.19146},
                                {1.0, 0.34134},
                                {1.28, 0.39973},
                                {1.64, 0.44950},
                                {1.65, 0.45053},
                                {1.96, 0.47500},
                                {2.33, 0.49010},
                                {2.58, 0.49506},
                                {3.0, 0.49865}})
    CHECK(normal_chance(x) - normal_chance(0) == Approx(area).epsilon(0).margin(6e-6));
}

TEST_CASE("quantiles of one normal distribution are the printed ones in the far tail, for any mean and deviation") {
  // Abramowitz and Stegun, table 26.6: x for extreme values of Q, the chance to lie above it; from memory.
  for (const auto& [above, x] :
       {std::pair{1e-4, 3.71902}, {1e-5, 4.26489}, {1e-6, 4.75342}, {1e-7, 5.19934}, {1e-8, 5.61200}, {1e-9, 5.99781}})
    for (const auto& [mean, sd] : {std::pair{0.0, 1.0}, {50.0, 3.0}, {-7.0, 0.01}}) {
      INFO(above << " of " << mean << " give or take " << sd);
      const std::vector<WeightedNormal> normal{{1, mean, sd}};
      CHECK((mean - quantile_of(normal, above)) / sd == Approx(x).epsilon(0).margin(6e-6));
      CHECK((quantile_of(normal, 1 - above) - mean) / sd == Approx(x).epsilon(0).margin(6e-6));
    }
}

TEST_CASE("a quantile has just its chance below it, wherever the peaks are") {
  const std::vector<std::vector<WeightedNormal>> mixtures{
      {{0.5, 0, 1}, {0.5, 1000, 1}},
      {{0.94, 50, 0.3}, {0.05, 20, 4}, {0.01, -100, 0.01}},
      {{0.999, 1e3, 1e-3}, {0.001, 0, 1e5}},
      {{0.2, 1, 5}, {0.3, 2, 4}, {0.5, 3, 3}},
  };
  for (const auto& mixture : mixtures)
    for (const double chance : {1e-6, 0.01, 0.05, 0.3, 0.5, 0.7, 0.95, 0.99, 1 - 1e-6}) {
      INFO(chance);
      CHECK(chance_below(mixture, quantile_of(mixture, chance)) == Approx(chance).epsilon(1e-6).margin(1e-9));
    }
}

TEST_CASE("a part that is known exactly is a step") {
  const std::vector<WeightedNormal> mixture{{0.5, 2, 0}, {0.5, 7, 0}};
  CHECK(chance_below(mixture, 1.9) == 0);
  CHECK(chance_below(mixture, 2) == 0.5);
  CHECK(quantile_of(mixture, 0.2) == Approx(2));
  CHECK(quantile_of(mixture, 0.8) == Approx(7));
}

TEST_CASE("mean and deviation of a mixture count what lies between its parts") {
  // By hand: mean 2.5; variance 0.75 x 1 + 0.25 x 9 + 0.75 x 0.25 + 0.25 x 2.25 = 3.75.
  const std::vector<WeightedNormal> mixture{{0.75, 2, 1}, {0.25, 4, 3}};
  CHECK(mean_of(mixture) == Approx(2.5));
  CHECK(sd_of(mixture) == Approx(std::sqrt(3.75)));
}

TEST_CASE("the middle of one normal distribution is its mean") {
  CHECK(middle_of(std::vector<WeightedNormal>{{1, 7, 3}}) == Approx(7));
}

TEST_CASE("what has less chance than the tail does not move the middle, what has more does") {
  const auto middle = [](double far) { return middle_of(std::vector<WeightedNormal>{{1 - far, 100, 1}, {far, 0, 1}}); };
  CHECK(middle(0.05) == Approx(100).margin(0.2));
  // By hand: of the far part 0.3 - 0.1 remains, of the near one 0.7 - 0.1, out of 0.8.
  CHECK(middle(0.3) == Approx(75).margin(0.2));
  CHECK(middle(0.97) == Approx(0).margin(0.2));
}

TEST_CASE("the middle turns with its mixture") {
  const std::vector<WeightedNormal> mixture{{0.7, 3, 1}, {0.2, -5, 4}, {0.1, 30, 2}};
  auto turned = mixture;
  for (auto& part : turned) part.mean = -part.mean;
  CHECK(middle_of(turned) == Approx(-middle_of(mixture)).epsilon(1e-8));
}

TEST_CASE("a normal value cut off at its mean is half a normal one") {
  // Half-normal distribution: mean sqrt(2 / pi), variance 1 - 2 / pi.
  const AboveZero half = cut_below_zero(0, 4);
  CHECK(half.log_chance == Approx(std::log(0.5)));
  CHECK(half.mean == Approx(2 * 0.7978845608).epsilon(1e-9));
  CHECK(half.variance == Approx(4 * 0.3633802276).epsilon(1e-9));
}

TEST_CASE("cutting off what is hardly there changes nothing, and all but the tail leaves an exponential one") {
  const AboveZero whole = cut_below_zero(9, 1);
  CHECK(whole.mean == Approx(9).epsilon(1e-12));
  CHECK(whole.variance == Approx(1).epsilon(1e-12));
  // Far above its mean the normal tail is exponential with mean sd / cut, to within 2 / cut^2.
  for (const double cut : {20.0, 34.9, 35.1, 60.0}) {
    const AboveZero tail = cut_below_zero(-cut, 1);
    CHECK(tail.mean == Approx(1 / cut).epsilon(3 / (cut * cut)));
    CHECK(tail.variance == Approx(1 / (cut * cut)).epsilon(7 / (cut * cut)));
    CHECK(tail.log_chance == Approx(-cut * cut / 2 - std::log(cut * std::sqrt(2 * 3.14159265358979))).epsilon(2e-5));
  }
}
