// What the archive held when a brief was made: the brief says it, so that the next one is a witness of what was filed.
#pragma once

#include <cstdint>
#include <string>

namespace daywright::model {

struct Filed {
  std::int64_t count = 0;      ///< members of the longest beginning of the archive that holds only earlier days
  std::string digest;          ///< of the last of these; empty: there is none
  std::int64_t revisions = 0;  ///< of this day itself
  std::string fault;           ///< why the archive can't be relied on; empty: it can

  bool operator==(const Filed&) const = default;
};

}  // namespace daywright::model
