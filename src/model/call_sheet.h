// What became of the calls for a day's brief: what is computed stands beside what people have said, never in its place.
#pragma once

#include <string>
#include <vector>

#include "model/status.h"

namespace daywright::model {

/// The calls for one gate, or what was said of the brief as a whole, or of the handover.
struct GateCalls {
  std::string gate;  ///< id; empty: none
  std::string title;
  std::string verdict;  ///< as computed now; empty where there is no gate
  std::string calls;    ///< "3 GO, 1 NO-GO, 1 not polled; chair: not decided"
  std::string release;  ///< "RELEASED" or "NOT RELEASED", and why not
  Table records;        ///< every record, dissent first
};

struct CallSheet {
  std::string heading;  ///< mission, day and revision
  std::string log;      ///< how many records there are, and the digest of the last
  std::vector<GateCalls> gates;
};

}  // namespace daywright::model
