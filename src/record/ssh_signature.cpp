#include "record/ssh_signature.h"

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <optional>
#include <stdexcept>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/evp.h>

#include "model/printable.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "record/program.h"
#include "record/signoff.h"

namespace daywright::record {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view armour_begin = "-----BEGIN SSH SIGNATURE-----\n";
constexpr std::string_view armour_end = "-----END SSH SIGNATURE-----\n";
constexpr std::size_t largest_list = std::size_t{4} * 1024 * 1024;

std::string to_base64(std::string_view bytes) {
  std::string text((bytes.size() + 2) / 3 * 4 + 1, '\0');
  const int size =
      ::EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()),
                        reinterpret_cast<const unsigned char*>(bytes.data()), static_cast<int>(bytes.size()));
  text.resize(static_cast<std::size_t>(size));
  return text;
}

/// What `text` may stand for; whether it really does, encoding it again shows.
std::string from_base64(std::string_view text) {
  std::string bytes(text.size(), '\0');
  const int size =
      ::EVP_DecodeBlock(reinterpret_cast<unsigned char*>(bytes.data()),
                        reinterpret_cast<const unsigned char*>(text.data()), static_cast<int>(text.size()));
  // The filling at the end is decoded to zeros.
  const auto filling = std::min<std::ptrdiff_t>(std::count(text.begin(), text.end(), '='), std::max(size, 0));
  bytes.resize(static_cast<std::size_t>(std::max(size, 0) - filling));
  return bytes;
}

std::string armoured(std::string_view blob) {
  constexpr std::size_t columns = 70;
  const std::string text = to_base64(blob);
  std::string armour(armour_begin);
  for (std::size_t at = 0; at < text.size(); at += columns) armour += text.substr(at, columns) + '\n';
  return armour + std::string(armour_end);
}

/// Takes the parts of a blob: four bytes of length before each string, RFC 4251.
class Blob {
 public:
  explicit Blob(std::string_view bytes) : rest_(bytes) {}

  std::optional<std::string_view> take(std::size_t size) {
    if (size > rest_.size()) {
      rest_ = {};  // after one part that does not fit there is none that does
      return std::nullopt;
    }
    const auto taken = rest_.substr(0, size);
    rest_.remove_prefix(size);
    return taken;
  }
  std::optional<std::uint32_t> take_number() {
    const auto bytes = take(4);
    if (!bytes) return std::nullopt;
    std::uint32_t number = 0;
    for (const char c : *bytes) number = (number << 8U) | static_cast<unsigned char>(c);
    return number;
  }
  std::optional<std::string_view> take_string() {
    const auto size = take_number();
    return size ? take(*size) : std::nullopt;
  }
  [[nodiscard]] bool is_empty() const { return rest_.empty(); }

 private:
  std::string_view rest_;
};

/// SHA-256 of the public key in base64 without its filling, as ssh-keygen prints it.
std::string fingerprint_of(std::string_view public_key) {
  const std::string hex = sha256_hex(public_key);
  std::string digest;
  for (std::size_t i = 0; i < hex.size(); i += 2) digest += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  std::string text = to_base64(digest);
  text.erase(text.find('='));
  return "SHA256:" + text;
}

fs::path ssh_keygen() {
  const auto found = find_program("ssh-keygen");
  if (found.empty()) throw std::runtime_error("there is no ssh-keygen, which makes and judges signatures");
  return found;
}

/// What ssh-keygen says on standard error, as the end of a sentence that can be shown.
std::string said(const ProgramEnd& end) {
  std::string line;
  for (const char c : end.errors) line += c == '\n' ? ' ' : c;
  while (line.ends_with(' ') || line.ends_with('\r')) line.pop_back();
  return line.empty() ? "" : " (" + model::printable(line) + ")";
}

std::string read_if_there(const fs::path& path) {
  // Whatever is there but no file, a link to nothing included, is an error and not an empty list.
  if (fs::symlink_status(path).type() == fs::file_type::not_found) return {};
  return Descriptor(path, O_RDONLY | O_NONBLOCK).read_regular(largest_list);
}

}  // namespace

std::variant<SshSignature, std::string> read_ssh_signature(std::string_view armour) {
  if (!armour.starts_with(armour_begin) || !armour.ends_with(armour_end) ||
      armour.size() < armour_begin.size() + armour_end.size())
    return "is no signature of OpenSSH";
  std::string text;
  for (const char c : armour.substr(armour_begin.size(), armour.size() - armour_begin.size() - armour_end.size()))
    if (c != '\n') text += c;
  const std::string bytes = from_base64(text);
  if (armoured(bytes) != armour) return "has an armour of another form than these bytes have";
  Blob blob(bytes);
  const auto magic = blob.take(6);
  const auto version = blob.take_number();
  const auto public_key = blob.take_string();
  const auto name_space = blob.take_string();
  const auto reserved = blob.take_string();
  const auto hash = blob.take_string();
  const auto signature = blob.take_string();
  if (magic != "SSHSIG" || version != 1U || !signature || !blob.is_empty() || !reserved->empty() ||
      (hash != "sha512" && hash != "sha256"))
    return "is no signature of OpenSSH of a form that is known";
  return SshSignature{fingerprint_of(*public_key), std::string(*name_space)};
}

TrustList read_trust_list(const fs::path& mission) {
  return {read_if_there(mission / allowed_signers_file), read_if_there(mission / revoked_keys_file)};
}

std::string read_fingerprint(const fs::path& key) {
  const auto end = run_program({.program = ssh_keygen(), .arguments = {"-l", "-E", "sha256", "-f", key.string()}});
  const auto begin = end.output.find("SHA256:");
  if (end.exit_code != 0 || begin == std::string::npos)
    throw std::runtime_error(fmt::format("can't use the key '{}'{}", model::printable(key.string()), said(end)));
  return end.output.substr(begin, end.output.find(' ', begin) - begin);
}

std::string sign_with_ssh(const fs::path& key, const std::string& bytes) {
  const auto end = run_program({.program = ssh_keygen(),
                                .arguments = {"-Y", "sign", "-q", "-n", signature_namespace, "-f", key.string()},
                                .input = bytes,
                                .limit = std::chrono::minutes{10},
                                .shows_errors = true});
  if (end.exit_code != 0)
    throw std::runtime_error(fmt::format("ssh-keygen did not sign with '{}'", model::printable(key.string())));
  return end.output;
}

std::string fault_of_signature(const std::string& bytes, const std::string& armour, const Claim& claim,
                               const TrustList& trust) {
  const auto read = read_ssh_signature(armour);
  if (const auto* fault = std::get_if<std::string>(&read)) return *fault;
  const auto& signature = std::get<SshSignature>(read);
  if (signature.name_space != signature_namespace)
    return fmt::format("is made for '{}', expected '{}'", model::printable(signature.name_space), signature_namespace);
  if (signature.fingerprint != claim.fingerprint)
    return fmt::format("is made with the key {}, and the record names {}", signature.fingerprint, claim.fingerprint);
  const auto judge = [&](std::vector<std::string> arguments, std::vector<std::string> files) {
    arguments.insert(arguments.end(), {"-n", signature_namespace, "-s", handed_file(0)});
    files.insert(files.begin(), armour);
    auto end = run_program(
        {.program = ssh_keygen(), .arguments = std::move(arguments), .input = bytes, .files = std::move(files)});
    // A tool that was killed, or could not begin, has not said no.
    if (end.exit_code != 0 && !end.output.starts_with("Could not verify signature"))
      throw std::runtime_error(fmt::format("ssh-keygen gave no answer about a signature{}", said(end)));
    return end;
  };
  std::string time = format_rfc3339(claim.at);  // "20310513220000Z" is the form that is wanted
  std::erase_if(time, [](char c) { return c == '-' || c == ':' || c == 'T'; });
  const std::vector<std::string> verify{"-Y", "verify",       "-I", claim.principal,
                                        "-f", handed_file(1), "-O", "verify-time=" + time};
  std::vector<std::string> verify_all = verify;
  if (!trust.revoked_keys.empty()) verify_all.insert(verify_all.end(), {"-r", handed_file(2)});
  // It says no too where it fails to open a file, and yes only where it means it: so a no is asked for twice.
  auto end = judge(verify_all, {trust.allowed_signers, trust.revoked_keys});
  if (end.exit_code != 0) end = judge(verify_all, {trust.allowed_signers, trust.revoked_keys});
  if (end.exit_code == 0) return {};
  // ssh-keygen says little about why not, so it is asked again for less.
  if (judge({"-Y", "check-novalidate"}, {}).exit_code != 0) return "does not fit the bytes that it lies beside";
  if (!trust.revoked_keys.empty() && judge(verify, {trust.allowed_signers}).exit_code == 0)
    return fmt::format("is made with the key {}, which is revoked", signature.fingerprint);
  return fmt::format("is made with the key {}, which allowed_signers does not let sign as '{}' at {}{}",
                     signature.fingerprint, claim.principal, format_rfc3339(claim.at), said(end));
}

}  // namespace daywright::record
