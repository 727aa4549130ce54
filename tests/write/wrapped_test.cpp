#include "write/wrapped.h"

#include <string>
#include <vector>

#include "catch_compat.h"
#include "model/printable.h"

using daywright::model::display_width;
using daywright::write::wrapped;

TEST_CASE("text is broken between words, and where it just fits it is not") {
  CHECK(wrapped("one two three", 13) == "one two three\n");
  CHECK(wrapped("one two three", 12) == "one two\nthree\n");
  CHECK(wrapped("one two three", 3) == "one\ntwo\nthr\nee\n");
}

TEST_CASE("the first line has a head and the others stand as far in") {
  CHECK(wrapped("one two three", 11, " 1. ") == " 1. one two\n    three\n");
}

TEST_CASE("blanks and line breaks between words are one blank") {
  CHECK(wrapped("  one \n\n  two ", 20) == "one two\n");
  CHECK(wrapped("", 20, "1. ") == "1. \n");
}

TEST_CASE("a word wider than a line is broken between characters, wide ones whole") {
  CHECK(wrapped("abcdefgh", 6, "> ") == "> abcd\n  efgh\n");
  CHECK(wrapped("a \xe6\xbc\xa2\xe5\xad\x97\xe6\xbc\xa2 b", 5) == "a\n\xe6\xbc\xa2\xe5\xad\x97\n\xe6\xbc\xa2 b\n");
  const std::string text = wrapped(std::string(500, 'x') + " y", 79, "12. ");
  std::size_t begin = 0;
  for (auto end = text.find('\n'); end != std::string::npos; begin = end + 1, end = text.find('\n', begin))
    CHECK(display_width(text.substr(begin, end - begin)) <= 79);
}
