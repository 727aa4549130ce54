#!/usr/bin/env bash
# Sets up, builds and runs all tests; works from any folder, twice.
#
#   tests/run.sh         every test; sweeps over damaged inputs take a seeded sample
#   tests/run.sh --full  the same, with every damage instead of the sample, and with the static analyzer
#
# Formatting is checked first, then the build with sanitizers is tested, then what ships, built by GCC
# and by Clang. A missing tool fails the run.
set -euo pipefail
cd "$(dirname "$0")/.."
case "${1:-}" in
  --full) export DAYWRIGHT_FULL=1 ;;
  "") ;;
  *) echo "usage: tests/run.sh [--full]" >&2; exit 2 ;;
esac

bash examples/setup.sh tests
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
build dev
build release
build clang

echo "== tidy"
# The analyzer takes as long as everything else together, so a normal run leaves it out.
checks=$([ -n "${DAYWRIGHT_FULL:-}" ] || echo "-clang-analyzer-*")
find src -name '*.cpp' | sort |
  xargs -P 2 -n 4 clang-tidy-19 -p .build/clang --quiet "--checks=$checks" >"$log" 2>&1 || { cat "$log" >&2; exit 1; }

echo "== tests, release build by Clang"
ctest --preset clang --output-on-failure | tail -n 4
echo "== tests, release build by GCC"
ctest --preset release --output-on-failure | tail -n 4
echo "== tests, sanitizers"
ctest --preset dev --output-on-failure
