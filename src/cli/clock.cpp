#include "cli/clock.h"

#include <chrono>

namespace daywright::cli {

model::Instant read_clock() { return std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now()); }

}  // namespace daywright::cli
