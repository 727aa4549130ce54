#include "cli/outputs.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <functional>
#include <future>
#include <stdexcept>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>

#include "cli/report.h"
#include "cli/save_workbook.h"
#include "cli/templates.h"
#include "cli/temporary_folder.h"
#include "model/printable.h"
#include "record/archive.h"
#include "record/descriptor.h"
#include "record/digest.h"
#include "write/json.h"
#include "write/page.h"
#include "write/past_figures.h"
#include "write/summary.h"
#include "write/workbook.h"

namespace daywright::cli {
namespace {

namespace fs = std::filesystem;

/// What is rendered from a template, or nothing when the template is at fault, which is then said.
template <class Rendered>
std::optional<Rendered> take_sound(Rendered rendered, const Template& used) {
  if (rendered.faults.empty()) return rendered;
  complain(format_report(rendered.faults, std::span(&used.file, 1), used.folder, wants_colour()));
  return std::nullopt;
}

std::string make_brief(const Evening& evening) { return evening.worded.brief.text; }

std::string make_page(const Evening& evening) {
  return write::render_page(evening.worded.brief, evening.templates.style.file.text, evening.status);
}

std::string make_note(const Evening& evening) { return evening.worded.note.text; }

std::string make_status(const Evening& evening) { return write::render_status(evening.status, versions()); }

void make_workbook(const Evening& evening, const fs::path& path) {
  save_workbook(
      write::lay_out_workbook(evening.status, evening.cutoff, write::five_lines_of(evening.worded.brief.text)), path);
}

/// One output of `brief`: what --only calls it, its file, and how it is made: as a text, or saved by a library that
/// writes files by itself.
struct Output {
  std::string_view name;
  std::string_view file;
  std::string (*text)(const Evening&) = nullptr;
  void (*saved)(const Evening&, const fs::path&) = nullptr;
};
constexpr std::array outputs{
    Output{.name = "md", .file = brief_file, .text = make_brief},
    Output{.name = "html", .file = page_file, .text = make_page},
    Output{.name = "xlsx", .file = "brief.xlsx", .saved = make_workbook},
    Output{.name = "note", .file = "note.txt", .text = make_note},
    Output{.name = "json", .file = status_file, .text = make_status},
};

/// A way to get a template: nothing where it is not there.
using FindTemplate = std::function<std::optional<Template>(std::string_view name)>;

Templates gather(const FindTemplate& find) {
  bool is_any_found = false;
  const auto take = [&](std::string_view name, std::string_view built_in) -> Template {
    auto found = find(name);
    is_any_found = is_any_found || found;
    if (found) return std::move(*found);
    return {{std::string(name), std::string(built_in)}, "(built-in)"};
  };
  Templates templates{take(brief_template_name, brief_template), take(brief_style_name, brief_style),
                      take(note_template_name, note_template)};
  templates.is_any_found = is_any_found;
  return templates;
}

/// The templates that a brief was made with. Throws std::runtime_error where those at hand are others.
Templates templates_at_hand(const BriefOnDisk& brief, const Command& command) {
  Templates templates = read_templates(command.templates);
  const auto others = write::changed_templates(brief.text(inputs_file), list_templates(templates));
  if (!others.empty())
    throw std::runtime_error(fmt::format(
        "this brief was made with another '{}'; give the --templates that it was made with", others.front()));
  return templates;
}

[[noreturn]] void refuse_changed(const Output& output) {
  throw std::runtime_error(fmt::format(
      "'{}' was changed after it was made, and is not what the inputs give; make the brief again and read it",
      output.file));
}

/// Throws std::runtime_error where the archive is not one that a brief can have seen.
void require_witnessed(const model::Filed& filed, const fs::path& mission) {
  if (filed.count == 0) return;
  const auto days = record::read_archive(mission / record::archive_folder).days;
  const auto count = static_cast<std::size_t>(filed.count);
  if (count > days.size() || days[count - 1].digest != filed.digest)
    throw std::runtime_error(
        "the archive is not the one that this brief was made with: days that it names are not there; if they were "
        "moved on "
        "purpose, make the brief again and read it");
}

}  // namespace

std::vector<std::string> output_names() {
  std::vector<std::string> names;
  for (const auto& output : outputs) names.emplace_back(output.name);
  return names;
}

std::vector<std::string> output_files() {
  std::vector<std::string> files{inputs_file};
  for (const auto& output : outputs) files.emplace_back(output.file);
  std::sort(files.begin(), files.end());
  return files;
}

bool makes_output(const std::vector<std::string>& only, std::string_view name) {
  return only.empty() || std::find(only.begin(), only.end(), name) != only.end();
}

std::vector<const model::InputFile*> Templates::files() const { return {&style.file, &brief.file, &note.file}; }

Templates read_templates(const std::optional<fs::path>& folder) {
  auto templates = gather([&](std::string_view name) -> std::optional<Template> {
    if (!folder || !fs::exists(*folder / name)) return std::nullopt;
    return Template{{std::string(name), read_file(*folder / name)}, folder->string()};
  });
  templates.is_any_found = templates.is_any_found || !folder;
  return templates;
}

Templates templates_of(const std::vector<model::InputFile>& files) {
  return gather([&](std::string_view name) -> std::optional<Template> {
    const auto found = std::find_if(files.begin(), files.end(), [&](const auto& file) { return file.name == name; });
    if (found == files.end()) return std::nullopt;
    return Template{*found, "templates"};
  });
}

std::optional<Worded> word(const Templates& templates, const model::DayStatus& status) {
  auto brief = take_sound(write::render_brief(templates.brief.file.text, status), templates.brief);
  auto note = take_sound(write::render_note(templates.note.file.text, status), templates.note);
  if (!brief || !note) return std::nullopt;
  return Worded{std::move(*brief), std::move(*note)};
}

std::vector<write::InputRecord> list_templates(const Templates& templates) {
  std::vector<write::InputRecord> records;
  for (const auto* file : templates.files())
    records.push_back({"templates/" + file->name, file->text.size(), record::sha256_hex(file->text)});
  return records;
}

std::string make_inputs_list(const Templates& templates, const MissionFiles& files, int day, const model::Filed& filed,
                             const std::vector<std::string>& only) {
  auto records = list_mission_files(files, day);
  for (auto& record : list_templates(templates)) records.push_back(std::move(record));
  return write::render_inputs(records, filed, versions(), only);
}

std::vector<std::string> write_outputs(const Evening& evening, const std::vector<std::string>& only,
                                       const std::string& inputs_list, record::OutputFolder& folder) {
  std::vector<const Output*> wanted;
  for (const auto& output : outputs) {
    if (makes_output(only, output.name)) wanted.push_back(&output);
  }
  // The workbook takes as long as all the rest, so it is made beside it.
  std::vector<std::future<void>> saving;
  for (const Output* output : wanted) {
    if (output->saved != nullptr)
      saving.push_back(std::async(std::launch::async, output->saved, std::cref(evening), folder.path_of(output->file)));
  }
  for (const Output* output : wanted) {
    if (output->text != nullptr) folder.write(output->file, output->text(evening));
  }
  folder.write(inputs_file, inputs_list);
  for (auto& saved : saving) saved.get();
  std::vector<std::string> names;
  for (const Output* output : wanted) {
    if (output->saved != nullptr) folder.keep(output->file);
    names.emplace_back(output->file);
  }
  names.emplace_back(inputs_file);
  return names;
}

BriefOnDisk::BriefOnDisk(const fs::path& place) {
  try {
    const record::Descriptor folder(place, O_RDONLY | O_DIRECTORY);
    for (const auto& name : folder.names())
      files_.push_back(
          {name, record::Descriptor(folder, name, O_RDONLY | O_NOFOLLOW | O_NONBLOCK).read_regular(largest_output)});
  } catch (const std::system_error& error) {
    throw std::runtime_error(fmt::format("there is no whole brief to sign or file: {}", error.what()));
  }
  std::vector<std::string> names;
  for (const auto& file : files_) names.push_back(file.name);
  if (names != output_files())
    throw std::runtime_error(fmt::format("'{}' does not hold the outputs of a whole brief", place.string()));
}

const std::string& BriefOnDisk::text(std::string_view name) const {
  const auto found = std::find_if(files_.begin(), files_.end(), [&](const auto& file) { return file.name == name; });
  assert(found != files_.end());
  return found->text;
}

std::vector<model::SignedFile> BriefOnDisk::digests() const {
  std::vector<model::SignedFile> digests;
  for (const auto& file : files_)
    digests.push_back({file.name, static_cast<std::int64_t>(file.text.size()), record::sha256_hex(file.text)});
  return digests;
}

model::Filed BriefOnDisk::filed() const { return write::read_filed(text(inputs_file)).value_or(model::Filed{}); }

BriefSession run_as_brief(const Command& command, bool is_to_be_tried) {
  MissionFiles files = read_mission(command.folder);
  std::optional<BriefOnDisk> brief;
  try {
    brief.emplace(day_folder(command, day_of(command, files)));
  } catch (const std::runtime_error& error) {
    return {run_mission(command, is_to_be_tried), std::nullopt, error.what()};
  }
  Command as_made = command;
  const auto cutoff = write::find_past_figure(brief->text(status_file), "now.utc");
  if (cutoff && !command.cutoff) as_made.cutoff = cutoff->value;
  const auto filed = brief->filed();
  return {run_files(as_made, std::move(files), filed, is_to_be_tried), std::move(brief), ""};
}

Templates require_current(const BriefOnDisk& brief, const Session& session, const Command& command) {
  const std::string& listed = brief.text(inputs_file);
  if (write::is_list_of_part(listed))
    throw std::runtime_error("this is a part of a brief, which can't be signed or filed");
  require_witnessed(brief.filed(), command.folder);
  const auto changed = write::changed_inputs(listed, list_mission_files(session.files, session.result.day));
  if (!changed.empty())
    throw std::runtime_error(fmt::format(
        "the inputs have changed since this brief was made ('{}'{}); make it again and read it",
        model::printable(changed.front()), changed.size() == 1 ? "" : fmt::format(" and {} more", changed.size() - 1)));
  if (brief.text(status_file) != write::render_status(*session.result.status, versions()))
    throw std::runtime_error(
        "this brief is not what the inputs give: it has another cut-off than was asked for, was made by another "
        "version of "
        "the program, or was changed; make it again and read it");
  Templates templates = templates_at_hand(brief, command);
  const auto worded = word(templates, *session.result.status);
  if (!worded) throw std::runtime_error("the templates of this brief can't be used");
  const Evening evening{templates, *worded, *session.result.status, session.result.cutoff};
  for (const auto& output : outputs) {
    if (output.text != nullptr && brief.text(output.file) != output.text(evening)) refuse_changed(output);
  }
  return templates;
}

void require_same_workbook(const BriefOnDisk& brief, const Session& session, const Templates& templates) {
  const auto worded = word(templates, *session.result.status);
  if (!worded) throw std::runtime_error("the templates of this brief can't be used");
  const Evening evening{templates, *worded, *session.result.status, session.result.cutoff};
  const TemporaryFolder folder;
  for (const auto& output : outputs) {
    if (output.saved == nullptr) continue;
    output.saved(evening, folder.path() / output.file);
    if (brief.text(output.file) != read_file(folder.path() / output.file)) refuse_changed(output);
  }
}

}  // namespace daywright::cli
