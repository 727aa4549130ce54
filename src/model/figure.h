// A figure: one value that is shown, rounded once, with an id and the way it came about.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "model/diagnostic.h"
#include "model/instant.h"
#include "model/verdict.h"

namespace daywright::model {

/// One thing a figure was computed from: another figure by id, or a value that stands in a file.
struct TraceInput {
  std::string name;
  std::string text;    ///< the value as it was used
  std::string figure;  ///< id, when the input is a figure
  Source source;       ///< when the input stands in a file
};

/// How a figure came about: the formula in words, and what went into it.
struct Trace {
  std::string formula;
  std::vector<TraceInput> inputs;
};

/// Nothing (NO DATA), a number in the figure's unit, an instant, a verdict, or words.
using FigureValue = std::variant<std::monostate, double, Instant, Verdict, std::string>;

struct Figure {
  std::string id;  ///< [a-z0-9_]+ joined by dots
  std::string title;
  FigureValue value;
  std::string unit;                 ///< spelling in the unit table; empty: none
  double step = 1;                  ///< numbers are whole multiples of this
  std::string text;                 ///< as shown, without the unit; "NO DATA" when there is no value
  std::vector<std::string> doubts;  ///< why it can't support a READY verdict; empty: it can
  Trace trace;
};

/// The figure's text with its unit: "12.5 kg".
[[nodiscard]] inline std::string with_unit(const Figure& figure) {
  const bool bare = figure.unit.empty() || std::holds_alternative<std::monostate>(figure.value);
  return bare ? figure.text : figure.text + ' ' + figure.unit;
}

}  // namespace daywright::model
