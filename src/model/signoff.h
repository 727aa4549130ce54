// A sign-off: who said what about which outputs of which day, as one value.
//
// Calls are made by people; nothing here is computed from the logs, and no verdict ever reads it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/instant.h"

namespace daywright::model {

enum class Call { go, go_with_conditions, no_go, abstain };

/// What a record does: the call of a position, the decision of whoever chairs, taking an earlier record back, or taking
/// over on the page of the handover.
enum class SignOffAct { call, decision, withdrawal, acceptance };

/// The page that is taken over on; no output of a brief has its name.
inline constexpr std::string_view handover_file = "handover.md";

/// One output that was signed.
struct SignedFile {
  std::string path;  ///< within the folder of outputs
  std::int64_t size = 0;
  std::string sha256;

  bool operator==(const SignedFile&) const = default;
};

/// A computed verdict as the signer saw it.
struct SeenVerdict {
  std::string gate;
  std::string verdict;

  bool operator==(const SeenVerdict&) const = default;
};

/// What GO WITH CONDITIONS rests on.
struct CallCondition {
  std::string text;
  std::string owner;

  bool operator==(const CallCondition&) const = default;
};

struct Signer {
  std::string principal;  ///< who it is, in ASCII, as the list of allowed signers calls them
  std::string name;       ///< as printed
  std::string role;       ///< id
  std::string key;        ///< "SHA256:..." of the public key; empty: not signed

  bool operator==(const Signer&) const = default;
};

struct SignOff {
  std::int64_t number = 1;
  std::string previous;  ///< SHA-256 of the record before; zeros for the first
  SignOffAct act = SignOffAct::call;
  std::optional<Call> call;  ///< of a call or a decision; nothing otherwise
  std::int64_t day = 1;
  std::int64_t revision = 1;
  std::string gate;  ///< id; empty: the brief as a whole
  std::vector<SignedFile> subjects;
  std::vector<SeenVerdict> verdicts;
  std::string limiting;   ///< limiting item and its margin, in the words of the brief
  std::string statement;  ///< the sentence that was shown to the signer
  std::string remark;
  std::vector<CallCondition> conditions;
  std::optional<std::int64_t> supersedes;  ///< the record that this one corrects or takes back
  Signer signer;
  Instant signed_at;              ///< whole seconds, by the clock of the machine, which nobody attests
  bool is_after_previous = true;  ///< whether `signed_at` is no earlier than that of the record before
  std::string program;            ///< version of the program that wrote it

  bool operator==(const SignOff&) const = default;
};

/// "GO", "GO WITH CONDITIONS", "NO-GO", "ABSTAIN".
[[nodiscard]] std::string_view words(Call call);

/// Whether `later` may correct or take back `earlier`: only the same signer in the same role, about the same gate and
/// day, may, and what is signed only with a signature.
[[nodiscard]] bool can_supersede(const SignOff& later, const SignOff& earlier);

/// Whether it is about the page of the handover and not about the brief: an acceptance, or one that is taken back.
[[nodiscard]] bool is_of_handover(const SignOff& signoff);

/// The records that no later one has corrected or taken back, in their order, without those that only take back. An
/// acceptance stands until somebody takes over on another page of that day.
[[nodiscard]] std::vector<const SignOff*> standing(const std::vector<SignOff>& records);

/// Why `text` can't stand in a record, or an empty text: it has to be one line of at most `most` bytes, in Unicode
/// normal form C, without blanks at its ends and without anything that is hidden or turns the direction of reading.
[[nodiscard]] std::string fault_of_line(std::string_view text, std::size_t most);

/// Whether `text` can name a signer: ASCII letters, digits and . _ @ + - after a letter or a digit, at most 100.
[[nodiscard]] bool is_principal(std::string_view text);

/// Whether `text` has letters of more than one of the alphabets that look alike, Latin, Greek, Cyrillic and Armenian.
[[nodiscard]] bool mixes_alphabets(std::string_view text);

/// Whether a reader may take one text for the other: equal, or of one skeleton by UTS 39 (confusables), large and small
/// letters alike.
[[nodiscard]] bool look_alike(std::string_view one, std::string_view other);

}  // namespace daywright::model
