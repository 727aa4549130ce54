#include "write/brief_tree.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <optional>
#include <string_view>

#include <cmark.h>

#include "write/charts.h"
#include "write/html.h"
#include "write/markdown.h"

namespace daywright::write {
namespace {

using model::DayStatus;
using model::Verdict;

std::vector<std::string_view> lines_of(std::string_view text) {
  std::vector<std::string_view> lines;
  for (std::size_t begin = 0; begin <= text.size();) {
    const auto end = std::min(text.find('\n', begin), text.size());
    lines.push_back(text.substr(begin, end - begin));
    begin = end + 1;
  }
  return lines;
}

/// The nodes of a kind, in the order in which they are read.
std::vector<cmark_node*> nodes_of(cmark_node* document, cmark_node_type type) {
  std::vector<cmark_node*> found;
  const std::unique_ptr<cmark_iter, decltype(&cmark_iter_free)> walk(cmark_iter_new(document), &cmark_iter_free);
  for (auto event = cmark_iter_next(walk.get()); event != CMARK_EVENT_DONE; event = cmark_iter_next(walk.get())) {
    cmark_node* node = cmark_iter_get_node(walk.get());
    if (event == CMARK_EVENT_ENTER && cmark_node_get_type(node) == type) found.push_back(node);
  }
  return found;
}

/// The text of a node that holds nothing but text.
std::string text_within(cmark_node* node) {
  std::string text;
  for (cmark_node* child = cmark_node_first_child(node); child != nullptr; child = cmark_node_next(child)) {
    if (cmark_node_get_type(child) != CMARK_NODE_TEXT) return {};
    text += cmark_node_get_literal(child);
  }
  return text;
}

std::optional<Verdict> verdict_called(std::string_view text) {
  for (const Verdict verdict : {Verdict::ready, Verdict::ready_with_conditions, Verdict::not_ready, Verdict::no_data}) {
    if (text == model::words(verdict)) return verdict;
  }
  return std::nullopt;
}

/// Whether the heading above, with nothing but charts between, is the title of the table.
bool is_title_above(cmark_node* node, const model::Table& table) {
  cmark_node* above = cmark_node_previous(node);
  while (above != nullptr && cmark_node_get_type(above) == CMARK_NODE_CUSTOM_BLOCK) above = cmark_node_previous(above);
  return above != nullptr && cmark_node_get_type(above) == CMARK_NODE_HEADING && text_within(above) == table.title;
}

}  // namespace

void BriefTree::FreeNode::operator()(cmark_node* node) const { cmark_node_free(node); }

BriefTree::BriefTree(const std::string& text, const DayStatus& status)
    : document_(cmark_parse_document(text.data(), text.size(), CMARK_OPT_VALIDATE_UTF8)) {
  escape_tildes();
  mark_verdicts();
  place_blocks(text, status);
  split_into_sections();
}

void BriefTree::place_blocks(const std::string& text, const DayStatus& status) {
  const auto lines = lines_of(text);
  const auto replace = [&](cmark_node* node, cmark_node* block) {
    cmark_node_replace(node, block);
    cmark_node_free(node);
  };
  constexpr std::string_view table_marker = "@table ";
  constexpr std::string_view chart_marker = "@chart ";
  for (cmark_node* node = cmark_node_first_child(document_.get()); node != nullptr;) {
    cmark_node* const next = cmark_node_next(node);
    const auto number = static_cast<std::size_t>(cmark_node_get_start_line(node));
    const bool is_line = cmark_node_get_type(node) == CMARK_NODE_PARAGRAPH && number >= 1 && number <= lines.size() &&
                         cmark_node_get_end_line(node) == static_cast<int>(number);
    const std::string_view line = is_line ? lines[number - 1] : std::string_view{};
    if (line.starts_with(table_marker)) {
      if (const auto* table = status.find_table(std::string(line.substr(table_marker.size())))) {
        cmark_node* block = cmark_node_new(CMARK_NODE_CUSTOM_BLOCK);
        replace(node, block);
        pieces_.push_back(
            {block, render_table(*table, status), render_html_table(*table, status, is_title_above(block, *table))});
      } else {
        unknown_markers_.emplace_back(line);
      }
    } else if (line.starts_with(chart_marker)) {
      if (auto chart = render_chart(line.substr(chart_marker.size()), status)) {
        cmark_node* block = cmark_node_new(CMARK_NODE_CUSTOM_BLOCK);
        replace(node, block);
        pieces_.push_back({block, "", *std::move(chart)});  // Markdown has no drawings: the tables say it all
      } else {
        unknown_markers_.emplace_back(line);
      }
    }
    node = next;
  }
}

/// cmark writes a tilde as it is, but three of them open a block of code and two strike text out elsewhere.
void BriefTree::escape_tildes() {
  for (cmark_node* node : nodes_of(document_.get(), CMARK_NODE_TEXT)) {
    std::string rest = cmark_node_get_literal(node);
    if (rest.find('~') == std::string::npos) continue;
    for (auto at = rest.find('~'); at != std::string::npos; at = rest.find('~')) {
      cmark_node* before = cmark_node_new(CMARK_NODE_TEXT);
      cmark_node_set_literal(before, rest.substr(0, at).c_str());
      cmark_node_insert_before(node, before);
      cmark_node* tilde = cmark_node_new(CMARK_NODE_CUSTOM_INLINE);
      cmark_node_insert_before(node, tilde);
      pieces_.push_back({tilde, "\\~", "~"});
      rest.erase(0, at + 1);
    }
    cmark_node_set_literal(node, rest.c_str());
  }
}

/// A verdict that the template sets in bold gets its mark.
void BriefTree::mark_verdicts() {
  for (cmark_node* node : nodes_of(document_.get(), CMARK_NODE_STRONG)) {
    const auto verdict = verdict_called(text_within(node));
    if (!verdict) continue;
    cmark_node* mark = cmark_node_new(CMARK_NODE_CUSTOM_INLINE);
    cmark_node_prepend_child(node, mark);
    pieces_.push_back({mark, "", verdict_mark(*verdict)});
  }
}

void BriefTree::split_into_sections() {
  end_of_last_ = "</header>\n";
  const auto border = [&](std::string html) {
    cmark_node* node = cmark_node_new(CMARK_NODE_CUSTOM_BLOCK);
    pieces_.push_back({node, "", std::move(html)});
    return node;
  };
  std::vector<cmark_node*> begins;
  for (cmark_node* node = cmark_node_first_child(document_.get()); node != nullptr; node = cmark_node_next(node)) {
    constexpr int section_level = 2;
    if (cmark_node_get_type(node) == CMARK_NODE_HEADING && cmark_node_get_heading_level(node) == section_level)
      begins.push_back(node);
  }
  cmark_node_prepend_child(document_.get(), border("<header>"));
  for (cmark_node* node : begins) {
    cmark_node_insert_before(node, border(end_of_last_ + "<section>"));
    end_of_last_ = "</section>\n";
  }
}

void BriefTree::write_pieces(std::string Piece::* format) const {
  for (const Piece& piece : pieces_) cmark_node_set_on_enter(piece.node, (piece.*format).c_str());
}

std::string BriefTree::as_markdown() const {
  write_pieces(&Piece::markdown);
  // Width 0: a wrapped pipe table would be joined into one line and lost.
  const std::unique_ptr<char, decltype(&free)> text(cmark_render_commonmark(document_.get(), CMARK_OPT_DEFAULT, 0),
                                                    &free);
  return text.get();
}

std::string BriefTree::as_html() const {
  write_pieces(&Piece::html);
  const std::unique_ptr<char, decltype(&free)> html(cmark_render_html(document_.get(), CMARK_OPT_DEFAULT), &free);
  return html.get() + end_of_last_;  // not a node at the end, which would be an empty line of the Markdown
}

}  // namespace daywright::write
