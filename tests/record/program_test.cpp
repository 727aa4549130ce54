#include "record/program.h"

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <system_error>

#include <sys/stat.h>

#include "catch_compat.h"
#include "temporary_folder.h"

using Catch::Matchers::ContainsSubstring;
using daywright::record::find_program;
using daywright::record::handed_file;
using daywright::record::run_program;
using daywright::test::error_of;
using daywright::test::put;
using daywright::test::TemporaryFolder;
namespace fs = std::filesystem;

TEST_CASE("a program gets its words, its input and its files as they are") {
  const std::string bytes(300'000, 'x');
  const auto end = run_program({.program = "/bin/cat",
                                .arguments = {"-", handed_file(0), handed_file(1)},
                                .input = bytes,
                                .files = {"one\n", ""}});
  CHECK(end.exit_code == 0);
  CHECK(end.output == bytes + "one\n");
  const auto words = run_program({.program = "/bin/echo", .arguments = {"-n", "$(ls)", "a b", "*"}});
  CHECK(words.output == "$(ls) a b *");
}

TEST_CASE("the end of a program is told, with what it said") {
  const auto end = run_program({.program = "/bin/sh", .arguments = {"-c", "echo out; echo wrong >&2; exit 7"}});
  CHECK(end.exit_code == 7);
  CHECK(end.output == "out\n");
  CHECK(end.errors == "wrong\n");
  CHECK(run_program({.program = "/bin/sh", .arguments = {"-c", "kill -9 $$"}}).exit_code == -1);
  CHECK(error_of([] { (void)run_program({.program = "/absent/program", .arguments = {}}); }) == ENOENT);
}

TEST_CASE("a program that takes too long or says too much is stopped") {
  CHECK_THROWS_WITH(run_program({.program = "/bin/sleep", .arguments = {"60"}, .limit = std::chrono::seconds{1}}),
                    "sleep takes longer than 1 s and was stopped");
  CHECK_THROWS_WITH(run_program({.program = "/bin/cat", .arguments = {"/dev/zero"}}),
                    "cat says more than it may and was stopped");
}

TEST_CASE("a program that ends is not waited for when it leaves another one running") {
  const auto end = run_program(
      {.program = "/bin/sh", .arguments = {"-c", "sleep 20 & echo done"}, .limit = std::chrono::seconds{10}});
  CHECK(end.exit_code == 0);
  CHECK(end.output == "done\n");
}

TEST_CASE("programs are not looked for in folders that are relative") {
  const TemporaryFolder work;
  put(work.path() / "ssh-keygen", "#!/bin/sh\n");
  ::chmod((work.path() / "ssh-keygen").c_str(), 0755);
  const std::string old = std::getenv("PATH");
  const fs::path here = fs::current_path();
  fs::current_path(work.path());
  ::setenv("PATH", ".::relative", 1);
  CHECK(find_program("ssh-keygen").empty());
  ::setenv("PATH", (".:" + work.path().string()).c_str(), 1);
  CHECK(find_program("ssh-keygen") == work.path() / "ssh-keygen");
  ::chmod((work.path() / "ssh-keygen").c_str(), 0644);
  CHECK(find_program("ssh-keygen").empty());
  ::unsetenv("PATH");
  CHECK(find_program("ssh-keygen").empty());
  fs::current_path(here);
  ::setenv("PATH", old.c_str(), 1);
}
