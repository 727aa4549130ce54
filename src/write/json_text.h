// JSON as text, member by member: what is written last comes last, so one figure can stand on one line.
//
// Pure. Ours, because building a tree of values first and printing it was a quarter of the time of a brief.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace daywright::write {

/// Appends JSON to a text: ASCII only, commas set by itself. Every begin needs its end.
class JsonText {
 public:
  explicit JsonText(std::string& out) : out_(out) {}

  void begin_object() { open('{'); }
  void end_object() { close('}'); }
  void begin_list() { open('['); }
  void end_list() { close(']'); }
  /// The name of the member that follows, which is ours: plain ASCII, nothing in it to escape.
  void key(std::string_view name);
  /// The next value starts a line of its own.
  void new_line();

  /// What is not UTF-8 is replaced by U+FFFD.
  void text(std::string_view value);
  void whole(std::int64_t value);
  /// The shortest digits that read back as `value`, which must be finite.
  void number(double value);
  void null();

  void member(std::string_view name, std::string_view value) {
    key(name);
    text(value);
  }
  void member(std::string_view name, std::int64_t value) {
    key(name);
    whole(value);
  }

 private:
  void open(char bracket);
  void close(char bracket);
  void separate();
  void quote(std::string_view value);

  std::string& out_;
  bool needs_comma_ = false;
};

}  // namespace daywright::write
