// The note that is read up to the crew: at most twelve numbered sentences in plain text.
//
//   In:  a mustache template, the status
//   Out: the note, or what is wrong with the template
//
// Pure. That it is a draft, how many sentences it has and the caution do not depend on the template.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "model/diagnostic.h"
#include "model/status.h"

namespace daywright::write {

inline constexpr std::size_t most_sentences = 12;

struct Note {
  std::string text;           ///< empty when there are faults
  model::Diagnostics faults;  ///< places lie in the template: file 0
};

/// Renders the template as sentences, one for each line of it that is not empty, the most important first: of more
/// than twelve, eleven are kept and the last one points to the brief. Names are as in the brief's template.
[[nodiscard]] Note render_note(std::string_view template_text, const model::DayStatus& status);

/// `text` as a part of a sentence: nothing in it starts another line or another sentence, or hides.
[[nodiscard]] std::string escape_sentence(std::string_view text);

}  // namespace daywright::write
