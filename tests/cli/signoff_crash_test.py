"""A power cut at any point of 'sign': what can then lie on disk, and whether it is sound.

Usage: signoff_crash_test.py DAYWRIGHT DEMO [TEST...]
"""
import os, re, shutil, signal, sys, unittest

from crash_states import Recording
from signoff_test import FULL, FromFourStarts

ACKNOWLEDGED = re.compile(rb"SHA-256 [0-9a-f]{64}|^already signed", re.MULTILINE)


class PowerCuts(FromFourStarts):
    """After a cut at any point: what was there is there, the record is there whole or not at all, surely so when its
    signer was told, and signing again works. From four starting states."""

    def recording(self, start):
        self.put(self.mission, start)
        return Recording(os.path.join(self.mission, "signoffs"))

    def fault_of(self, mission, start, old, state):
        """What is wrong with a state, where `old` has to be left as it was; None: nothing."""
        folder = os.path.join(mission, "signoffs")
        shutil.rmtree(folder, ignore_errors=True)
        state.lay_out(mission)
        before = self.STARTS[start]
        count, said = self.count(mission)
        if count is None or count - before not in (0, 1) or not old <= state.tree:
            fault = "torn or lost: " + said
        elif ACKNOWLEDGED.search(state.said) and count == before:
            fault = "acknowledged and lost: " + said
        else:
            fault = self.fault_of_next(mission, self.signer(), before)
        return fault and f"{start}, {state.place}: {fault}"

    def faults(self, start, recording):
        """How many states there are, how many of them differ, and what is wrong with them."""
        count, states = recording.states()
        old = frozenset(entry for entry in recording.before() if ".building-" not in entry[0])
        wrong = self.in_parallel(lambda mission, state: self.fault_of(mission, start, old, state), states)
        return count, len(states), [fault for fault in wrong if fault]

    def faults_of_signing(self, start, signer, environment=None):
        recording = self.recording(start)
        done = recording.run(self.words(self.mission, signer), environment=environment)
        self.assertEqual(done.returncode, self.DONE, done.stderr)
        return self.faults(start, recording)

    def assert_none(self, found):
        for _, _, wrong in found:
            self.assertEqual(wrong, [])
        print(f"{sum(f[0] for f in found)} crash states, {sum(f[1] for f in found)} distinct, 0 bad", file=sys.stderr)

    def test_planted_defects_are_caught(self):
        in_place = self.careless("set -e; mkdir MISSION/signoffs MISSION/signoffs/000001; "
                                 "for file in record.json record.json.sig; do "
                                 "dd if=READY/$file of=MISSION/signoffs/000001/$file conv=fsync status=none; done; "
                                 "sync MISSION/signoffs/000001 MISSION/signoffs MISSION; echo already signed")
        forgets_files, forgets_folders = (self.preloaded(f"FORGETS={kind}") for kind in ("S_IFREG", "S_IFDIR"))
        for words, signer, environment in (("torn", self.signer(), forgets_files),
                                           ("acknowledged and lost", self.signer(), forgets_folders),
                                           ("torn", in_place, None)):
            count, distinct, wrong = self.faults_of_signing("empty", signer, environment)
            self.assertTrue(any(words in fault for fault in wrong), wrong)
            print(f"planted: {count} crash states, {distinct} distinct, {len(wrong)} bad", file=sys.stderr)

    def test_a_cut_at_any_point(self):
        self.assert_none([self.faults_of_signing(start, self.signer()) for start in self.STARTS])

    def test_a_cut_after_signing_again_where_the_first_try_was_killed(self):
        """At a call that forces something to disk; once the record is in place, the second says 'already signed'."""
        found = []
        for start in self.STARTS:
            words = self.words(self.mission, self.signer())
            whole = self.recording(start)
            whole.run(words)
            last = sum(isinstance(event, list) for event in whole.events)
            for n in range(1 if FULL else last, last + 1):
                recording = self.recording(start)
                killed = recording.run(words, "-e", f"inject=fsync:signal=SIGKILL:when={n}")
                self.assertEqual(killed.returncode, -signal.SIGKILL)
                self.assertEqual(recording.run(words).returncode, self.DONE)
                found.append(self.faults(start, recording))
        self.assert_none(found)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1] + sys.argv[3:])
