// The exit codes of every command; README has the same table.
#pragma once

namespace daywright::cli {

enum class ExitCode {
  done = 0,
  done_with_faults = 1,  ///< done, but the inputs have faults
  usage = 2,
  nothing_changed = 3,  ///< inputs unusable, refused, or can't read or write
  in_doubt = 4,         ///< the change may be there
};

}  // namespace daywright::cli
