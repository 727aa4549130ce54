#include "load/csv.h"

#include <algorithm>

namespace daywright::load {

bool CsvReader::at_line_end() const {
  if (at_ >= text_.size() || text_[at_] == '\n') return true;
  return text_[at_] == '\r' && at_ + 1 < text_.size() && text_[at_ + 1] == '\n';
}

void CsvReader::take_line_end() {
  if (at_ < text_.size() && text_[at_] == '\r') ++at_;
  if (at_ >= text_.size()) return;
  ++at_;
  ++line_;
}

void CsvReader::skip_line() {
  const auto line_break = text_.find('\n', at_);
  at_ = line_break == std::string_view::npos ? text_.size() : line_break + 1;
  ++line_;
}

void CsvReader::read_plain_cell() {
  const std::size_t begin = at_;
  for (; !at_line_end() && text_[at_] != delimiter_; ++at_) {
    if (text_[at_] == '"') {
      fault_ =
          CsvFault{at_, "a quote inside a cell without quotes, expected the whole cell in quotes and this one doubled"};
      return;
    }
    if (text_[at_] == '\r') {
      fault_ = CsvFault{at_, "a carriage return without a line feed, expected the line to end in LF or CRLF"};
      return;
    }
  }
  cells_.push_back({text_.substr(begin, at_ - begin), begin});
}

void CsvReader::read_quoted_cell() {
  const std::size_t opening = at_;
  std::string* unescaped = nullptr;
  std::size_t begin = ++at_;
  while (true) {
    const auto quote = text_.find('"', at_);
    if (quote == std::string_view::npos) {
      fault_ = CsvFault{opening, "a quote that is never closed, expected a closing quote"};
      at_ = opening;  // only this line is given up: the rows after it may be sound
      return;
    }
    at_ = quote + 1;
    const bool doubled = at_ < text_.size() && text_[at_] == '"';
    if (!doubled) {
      const auto part = text_.substr(begin, quote - begin);
      if (unescaped != nullptr) unescaped->append(part);
      cells_.push_back({unescaped != nullptr ? std::string_view(*unescaped) : part, opening});
      break;
    }
    if (unescaped == nullptr) unescaped = &unescaped_.emplace_back();
    unescaped->append(text_.substr(begin, quote + 1 - begin));
    begin = ++at_;
  }
  line_ += static_cast<int>(std::count(text_.begin() + static_cast<std::ptrdiff_t>(opening),
                                       text_.begin() + static_cast<std::ptrdiff_t>(at_), '\n'));
  if (!at_line_end() && text_[at_] != delimiter_) {
    fault_ = CsvFault{at_, "text after the closing quote, expected the delimiter or the end of the line"};
  }
}

const std::vector<CsvCell>* CsvReader::next() {
  cells_.clear();
  unescaped_.clear();
  fault_.reset();
  while (at_ < text_.size() && at_line_end()) take_line_end();
  if (at_ >= text_.size()) return nullptr;
  row_offset_ = at_;
  row_line_ = line_;
  while (true) {
    if (at_ < text_.size() && text_[at_] == '"') {
      read_quoted_cell();
    } else {
      read_plain_cell();
    }
    if (fault_) {
      skip_line();
      return &cells_;
    }
    if (at_line_end()) {
      take_line_end();
      return &cells_;
    }
    ++at_;  // the delimiter
  }
}

}  // namespace daywright::load
