// The caution that stands on every output.
#pragma once

namespace daywright::write {

inline constexpr const char* caution =
    "Decision support only. The mission's own flight rules and certified authorities prevail.";

}  // namespace daywright::write
