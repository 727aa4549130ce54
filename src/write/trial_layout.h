// Where the live sheets have what their formulas refer to, and the terms that several sheets share.
//
//   In:  the status with its trial plan
//   Out: names and rows, known before any sheet is filled; formulas for days, crew, rates and what is moved
//
// Pure. Columns: trial_columns.h.
#pragma once

#include <cstddef>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "model/status.h"
#include "model/trial.h"
#include "write/trial_columns.h"

namespace daywright::write {

/// One reading of the counts of an item. Rows are those of formulas, here and below.
struct LaidReading {
  const model::TrialReading& reading;
  std::size_t margins_row;
  std::size_t course_row;                          ///< the first one: the cut-off
  std::map<model::Basis, std::size_t> places_row;  ///< likewise; none where the item does not go by place
};

struct LaidItem {
  const model::TrialItem& item;
  std::string rate;    ///< name of its rate factor
  bool goes_by_place;  ///< it matters in which place it lies: one of them does not count all the way
  std::vector<LaidReading> readings;
  std::size_t margins_row;
  std::size_t cases_row;  ///< the first one: transfers as planned
};

struct TrialLayout {
  explicit TrialLayout(const model::DayStatus& status);

  const model::DayStatus& status;
  const model::TrialPlan& trial;
  std::vector<LaidItem> items;
  std::vector<std::string> switches;  ///< names
  std::size_t places = 0;             ///< the most that an item in Places has; 0: there is no such sheet
  // Rows of Options; criteria and items are in the order of the plan.
  std::size_t first_switch;
  std::size_t first_criterion;
  std::size_t first_item;
  std::size_t criteria_in_cases;  ///< row of the first one in Cases

  /// The most days that can be added, as the number of the last case.
  [[nodiscard]] std::size_t days_possible() const { return static_cast<std::size_t>(trial.days_possible); }

  /// A column of the items in Options or Margins.
  [[nodiscard]] std::string option_rows(std::size_t column) const;
  [[nodiscard]] std::string margin_rows(std::size_t column) const;

  /// What an item draws per 24 h on a day of a kind.
  [[nodiscard]] static std::string draw_per_day(const LaidItem& laid, std::size_t kind, const std::string& crew);
  /// What is made of it; only where something is.
  [[nodiscard]] std::string make_per_day(const LaidItem& laid, std::size_t kind, const std::string& crew) const;
  /// The name of the rate factor of what an item is made from; only where it is.
  [[nodiscard]] const std::string& make_rate(const LaidItem& laid) const { return items[*laid.item.made_from].rate; }
  /// What transfers bring at a step, to one place or to all; empty where nothing can be moved.
  [[nodiscard]] std::string moved_in(const model::TrialStep& step, std::optional<std::size_t> place = {}) const;

  [[nodiscard]] std::string words_of(model::Basis basis) const;
};

/// Row of a stretch in Phases; that of the cut-off is the one before the first, that of the end the one behind.
[[nodiscard]] std::size_t phase_row(std::size_t stretch);
/// How many days a leg takes.
[[nodiscard]] std::string days_of(const model::TrialLeg& leg);
/// The crew aboard the vehicle of an item.
[[nodiscard]] std::string crew_at(const model::TrialItem& item, std::size_t stretch);

/// The course on a basis that formulas can follow; nothing where it was not measured.
[[nodiscard]] const model::TrialCourse* course_on(const model::TrialReading& reading, model::Basis basis);
/// What there is at a turn; turn 0 is the cut-off, the others are the ends of the legs.
[[nodiscard]] const model::TrialAmounts& amounts_at(const model::TrialCourse& course, std::size_t turn, Moment moment);
/// What happens there.
[[nodiscard]] const model::TrialStep& step_at(const model::TrialItem& item, std::size_t turn);
/// What leaks from all places together per 24 h.
[[nodiscard]] double leak_of(const model::TrialReading& reading);
[[nodiscard]] std::string words_of(const model::TrialReading& reading);

}  // namespace daywright::write
