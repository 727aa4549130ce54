#include "record/digest.h"

#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "catch_compat.h"
#include "temporary_folder.h"

using daywright::record::sha256_hex;
using namespace std::string_literals;

// Source: FIPS 180-4, with the NIST example values for SHA-256 and the million letters of its predecessor FIPS 180-2,
// appendix B.
TEST_CASE("SHA-256 gives the digests that NIST prints") {
  CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  CHECK(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  CHECK(sha256_hex(std::string(1'000'000, 'a')) == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST_CASE("SHA-256 gives the digests of NIST's short messages") {
  std::istringstream lines(daywright::test::bytes_of(TEST_DATA "/hash/SHA256ShortMsg.rsp"));
  std::size_t length = 0;
  std::string message;
  std::size_t messages = 0;
  for (std::string line; std::getline(lines, line);) {
    if (line.ends_with('\r')) line.pop_back();
    if (line.starts_with("Len = ")) length = std::stoul(line.substr(6)) / 8;
    if (line.starts_with("Msg = ")) {
      message.clear();
      for (std::size_t i = 0; i < length; ++i)
        message += static_cast<char>(std::stoi(line.substr(6 + 2 * i, 2), nullptr, 16));
    }
    if (!line.starts_with("MD = ")) continue;
    CHECK(sha256_hex(message) == line.substr(5));
    ++messages;
  }
  CHECK(messages == 65);
}

TEST_CASE("a zero byte does not end what is digested") {
  CHECK(sha256_hex("a\0b"s) != sha256_hex("a"));
  CHECK(sha256_hex("a\0"s) != sha256_hex("a"));
  CHECK(sha256_hex("\0"s) != sha256_hex(""));
}

TEST_CASE("flipping any one bit of a message gives another digest") {
  // 56 and 64 bytes are where the padding takes another block.
  for (const std::size_t size : {1U, 55U, 56U, 63U, 64U, 65U}) {
    const std::string message(size, 'x');
    std::set<std::string> digests{sha256_hex(message)};
    for (std::size_t bit = 0; bit < size * 8; ++bit) {
      std::string flipped = message;
      flipped[bit / 8] = static_cast<char>(flipped[bit / 8] ^ (1 << (bit % 8)));
      digests.insert(sha256_hex(flipped));
    }
    CAPTURE(size);
    CHECK(digests.size() == size * 8 + 1);
  }
}

TEST_CASE("a digest is 64 hexadecimal digits in small letters, with leading zeros") {
  bool some_begin_with_zero = false;
  for (int i = 0; i < 300; ++i) {
    const std::string digest = sha256_hex(std::to_string(i));
    CHECK(digest.size() == 64);
    CHECK(digest.find_first_not_of("0123456789abcdef") == std::string::npos);
    some_begin_with_zero = some_begin_with_zero || digest.starts_with('0');
  }
  CHECK(some_begin_with_zero);
}

// Source of the digests of "abc": FIPS 180-4 and FIPS 202, NIST's example values; RFC 1321, A.5.
TEST_CASE("several digests are made in one pass, in whichever pieces the bytes come") {
  using daywright::record::Digester;
  using Digests = std::vector<std::string>;
  Digester digester({"sha512", "md5", "sha3256"});
  const Digests expected{
      "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
      "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",
      "900150983cd24fb0d6963f7d28e17f72", "3a985da74fe225b2045c172d6bd390bd855f086e3e9d525b46bfe24511431532"};
  digester.add("abc");
  CHECK(digester.finish() == expected);
  for (const char* letter : {"a", "", "b", "c"}) digester.add(letter);
  CHECK(digester.finish() == expected);
  CHECK(digester.finish() == Digester({"sha512", "md5", "sha3256"}).finish());
}

TEST_CASE("an algorithm that there is not is not found") {
  using daywright::record::find_digest_algorithm;
  REQUIRE(find_digest_algorithm("sha512") != nullptr);
  CHECK(find_digest_algorithm("sha512")->label == "SHA-512");
  CHECK(find_digest_algorithm("sha512")->digits == 128);
  for (const auto* name : {"", "SHA512", "sha-512", "whirl", "shake128"}) CHECK(find_digest_algorithm(name) == nullptr);
}
