#!/usr/bin/env bash
# Makes the brief of the invented demo mission: installs what is missing, builds, runs, says where the brief is.
set -euo pipefail
cd "$(dirname "$0")/.."
bash examples/setup.sh run
cmake --preset run >/dev/null
cmake --build --preset run --parallel 2 | tail -n 1
code=0
faults=$(mktemp)
trap 'rm -f "$faults"' EXIT
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
