#!/usr/bin/env bash
# Sets up, builds and runs all tests; works from any folder, twice.
#
#   tests/run.sh         every test; sweeps over damaged inputs take a seeded sample
#   tests/run.sh --full  the same, with every damage instead of the sample, and with the static analyzer
#
# Formatting is checked first; then what ships is built by GCC, and the same by Clang with sanitizers; both are
# tested, and have to write the same. A missing tool fails the run.
set -euo pipefail
cd "$(dirname "$0")/.."
case "${1:-}" in
  --full) full=yes ;;
  "") full= ;;
  *) echo "usage: tests/run.sh [--full]" >&2; exit 2 ;;
esac

bash examples/setup.sh tests

# What comes from npm is pinned, runs none of its own scripts and stays out of the source tree.
tools=.build/tools
if ! cmp -s tests/tools/package-lock.json "$tools/installed.json"; then
  echo "== tools of the tests"
  mkdir -p "$tools"
  cp tests/tools/package.json tests/tools/package-lock.json "$tools"
  npm ci --ignore-scripts --no-audit --no-fund --prefix "$tools"
  cp tests/tools/package-lock.json "$tools/installed.json"
fi
sources=$(find src tests -name '*.h' -o -name '*.cpp' | sort)

echo "== format"
# shellcheck disable=SC2086
clang-format-19 --dry-run --Werror $sources

log=$(mktemp)
trap 'rm -f "$log"' EXIT
build() {  # preset
  echo "== build $1"
  { cmake --preset "$1" && cmake --build --preset "$1" --parallel 2; } >"$log" 2>&1 || { cat "$log" >&2; exit 1; }
}
build release
build clang

echo "== tidy"
# The analyzer takes as long as everything else together, so a normal run leaves it out.
checks=$([ -n "$full" ] || echo "-clang-analyzer-*")
find src -name '*.cpp' | sort |
  xargs -P 2 -n 4 clang-tidy-19 -p .build/clang --quiet "--checks=$checks" >"$log" 2>&1 || { cat "$log" >&2; exit 1; }

echo "== the same outputs by both compilers"
for preset in release clang; do
  code=0
  ".build/$preset/src/daywright" brief examples/petrel-3 --out ".build/$preset/demo" >"$log" 2>&1 || code=$?
  [ "$code" -eq 1 ] || { cat "$log" >&2; exit 1; }  # 1: the demo's planted faults
done
/usr/bin/python3 tests/cli/compare_outputs.py .build/release/demo/day-008 .build/clang/demo/day-008

if [ -n "$full" ]; then
  echo "== every damage"
  DAYWRIGHT_FULL=1 .build/release/tests/cli_tests "[sweep]"
  DAYWRIGHT_FULL=1 .build/release/tests/record_tests "[sweep]"
  echo "== the workbook of every day, worked out again"
  /usr/bin/python3 tests/cli/workbook_test.py --full .build/release/src/daywright examples/petrel-3 examples/deep-lab
  echo "== sign-offs and filing killed, cut off and failed at every system call, and disks with any room"
  for test in signoff_test signoff_crash_test; do
    DAYWRIGHT_FULL=1 /usr/bin/python3 "tests/cli/$test.py" "$PWD/.build/release/src/daywright" "$PWD/examples/petrel-3"
  done
  DAYWRIGHT_FULL=1 /usr/bin/python3 tests/cli/archive_faults_test.py "$PWD/.build/release/src/daywright"
fi

echo "== tests of the build by Clang, with sanitizers"
ctest --preset clang --parallel 2 >"$log" 2>&1 || { cat "$log" >&2; exit 1; }
tail -n 4 "$log"
echo "== tests of what ships"
ctest --preset release --parallel 2
