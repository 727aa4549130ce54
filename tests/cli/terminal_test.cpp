// What is found out of the terminal and the desktop. The environment is the test's own.
#include "cli/terminal.h"

#include <cstdlib>
#include <map>
#include <string>

#include <unistd.h>

#include "catch_compat.h"
#include "temporary_folder.h"

using daywright::cli::open_page;
using daywright::cli::read_terminal;
using daywright::test::bytes_of;
using daywright::test::put;
using daywright::test::TemporaryFolder;

namespace {

using Variables = std::map<std::string, std::string>;

/// Variables of the environment for one test, as they were before afterwards. Empty: not set.
class Environment {
 public:
  explicit Environment(const Variables& values) {
    for (const auto& [name, value] : values) {
      const char* old = std::getenv(name.c_str());
      before_[name] = old == nullptr ? "" : old;
      set(name, value);
    }
  }
  ~Environment() {
    for (const auto& [name, value] : before_) set(name, value);
  }
  Environment(const Environment&) = delete;
  Environment(Environment&&) = delete;
  Environment& operator=(const Environment&) = delete;
  Environment& operator=(Environment&&) = delete;

 private:
  static void set(const std::string& name, const std::string& value) {
    if (value.empty()) {
      ::unsetenv(name.c_str());
    } else {
      ::setenv(name.c_str(), value.c_str(), 1);
    }
  }
  Variables before_;
};

/// An xdg-open of our own that writes down what it was called with and ends with `code`.
void put_opener(const std::filesystem::path& folder, int code) {
  const auto script = folder / "xdg-open";
  put(script,
      "#!/bin/sh\nprintf '%s\\n' \"$@\" >'" + (folder / "called").string() + "'\nexit " + std::to_string(code) + "\n");
  std::filesystem::permissions(script, std::filesystem::perms::owner_all);
}

}  // namespace

TEST_CASE("the width of the terminal is what COLUMNS says, within reason") {
  const auto width = [](const char* columns) {
    const Environment environment(Variables{{"COLUMNS", columns}});
    return read_terminal().width;
  };
  CHECK(width("100") == 100);
  CHECK(width("7") == 40);
  CHECK(width("100000") == 500);
  CHECK(width("wide") >= 40);
}

TEST_CASE("UTF-8 is shown where the first of the variables that decide it says so") {
  const auto is_utf8 = [](const char* all, const char* ctype, const char* lang) {
    const Environment environment(Variables{{"LC_ALL", all}, {"LC_CTYPE", ctype}, {"LANG", lang}});
    return read_terminal().is_utf8;
  };
  CHECK(is_utf8("", "", "de_DE.UTF-8"));
  CHECK(is_utf8("", "C.utf8", "C"));
  CHECK_FALSE(is_utf8("C", "C.UTF-8", "C.UTF-8"));
  CHECK_FALSE(is_utf8("", "", ""));
  CHECK_FALSE(is_utf8("", "", "de_DE.ISO-8859-1"));
}

TEST_CASE("the page is opened by its full name, whatever it is called") {
  const TemporaryFolder folder;
  put_opener(folder.path(), 0);
  const Environment environment(Variables{{"DISPLAY", ":9"}, {"PATH", "/nowhere:" + folder.path().string()}});
  CHECK(open_page("-a page; $(true)/brief.html").empty());
  CHECK(bytes_of(folder.path() / "called") ==
        (std::filesystem::current_path() / "-a page; $(true)/brief.html").string() + "\n");
}

TEST_CASE("an opener that fails is said") {
  const TemporaryFolder folder;
  put_opener(folder.path(), 4);
  const Environment environment(
      Variables{{"DISPLAY", ""}, {"WAYLAND_DISPLAY", "wayland-9"}, {"PATH", folder.path().string()}});
  CHECK(open_page("brief.html") == (folder.path() / "xdg-open").string() + " could not open it");
}

TEST_CASE("without a display, or without an opener, nothing is started and it is said") {
  const TemporaryFolder folder;
  put_opener(folder.path(), 0);
  {
    const Environment environment(
        Variables{{"DISPLAY", ""}, {"WAYLAND_DISPLAY", ""}, {"PATH", folder.path().string()}});
    CHECK(open_page("brief.html") == "there is no display");
  }
  const Environment environment(Variables{{"DISPLAY", ":9"}, {"PATH", "/nowhere"}});
  CHECK(open_page("brief.html") == "there is no xdg-open");
  CHECK_FALSE(std::filesystem::exists(folder.path() / "called"));
}
