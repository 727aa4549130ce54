#include "cli/remake.h"

#include <stdexcept>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/outputs.h"
#include "cli/read_files.h"
#include "cli/session.h"
#include "cli/temporary_folder.h"
#include "record/descriptor.h"
#include "record/output_folder.h"
#include "write/json.h"
#include "write/past_figures.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

std::string read_whole(const fs::path& path) {
  return record::Descriptor(path, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output);
}

std::vector<model::InputFile> read_filed_templates(const fs::path& folder) {
  std::vector<model::InputFile> files;
  const record::Descriptor opened(folder, O_RDONLY | O_DIRECTORY | O_NOFOLLOW);
  for (const auto& name : opened.names()) files.push_back({name, read_whole(folder / name)});
  return files;
}

}  // namespace

Remade remake(const fs::path& place, std::int64_t day) {
  const BriefOnDisk filed(place / "data" / "outputs");
  const auto cutoff = write::find_past_figure(filed.text(status_file), "now.utc");
  if (!cutoff) return {{}, {"can't be made again: its status does not say its cut-off"}};
  Command command;
  command.name = "brief";
  command.cutoff = cutoff->value;
  command.day = static_cast<int>(day);
  const auto archive = filed.filed();
  const Session session = run_files(command, read_mission(place / "data" / "inputs"), archive, true);
  if (!session.result.status)
    return {{},
            {fmt::format("can't be made again: {}",
                         session.result.refusal.empty() ? "its inputs can't be used" : session.result.refusal)}};
  const Templates templates = templates_of(read_filed_templates(place / "data" / "templates"));
  const auto worded = word(templates, *session.result.status);
  if (!worded) return {{}, {"can't be made again: its templates can't be used"}};
  const std::string list = make_inputs_list(templates, session.files, *command.day, archive, {});

  const TemporaryFolder temporary;
  record::OutputFolder folder(temporary.path() / "remade");
  const auto names =
      write_outputs({templates, *worded, *session.result.status, session.result.cutoff}, {}, list, folder);
  std::vector<std::string> others;
  for (const auto& name : names) {
    if (read_whole(folder.path_of(name)) != filed.text(name)) others.push_back(name);
  }
  if (others.empty()) return {};
  const auto changes = write::find_figure_changes(filed.text(status_file), read_whole(folder.path_of(status_file)));
  constexpr std::size_t most_figures = 20;
  const std::string figures = changes.empty() ? "no figure is another" : write::sum_up(changes, most_figures);
  Remade remade;
  if (write::versions_line(list) == write::versions_line(filed.text(inputs_file))) {
    for (const auto& name : others)
      remade.breaks.push_back(
          {"data/outputs/" + name, fmt::format("is not what its inputs give by this very version: {}", figures)});
  } else {
    std::string words;
    for (const auto& name : others) words += (words.empty() ? "" : ", ") + name;
    remade.notes.push_back(fmt::format("another version made it, and this one gives others of {}: {}", words, figures));
  }
  return remade;
}

}  // namespace daywright::cli
