// SHA-256 of bytes, by OpenSSL.
#pragma once

#include <string>
#include <string_view>

namespace daywright::record {

/// The digest of `bytes` as 64 hexadecimal digits in small letters. Throws std::runtime_error when the library can't.
[[nodiscard]] std::string sha256_hex(std::string_view bytes);

}  // namespace daywright::record
