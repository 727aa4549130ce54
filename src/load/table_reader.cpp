#include "load/table_reader.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "load/utf8.h"
#include "model/suggest.h"

namespace daywright::load {

void TableReader::fault(model::Source at, std::string text, std::string rule) {
  faults_.push_back({model::Severity::error, at, std::move(text), std::move(rule)});
}

model::Source TableReader::source_of(std::string_view key) const {
  for (const Node& child : table_.children) {
    if (child.key == key) return child.at;
  }
  return table_.at;
}

const Node* TableReader::find_any(std::string_view key, Need need, std::string_view expected) {
  asked_.emplace_back(key);
  for (const Node& child : table_.children) {
    if (child.key == key) return &child;
  }
  if (need == Need::required)
    fault(table_.at, fmt::format("{} has no '{}', expected {}", what_, key, expected), "key-missing");
  return nullptr;
}

void TableReader::wrong_type(const Node& node, std::string_view key, std::string_view expected) {
  fault(node.at, fmt::format("'{}' of {} is of the wrong type, expected {}", key, what_, expected), "value-type");
}

const Node* TableReader::find(std::string_view key, Need need, NodeKind kind, std::string_view expected) {
  const Node* node = find_any(key, need, expected);
  if (node == nullptr) return nullptr;
  const bool fits = node->kind == kind || (kind == NodeKind::real && node->kind == NodeKind::whole);
  if (!fits) {
    wrong_type(*node, key, expected);
    return nullptr;
  }
  if (kind == NodeKind::real && !std::isfinite(node->real)) {
    wrong_type(*node, key, "a finite number");
    return nullptr;
  }
  return node;
}

std::string TableReader::text(std::string_view key, Need need) {
  const Node* node = find(key, need, NodeKind::text, "text in quotes");
  if (node == nullptr) return {};
  if (need == Need::required && node->text.empty())
    fault(node->at, fmt::format("'{}' of {} is empty, expected text", key, what_), "value-empty");
  return node->text;
}

std::string TableReader::id() {
  std::string id = text("id");
  const bool fits = std::all_of(id.begin(), id.end(),
                                [](char c) { return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_'; });
  if (!fits)
    fault(source_of("id"), fmt::format("id {} has other characters, expected only a to z, 0 to 9 and _", in_quotes(id)),
          "id-form");
  return id;
}

double TableReader::number(std::string_view key, Need need, double otherwise) {
  const Node* node = find(key, need, NodeKind::real, "a number");
  return node != nullptr ? node->real : otherwise;
}

std::optional<double> TableReader::number_if_any(std::string_view key) {
  const Node* node = find(key, Need::optional, NodeKind::real, "a number");
  return node != nullptr ? std::optional(node->real) : std::nullopt;
}

double TableReader::amount(std::string_view key, Need need) {
  const double value = number(key, need);
  if (value >= 0) return value;
  fault(source_of(key), fmt::format("'{}' of {} is {}, expected a number not below zero", key, what_, value),
        "value-range");
  return 0;
}

int TableReader::whole(std::string_view key, Need need, int otherwise) {
  const Node* node = find(key, need, NodeKind::whole, "a whole number");
  if (node == nullptr) return otherwise;
  constexpr long long largest = 1'000'000;
  if (node->whole < -largest || node->whole > largest) {
    fault(node->at, fmt::format("'{}' of {} is {}, expected a whole number within a million", key, what_, node->whole),
          "value-range");
    return otherwise;
  }
  return static_cast<int>(node->whole);
}

bool TableReader::yes_no(std::string_view key) {
  const Node* node = find(key, Need::optional, NodeKind::yes_no, "true or false");
  return node != nullptr && node->yes;
}

std::vector<std::string> TableReader::texts(std::string_view key, Need need, Repeats repeats) {
  std::vector<std::string> result;
  const Node* node = find(key, need, NodeKind::list, "a list of texts");
  if (node == nullptr) return result;
  for (const Node& child : node->children) {
    const bool is_repeat =
        child.kind == NodeKind::text && std::find(result.begin(), result.end(), child.text) != result.end();
    if (is_repeat && repeats == Repeats::refused) {
      fault(child.at, fmt::format("{} stands twice in '{}' of {}", in_quotes(child.text), key, what_), "value-twice");
    } else if (child.kind == NodeKind::text && !child.text.empty()) {
      result.push_back(child.text);
    } else {
      wrong_type(child, key, "a list of texts");
    }
  }
  return result;
}

std::vector<std::string> TableReader::some_texts(std::string_view key) {
  const std::size_t faults_before = faults_.size();
  auto result = texts(key, Need::required);
  if (result.empty() && faults_.size() == faults_before)
    fault(source_of(key), fmt::format("the list '{}' of {} is empty, expected at least one", key, what_),
          "value-empty");
  return result;
}

bool TableReader::has(std::string_view key) const {
  return std::any_of(table_.children.begin(), table_.children.end(), [&](const Node& node) { return node.key == key; });
}

std::map<std::string, double> TableReader::amounts_by_name(std::string_view key) {
  std::map<std::string, double> result;
  const Node* node = find(key, Need::optional, NodeKind::table, "a table of numbers");
  if (node == nullptr) return result;
  for (const Node& child : node->children) {
    const bool is_number = child.kind == NodeKind::whole || child.kind == NodeKind::real;
    if (is_number && std::isfinite(child.real) && child.real >= 0) {
      result[child.key] = child.real;
    } else {
      wrong_type(child, child.key, "a number not below zero");
    }
  }
  return result;
}

std::map<std::string, std::string> TableReader::texts_by_name(std::string_view key) {
  std::map<std::string, std::string> result;
  const Node* node = find(key, Need::optional, NodeKind::table, "a table of texts");
  if (node == nullptr) return result;
  for (const Node& child : node->children) {
    if (child.kind == NodeKind::text) {
      result[child.key] = child.text;
    } else {
      wrong_type(child, child.key, "text in quotes");
    }
  }
  return result;
}

std::optional<model::Instant> TableReader::read_time(const Node& node, std::string_view key,
                                                     std::optional<model::Instant> launch) {
  if (node.kind != NodeKind::text) {
    wrong_type(node, key, "a UTC time in quotes, or an elapsed time such as \"5/16:20\"");
    return std::nullopt;
  }
  if (launch && node.text.find('/') != std::string::npos) {
    const auto elapsed = model::parse_elapsed(node.text);
    if (elapsed.value) return *launch + *elapsed.value;
    fault(node.at, fmt::format("'{}' of {} is {}, expected {}", key, what_, in_quotes(node.text), elapsed.expected),
          "time");
    return std::nullopt;
  }
  const auto utc = model::parse_utc(node.text);
  if (!utc.value)
    fault(node.at, fmt::format("'{}' of {} is {}, expected {}", key, what_, in_quotes(node.text), utc.expected),
          "time");
  return utc.value;
}

std::optional<model::Instant> TableReader::time(std::string_view key, std::optional<model::Instant> launch, Need need) {
  const Node* node = find_any(key, need, "a time");
  return node != nullptr ? read_time(*node, key, launch) : std::nullopt;
}

std::vector<model::Instant> TableReader::times(std::string_view key, std::optional<model::Instant> launch, Need need) {
  std::vector<model::Instant> result;
  const Node* node = find(key, need, NodeKind::list, "a list of times");
  if (node == nullptr) return result;
  for (const Node& child : node->children) {
    const auto when = read_time(child, key, launch);
    if (!when) continue;
    if (!result.empty() && *when <= result.back()) {
      fault(child.at, fmt::format("'{}' of {} runs backwards, expected rising times", key, what_), "time-order");
    } else {
      result.push_back(*when);
    }
  }
  return result;
}

std::vector<const Node*> TableReader::tables(std::string_view key, Need need) {
  std::vector<const Node*> result;
  const Node* node = find(key, need, NodeKind::list, fmt::format("at least one [[{}]]", key));
  if (node == nullptr) return result;
  for (const Node& child : node->children) {
    if (child.kind == NodeKind::table) {
      result.push_back(&child);
    } else {
      wrong_type(child, key, "a table");
    }
  }
  return result;
}

const Node* TableReader::table(std::string_view key, Need need) {
  return find(key, need, NodeKind::table, fmt::format("a table [{}]", key));
}

void TableReader::unknown_word(const Node& node, std::string_view key, const std::vector<std::string>& known) {
  fault(node.at,
        fmt::format("'{}' of {} is {}, expected one of {}{}", key, what_, in_quotes(node.text), fmt::join(known, ", "),
                    model::did_you_mean(node.text, known)),
        "value-unknown");
}

void TableReader::finish() {
  for (const Node& child : table_.children) {
    if (std::find(asked_.begin(), asked_.end(), child.key) != asked_.end()) continue;
    const std::string hint = model::did_you_mean(child.key, asked_);
    fault(child.key_at, fmt::format("{} has no use for the key {}{}", what_, in_quotes(child.key), hint),
          "key-unknown");
  }
}

}  // namespace daywright::load
