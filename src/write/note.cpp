#include "write/note.h"

#include <vector>

#include <fmt/format.h>

#include "model/printable.h"
#include "write/caution.h"
#include "write/template_text.h"
#include "write/wrapped.h"

namespace daywright::write {
namespace {

constexpr std::size_t columns = 79;
constexpr std::string_view stops = ".!?";

/// The sentences of the filled template, each with its stop. A value can't end one, so whatever ends here was ended by
/// the template.
std::vector<std::string> sentences_of(std::string_view text) {
  std::vector<std::string> sentences;
  std::string sentence;
  const auto finish = [&] {
    const auto first = sentence.find_first_not_of(' ');
    if (first != std::string::npos) {
      sentence = sentence.substr(first, sentence.find_last_not_of(' ') + 1 - first);
      if (stops.find(sentence.back()) == std::string_view::npos) sentence += '.';
      sentences.push_back(sentence);
    }
    sentence.clear();
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '\n') {
      finish();
      continue;
    }
    sentence += text[i];
    const bool is_stop = stops.find(text[i]) != std::string_view::npos;
    if (is_stop && i + 1 < text.size() && text[i + 1] == ' ') finish();
  }
  finish();
  return sentences;
}

/// Name, day, cut-off and revision, so that nobody reads up the note of another evening.
std::string headline(const model::DayStatus& status) {
  const auto text_of = [&](const char* id) {
    const auto* figure = status.find(id);
    return figure == nullptr ? std::string("?") : escape_sentence(figure->text);
  };
  return fmt::format("{}, {} {} ({} {}), data to {}, revision {}", text_of("mission.name"), text_of("words.day"),
                     text_of("now.flight_day"), text_of("words.elapsed"), text_of("now.met"), text_of("now.utc"),
                     text_of("brief.revision"));
}

}  // namespace

std::string escape_sentence(std::string_view text) {
  std::string shown = model::printable(text);
  const auto last = shown.find_last_not_of(std::string(stops) + " ");
  shown.resize(last == std::string::npos ? 0 : last + 1);
  for (std::size_t i = 0; i + 1 < shown.size(); ++i) {
    if (stops.find(shown[i]) != std::string_view::npos && (shown[i + 1] == ' ')) shown[i] = ';';
  }
  return shown;
}

namespace {

/// What a template of sentences must not hold, or lack.
void check_sentences(std::string_view template_text, const std::vector<std::string>& sentences,
                     model::Diagnostics& faults) {
  for (const char* kind : {"table", "chart"}) {
    if (const auto marker = template_text.find(fmt::format("@{} ", kind)); marker != std::string_view::npos)
      faults.push_back(template_fault(template_text, marker,
                                      fmt::format("a {} marker, expected sentences that can be read up", kind),
                                      fmt::format("template-{}", kind)));
  }
  if (sentences.empty())
    faults.push_back(template_fault(template_text, 0, "nothing comes of the template, expected at least one sentence",
                                    "template-syntax"));
}

}  // namespace

Note render_note(std::string_view template_as_read, const model::DayStatus& status) {
  Note note;
  const std::string template_text = with_line_feeds(template_as_read);
  FilledTemplate filled = fill_template(template_text, status, escape_sentence);
  note.faults = std::move(filled.faults);
  if (!filled.text) return note;
  auto sentences = sentences_of(*filled.text);
  check_sentences(template_text, sentences, note.faults);
  if (!note.faults.empty()) return note;
  if (sentences.size() > most_sentences) {
    sentences.resize(most_sentences - 1);
    sentences.emplace_back("More stands in the brief.");
  }
  note.text = "CREW NOTE - DRAFT, not released: not to be read up yet\n" + wrapped(headline(status), columns) + "\n";
  for (std::size_t i = 0; i < sentences.size(); ++i)
    note.text += wrapped(sentences[i], columns, fmt::format("{:2}. ", i + 1));
  note.text += "\n" + wrapped(caution, columns);
  return note;
}

}  // namespace daywright::write
