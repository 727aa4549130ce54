// Catch2 version 2 (Debian 12) and 3 (Debian 13) by one name; the only Catch header the tests include.
#pragma once

#if __has_include(<catch2/catch_all.hpp>)
#include <catch2/catch_all.hpp>
using Catch::Approx;
#else
#include <catch2/catch.hpp>
namespace Catch::Matchers {
inline auto ContainsSubstring(const std::string& text, CaseSensitive::Choice choice = CaseSensitive::Yes) {
  return Contains(text, choice);
}
}  // namespace Catch::Matchers
#endif
