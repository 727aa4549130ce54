// Signatures of OpenSSH (PROTOCOL.sshsig), made and judged by stock ssh-keygen; the private key is never touched here.
//
// Beyond what ssh-keygen judges, the armour has to be the one form that these bytes have, and the key the one that the
// record names.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <variant>

#include "model/instant.h"

namespace daywright::record {

/// What a signature is for: one made for anything else is refused.
inline constexpr const char* signature_namespace = "signoff@daywright";

struct SshSignature {
  std::string fingerprint;  ///< of the key: "SHA256:..."
  std::string name_space;
};

/// Takes the armour off; otherwise says what is wrong with it.
[[nodiscard]] std::variant<SshSignature, std::string> read_ssh_signature(std::string_view armour);

inline constexpr const char* allowed_signers_file = "allowed_signers";
inline constexpr const char* revoked_keys_file = "revoked_keys";

/// Who may sign, in the forms of ssh-keygen.
struct TrustList {
  std::string allowed_signers;
  std::string revoked_keys;  ///< empty: none
};

/// DIR/allowed_signers and DIR/revoked_keys, where they are there. Throws std::system_error.
[[nodiscard]] TrustList read_trust_list(const std::filesystem::path& mission);

/// The fingerprint of a key file, private or public. Throws std::runtime_error with what ssh-keygen says.
[[nodiscard]] std::string read_fingerprint(const std::filesystem::path& key);

/// The signature over `bytes` in its armour. ssh-keygen asks for a passphrase or a touch by itself, and uses an agent
/// where `key` is a public key. Throws std::runtime_error where there is none.
[[nodiscard]] std::string sign_with_ssh(const std::filesystem::path& key, const std::string& bytes);

/// Who is said to have signed, and when.
struct Claim {
  std::string principal;
  std::string fingerprint;
  model::Instant at;
};

/// Why `armour` is no signature of the claimed signer over `bytes` that counted at that time; empty: it is one. Throws
/// std::runtime_error or std::system_error where that can't be judged now, so that nothing is void because a machine
/// fails.
[[nodiscard]] std::string fault_of_signature(const std::string& bytes, const std::string& armour, const Claim& claim,
                                             const TrustList& trust);

}  // namespace daywright::record
