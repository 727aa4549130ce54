// Typed reading of one TOML table: every wrong or missing value becomes a fault with its place, all in one go.
//
//   In:  a table of the tree
//   Out: values, with a default where a value was wrong, and faults; unknown keys are faults too
//
// Pure.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "load/toml.h"
#include "model/diagnostic.h"
#include "model/instant.h"

namespace daywright::load {

enum class Need { required, optional };
enum class Repeats { refused, allowed };

class TableReader {
 public:
  /// `what` names the table in messages: "[[item]] 'water'". `table` must outlive the reader.
  TableReader(const Node& table, std::string what, model::Diagnostics& faults)
      : table_(table), what_(std::move(what)), faults_(faults) {}

  [[nodiscard]] std::string text(std::string_view key, Need need = Need::required);
  /// The table's `id`. Ids become parts of figure ids, so they keep to small letters, digits and underscores.
  [[nodiscard]] std::string id();
  [[nodiscard]] double number(std::string_view key, Need need = Need::required, double otherwise = 0);
  [[nodiscard]] std::optional<double> number_if_any(std::string_view key);
  /// A number that may not be negative.
  [[nodiscard]] double amount(std::string_view key, Need need = Need::optional);
  [[nodiscard]] int whole(std::string_view key, Need need = Need::required, int otherwise = 0);
  [[nodiscard]] bool yes_no(std::string_view key);
  [[nodiscard]] std::vector<std::string> texts(std::string_view key, Need need = Need::optional,
                                               Repeats repeats = Repeats::refused);
  /// A list that has to be there and to hold something: over nothing, everything is true.
  [[nodiscard]] std::vector<std::string> some_texts(std::string_view key);
  [[nodiscard]] bool has(std::string_view key) const;
  [[nodiscard]] std::map<std::string, double> amounts_by_name(std::string_view key);
  [[nodiscard]] std::map<std::string, std::string> texts_by_name(std::string_view key);
  /// A UTC time, or elapsed time since `launch` where that is known.
  [[nodiscard]] std::optional<model::Instant> time(std::string_view key, std::optional<model::Instant> launch,
                                                   Need need = Need::required);
  [[nodiscard]] std::vector<model::Instant> times(std::string_view key, std::optional<model::Instant> launch,
                                                  Need need = Need::required);
  /// The tables of a [[key]] array, in file order.
  [[nodiscard]] std::vector<const Node*> tables(std::string_view key, Need need = Need::optional);
  /// A [key] table, or null.
  [[nodiscard]] const Node* table(std::string_view key, Need need = Need::optional);

  /// One of a closed list of words.
  template <class Value>
  [[nodiscard]] Value choice(std::string_view key, std::span<const std::pair<std::string_view, Value>> words, Need need,
                             Value otherwise) {
    const Node* node = find(key, need, NodeKind::text, "a word");
    if (node == nullptr) return otherwise;
    std::vector<std::string> known;
    for (const auto& [word, value] : words) {
      if (word == node->text) return value;
      known.emplace_back(word);
    }
    unknown_word(*node, key, known);
    return otherwise;
  }

  /// Where the key's value stands, or the table when it has none.
  [[nodiscard]] model::Source source_of(std::string_view key) const;
  /// Reports every key that was never asked for. To be called when all has been read.
  void finish();
  void fault(model::Source at, std::string text, std::string rule);

 private:
  const Node* find(std::string_view key, Need need, NodeKind kind, std::string_view expected);
  const Node* find_any(std::string_view key, Need need, std::string_view expected);
  void unknown_word(const Node& node, std::string_view key, const std::vector<std::string>& known);
  std::optional<model::Instant> read_time(const Node& node, std::string_view key, std::optional<model::Instant> launch);
  void wrong_type(const Node& node, std::string_view key, std::string_view expected);

  const Node& table_;
  std::string what_;
  model::Diagnostics& faults_;
  std::vector<std::string> asked_;
};

}  // namespace daywright::load
