#include "write/explain.h"

#include <set>

#include <fmt/format.h>

#include "model/printable.h"

namespace daywright::write {
namespace {

class Explainer {
 public:
  explicit Explainer(const model::DayStatus& status) : status_(status) {}

  std::string explain(const model::Figure& figure) {
    open(figure, 0);
    return std::move(text_);
  }

 private:
  void line(std::size_t depth, const std::string& text) {
    text_ += std::string(depth * 2, ' ') + model::printable(text) + "\n";
  }

  void open(const model::Figure& figure, std::size_t depth) {
    line(depth, fmt::format("{} = {}   [{}]", figure.title, model::with_unit(figure), figure.id));
    if (!opened_.insert(figure.id).second) {
      if (!figure.trace.inputs.empty()) line(depth + 1, "(explained above)");
      return;
    }
    line(depth + 1, "how: " + figure.trace.formula);
    for (const auto& doubt : figure.doubts) line(depth + 1, "doubt: " + doubt);
    for (const auto& input : figure.trace.inputs) {
      const auto* inner = input.figure.empty() ? nullptr : status_.find(input.figure);
      if (inner != nullptr) {
        open(*inner, depth + 1);
        continue;
      }
      const std::string place =
          input.source.is_known()
              ? fmt::format("   ({}:{})", status_.files.at(static_cast<std::size_t>(input.source.file)),
                            input.source.line)
              : "";
      line(depth + 1, fmt::format("{}: {}{}", input.name, input.text, place));
    }
  }

  const model::DayStatus& status_;
  std::set<std::string> opened_;
  std::string text_;
};

}  // namespace

std::string render_explanation(const model::Figure& figure, const model::DayStatus& status) {
  return Explainer(status).explain(figure);
}

std::string render_figure_list(const model::DayStatus& status) {
  std::size_t width = 0;
  for (const auto& figure : status.figures) width = std::max(width, figure.id.size());
  std::string text;
  for (const auto& figure : status.figures) {
    text += fmt::format("{:{}}  {}  ({})\n", figure.id, width, model::printable(model::with_unit(figure)),
                        model::printable(figure.title));
  }
  return text;
}

}  // namespace daywright::write
