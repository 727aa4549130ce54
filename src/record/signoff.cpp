#include "record/signoff.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "record/canonical_json.h"

namespace daywright::record {
namespace {

using model::SignOff;

constexpr std::string_view schema = "daywright sign-off 1";
constexpr std::string_view clock_source = "system clock, not attested";

// Bytes: a name fits on a line, a remark is a few sentences.
constexpr std::size_t longest_name = 200;
constexpr std::size_t longest_text = 4000;
constexpr std::size_t most_entries = 200;

constexpr std::array<std::pair<std::string_view, model::SignOffAct>, 4> act_words{
    {{"call", model::SignOffAct::call},
     {"decision", model::SignOffAct::decision},
     {"withdrawal", model::SignOffAct::withdrawal},
     {"acceptance", model::SignOffAct::acceptance}}};
constexpr std::array calls{model::Call::go, model::Call::go_with_conditions, model::Call::no_go, model::Call::abstain};

Json text(std::string_view value) { return {std::string(value)}; }
Json text_or_null(const std::string& value) { return value.empty() ? Json{} : text(value); }
Json whole_or_null(const std::optional<std::int64_t>& value) { return value ? Json{*value} : Json{}; }

template <class Values, class Convert>
Json list_of(const Values& values, const Convert& convert) {
  Json::List list;
  for (const auto& value : values) list.push_back(convert(value));
  return {std::move(list)};
}

bool is_digest(std::string_view text) {
  return text.size() == no_record.size() && text.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

/// "SHA256:" and 43 letters of base64, as ssh-keygen prints the fingerprint of a key.
bool is_fingerprint(std::string_view text) {
  constexpr std::string_view prefix = "SHA256:";
  constexpr std::size_t letters = 43;
  const auto is_base64 = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '+' || c == '/';
  };
  return text.size() == prefix.size() + letters && text.starts_with(prefix) &&
         std::all_of(text.begin() + prefix.size(), text.end(), is_base64);
}

bool is_id(std::string_view text) {
  return !text.empty() && text.size() <= longest_name &&
         text.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_") == std::string_view::npos;
}

/// A file within the folder of outputs: no folder, nothing hidden, and nothing that leads out of it.
bool is_file_name(std::string_view text) {
  const auto is_portable = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '.' || c == '_' || c == '-';
  };
  return !text.empty() && text.size() <= longest_name && text.front() != '.' &&
         std::all_of(text.begin(), text.end(), is_portable);
}

/// Takes the members of a record one by one and keeps what is wrong with the first that is.
class Members {
 public:
  Members(const Json& json, std::string& fault) : json_(json), fault_(fault) {}

  const Json& at(std::string_view name) {
    static const Json nothing;
    const Json* found = json_.find(name);
    if (found == nullptr) fail(name, "is missing");
    return found == nullptr ? nothing : *found;
  }
  template <class Value>
  Value get(std::string_view name, const char* expected) {
    const Json& json = at(name);
    if (const auto* value = std::get_if<Value>(&json.value)) return *value;
    fail(name, expected);
    return {};
  }
  std::string line(std::string_view name, std::size_t most = longest_name) {
    auto value = get<std::string>(name, "is no text");
    if (const auto wrong = model::fault_of_line(value, most); !wrong.empty()) fail(name, wrong);
    return value;
  }
  std::string filled_line(std::string_view name, std::size_t most = longest_name) {
    auto value = line(name, most);
    if (value.empty()) fail(name, "is empty");
    return value;
  }
  std::string checked(std::string_view name, bool (*is_good)(std::string_view)) {
    auto value = get<std::string>(name, "is no text");
    if (!is_good(value)) fail(name, "has another form");
    return value;
  }
  std::string checked_or_null(std::string_view name, bool (*is_good)(std::string_view)) {
    return std::holds_alternative<std::nullptr_t>(at(name).value) ? "" : checked(name, is_good);
  }
  std::int64_t counted(std::string_view name, std::int64_t least) {
    const auto value = get<std::int64_t>(name, "is no whole number");
    if (value < least) fail(name, "is too small");
    return value;
  }
  template <class Value, class Read>
  std::vector<Value> list(std::string_view name, const Read& read) {
    std::vector<Value> values;
    for (const auto& entry : get<Json::List>(name, "is no list")) {
      Members members(entry, fault_);
      values.push_back(read(members));
    }
    if (values.size() > most_entries) fail(name, "is too long");
    return values;
  }
  void fail(std::string_view name, std::string_view what) {
    if (fault_.empty()) fault_ = fmt::format("'{}' {}", name, what);
  }

 private:
  const Json& json_;
  std::string& fault_;
};

SignOff read(const Json& json, std::string& fault) {
  Members in(json, fault);
  SignOff signoff;
  if (in.get<std::string>("schema", "is no text") != schema) in.fail("schema", "is not one that is known");
  signoff.number = in.counted("number", 1);
  signoff.previous = in.checked("previous", is_digest);
  const auto act = in.get<std::string>("act", "is no text");
  const auto* known = std::find_if(act_words.begin(), act_words.end(), [&](auto& word) { return word.first == act; });
  if (known == act_words.end()) {
    in.fail("act", "is not one that is known");
  } else {
    signoff.act = known->second;
  }
  const bool has_call = !std::holds_alternative<std::nullptr_t>(in.at("call").value);
  if (has_call) {
    const auto word = in.get<std::string>("call", "is no text");
    for (const auto call : calls) {
      if (words(call) == word) signoff.call = call;
    }
  }
  const bool is_acceptance = signoff.act == model::SignOffAct::acceptance;
  const bool needs_call = signoff.act != model::SignOffAct::withdrawal && !is_acceptance;
  if (signoff.call.has_value() != needs_call) in.fail("call", "does not go with 'act'");
  signoff.day = in.counted("day", 1);
  signoff.revision = in.counted("revision", 1);
  signoff.gate = in.checked_or_null("gate", is_id);
  if (is_acceptance && !signoff.gate.empty()) in.fail("gate", "does not go with 'act'");
  signoff.subjects = in.list<model::SignedFile>("subjects", [](Members& file) {
    return model::SignedFile{file.checked("path", is_file_name), file.counted("size", 0),
                             file.checked("sha256", is_digest)};
  });
  std::set<std::string> paths;
  for (const auto& subject : signoff.subjects) paths.insert(subject.path);
  if (paths.size() != signoff.subjects.size() || paths.empty()) in.fail("subjects", "is empty or names a file twice");
  if (signoff.act != model::SignOffAct::withdrawal && is_of_handover(signoff) != is_acceptance)
    in.fail("subjects", "does not go with 'act'");
  signoff.verdicts = in.list<model::SeenVerdict>("verdicts", [](Members& seen) {
    return model::SeenVerdict{seen.checked("gate", is_id), seen.filled_line("verdict")};
  });
  signoff.limiting = in.line("limiting", longest_text);
  signoff.statement = in.filled_line("statement", longest_text);
  signoff.remark = in.line("remark", longest_text);
  signoff.conditions = in.list<model::CallCondition>("conditions", [](Members& condition) {
    return model::CallCondition{condition.filled_line("text", longest_text), condition.checked("owner", is_id)};
  });
  if ((signoff.call == model::Call::go_with_conditions) == signoff.conditions.empty())
    in.fail("conditions", "do not go with 'call'");
  const bool is_refusal = signoff.call == model::Call::no_go || signoff.act == model::SignOffAct::withdrawal;
  if (is_refusal && signoff.remark.empty()) in.fail("remark", "is empty, and a NO-GO or a withdrawal needs one");
  if (!std::holds_alternative<std::nullptr_t>(in.at("supersedes").value)) {
    signoff.supersedes = in.counted("supersedes", 1);
    if (*signoff.supersedes >= signoff.number) in.fail("supersedes", "is no earlier record");
  } else if (signoff.act == model::SignOffAct::withdrawal) {
    in.fail("supersedes", "is nothing, and a withdrawal takes something back");
  }
  Members signer(in.at("signer"), fault);
  signoff.signer = {signer.checked("principal", model::is_principal), signer.filled_line("name"),
                    signer.checked("role", is_id), signer.checked_or_null("key", is_fingerprint)};
  const auto when = in.get<std::string>("signed_at", "is no text");
  const auto parsed = model::parse_utc(when);
  if (!parsed.value || format_rfc3339(*parsed.value) != when) {
    in.fail("signed_at", "is no time such as 2031-05-13T22:00:00Z");
  } else {
    signoff.signed_at = *parsed.value;
  }
  signoff.is_after_previous = Members(in.at("clock"), fault).get<bool>("after_previous", "is not yes or no");
  signoff.program = in.filled_line("program");
  return signoff;
}

}  // namespace

std::string format_rfc3339(model::Instant when) {
  const auto day = std::chrono::floor<std::chrono::days>(when);
  const std::chrono::year_month_day date{day};
  const std::chrono::hh_mm_ss time{std::chrono::floor<std::chrono::seconds>(when - day)};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), time.hours().count(),
                     time.minutes().count(), time.seconds().count());
}

std::string render_signoff(const SignOff& signoff) {
  const auto* act = std::find_if(act_words.begin(), act_words.end(), [&](auto& w) { return w.second == signoff.act; });
  return render_canonical({Json::Object{
      {"schema", text(schema)},
      {"number", {signoff.number}},
      {"previous", text(signoff.previous)},
      {"act", text(act->first)},
      {"call", signoff.call ? text(words(*signoff.call)) : Json{}},
      {"day", {signoff.day}},
      {"revision", {signoff.revision}},
      {"gate", text_or_null(signoff.gate)},
      {"subjects", list_of(signoff.subjects,
                           [](const auto& file) {
                             return Json{Json::Object{
                                 {"path", text(file.path)}, {"size", {file.size}}, {"sha256", text(file.sha256)}}};
                           })},
      {"verdicts", list_of(signoff.verdicts,
                           [](const auto& seen) {
                             return Json{Json::Object{{"gate", text(seen.gate)}, {"verdict", text(seen.verdict)}}};
                           })},
      {"limiting", text(signoff.limiting)},
      {"statement", text(signoff.statement)},
      {"remark", text(signoff.remark)},
      {"conditions", list_of(signoff.conditions,
                             [](const auto& condition) {
                               return Json{
                                   Json::Object{{"text", text(condition.text)}, {"owner", text(condition.owner)}}};
                             })},
      {"supersedes", whole_or_null(signoff.supersedes)},
      {"signer",
       {Json::Object{{"principal", text(signoff.signer.principal)},
                     {"name", text(signoff.signer.name)},
                     {"role", text(signoff.signer.role)},
                     {"key", text_or_null(signoff.signer.key)}}}},
      {"signed_at", text(format_rfc3339(signoff.signed_at))},
      {"clock", {Json::Object{{"source", text(clock_source)}, {"after_previous", {signoff.is_after_previous}}}}},
      {"program", text(signoff.program)},
  }});
}

std::variant<SignOff, std::string> parse_signoff(std::string_view bytes) {
  if (bytes.size() > largest_record) return fmt::format("is longer than {} bytes", largest_record);
  const auto json = parse_canonical(bytes);
  if (const auto* fault = std::get_if<JsonFault>(&json))
    return fmt::format("is not canonical JSON at byte {}: {}", fault->offset + 1, fault->text);
  std::string fault;
  SignOff signoff = read(std::get<Json>(json), fault);
  if (!fault.empty()) return fault;
  // Whatever was not asked for above makes other bytes.
  if (render_signoff(signoff) != bytes) return "has members that no sign-off has";
  return signoff;
}

}  // namespace daywright::record
