// The text files of a bag: their encoding, their lines, the declaration in bagit.txt and the labels of bag-info.txt.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "record/bag.h"
#include "record/bag_findings.h"

namespace daywright::record {

inline constexpr std::string_view declaration_file = "bagit.txt";

enum class TextEncoding { utf8, latin1, utf16, utf16_little, utf16_big, unknown };

/// What bagit.txt says about the rest.
struct BagDeclaration {
  std::string version;  ///< empty: unknown
  /// The rules of 1.0 hold, which earlier bags may break here and there. They hold too where the version is unknown.
  bool is_strict = true;
  TextEncoding encoding = TextEncoding::utf8;
};

struct TextLine {
  std::size_t number = 0;  ///< from 1
  std::string_view text;
  std::string_view end;  ///< "\n", "\r" or "\r\n"; empty: the last line has none
};

/// Goes through a text line by line, so that a text of line ends alone takes no more memory than another.
class TextLines {
 public:
  explicit TextLines(std::string_view text) : rest_(text) {}
  /// False: there is none any more.
  [[nodiscard]] bool next(TextLine& line);

 private:
  std::string_view rest_;
  std::size_t number_ = 0;
};

/// Reads bagit.txt.
[[nodiscard]] BagDeclaration parse_declaration(std::string_view bytes, BagFindings& findings);

/// Another text file of the bag as UTF-8; bytes as they are where the encoding is unknown or broken.
[[nodiscard]] std::string decode_text(std::string_view file, std::string_view bytes, const BagDeclaration& declaration,
                                      BagFindings& findings);

/// The labels of bag-info.txt.
[[nodiscard]] std::vector<BagLabel> parse_labels(std::string_view file, std::string_view text,
                                                 const BagDeclaration& declaration, BagFindings& findings);

}  // namespace daywright::record
