// What the charts of a day show, as plain values.
//
// Whatever a chart prints is a figure, named by its id. All other values only say where something is drawn.
#pragma once

#include <string>
#include <vector>

#include "model/instant.h"

namespace daywright::model {

/// What was on board by a count and by the last counts of the other places.
struct CountMark {
  Instant at;
  double level = 0;
  bool is_suspect = false;  ///< more likely a slip than not
};

/// What is expected to be on board. Two at one instant are before and after what happens then.
struct LevelAhead {
  Instant at;
  double low = 0;  ///< below it, and above `high`, with the chance that the assured margin leaves open
  double middle = 0;
  double high = 0;
  double limit = 0;  ///< where the margin is used up: what can't be drawn and reserves, or what is full without them
};

/// From which level on a way home is no longer covered, as things stand at the cut-off.
struct RedlineMark {
  std::string way_home;
  std::string figure;
  double level = 0;  ///< with what does not come along
};

/// One item's level over time.
struct LevelPanel {
  std::string item;
  std::string level;
  std::string margin;
  std::string note;
  std::vector<CountMark> counts;
  std::vector<LevelAhead> ahead;  ///< from the cut-off to the required end; empty: nobody knows
  std::vector<RedlineMark> redlines;
};

/// The panels, all over the same time.
struct LevelsChart {
  Instant from;
  Instant now;
  Instant end;  ///< the required end
  std::string from_label;
  std::string now_label;
  std::string end_label;
  std::string band_low;   ///< percent
  std::string band_high;  ///< percent
  std::vector<LevelPanel> panels;
};

/// The margins of one item in days, on each basis.
struct MarginBar {
  std::string item;
  std::string governing;
  std::string plan;
  std::string measured;
};

/// Crew time planned for a day, and of it and other days' work what was done then.
struct WorkBar {
  std::string label;
  std::string planned;
  std::string done;
};

/// One zone as it is cleared for one gate.
struct ZoneMark {
  std::string gate;
  std::string zone;
  std::string verdict;
};

struct Charts {
  LevelsChart levels;
  std::vector<MarginBar> margins;
  std::vector<WorkBar> work;
  std::vector<ZoneMark> clearance;  ///< gate by gate
};

}  // namespace daywright::model
