"""What crash_states.py says can lie on disk after a power cut, for small scripts of which everything is known."""
import os, tempfile, unittest

from crash_states import Recording


class States(unittest.TestCase):
    def setUp(self):
        parent = tempfile.TemporaryDirectory()
        self.addCleanup(parent.cleanup)
        self.watched = os.path.join(parent.name, "watched")
        os.mkdir(self.watched)
        with open(os.path.join(self.watched, "old"), "w", encoding="ascii") as file:
            file.write("old")

    def record(self, *scripts):
        """Runs scripts that call the watched folder W and the one that it lies in PARENT."""
        recording = Recording(self.watched)
        for script in scripts:
            script = script.replace("W", self.watched).replace("PARENT", os.path.dirname(self.watched))
            done = recording.run(["sh", "-ec", script])
            self.assertEqual(done.returncode, 0, done.stderr)
        return recording

    @staticmethod
    def words(state):
        """The folders and files in the watched folder, in one line; zeros as 0."""
        shown = ((path.removeprefix("watched/"), content) for path, content in state.tree if path != "watched")
        return " ".join(sorted(path + ("/" if content is None else "=" + content.decode().replace("\0", "0"))
                               for path, content in shown)) if state.tree else "gone"

    def after(self, *scripts, **limits):
        """What can lie there once the scripts have ended."""
        _, states = self.record(*scripts, "echo end").states(**limits)
        return {self.words(state) for state in states if state.said}

    def test_bytes_are_there_whole_by_half_as_zeros_or_not_until_the_file_is_forced(self):
        self.assertEqual(self.after("rm W/old; sync W; printf abcd >W/f"), {"", "f=", "f=abcd", "f=ab", "f=0000"})
        self.assertEqual(self.after("rm W/f; sync W; printf abcd >W/f; sync W"), {"f=", "f=abcd", "f=ab", "f=0000"})
        self.assertEqual(self.after("printf e >>W/f; sync W/f"), {"f=abcde"})

    def test_a_name_is_there_or_not_until_its_folder_is_forced(self):
        self.assertEqual(self.after("printf abcd >W/f; sync W/f"), {"old=old", "f=abcd old=old"})
        self.assertEqual(self.after("printf abcd >W/g; sync W/g W"), {"f=abcd g=abcd old=old"})
        self.assertEqual(self.after("rm W/f W/g; sync W; rm W/old"), {"", "old=old"})

    def test_a_move_is_there_or_not_even_without_what_was_before_it(self):
        self.assertEqual(self.after("printf new >W/f; sync W/f; mv W/f W/old"), {"old=old", "f=new old=old", "old=new"})

    def test_a_folder_needs_its_own_name(self):
        self.assertEqual(self.after("mkdir W/d; printf x >W/d/f; sync W/d/f W/d"), {"old=old", "d/ d/f=x old=old"})
        self.assertEqual(self.after("rm -r W; sync PARENT"), {"gone"})
        self.assertEqual(self.after("mkdir W; printf x >W/f; sync W/f W"), {"gone", "f=x"})

    def test_a_file_that_is_cut_short_is_so_or_not(self):
        self.assertEqual(self.after(": >W/old"), {"old=old", "old="})

    def test_one_command_forces_what_another_did(self):
        self.assertEqual(self.after("printf x >W/f", "sync W/f W"), {"f=x old=old"})
        self.assertEqual(self.after("printf x >W/g", "sync"), {"f=x g=x old=old"})

    def test_what_was_said_counts_from_then_on(self):
        _, states = self.record("printf x >W/f; sync W/f W; echo done; rm W/f").states()
        self.assertEqual({(self.words(state), state.said) for state in states},
                         {("f= old=old", b""), ("f=0 old=old", b""), ("f=x old=old", b"done\n"),
                          ("old=old", b"done\n")})

    def test_of_too_many_states_each_single_loss_is_taken_and_a_sample(self):
        recording = self.record("printf abcd >W/f; printf abcd >W/g; printf abcd >W/h")
        everything, few, again = ({self.words(state) for state in recording.states(**limits)[1]}
                                  for limits in ({}, {"most": 100, "sampled": 20}, {"most": 100, "sampled": 20}))
        self.assertEqual(len(everything), 5 ** 3)
        self.assertLess(few, everything)
        self.assertEqual(few, again)
        single = {f"f={left} g=abcd h=abcd old=old" for left in ("", "ab", "0000")} | {"g=abcd h=abcd old=old"}
        self.assertLessEqual(single | {"old=old"}, few)

    def test_what_can_not_be_recorded_is_an_error(self):
        with self.assertRaises(RuntimeError):
            self.record("ln -s old W/link")


if __name__ == "__main__":
    unittest.main()
