#!/usr/bin/env bash
# Makes the brief of the invented demo mission: installs what is missing, builds, runs, says where the brief is.
set -euo pipefail
cd "$(dirname "$0")/.."
bash examples/setup.sh run
log=$(mktemp)
faults=$(mktemp)
trap 'rm -f "$log" "$faults"' EXIT
{ cmake --preset run && cmake --build --preset run --parallel 2; } >"$log" 2>&1 ||
  { cat "$log" >&2; echo "run: the program could not be built" >&2; exit 3; }
code=0
paths=$(.build/run/src/daywright brief examples/petrel-3 --out out/petrel-3 2>"$faults") || code=$?
# The demo holds rows that can't be used, on purpose: 1 says that the brief is there and names them.
if [ "$code" -ne 1 ]; then
  cat "$faults" >&2
  echo "daywright ended with $code, expected 1 for the faults planted in the demo" >&2
  exit 1
fi
echo
grep -E '^[1-5]\. ' out/petrel-3/day-008/brief.md
echo
sed "s|^|$PWD/|" <<<"$paths"
