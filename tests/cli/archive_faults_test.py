"""'archive' killed, with failing system calls, cut off from power and on a full disk.

Usage: archive_faults_test.py DAYWRIGHT [TEST...]

The mission is invented, and as small as one can be: what is tried is the filing, not what is filed.
"""
import os, random, re, shlex, shutil, subprocess, sys, tempfile, unittest

from faults import FULL, FaultTrials, PlantedFaultTrials, PowerCutTrials, Trials

DAYWRIGHT = sys.argv[1]
NEW_DAY, FILED_DAYS = 1, range(2, 8)  # of the first day there is least to file, and days can be filed in any order
PAGE = os.sysconf("SC_PAGE_SIZE")
SIGNER = "board-1@dunlin.example"

MISSION = """
vehicle = [{ id = "ship", title = "Ship" }]
place = [{ id = "tank", title = "Tank", vehicle = "ship" }]
person = [{ id = "one", title = "One", aboard = "ship", seat = "ship" }]
day_kind = [{ id = "work", title = "Work day", power_kw = 0 }]
phase = [{ id = "flight", title = "Flight", start = "0/00:00", kind = "work" }]
event = [{ id = "landing", title = "Landing", at = "9/00:00", kind = "touchdown" }]
landing_day = [{ kind = "planned", opportunities = ["9/00:00"] }]
method = [{ id = "tally", kind = "tally" }]
gate = [{ id = "entry", title = "Entry", event = "landing", poll = "9/00:00" }]

[mission]
name = "Dunlin 2"
vehicle = "ship"
approved_by = "flight lead"
audience = "planning meeting"
launch = "2031-05-06T00:00Z"
launch_site_utc_offset_hours = 0
planned_days = 9
extension_before = "landing"
extension_kind = "work"
margin_kind = "work"
wake_ups = ["1/00:00"]

[[item]]
id = "water"
title = "Water"
sort = "stock"
vehicle = "ship"
places = ["tank"]
unit = "kg"
sigma = { tally = 0.01 }
"""

RULES = f"""
role = [{{ id = "board", title = "Board", principals = ["{SIGNER}"] }}]
criterion = [{{ id = "checks", title = "Checks", kind = "tasks", gate = "entry", owner = "board", rationale = "made up" }}]

[margins]
bases = ["plan"]
count_every_hours = 500
"""


def run(*arguments):
    return subprocess.run([DAYWRIGHT, *arguments], capture_output=True, text=True, stdin=subprocess.DEVNULL)


def mount(options, place):
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", place], check=True)


def can_mount(*within):
    with tempfile.TemporaryDirectory() as place:
        words = ["sh", "-c", 'mount -t tmpfs tmpfs "$0" && umount "$0"', place]
        return subprocess.run([*within, *words], capture_output=True).returncode == 0


def write(text, *path):
    os.makedirs(os.path.dirname(os.path.join(*path)), exist_ok=True)
    with open(os.path.join(*path), "w", encoding="utf-8") as file:
        file.write(text)


class ArchiveTrials(Trials, unittest.TestCase):
    """No archive yet, the first day filed, many, and what an interrupted try has left."""

    SERIES = "archive"
    STARTS = {"empty": 0, "first": 1, "many": len(FILED_DAYS), "interrupted": 1}
    DONE = 1  # nobody has closed a log
    IS_SIGNED = False

    @classmethod
    def setUpClass(cls):
        cls.shared = tempfile.mkdtemp()
        cls.addClassCleanup(shutil.rmtree, cls.shared)
        if can_mount():  # a disk would take most of the time
            mount("size=256m", cls.shared)
            cls.addClassCleanup(subprocess.run, ["umount", cls.shared], check=True)
        cls.template = os.path.join(cls.shared, "mission")
        texts = {"mission.toml": MISSION, "rules.toml": RULES,
                 **{f"days/{day:03}/day.toml": f'start = "{day - 1}/00:00"\nend = "{day}/00:00"\nprepared_by = "lead"\n'
                    for day in (NEW_DAY, *FILED_DAYS)}}
        for path, text in texts.items():
            write(text + "[end_of_file]\n", cls.template, path)
        for day in (NEW_DAY, *FILED_DAYS):
            made = run("brief", cls.template, "--day", str(day))
            assert made.returncode == cls.DONE, made.stderr
        if cls.IS_SIGNED:
            cls.sign()

    @classmethod
    def sign(cls):
        """One call of the day that is filed."""
        key = os.path.join(cls.shared, "key")
        subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", "", "-f", key], check=True)
        with open(key + ".pub", encoding="ascii") as file:
            write(f'{SIGNER} namespaces="signoff@daywright" {file.read()}', cls.template, "allowed_signers")
        done = run("sign", cls.template, "--day", str(NEW_DAY), "--yes", "--role", "board", "--name", "One", "--as", SIGNER,
                   "--key", key, "--call", "go")
        assert done.returncode == cls.DONE, done.stderr

    def setUp(self):
        self.mission = os.path.join(tempfile.mkdtemp(dir=self.shared), "mission")
        shutil.copytree(self.template, self.mission)
        self.make_starts(lambda number: self.archive(FILED_DAYS[number]))
        self.archive(NEW_DAY)
        self.filed = self.list_of(self.mission, 1)
        shutil.rmtree(self.series(self.mission))

    def archive(self, day):
        done = run("archive", self.mission, "--day", str(day))
        self.assertEqual(done.returncode, self.DONE, done.stderr)

    def command(self):
        return [DAYWRIGHT, "archive", "MISSION", "--day", str(NEW_DAY)]

    def list_of(self, mission, number):
        """The payload of a bag, and what it says of itself beside number and chain."""
        bag = os.path.join(self.series(mission), f"{number:06}")
        with open(os.path.join(bag, "manifest-sha512.txt"), "rb") as payload, \
                open(os.path.join(bag, "bag-info.txt"), encoding="utf-8") as info:
            labels = re.findall("^(?!Archive-Number|Previous-Digest|Bagging-Date).*$", info.read(), re.MULTILINE)
            return payload.read(), labels

    def count(self, mission):
        if not os.path.exists(self.series(mission)):
            return 0, "no archive"
        found = run("verify", self.series(mission))
        said = f"verify {found.returncode} {found.stdout}{found.stderr}"
        count = re.search(r"(\d+) filed days?", found.stdout)
        if found.returncode != 5 or not count:
            return None, said
        for number in range(1, int(count[1]) + 1):
            bag = self.list_of(mission, number)
            if f"Mission-Day: {NEW_DAY}" in bag[1] and bag != self.filed:
                return None, f"filed is something else: {bag[1]}"
        return int(count[1]), said


class Faults(PlantedFaultTrials, ArchiveTrials):
    pass


class SignedFaults(FaultTrials, ArchiveTrials):
    """A day that has a signature to judge; of what fails here nothing is in the tool that judges it."""

    STARTS = {"interrupted": 1}
    IS_SIGNED = True

    def traced(self, mission, command, *options):
        # What is set up to be fast would stay with a program that is no longer traced.
        options = [option for option in options if option != "--seccomp-bpf"]
        return ["strace", "-f", "--detach-on=execve", *options, *self.words(mission, command)]


class JudgeFaults(SignedFaults):
    """The same where it is the stock tool that fails: killed each time that it is asked, or failing once."""

    def traced(self, mission, command, *options):
        folder = os.path.join(mission, "bin")
        shutil.rmtree(folder, ignore_errors=True)
        once = "" if "signal" in " ".join(options) else f"mkdir {folder}/asked 2>/dev/null || exec $0.real \"$@\"\n"
        write(f'#!/bin/sh\n{once}exec {shlex.join(["strace", "-f", "-A", *options])} $0.real "$@"\n', folder, "ssh-keygen")
        os.chmod(os.path.join(folder, "ssh-keygen"), 0o755)
        os.symlink(shutil.which("ssh-keygen"), os.path.join(folder, "ssh-keygen.real"))
        return ["env", f"PATH={folder}:{os.environ['PATH']}", *self.words(mission, command)]


class PowerCuts(PowerCutTrials, ArchiveTrials):
    ADDED = b"^filed day"
    ALREADY = "already filed"
    # A bag has some thirty names that are not forced to disk before the whole is, in 2^30 combinations.
    LIMITS = {"most": 64, "sampled": 12 if FULL else 4}
    SAMPLE, SAMPLE_AFTER_SECOND = (None, 20) if FULL else (12, 6)


class Rooms(ArchiveTrials):
    """As little room as there can be."""

    def sweep(self, command, need, run_with, sample):
        """What goes wrong with any amount of room below `need`, which has to be just enough, from any state; a sample
        unless DAYWRIGHT_FULL is set."""
        self.tried = 0
        wrong = []
        for state in self.STARTS:
            most = need(state)
            chosen = set(range(most)) if FULL else {0, most - 1, *random.Random(12).sample(range(most), min(sample, most))}

            def fault_of(mission, amount):
                self.put(mission, state)
                exit_code = run_with(mission, command, amount)
                fault = self.fault_of_end(mission, command, state, exit_code)
                expected = self.DONE if amount == most else 3
                if not fault and exit_code != expected:
                    fault = f"exit {exit_code}, expected {expected}"
                return fault and f"{state}, {amount} of {most}: {fault}"
            wrong += filter(None, self.in_parallel(fault_of, [*sorted(chosen), most]))
            self.tried += len(chosen) + 1
        return wrong

    def assert_no_fault(self, what, need, run_with, sample=6):
        deaf = self.careless("mkdir -p SERIES; cp -rT READY SERIES/000001")
        self.assert_caught(["torn", "untrue"], self.sweep(deaf, need, run_with, sample))
        self.assertEqual(self.sweep(self.command(), need, run_with, sample), [])
        print(f"{self.tried} {what}, 0 bad", file=sys.stderr)


class Limits(Rooms):
    def test_a_file_may_grow_to_any_size(self):
        largest = max(os.path.getsize(os.path.join(folder, name))
                      for folder, _, names in os.walk(os.path.join(self.mission, "out", f"day-{NEW_DAY:03}"))
                      for name in names)

        def run_with(mission, command, pages):
            words = ["prlimit", f"--fsize={pages * PAGE}", *self.words(mission, command)]
            return subprocess.run(words, stdin=subprocess.DEVNULL, capture_output=True).returncode
        self.assert_no_fault("limits on the size of files", lambda state: -(-largest // PAGE), run_with)


class FullDisks(Rooms):
    """Each mission lies on a disk of its own, in memory, of which there is just so much."""

    def copy_of_mission(self):
        place = tempfile.mkdtemp(dir=self.shared)
        mount("size=64m", place)
        self.addCleanup(subprocess.run, ["umount", place], check=True)
        return shutil.copytree(self.mission, place, dirs_exist_ok=True)

    @staticmethod
    def used(mission):
        """Pages and inodes."""
        disk = os.statvfs(mission)
        return disk.f_blocks - disk.f_bfree, disk.f_files - disk.f_ffree

    def run_on(self, mission, command, pages=10000, inodes=10000):
        used_pages, used_inodes = self.used(mission)
        mount(f"remount,size={(used_pages + pages) * PAGE},nr_inodes={used_inodes + inodes}", mission)
        done = subprocess.run(self.words(mission, command), stdin=subprocess.DEVNULL, capture_output=True)
        mount("remount,size=64m,nr_inodes=20000", mission)
        return done.returncode

    def need(self, state):
        """The pages and inodes that filing takes, beside those of a leftover, which is cleared first."""
        def measured(mission, _):
            self.put(mission, state)
            before = self.used(mission)
            self.run_on(mission, self.command())
            return [after - was for after, was in zip(self.used(mission), before)]
        return self.in_parallel(measured, [None])[0]

    def test_any_number_of_pages_is_free(self):
        self.assert_no_fault("numbers of free pages", lambda state: self.need(state)[0],
                             lambda mission, command, pages: self.run_on(mission, command, pages=pages))

    def test_any_number_of_inodes_is_free(self):
        self.assert_no_fault("numbers of free inodes", lambda state: self.need(state)[1],
                             lambda mission, command, inodes: self.run_on(mission, command, inodes=inodes))


if __name__ == "__main__":
    if not can_mount():
        if can_mount("unshare", "-rm"):
            os.execvp("unshare", ["unshare", "-rm", sys.executable, *sys.argv])
        print("CAUTION: nothing may be mounted here, so that NO FULL DISK was tried, only limits on the size of files",
              file=sys.stderr)
        del FullDisks
    unittest.main(argv=sys.argv[:1] + sys.argv[2:])
