// The exit codes of every command; README has the same table.
#pragma once

namespace daywright::cli {

enum class ExitCode {
  done = 0,
  done_with_faults = 1,  ///< done, but the inputs have faults
  usage = 2,
  nothing_changed = 3,  ///< inputs unusable, refused, or can't read or write
  in_doubt = 4,         ///< the change may be there
  not_anchored = 5,     ///< verify: valid, but nothing from elsewhere says that it is all
  incomplete = 6,       ///< verify: something is not there
  invalid = 7,          ///< verify: something is not as it was written
};

}  // namespace daywright::cli
