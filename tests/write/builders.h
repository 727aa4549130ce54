// Small statuses for the tests of the writers, all of them invented.
#pragma once

#include <algorithm>
#include <chrono>
#include <string>
#include <utility>
#include <vector>

#include "model/figure.h"
#include "model/instant.h"
#include "model/quantity.h"
#include "model/status.h"

namespace daywright::test {

/// 2031-05-13T16:20Z, made up.
inline const model::Instant evening = std::chrono::sys_days{std::chrono::year{2031} / std::chrono::May / 13} +
                                      std::chrono::hours{16} + std::chrono::minutes{20};

/// A figure of words, such as comes out of a log.
inline model::Figure make_words(std::string id, std::string text) {
  model::Figure figure;
  figure.title = "title of " + id;
  figure.id = std::move(id);
  figure.value = text;
  figure.text = std::move(text);
  return figure;
}

inline model::Figure make_number(std::string id, double value, std::string unit = "", double step = 1) {
  model::Figure figure = make_words(std::move(id), model::format_number(value, step));
  figure.value = value;
  figure.unit = std::move(unit);
  figure.step = step;
  return figure;
}

inline model::Figure make_instant(std::string id, model::Instant when) {
  model::Figure figure = make_words(std::move(id), model::format_utc(when));
  figure.value = when;
  return figure;
}

inline model::Figure make_verdict(std::string id, model::Verdict verdict) {
  model::Figure figure = make_words(std::move(id), std::string(model::words(verdict)));
  figure.value = verdict;
  return figure;
}

inline model::Figure make_no_data(std::string id, std::string unit = "") {
  model::Figure figure = make_words(std::move(id), "NO DATA");
  figure.value = std::monostate{};
  figure.unit = std::move(unit);
  return figure;
}

inline model::DayStatus make_status(std::vector<model::Figure> figures, std::vector<model::Table> tables = {}) {
  model::DayStatus status;
  std::sort(figures.begin(), figures.end(), [](const auto& a, const auto& b) { return a.id < b.id; });
  status.figures = std::move(figures);
  status.tables = std::move(tables);
  return status;
}

/// A table of words with columns 'a', 'b' ... titled 'A', 'B' ..., as wide as its first row.
inline model::Table make_table(std::string name, const std::vector<std::vector<std::string>>& rows) {
  model::Table table;
  table.title = "Table of " + name;
  table.name = std::move(name);
  const std::size_t width = rows.empty() ? 1 : rows.front().size();
  for (std::size_t c = 0; c < width; ++c) {
    const auto letter = static_cast<char>(c);
    table.columns.push_back({std::string(1, static_cast<char>('a' + letter)),
                             std::string(1, static_cast<char>('A' + letter)), "", false, true});
  }
  for (const auto& row : rows) {
    auto& cells = table.rows.emplace_back();
    for (const auto& words : row) cells.push_back(model::Cell::say(words));
  }
  return table;
}

}  // namespace daywright::test
