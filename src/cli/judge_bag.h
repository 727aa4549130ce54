// What `verify` finds of one bag of an archive: is every byte there, and do its sign-offs hold.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "record/archive.h"
#include "record/bag.h"
#include "record/signoff_log.h"
#include "record/ssh_signature.h"

namespace daywright::cli {

/// Judges signatures and remembers what it found: each bag holds the records of all days before too, and a signature is
/// dear. Can be shared by threads.
class SignatureJudge {
 public:
  /// As record::fault_of_signature.
  [[nodiscard]] std::string fault_of(const record::StoredSignOff& stored, const record::TrustList& trust);

 private:
  std::mutex access_;
  std::map<std::string, std::string> faults_;  ///< by digest of all that a judgement rests on
};

struct JudgedBag {
  record::Bag bag;
  std::optional<record::FiledDay> filed;  ///< nothing: it is no day that was filed here
  std::vector<record::LogBreak> breaks;   ///< by place within the bag
  std::vector<std::string> notes;         ///< nothing wrong, but worth a word
};

/// Throws std::system_error where something can't be read.
[[nodiscard]] JudgedBag judge_bag(const std::filesystem::path& place, SignatureJudge& signatures,
                                  const record::OnBytes& on_bytes = {});

}  // namespace daywright::cli
