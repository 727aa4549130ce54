"""The README says what the program says: every rule, every unit, every exit code and every command it shows.

Usage: readme.py PROJECT DAYWRIGHT
"""
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest

PROJECT, DAYWRIGHT = pathlib.Path(sys.argv[1]), sys.argv[2]
README = (PROJECT / "README.md").read_text(encoding="utf-8")
SOURCES = {path: path.read_text(encoding="utf-8") for path in sorted((PROJECT / "src").rglob("*.cpp"))}


def first_cells(heading):
    """The first cells of the table below `heading`."""
    table = README.split(heading)[1].split("\n|")[2:]
    return [row.split("|")[0].strip() for row in table[: next((i for i, r in enumerate(table) if "\n\n" in r), 0) + 1]]


class Readme(unittest.TestCase):
    def test_every_rule_has_a_line_and_every_line_a_rule(self):
        said = {rule for cell in first_cells("| rule |") for rule in cell.split(", ")}
        # A rule is the last text in quotes of a diagnostic; what only looks like one is named here.
        words = re.compile(r'"([a-z]+(?:-[a-z0-9]+)+|number|time|conflict)"')
        no_rules = {"crew-h", "crew-d", "close-out", "cut-off", "extra-days", "with-transfer", "without-transfer-out",
                    "no-data", "not-ready", "xdg-open", "no-go",
                    "check-novalidate", "ssh-keygen"}
        raw = re.compile(r'R"\(.*?\)"', re.S)  # pages and help, no diagnostics
        known = {word for text in SOURCES.values() for word in words.findall(raw.sub("", text))} - no_rules
        self.assertEqual(said - known, set(), "the README names rules that the program does not have")
        self.assertEqual(known - said, set(), "the README lacks rules")
        self.assertGreater(len(said), 55)

    def test_every_unit_is_listed(self):
        table = README.split("| dimension |")[1].split("\n\n")[0]
        said = {re.sub(r" \(.*\)", "", word) for row in table.split("\n")[2:] for word in row.split("|")[2].strip().split(", ")}
        known = set(re.findall(r'Unit\{"([^"]+)"', SOURCES[PROJECT / "src/model/quantity.cpp"]))
        self.assertEqual(said, known)

    def test_the_error_it_shows_is_the_one_that_is_printed(self):
        shown = re.search(r"^    (examples/\S+: error: .*)$", README, re.M)[1]
        printed = subprocess.run([DAYWRIGHT, "check", "examples/petrel-3"], cwd=PROJECT, capture_output=True, text=True)
        self.assertIn(shown, printed.stderr.splitlines())

    def test_the_commands_it_shows_exist(self):
        commands = set(re.findall(r"^    daywright (\w+)", README, re.M))
        self.assertEqual(commands, {"check", "brief", "explain", "options", "sign", "signoffs", "archive", "handover",
                                    "verify", "history", "compare"})
        for command in commands:
            helped = subprocess.run([DAYWRIGHT, command, "--help"], capture_output=True, text=True)
            self.assertEqual(helped.returncode, 0)
            for option in re.findall(rf"^    daywright {command} .*", README, re.M):
                for name in re.findall(r"--[a-z-]+", option):
                    self.assertIn(name, helped.stdout, option)
            self.assertIn("daywright " + command, helped.stdout.split("Examples")[-1], "help has an example")

    def test_the_outputs_it_lists_are_those_that_are_made(self):
        listed = first_cells("| file | what |")
        with tempfile.TemporaryDirectory() as out:
            subprocess.run([DAYWRIGHT, "brief", "examples/petrel-3", "--out", out], cwd=PROJECT, capture_output=True)
            made = os.listdir(os.path.join(out, "day-008"))
        self.assertEqual(sorted(listed), sorted(made))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
