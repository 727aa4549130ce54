#include "record/digest.h"

#include <array>
#include <memory>
#include <stdexcept>

#include <openssl/evp.h>

namespace daywright::record {

std::string sha256_hex(std::string_view bytes) {
  // Fetched once: looking the algorithm up takes longer than the digest of a log.
  static const std::unique_ptr<EVP_MD, decltype(&EVP_MD_free)> sha256(EVP_MD_fetch(nullptr, "SHA256", nullptr),
                                                                      &EVP_MD_free);
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  if (sha256 == nullptr || EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, sha256.get(), nullptr) != 1) {
    throw std::runtime_error("the cryptographic library can't compute SHA-256");
  }
  std::string hex;
  constexpr std::string_view digits = "0123456789abcdef";
  for (unsigned int i = 0; i < size; ++i) {
    hex += digits[digest.at(i) >> 4U];
    hex += digits[digest.at(i) & 0xFU];
  }
  return hex;
}

}  // namespace daywright::record
