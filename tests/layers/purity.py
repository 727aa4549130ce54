"""What no compiler holds us to: the pure stages touch no file, clock, locale or chance, and one file alone reads the
clock, for the time of a sign-off.

Usage: purity.py SOURCES
"""
import pathlib
import re
import sys

CLOCK = "cli/clock.cpp"
PURE = ("model", "load", "rules", "write")
NOT_IN_PURE = re.compile(
    r'#include <(fstream|iostream|filesystem|random|locale|unordered_\w+|thread|ctime)>|\bgetenv\b|\bsetlocale\b|\brand\(|\bfopen\b'
)
NOWHERE = re.compile(r'#include "\.\./|\b\w*_clock::now\b|\bgettimeofday\b|\bclock_gettime\b|\btime\((nullptr|NULL|0)\)')

root = pathlib.Path(sys.argv[1])
found = []
files = [path for path in sorted(root.rglob("*")) if path.suffix in (".h", ".cpp")]
for path in files:
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        is_pure = path.relative_to(root).parts[0] in PURE
        is_elsewhere = path.relative_to(root).as_posix() != CLOCK
        if (is_elsewhere and NOWHERE.search(line)) or (is_pure and NOT_IN_PURE.search(line)):
            found.append(f"{path}:{number}: {line.strip()}")
if len(files) < 60:
    found.append(f"only {len(files)} files found under {root}")
print("\n".join(found) or f"{len(files)} files are pure where they have to be")
sys.exit(1 if found else 0)
