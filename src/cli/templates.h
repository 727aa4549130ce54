// The templates that are built in, so that the program works wherever its one file is put.
#pragma once

#include <string_view>

namespace daywright::cli {

inline constexpr std::string_view brief_template_name = "brief.md.mustache";
/// templates/brief.md.mustache as it was when the program was built.
extern const std::string_view brief_template;

inline constexpr std::string_view note_template_name = "note.txt.mustache";
/// templates/note.txt.mustache likewise.
extern const std::string_view note_template;

inline constexpr std::string_view brief_style_name = "brief.css";
/// templates/brief.css likewise.
extern const std::string_view brief_style;

}  // namespace daywright::cli
