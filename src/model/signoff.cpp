#include "model/signoff.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <map>
#include <memory>
#include <set>
#include <stdexcept>

#include <fmt/format.h>
#include <unicode/unistr.h>
#include <unicode/uspoof.h>
#include <utf8proc.h>

#include "model/printable.h"

namespace daywright::model {
namespace {

bool is_letter_or_digit(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9'); }

/// Requires that `text` is UTF-8 without NUL.
bool is_normal_form(std::string_view text) {
  const std::string given(text);
  const std::unique_ptr<utf8proc_uint8_t, decltype(&std::free)> normal(
      utf8proc_NFC(reinterpret_cast<const utf8proc_uint8_t*>(given.c_str())), &std::free);
  return normal != nullptr && given == reinterpret_cast<const char*>(normal.get());
}

/// A run of code points that one of the alphabets has; those of one alphabet have one number.
struct AlphabetRange {
  utf8proc_int32_t first;
  utf8proc_int32_t last;
  unsigned alphabet;
};
constexpr std::array<AlphabetRange, 10> alphabets{{{'A', 'Z', 0},
                                                   {'a', 'z', 0},
                                                   {0x00C0, 0x024F, 0},
                                                   {0x1E00, 0x1EFF, 0},
                                                   {0xFF21, 0xFF5A, 0},
                                                   {0x0370, 0x03FF, 1},
                                                   {0x1F00, 0x1FFF, 1},
                                                   {0x0400, 0x052F, 2},
                                                   {0x2DE0, 0x2DFF, 2},
                                                   {0x0530, 0x058F, 3}}};

}  // namespace

std::string_view words(Call call) {
  switch (call) {
    case Call::go: return "GO";
    case Call::go_with_conditions: return "GO WITH CONDITIONS";
    case Call::no_go: return "NO-GO";
    case Call::abstain: break;
  }
  return "ABSTAIN";
}

std::string fault_of_line(std::string_view text, std::size_t most) {
  if (text.size() > most) return fmt::format("is longer than {} bytes", most);
  // What is hidden, and every byte that is not UTF-8, is shown in another way than it stands.
  if (printable(text) != text) return "holds line breaks, hidden characters or bytes that are not UTF-8";
  if (!is_normal_form(text)) return "is not in Unicode normal form C";
  if (text.starts_with(' ') || text.ends_with(' ')) return "begins or ends with a blank";
  return {};
}

bool is_principal(std::string_view text) {
  constexpr std::size_t most = 100;
  constexpr std::string_view others = "._@+-";
  return !text.empty() && text.size() <= most && is_letter_or_digit(text.front()) &&
         std::all_of(text.begin(), text.end(),
                     [&](char c) { return is_letter_or_digit(c) || others.find(c) != std::string_view::npos; });
}

bool can_supersede(const SignOff& later, const SignOff& earlier) {
  const bool is_of_the_same = later.signer.principal == earlier.signer.principal &&
                              later.signer.role == earlier.signer.role && later.gate == earlier.gate &&
                              later.day == earlier.day;
  // Without a signature nothing proves that it is the same person.
  const bool is_proved = earlier.signer.key.empty() || !later.signer.key.empty();
  return is_of_the_same && is_proved && earlier.act != SignOffAct::withdrawal &&
         (later.act == SignOffAct::withdrawal || later.act == earlier.act);
}

bool is_of_handover(const SignOff& signoff) {
  return signoff.subjects.size() == 1 && signoff.subjects.front().path == handover_file;
}

std::vector<const SignOff*> standing(const std::vector<SignOff>& records) {
  std::set<std::int64_t> superseded;
  std::map<std::int64_t, const SignOff*> last_acceptance;  // by day
  for (const auto& record : records) {
    if (record.supersedes) superseded.insert(*record.supersedes);
  }
  for (const auto& record : records) {
    if (record.act == SignOffAct::acceptance && !superseded.contains(record.number))
      last_acceptance[record.day] = &record;
  }
  const auto is_handed_on = [&](const SignOff& record) {
    return record.act == SignOffAct::acceptance && record.subjects != last_acceptance.at(record.day)->subjects;
  };
  std::vector<const SignOff*> left;
  for (const auto& record : records) {
    const bool is_over = superseded.contains(record.number) || is_handed_on(record);
    if (record.act != SignOffAct::withdrawal && !is_over) left.push_back(&record);
  }
  return left;
}

bool mixes_alphabets(std::string_view text) {
  unsigned seen = 0;
  const auto* bytes = reinterpret_cast<const utf8proc_uint8_t*>(text.data());
  for (std::size_t at = 0; at < text.size();) {
    utf8proc_int32_t code = -1;
    const auto length = utf8proc_iterate(bytes + at, static_cast<utf8proc_ssize_t>(text.size() - at), &code);
    at += static_cast<std::size_t>(std::max<utf8proc_ssize_t>(length, 1));
    for (const auto& range : alphabets) {
      if (code >= range.first && code <= range.last) seen |= 1U << range.alphabet;
    }
  }
  return (seen & (seen - 1)) != 0;
}

bool look_alike(std::string_view one, std::string_view other) {
  // Opened once: it takes longer than all the names of a mission.
  static const auto checker = [] {
    UErrorCode error = U_ZERO_ERROR;
    std::unique_ptr<USpoofChecker, decltype(&uspoof_close)> opened(uspoof_open(&error), &uspoof_close);
    uspoof_setChecks(opened.get(), USPOOF_CONFUSABLE, &error);
    return U_SUCCESS(error) ? std::move(opened) : decltype(opened)(nullptr, &uspoof_close);
  }();
  if (checker == nullptr) throw std::runtime_error("the list of letters that look alike can't be read");
  const auto skeleton = [&](std::string_view text, bool is_folded) {
    auto wide = icu::UnicodeString::fromUTF8({text.data(), static_cast<std::int32_t>(text.size())});
    if (is_folded) wide.foldCase();
    UErrorCode error = U_ZERO_ERROR;
    icu::UnicodeString made;
    uspoof_getSkeletonUnicodeString(checker.get(), 0, wide, made, &error);
    if (U_FAILURE(error) != 0) throw std::runtime_error("a name can't be compared with others");
    return made;
  };
  return skeleton(one, false) == skeleton(other, false) || skeleton(one, true) == skeleton(other, true);
}

}  // namespace daywright::model
