// day.toml -> one day's period, cut-off and the declared end of each log.
#pragma once

#include <optional>
#include <string_view>

#include "model/diagnostic.h"
#include "model/log.h"
#include "model/mission.h"

namespace daywright::load {

/// Reads one day.toml. Nothing when the file can't be used; its faults then say why. Pure.
[[nodiscard]] std::optional<model::Day> parse_day(std::string_view text, int file, int number,
                                                  const model::Mission& mission, model::Diagnostics& faults);

}  // namespace daywright::load
