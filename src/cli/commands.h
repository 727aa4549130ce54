// What each command does, in order.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cli/exit_code.h"
#include "model/signoff.h"

namespace daywright::cli {

/// What `options` changes in the plan. Times as given: UTC or elapsed.
struct Changes {
  int extra_days = 0;
  std::vector<std::string> transfers_in;
  std::vector<std::string> transfers_not_out;
  std::optional<int> crew;
  std::optional<std::string> crew_from;
  std::vector<std::pair<std::string, double>> rates;  ///< item and factor
  std::optional<std::string> return_option;
  std::optional<std::string> return_at;
};

/// What `sign`, or who takes over, is asked to record.
struct SignRequest {
  std::string role;
  std::string name;                 ///< as printed
  std::string principal;            ///< who it is for allowed_signers
  std::optional<model::Call> call;  ///< nothing for a withdrawal and for who takes over
  bool is_decision = false;         ///< of the chair
  std::string gate;                 ///< empty: the brief as a whole
  std::string remark;
  std::vector<model::CallCondition> conditions;
  std::optional<std::int64_t> withdraws;
  std::optional<std::filesystem::path> key;  ///< nothing: not signed
  bool is_confirmed = false;                 ///< nobody is asked
};

/// What somebody has noted elsewhere: how many records there were, and the SHA-256 of the last.
struct Anchor {
  std::int64_t count = 1;
  std::string digest;
};

/// What `history` and `compare` print.
enum class OutputForm { text, csv, json };

/// A command line, read.
struct Command {
  std::string name;               ///< check, brief, explain, options, sign, signoffs, handover, verify
  std::filesystem::path folder;   ///< the mission
  std::string figure;             ///< explain: its id
  bool list = false;              ///< explain: all figures
  bool strict = false;            ///< brief: any fault in the inputs stops it
  bool summary = false;           ///< brief: its five lines and the margins are shown too
  bool open = false;              ///< brief: the page is opened
  std::vector<std::string> only;  ///< brief: names of the outputs that alone are made; none: all
  std::optional<int> day;
  std::optional<std::string> cutoff;
  Changes changes;
  SignRequest sign;                                ///< handover: who takes over, where somebody does
  bool accept = false;                             ///< handover: it is taken over on the page that is there
  std::optional<double> shift_hours;               ///< handover
  std::optional<std::filesystem::path> archive;    ///< archive: where to; default: archive/ in the mission folder
  std::string reason;                              ///< archive: why a day is filed again
  bool remakes = false;                            ///< verify: the outputs are made again
  std::vector<std::string> figures;                ///< history: their ids; none: the overview
  bool all_revisions = false;                      ///< history: not only the newest of each day
  OutputForm form = OutputForm::text;              ///< history and compare
  std::optional<std::filesystem::path> page;       ///< history: written instead
  std::string other;                               ///< compare: with what
  std::optional<Anchor> anchor;                    ///< verify: what is to be there
  std::optional<std::filesystem::path> out;        ///< default: out/ in the mission folder
  std::optional<std::filesystem::path> templates;  ///< default: those that are built in
};

// Each prints results on standard output and diagnostics on standard error.
[[nodiscard]] ExitCode run_check(const Command& command);
[[nodiscard]] ExitCode run_brief(const Command& command);
[[nodiscard]] ExitCode run_explain(const Command& command);
[[nodiscard]] ExitCode run_options(const Command& command);
[[nodiscard]] ExitCode run_sign(const Command& command);
[[nodiscard]] ExitCode run_signoffs(const Command& command);
[[nodiscard]] ExitCode run_archive(const Command& command);
[[nodiscard]] ExitCode run_handover(const Command& command);
[[nodiscard]] ExitCode run_verify(const Command& command);
[[nodiscard]] ExitCode run_history(const Command& command);
[[nodiscard]] ExitCode run_compare(const Command& command);

}  // namespace daywright::cli
