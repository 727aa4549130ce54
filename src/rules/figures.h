// The book in which every figure of a day is entered once, rounded, with its id and trace.
//
// Pure.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/figure.h"
#include "model/mission.h"
#include "model/quantity.h"

namespace daywright::rules {

/// What a figure is entered with, besides its value.
struct Entry {
  std::string id;
  std::string title;
  model::Trace trace;
  std::vector<std::string> doubts;  ///< why it can't support a READY verdict
};

class FigureBook {
 public:
  /// Times are printed with flight day and elapsed time of `mission`, which must outlive the book.
  explicit FigureBook(const model::Mission& mission) : mission_(mission) {}

  // Each enters one figure and gives its id back. Requires an id that is not there yet.
  std::string number(Entry entry, std::optional<double> value, std::string_view unit, double step,
                     model::Rounding rounding);
  std::string count(Entry entry, std::size_t value) {
    return number(std::move(entry), static_cast<double>(value), "", 1, model::Rounding::nearest);
  }
  std::string instant(Entry entry, std::optional<model::Instant> value);
  std::string verdict(Entry entry, model::Verdict value);
  std::string words(Entry entry, std::string value);

  /// A name out of a log as part of figure ids: small letters, digits, and underscores for all else. Two names of
  /// one `kind` never share a part; the later one gets a number.
  std::string part(std::string_view kind, const std::string& name);

  [[nodiscard]] bool has(const std::string& id) const { return figures_.contains(id); }
  /// Requires that the figure is there.
  [[nodiscard]] const model::Figure& at(const std::string& id) const { return figures_.at(id); }
  [[nodiscard]] const model::Figure* find(const std::string& id) const;
  [[nodiscard]] std::vector<std::string> ids() const;
  /// All figures in order of id; the book is empty afterwards.
  [[nodiscard]] std::vector<model::Figure> take();

 private:
  std::string enter(Entry entry, model::FigureValue value, std::string unit, double step, std::string text);

  const model::Mission& mission_;
  std::map<std::string, model::Figure> figures_;
  std::map<std::string, std::string, std::less<>> parts_;  ///< kind and name -> part
  std::map<std::string, std::size_t, std::less<>> taken_;  ///< kind and part -> names that wanted it
};

/// "2031-05-14T11:24Z (FD 9, MET 8/02:10)": the three ways of saying when, together and labelled.
[[nodiscard]] std::string format_instant(model::Instant when, const model::Mission& mission);

/// A trace input that stands in a file.
[[nodiscard]] model::TraceInput from_file(std::string name, std::string text, model::Source source);
/// A trace input that is a figure of the book.
[[nodiscard]] model::TraceInput from_figure(const model::Figure& figure);

}  // namespace daywright::rules
