#include "record/digest.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>
#include <openssl/evp.h>

namespace daywright::record {
namespace {

using FetchedAlgorithm = std::unique_ptr<EVP_MD, decltype(&EVP_MD_free)>;
using Digest = std::array<unsigned char, EVP_MAX_MD_SIZE>;

std::string hex_of(const Digest& digest, std::size_t size) {
  std::string hex(2 * size, '0');
  constexpr std::string_view digits = "0123456789abcdef";
  for (std::size_t i = 0; i < size; ++i) {
    hex[2 * i] = digits[digest.at(i) >> 4U];
    hex[2 * i + 1] = digits[digest.at(i) & 0xFU];
  }
  return hex;
}

struct Known {
  DigestAlgorithm algorithm;
  FetchedAlgorithm fetched;
};

/// What the library has. Fetched once: looking an algorithm up takes longer than the digest of a log.
const std::vector<Known>& known_algorithms() {
  static const std::vector<Known> known = [] {
    std::vector<Known> found;
    for (const auto& [name, label] : {
             std::pair{"md5", "MD5"},
             {"sha1", "SHA-1"},
             {"sha224", "SHA-224"},
             {"sha256", "SHA-256"},
             {"sha384", "SHA-384"},
             {"sha512", "SHA-512"},
             {"sha512224", "SHA512-224"},
             {"sha512256", "SHA512-256"},
             {"sha3224", "SHA3-224"},
             {"sha3256", "SHA3-256"},
             {"sha3384", "SHA3-384"},
             {"sha3512", "SHA3-512"},
             {"blake2b512", "BLAKE2B-512"},
             {"blake2s256", "BLAKE2S-256"},
         }) {
      FetchedAlgorithm fetched(EVP_MD_fetch(nullptr, label, nullptr), &EVP_MD_free);
      if (fetched == nullptr) continue;
      const auto digits = 2 * static_cast<std::size_t>(EVP_MD_get_size(fetched.get()));
      found.push_back({{name, label, digits}, std::move(fetched)});
    }
    return found;
  }();
  return known;
}

const Known* find_known(std::string_view name) {
  const auto& all = known_algorithms();
  const auto found =
      std::find_if(all.begin(), all.end(), [&](const auto& known) { return known.algorithm.name == name; });
  return found == all.end() ? nullptr : &*found;
}

}  // namespace

std::string sha256_hex(std::string_view bytes) {
  // Fetched once, and alone: most runs need no other.
  static const FetchedAlgorithm sha256(EVP_MD_fetch(nullptr, "SHA256", nullptr), &EVP_MD_free);
  Digest digest{};
  unsigned int size = 0;
  if (sha256 == nullptr || EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, sha256.get(), nullptr) != 1) {
    throw std::runtime_error("the cryptographic library can't compute SHA-256");
  }
  return hex_of(digest, size);
}

const DigestAlgorithm* find_digest_algorithm(std::string_view name) {
  const Known* known = find_known(name);
  return known == nullptr ? nullptr : &known->algorithm;
}

struct Digester::Running {
  const Known* known;
  std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> state;

  void check(int result) const {
    if (result == 1) return;
    throw std::runtime_error(fmt::format("the cryptographic library can't compute {}", known->algorithm.label));
  }
  void start() { check(EVP_DigestInit_ex2(state.get(), known->fetched.get(), nullptr)); }
};

Digester::Digester(const std::vector<std::string>& algorithms) {
  for (const auto& name : algorithms) {
    const Known* known = find_known(name);
    assert(known != nullptr);
    running_.push_back({known, {EVP_MD_CTX_new(), &EVP_MD_CTX_free}});
    running_.back().check(running_.back().state == nullptr ? 0 : 1);
    running_.back().start();
  }
}

Digester::~Digester() = default;

void Digester::add(std::string_view bytes) {
  for (const auto& one : running_) one.check(EVP_DigestUpdate(one.state.get(), bytes.data(), bytes.size()));
}

std::vector<std::string> Digester::finish() {
  std::vector<std::string> digests;
  for (auto& one : running_) {
    Digest digest{};
    unsigned int size = 0;
    one.check(EVP_DigestFinal_ex(one.state.get(), digest.data(), &size));
    digests.push_back(hex_of(digest, size));
    one.start();
  }
  return digests;
}

}  // namespace daywright::record
