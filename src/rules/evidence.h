// What stands against relying on a log: gaps, rejected rows, conflicts. Missing data never reads as ready.
//
// Pure.
#pragma once

#include <string>
#include <vector>

#include "model/figure.h"
#include "model/log.h"

namespace daywright::rules {

/// One reason not to rely on something, with its place.
struct Doubt {
  std::string text;
  model::Source source;
};

/// The reasons not to rely on what `log` says, or does not say, of `subject`: days on which it was not closed, and
/// rows that could not be used and that speak of the subject or of nobody knows what. An empty subject asks for
/// everything the log says.
[[nodiscard]] std::vector<Doubt> doubts_about(const model::Facts& facts, model::Log log, const std::string& subject);

/// A doubt for each rival of a fact.
template <class Row>
void add_conflicts(const model::Merged<Row>& fact, const std::string& what, std::vector<Doubt>& doubts) {
  for (const auto& rival : fact.rivals) doubts.push_back({what + " told in two ways that disagree", rival.from.source});
}

/// The texts of `doubts`, for a figure.
[[nodiscard]] std::vector<std::string> texts_of(const std::vector<Doubt>& doubts);
/// Trace inputs that name each doubt.
void add_to_trace(const std::vector<Doubt>& doubts, model::Trace& trace);

}  // namespace daywright::rules
