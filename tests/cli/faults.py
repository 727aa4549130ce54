"""Trials of a command that adds the next member to a series, a folder of numbered folders: it is killed, its system calls
fail, the power is cut. Each time what was there has to be untouched, the new member whole or absent and the exit code
true, and the next try has to work.

A test case takes FaultTrials or PowerCutTrials as a base and says what the command is and what makes a series sound.
"""
import concurrent.futures, hashlib, os, queue, random, re, shutil, signal, subprocess, sys, tempfile

from crash_states import Recording

FULL = bool(os.environ.get("DAYWRIGHT_FULL"))

# How a system call can fail when a disk, a machine or a limit does: by the manual pages of Linux, where those that close
# a file or force it to disk hand on what the disk said. To look something up and find nothing is no failure.
ERRORS = {call: errors.split() for calls, errors in {
    "openat": "EACCES EDQUOT EINTR EIO EMFILE ENFILE ENOENT ENOMEM ENOSPC EROFS",
    "read pread64": "EINTR EIO ENOMEM",
    "write": "EDQUOT EFBIG EINTR EIO ENOMEM ENOSPC",
    "close fsync": "EDQUOT EINTR EIO ENOSPC EROFS",
    "newfstatat statx access": "EACCES EIO ENOMEM",
    "fstat lseek fcntl ioctl": "EIO ENOMEM",
    "getdents64": "EIO ENOENT ENOMEM",
    "mkdir mkdirat": "EACCES EDQUOT EIO EMLINK ENOENT ENOMEM ENOSPC EROFS",
    "renameat2": "EACCES EDQUOT EINVAL EIO ENOENT ENOMEM ENOSPC EROFS EXDEV",
    "unlinkat rmdir": "EACCES EBUSY EIO ENOMEM EROFS",
    "fchmod": "EIO EPERM EROFS",
    "flock": "EINTR ENOLCK",
    "memfd_create pipe2 timerfd_create timerfd_settime pidfd_open": "EMFILE ENFILE ENOMEM",
    "poll wait4": "EINTR ENOMEM",
    "clone3 vfork": "EAGAIN ENOMEM",
    "execve": "EACCES EIO ENOENT ENOMEM",
    "mmap": "ENOMEM",
}.items() for call in calls.split()}
# Where a member comes to be.
VITAL = "fsync renameat2 mkdirat mkdir fchmod flock unlinkat write".split()


def read_tree(folder):
    """(path, digest of the file or None for a folder) of all below; the names of what is being built, which are random,
    are made equal."""
    found = set()
    for place, folders, files in os.walk(folder):
        for name in folders + files:
            path = os.path.join(place, name)
            digest = None
            if name in files:
                with open(path, "rb") as file:
                    digest = hashlib.sha256(file.read()).digest()
            found.add((re.sub(r"\.building-\w{6}", ".building-", os.path.relpath(path, folder)), digest))
    return frozenset(found)


def without_leftovers(tree):
    """Only what counts: all but what is being built, or was left by a try that was interrupted."""
    return frozenset(entry for entry in tree if ".building-" not in entry[0])


class Trials:
    """The states from which the command starts, and what may be after it. Words of a command have MISSION where the
    folder of the mission goes."""

    SERIES = ""  # the folder of the series, below that of the mission
    STARTS = {}  # state: how many members there are
    DONE = 0  # the exit code when the member is there

    def command(self):
        raise NotImplementedError

    def count(self, mission):
        """The members of a series that is sound, otherwise None; and what was said about it."""
        raise NotImplementedError

    def make_starts(self, add):
        """Has `add` make each member of the largest state in self.mission, and keeps the states on the way; once for all
        tests of a class. Every processor gets a mission."""
        if "trees" not in vars(type(self)):
            type(self).start = tempfile.mkdtemp(dir=self.shared)
            self.keep_starts(add)
            type(self).trees = {state: read_tree(os.path.join(self.start, state)) for state in self.STARTS}
        self.missions = queue.SimpleQueue()
        for _ in range(os.cpu_count() or 1):
            self.missions.put(self.copy_of_mission())

    def keep_starts(self, add):
        series = os.path.join(self.mission, self.SERIES)
        for number in range(max(self.STARTS.values())):
            add(number)
            for state, count in self.STARTS.items():
                if count == number + 1:
                    shutil.copytree(series, os.path.join(self.start, state))
        shutil.rmtree(series, ignore_errors=True)
        for state, count in self.STARTS.items():
            if count == 0:
                os.mkdir(os.path.join(self.start, state))
        leftover = os.path.join(self.start, "interrupted", ".building-Ab12Cd")
        os.mkdir(leftover)
        with open(os.path.join(leftover, "half"), "w", encoding="ascii") as file:
            file.write("{")

    def copy_of_mission(self):
        copy = tempfile.mkdtemp(dir=self.shared)
        shutil.copytree(self.mission, copy, dirs_exist_ok=True)
        return copy

    def series(self, mission):
        return os.path.join(mission, self.SERIES)

    def put(self, mission, state):
        shutil.rmtree(self.series(mission), ignore_errors=True)
        if state != "empty":
            shutil.copytree(os.path.join(self.start, state), self.series(mission))

    @staticmethod
    def words(mission, command):
        return [word.replace("MISSION", mission) for word in command]

    def careless(self, script):
        """A planted command: a shell script that puts READY, a member that was made before, in place as SERIES/000001."""
        ready = os.path.join(self.shared, "ready")
        if not os.path.exists(ready):
            self.put(self.mission, "empty")
            subprocess.run(self.words(self.mission, self.command()), stdin=subprocess.DEVNULL, capture_output=True)
            shutil.copytree(os.path.join(self.series(self.mission), "000001"), ready)
        script = script.replace("READY", ready).replace("SERIES", os.path.join("MISSION", self.SERIES))
        return ["sh", "-c", f"{script}; exit {self.DONE}"]

    def preloaded(self, define):
        """The environment in which a defect of lazy_disk.c is at work."""
        library = os.path.join(self.shared, define + ".so")
        source = os.path.join(os.path.dirname(os.path.abspath(__file__)), "lazy_disk.c")
        subprocess.run(["cc", "-shared", "-fPIC", "-D" + define, "-o", library, source], check=True)
        return {"LD_PRELOAD": library}

    def in_parallel(self, judge, items):
        """What `judge` says of each item, each time in a mission that nobody else works in."""
        def judged(item):
            mission = self.missions.get()
            try:
                return judge(mission, item)
            finally:
                self.missions.put(mission)
        with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
            return list(pool.map(judged, items))

    def fault_of_next(self, mission, command, before, environment=None):
        """What is wrong after the command is given (again); None: there is then one member more than `before`, and
        nothing else."""
        again = subprocess.run(self.words(mission, command), stdin=subprocess.DEVNULL, capture_output=True, text=True,
                               env={**os.environ, **(environment or {})})
        count, said = self.count(mission)
        if again.returncode == self.DONE and len(os.listdir(self.series(mission))) == count == before + 1:
            return None
        return f"stuck: exit {again.returncode} {again.stderr} {said}"

    def fault_of_end(self, mission, command, state, exit_code):
        """What is wrong after the command has ended with this exit code, or was killed: -9."""
        before = self.STARTS[state]
        count, said = self.count(mission)
        if count is None or count - before not in (0, 1):
            return "torn or lost: " + said
        if not without_leftovers(self.trees[state]) <= read_tree(self.series(mission)):
            return "what was there is another now"
        is_added = count > before
        # 127: the loader, before the program begins.
        true = {self.DONE: is_added, 3: not is_added, 4: True, -signal.SIGKILL: True, 127: not is_added}
        if not true.get(exit_code, False):
            return "untrue: " + said
        return self.fault_of_next(mission, command, before)

    def assert_caught(self, kinds, wrong):
        """A planted defect shows by faults of one of these kinds."""
        self.assertTrue(any(kind in fault for fault in wrong for kind in kinds), wrong)


class FaultTrials(Trials):
    """Killed at a system call, or with an error from it; a seeded sample of all points unless DAYWRIGHT_FULL is set."""

    def traced(self, mission, command, *options):
        """The words that run the command under strace."""
        return ["strace", "-f", *options, *self.words(mission, command)]

    def points(self, command, state):
        """(system call, n): every one that the command makes from this state."""
        self.put(self.mission, state)
        trace = os.path.join(self.shared, "trace")
        subprocess.run(self.traced(self.mission, command, "-o", trace), stdin=subprocess.DEVNULL, capture_output=True)
        most = {}
        count = {}
        with open(trace, encoding="utf-8", errors="replace") as file:
            for line in file:
                made = re.match(r"(\d+)\s+(\w+)\(", line)
                if made:
                    count[made.groups()] = count.get(made.groups(), 0) + 1
                    most[made[2]] = max(most.get(made[2], 0), count[made.groups()])
        return [(call, n) for call in sorted(most) for n in range(1, most[call] + 1)]

    def fault_after(self, mission, command, state, call, n, what):
        """What is wrong after one injected fault; None: nothing."""
        self.put(mission, state)
        trace = os.path.join(mission, "trace")
        open(trace, "w", encoding="ascii").close()
        # With --seccomp-bpf, which is faster, strace 6.1 injects errors, but no signals.
        fast = ["--seccomp-bpf"] if what.startswith("error") else []
        done = subprocess.run(self.traced(mission, command, "-o", trace, *fast, "-e", f"trace={call}", "-e",
                                          f"inject={call}:{what}:when={n}"),
                              stdin=subprocess.DEVNULL, capture_output=True, timeout=120)
        with open(trace, encoding="utf-8", errors="replace") as file:
            if not re.search(r"\(INJECTED\)|\+\+\+ killed by SIGKILL", file.read()):
                self.missed.append((state, call, n, what))
        # Most faults end alike, and what has ended alike need not be judged again.
        end = state, done.returncode, read_tree(self.series(mission))
        if end not in self.judged:
            self.judged[end] = self.fault_of_end(mission, command, state, done.returncode)
        fault = self.judged[end]
        return fault and f"{state}: {call} {n} {what}: exit {done.returncode}, {fault}"

    def faults(self, command, faults_of, states=None, sample=None):
        """Injects what `faults_of` makes of each point, or of a sample; returns what was done, and what went wrong."""
        chance = random.Random(12)
        injected = []
        self.judged, self.missed = {}, []
        for state in states or self.STARTS:
            found = [(state, call, n, what) for call, n in self.points(command, state) for what in faults_of(call)]
            # Without its first memory the loader of glibc dies of a signal, before the program begins.
            found = [fault for fault in found if fault[1:] != ("mmap", 1, "error=ENOMEM")]
            # Where the member comes to be is always tried; of the rest a sample.
            vital = [f for f in found if f[1] in VITAL]
            if sample:
                found = chance.sample(vital, min(sample, len(vital))) + chance.sample(found, min(sample, len(found)))
            injected += found
        wrong = self.in_parallel(lambda mission, fault: self.fault_after(mission, command, *fault), injected)
        # How often threads wait for each other is not the same each time, so a few faults find no call any more.
        self.assertLess(len(self.missed), len(injected) / 20 + 1, self.missed)
        done = f"{len(injected) - len(self.missed)} {{}}, {len(self.judged)} distinct ends"
        return done, [fault for fault in wrong if fault]

    def assert_no_fault(self, faults_of, kind):
        injected, wrong = self.faults(self.command(), faults_of, sample=None if FULL else 8)
        self.assertEqual(wrong, [])
        print(injected.format(kind) + ", 0 bad", file=sys.stderr)

    def test_killed_at_any_system_call(self):
        self.assert_no_fault(self.kills, "kills")

    def test_an_error_from_any_system_call(self):
        self.assert_no_fault(self.errors, "errors")

    def test_writes_that_take_one_byte_at_a_time(self):
        short = self.preloaded("SHORT")
        for state, before in self.STARTS.items():
            self.put(self.mission, state)
            self.assertIsNone(self.fault_of_next(self.mission, self.command(), before, short))

    @staticmethod
    def kills(call):
        return ["signal=SIGKILL"]

    @staticmethod
    def errors(call):
        return [f"error={error}" for error in ERRORS.get(call, [])]


class PlantedFaultTrials(FaultTrials):
    """Such trials that have to catch planted defects too."""

    def test_a_command_that_writes_in_place_and_is_deaf_to_errors_is_caught(self):
        planted = self.careless("mkdir -p SERIES; cp -rT READY SERIES/000001")
        self.assert_caught(["torn"], self.faults(planted, self.kills, states=["empty"], sample=40)[1])
        self.assert_caught(["torn", "untrue"], self.faults(planted, self.errors, states=["empty"], sample=20)[1])

    def test_a_command_that_takes_a_short_write_for_a_whole_one_is_caught(self):
        planted = self.careless(f"mkdir -p SERIES; cp -rT READY SERIES/000001; {sys.executable} -c '\n"
                                "import os\n"
                                "for folder, _, names in os.walk(\"READY\"):\n"
                                "    for path in (os.path.join(folder, name) for name in names):\n"
                                "        to = path.replace(\"READY\", \"SERIES/000001\", 1)\n"
                                "        os.write(os.open(to, os.O_WRONLY | os.O_TRUNC), open(path, \"rb\").read())'")
        self.put(self.mission, "empty")
        self.assertIsNone(self.fault_of_next(self.mission, planted, 0))
        self.put(self.mission, "empty")
        self.assert_caught(["stuck"], [self.fault_of_next(self.mission, planted, 0, self.preloaded("SHORT")) or ""])


class PowerCutTrials(Trials):
    """After a cut at any point: what was there is there, the member is there whole or not at all, surely so when it was
    said to be, and the next try works."""

    ADDED = b""  # a pattern: what the command says when it has added a member
    ALREADY = ""  # how a line begins that says that it was there
    LIMITS = {}  # of Recording.states
    SAMPLE = None  # how many of the states at each start are judged, beside one of each kind; None: all
    SAMPLE_AFTER_SECOND = None  # the same after a second try

    def is_acknowledged(self, said):
        return re.search(self.ADDED + b"|^" + self.ALREADY.encode(), said, re.MULTILINE)

    def recording(self, start):
        self.put(self.mission, start)
        return Recording(self.series(self.mission))

    def fault_of(self, mission, start, old, state):
        """What is wrong with a state, where `old` has to be left as it was; None: nothing."""
        shutil.rmtree(self.series(mission), ignore_errors=True)
        state.lay_out(mission)
        before = self.STARTS[start]
        count, said = self.count(mission)
        if count is None or count - before not in (0, 1) or not old <= state.tree:
            fault = "torn or lost: " + said
        elif self.is_acknowledged(state.said) and count == before:
            fault = "acknowledged and lost: " + said
        else:
            fault = self.fault_of_next(mission, self.command(), before)
        return fault and f"{start}, {state.place}: {fault}"

    @staticmethod
    def chosen(states, sample):
        """Those to judge: of each kind, by what was said and what lies there under a final name, one, and a sample."""
        if sample is None or len(states) <= sample:
            return states
        chance = random.Random(12)
        kinds = list({(bool(state.said), without_leftovers(state.tree)): state for state in states}.values())
        # A command that keeps its promise has few kinds.
        return [*chance.sample(kinds, min(len(kinds), 3 * sample)), *chance.sample(states, sample)]

    def faults(self, start, recording, sample):
        """How many states there are, how many differ, how many of those were judged, and what is wrong with them."""
        count, states = recording.states(**self.LIMITS)
        chosen = self.chosen(states, sample)
        old = without_leftovers(recording.before())
        wrong = self.in_parallel(lambda mission, state: self.fault_of(mission, start, old, state), chosen)
        return count, len(states), len(chosen), [fault for fault in wrong if fault]

    def faults_of_command(self, start, command, environment=None):
        recording = self.recording(start)
        done = recording.run(self.words(self.mission, command), environment=environment)
        self.assertEqual(done.returncode, self.DONE, done.stderr)
        return self.faults(start, recording, self.SAMPLE)

    def assert_none(self, found):
        for *_, wrong in found:
            self.assertEqual(wrong, [])
        count, distinct, judged = (sum(counts) for counts in zip(*(one[:3] for one in found)))
        print(f"{count} crash states, {distinct} distinct, {judged} judged, 0 bad", file=sys.stderr)

    def test_planted_defects_are_caught(self):
        in_place = self.careless("set -e; mkdir SERIES SERIES/000001; cd READY; for file in $(find . -mindepth 1); do "
                                 "if [ -d $file ]; then mkdir SERIES/000001/$file; "
                                 "else dd if=$file of=SERIES/000001/$file bs=1M conv=fsync status=none; fi; done; "
                                 f"find SERIES -type d -exec sync {{}} +; sync MISSION; echo {self.ALREADY}")
        forgets_files, forgets_folders = (self.preloaded(f"FORGETS={kind}") for kind in ("S_IFREG", "S_IFDIR"))
        for kind, command, environment in (("torn", self.command(), forgets_files),
                                           ("acknowledged and lost", self.command(), forgets_folders),
                                           ("torn", in_place, None)):
            *counts, wrong = self.faults_of_command("empty", command, environment)
            self.assert_caught([kind], wrong)
            print("planted: {} crash states, {} distinct, {} judged, {} bad".format(*counts, len(wrong)), file=sys.stderr)

    def test_a_cut_at_any_point(self):
        self.assert_none([self.faults_of_command(start, self.command()) for start in self.STARTS])

    def test_a_cut_after_the_second_try_where_the_first_was_killed(self):
        """At a call that forces something to disk; once the member is in place, the second says that it is there."""
        found = []
        for start in self.STARTS:
            words = self.words(self.mission, self.command())
            whole = self.recording(start)
            whole.run(words)
            last = sum(isinstance(event, list) for event in whole.events)
            for n in range(1 if FULL else last, last + 1):
                recording = self.recording(start)
                killed = recording.run(words, "-e", f"inject=fsync:signal=SIGKILL:when={n}")
                self.assertEqual(killed.returncode, -signal.SIGKILL)
                self.assertEqual(recording.run(words).returncode, self.DONE)
                found.append(self.faults(start, recording, self.SAMPLE_AFTER_SECOND))
        self.assert_none(found)
