#include "write/options.h"

#include "model/printable.h"
#include "write/caution.h"
#include "write/markdown.h"

namespace daywright::write {

std::string render_options(const model::DayStatus& status) {
  std::string text;
  const bool is_changed = status.find_table("what_if") != nullptr;
  if (is_changed) text += "WHAT-IF, NOT OF RECORD\n\n";
  // A cell has no room for several changes.
  if (const auto* change = status.find("what_if.changed.flight"); change != nullptr)
    text += "Changed: " + model::printable(change->text) + "\n\n";
  for (const char* name : {"what_if", "what_if_items", "extension", "returns"}) {
    const model::Table* table = status.find_table(name);
    if (table == nullptr) continue;
    const bool is_of_plan = is_changed && (table->name == "extension" || table->name == "returns");
    text += table->title + (is_of_plan ? ", as planned" : "") + "\n\n" + render_table(*table, status) + "\n\n";
  }
  return text + std::string(caution) + "\n";
}

}  // namespace daywright::write
