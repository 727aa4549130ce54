// The sign-offs of a mission as they lie on disk: signoffs/000001/record.json and record.json.sig, one folder a record.
//
//   In:  a mission folder
//   Out: every record with its bytes, and every break: of the numbers, of the chain, of the files
//
// Records are added and never changed. Each is built aside, forced to disk and put in place by one rename that
// replaces nothing, so that it is there whole or not at all.
#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "model/signoff.h"
#include "record/series.h"
#include "record/ssh_signature.h"

namespace daywright::record {

inline constexpr const char* signoffs_folder = "signoffs";
inline constexpr const char* record_file = "record.json";
inline constexpr const char* signature_file = "record.json.sig";

struct StoredSignOff {
  model::SignOff signoff;
  std::string bytes;
  std::string digest;     ///< SHA-256 of `bytes`
  std::string signature;  ///< empty: not signed
};

struct SignOffLog {
  std::vector<StoredSignOff> records;  ///< those that can be read, in order of number
  std::vector<LogBreak> breaks;

  /// What the records say.
  [[nodiscard]] std::vector<model::SignOff> signoffs() const;
};

/// Why the signature of a record is not that of the signer whom it names, at the time that it names; empty: it is.
/// Requires that it has one. Throws as the function of the same name in ssh_signature.h.
[[nodiscard]] std::string fault_of_signature(const StoredSignOff& stored, const TrustList& trust);

/// Where record `number` lies, below the mission folder: "signoffs/000001".
[[nodiscard]] std::string place_of_record(std::int64_t number);

/// Reads all records and checks numbers, chain and files, but not the signatures themselves. Without a folder there are
/// no records. Throws std::system_error where something can't be read.
[[nodiscard]] SignOffLog read_signoffs(const std::filesystem::path& mission);

/// The same, but throws std::runtime_error, which names the first break, where there is one.
[[nodiscard]] SignOffLog read_sound_signoffs(const std::filesystem::path& mission);

/// What to record, given what is there; nothing where that is not needed any more. Number, digest of the record before
/// and the order of times are filled in afterwards.
using Compose = std::function<std::optional<model::SignOff>(const SignOffLog&)>;

/// The signature of these bytes; empty where the record is not to be signed.
using Sign = std::function<std::string(const std::string& bytes)>;

/// Adds one record and returns it, or nothing where `compose` wants none. When another process takes the number in the
/// meantime both are asked again. Requires a sound log. Throws std::system_error or what `compose` and `sign` throw
/// where nothing has changed, and InDoubt where the record is in place but not known to be on disk.
std::optional<StoredSignOff> append_signoff(const std::filesystem::path& mission, const Compose& compose,
                                            const Sign& sign);

}  // namespace daywright::record
