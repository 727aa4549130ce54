// The note to the crew as text. What it has to say is made in the rules and tested there.
#include "write/note.h"

#include <algorithm>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "builders.h"
#include "catch_compat.h"
#include "model/printable.h"

using namespace daywright;
using namespace daywright::test;
using Catch::Matchers::ContainsSubstring;
using write::Note;
using write::render_note;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

/// The sentences of a note, each in one line without its number. Whatever is not one fails the test.
std::vector<std::string> sentences_of(const Note& note) {
  REQUIRE(note.faults.empty());
  const auto lines = lines_of(note.text);
  REQUIRE(lines.size() > 6);
  CHECK(lines.front() == "CREW NOTE - DRAFT, not released: not to be read up yet");
  std::vector<std::string> sentences;
  std::size_t i = 1;
  while (!lines[i].empty()) ++i;
  for (++i; i < lines.size() && !lines[i].empty(); ++i) {
    const std::string number = (sentences.size() < 9 ? " " : "") + std::to_string(sentences.size() + 1) + ". ";
    if (lines[i].starts_with(number)) {
      sentences.push_back(lines[i].substr(4));
    } else {
      CAPTURE(lines[i]);
      REQUIRE(lines[i].starts_with("    "));
      REQUIRE_FALSE(sentences.empty());
      sentences.back() += " " + lines[i].substr(4);
    }
  }
  std::string rest;
  for (++i; i < lines.size(); ++i) rest += lines[i] + " ";
  CHECK(rest == "Decision support only. The mission's own flight rules and certified authorities prevail. ");
  return sentences;
}

/// The sentences of "About x: VALUE." where a log says VALUE.
std::vector<std::string> with_value(const std::string& value) {
  return sentences_of(render_note("About {{x}}, as said.\nSecond {{x}}\n", make_status({make_words("x", value)})));
}

std::string fault_of(const std::string& template_text) {
  const Note note = render_note(template_text, make_status({make_words("x", "y")}, {make_table("t", {{"one"}})}));
  CHECK(note.text.empty());
  REQUIRE_FALSE(note.faults.empty());
  return note.faults.front().rule + " " + std::to_string(note.faults.front().source.line);
}

}  // namespace

TEST_CASE("each line of the template is a sentence, and so is each that ends within one") {
  const Note note = render_note("One {{x}}\n\n  Two.\nThree. Four? Five!\n{{#table.t}}\nRow {{a}}.\n{{/table.t}}\n",
                                make_status({make_words("x", "1.5 kg")}, {make_table("t", {{"a"}, {"b"}})}));
  CHECK(sentences_of(note) ==
        std::vector<std::string>{"One 1.5 kg.", "Two.", "Three.", "Four?", "Five!", "Row a.", "Row b."});
}

TEST_CASE("twelve sentences are kept, and of more the first eleven and a word where the rest is") {
  std::string template_text;
  for (int i = 1; i <= 12; ++i) template_text += "Sentence.\n";
  CHECK(sentences_of(render_note(template_text, make_status({}))) == std::vector<std::string>(12, "Sentence."));
  const auto cut = sentences_of(render_note(template_text + "One more.\n", make_status({})));
  REQUIRE(cut.size() == 12);
  CHECK(cut[10] == "Sentence.");
  CHECK(cut[11] == "More stands in the brief.");
}

TEST_CASE("the note says of which evening it is") {
  const Note note =
      render_note("One.\n", make_status({make_words("mission.name", "Tern 4"), make_words("words.day", "FD"),
                                         make_number("now.flight_day", 8), make_words("words.elapsed", "MET"),
                                         make_words("now.met", "7/04:45"), make_words("now.utc", "2031-05-13T13:59Z"),
                                         make_number("brief.revision", 2)}));
  CHECK(lines_of(note.text).at(1) == "Tern 4, FD 8 (MET 7/04:45), data to 2031-05-13T13:59Z, revision 2");
}

TEST_CASE("no line of a note is wider than 79 columns") {
  for (const std::string& value :
       {std::string(300, 'x'), std::string("word ") + std::string(200, 'y'),
        std::string("\xe6\xbc\xa2\xe6\xbc\xa2 \xe6\xbc\xa2\xe5\xad\x97\xe6\xbc\xa2\xe5\xad\x97")}) {
    std::string long_value;
    for (int i = 0; i < 20; ++i) long_value += value + " ";
    const Note note = render_note("About {{x}}.\n", make_status({make_words("x", long_value)}));
    for (const auto& line : lines_of(note.text)) CHECK(model::display_width(line) <= 79);
  }
}

TEST_CASE("a value can't start a line, a sentence or a heading") {
  for (const char* value :
       {"a\nb", "a\r\n\r\n 3. All well.", "a\n# Heading", "a. 3. All well. Go", "Stop! Go? Yes. ", "a\u2028b",
        "a\u2029b", "a\x85 b", "x\x1b[2J", "\u202Egnp.x", ". . .", "{{x}}\n{{y}}", "@table t"}) {
    CAPTURE(value);
    const auto sentences = with_value(value);
    REQUIRE(sentences.size() == 2);
    CHECK(sentences[0].starts_with("About "));
    CHECK(sentences[0].ends_with(", as said."));
    CHECK(sentences[1].starts_with("Second"));
    for (const auto& sentence : sentences) {
      CHECK(sentence.find(". ") == std::string::npos);
      CHECK(sentence.find('\x1b') == std::string::npos);
      CHECK(sentence.find("\u202E") == std::string::npos);
    }
  }
  CHECK(with_value("Count the packs. Call it down.")[1] == "Second Count the packs; Call it down.");
  CHECK(with_value("1.5 kg, e.g.")[1] == "Second 1.5 kg, e.g.");
}

TEST_CASE("whatever strings a log holds, the note keeps its sentences") {
  std::ifstream file(TEST_DATA "/strings/blns.txt");
  std::size_t tried = 0;
  for (std::string line; std::getline(file, line); ++tried) {
    CAPTURE(line);
    CHECK(with_value(line).size() == 2);
  }
  CHECK(tried > 400);
}

TEST_CASE("what is wrong with the template of the note is said with its line") {
  const auto [template_text, fault] = GENERATE(table<std::string, std::string>({
      {"a\nb {{y}}\n", "template-name 2"},
      {"{{x}}\n{{#table.t}}\n{{b}}\n{{/table.t}}\n", "template-name 3"},
      {"a\n{{{x}}}\n", "template-syntax 2"},
      {"a\n\n{{> other}}\n", "template-syntax 3"},
      {"a\n{{table.t}}\n", "template-name 2"},
      {"a\n{{#table.t}}\n", "template-syntax 2"},
      {"a\n\n@table t\n", "template-table 3"},
      {"a\n\n@chart t\n", "template-chart 3"},
      {"", "template-syntax 1"},
      {"{{^table.t}}\nNothing.\n{{/table.t}}\n", "template-syntax 1"},
  }));
  CAPTURE(template_text);
  CHECK(fault_of(template_text) == fault);
}
