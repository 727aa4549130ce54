// The brief as one tree, from which it is written as CommonMark and as HTML.
//
//   In:  the filled template, the status
//   Out: the tree with tables and charts in place of the lines "@table NAME" and "@chart NAME"
//
// Pure.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "model/status.h"

struct cmark_node;

namespace daywright::write {

class BriefTree {
 public:
  BriefTree(const std::string& text, const model::DayStatus& status);

  /// The lines that name a table or chart that is not there.
  [[nodiscard]] const std::vector<std::string>& unknown_markers() const { return unknown_markers_; }
  [[nodiscard]] std::string as_markdown() const;
  /// The body of a page: what stands before the second heading is its header, and from each such heading on a section.
  [[nodiscard]] std::string as_html() const;

 private:
  struct FreeNode {
    void operator()(cmark_node* node) const;
  };
  /// A node that is written in another way in each format.
  struct Piece {
    cmark_node* node = nullptr;
    std::string markdown;
    std::string html;
  };

  void place_blocks(const std::string& text, const model::DayStatus& status);
  void escape_tildes();
  void mark_verdicts();
  void split_into_sections();
  void write_pieces(std::string Piece::* format) const;

  std::unique_ptr<cmark_node, FreeNode> document_;
  std::vector<Piece> pieces_;
  std::vector<std::string> unknown_markers_;
  std::string end_of_last_;  ///< what closes the last section of the page
};

}  // namespace daywright::write
