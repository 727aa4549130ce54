// Digests of bytes, by OpenSSL.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace daywright::record {

/// The digest of `bytes` as 64 hexadecimal digits in small letters. Throws std::runtime_error when the library can't.
[[nodiscard]] std::string sha256_hex(std::string_view bytes);

/// An algorithm that digests can be made with. Names are as in the names of BagIt manifests.
struct DigestAlgorithm {
  std::string name;        ///< "sha256"
  std::string label;       ///< "SHA-256"
  std::size_t digits = 0;  ///< hexadecimal, in a digest
};

/// The algorithm of that name; nullptr: there is none, or the library as it is set up here doesn't have it.
[[nodiscard]] const DigestAlgorithm* find_digest_algorithm(std::string_view name);

/// Several digests of one stream of bytes in one pass. Throws std::runtime_error when the library can't.
class Digester {
 public:
  /// Requires that all `algorithms` can be found.
  explicit Digester(const std::vector<std::string>& algorithms);
  ~Digester();
  Digester(const Digester&) = delete;
  Digester& operator=(const Digester&) = delete;
  Digester(Digester&&) = delete;
  Digester& operator=(Digester&&) = delete;

  void add(std::string_view bytes);
  /// The digests, in the order of the algorithms, in hexadecimal digits with small letters. The next `add` starts anew.
  [[nodiscard]] std::vector<std::string> finish();

 private:
  struct Running;
  std::vector<Running> running_;
};

}  // namespace daywright::record
