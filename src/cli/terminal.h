// The terminal that standard output goes to, and the desktop around it.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "write/summary.h"

namespace daywright::cli {

/// What standard output can show: COLUMNS or the window's width, else 80; UTF-8 where the locale says so; colour on a
/// terminal that has it, unless NO_COLOR is set.
[[nodiscard]] write::Terminal read_terminal();

/// Whether there is somebody to ask: standard input and standard error are a terminal.
[[nodiscard]] bool can_ask();
/// Asks on standard error and returns the line that is typed, without its end; empty where there is none.
[[nodiscard]] std::string ask(std::string_view question);

/// Opens `page` with the desktop's xdg-open, which goes on by itself. Returns why it did not, or an empty text.
[[nodiscard]] std::string open_page(const std::filesystem::path& page);

}  // namespace daywright::cli
