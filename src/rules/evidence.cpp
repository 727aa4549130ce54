#include "rules/evidence.h"

#include <fmt/format.h>

namespace daywright::rules {

std::vector<Doubt> doubts_about(const model::Facts& facts, model::Log log, const std::string& subject) {
  std::vector<Doubt> doubts;
  for (const auto& gap : facts.gaps) {
    if (gap.log == log)
      doubts.push_back({fmt::format("log {} of {}: {}", model::name_of(log), gap.day, gap.why), gap.source});
  }
  for (const auto& row : facts.rejected) {
    if (row.log != log) continue;
    const bool bears_on_it = row.subject.empty() || subject.empty() || row.subject == subject;
    if (bears_on_it) doubts.push_back({fmt::format("a row of log {} is rejected", model::name_of(log)), row.source});
  }
  return doubts;
}

std::vector<std::string> texts_of(const std::vector<Doubt>& doubts) {
  std::vector<std::string> texts;
  for (const Doubt& doubt : doubts) texts.push_back(doubt.text);
  return texts;
}

void add_to_trace(const std::vector<Doubt>& doubts, model::Trace& trace) {
  for (const Doubt& doubt : doubts) trace.inputs.push_back({"doubt", doubt.text, {}, doubt.source});
}

}  // namespace daywright::rules
