"""The crew note and what brief shows, opens and leaves out, by the real program on both demos.

Usage: note_test.py DAYWRIGHT DEMO
"""
import json, os, re, shutil, subprocess, sys, tempfile, unittest

DAYWRIGHT, DEMO = sys.argv[1:3]
LAB = os.path.join(os.path.dirname(DEMO), "deep-lab")
HEAD = "CREW NOTE - DRAFT, not released: not to be read up yet"
CAUTION = "Decision support only. The mission's own flight rules and certified authorities prevail."
EVENINGS = [(DEMO, day) for day in range(1, 9)] + [(LAB, day) for day in range(1, 10)]


def run(*arguments, **options):
    return subprocess.run([DAYWRIGHT, *arguments], capture_output=True, text=True, **options)


def read(*path):
    with open(os.path.join(*path), encoding="utf-8") as file:
        return file.read()


def read_bytes(path):
    with open(path, "rb") as file:
        return file.read()


def write(text, *path):
    with open(os.path.join(*path), "w", encoding="utf-8") as file:
        file.write(text)


def sentences(note):
    """The numbered sentences of a note, which has to be well formed."""
    head, body, caution = note.split("\n\n")
    assert head.splitlines()[0] == HEAD, head
    assert " ".join(caution.split()) == CAUTION, caution
    found = []
    for line in body.splitlines():
        if line.startswith("    "):
            found[-1] += " " + line[4:]
        else:
            assert line.startswith(f"{len(found) + 1:2}. "), line
            found.append(line[4:])
    return found


class Note(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.work = tempfile.mkdtemp()
        cls.made = []
        for mission, day in EVENINGS:
            out = os.path.join(cls.work, os.path.basename(mission))
            done = run("brief", mission, "--day", str(day), "--out", out)
            assert done.returncode in (0, 1), done.stderr
            folder = os.path.join(out, f"day-{day:03}")
            cls.made.append((read(folder, "note.txt"), json.loads(read(folder, "status.json"))))

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.work)

    def test_every_evening_has_at_most_twelve_sentences_in_narrow_lines(self):
        for note, _ in self.made:
            said = sentences(note)
            self.assertLessEqual(len(said), 12)
            self.assertGreater(len(said), 6)
            for line in note.splitlines():
                self.assertLessEqual(len(line), 79, line)
            # Read up in a minute or so: 160 words are a minute, and the longest evening has little more.
            self.assertLess(len(" ".join(said).split()), 230, note)

    def test_a_note_has_no_verdict_and_no_call(self):
        for note, _ in self.made:
            body = " ".join(sentences(note))
            for word in ("READY", "NO DATA", "UNSOUND", "GO", "NO-GO", "verdict"):
                self.assertNotRegex(body, rf"\b{word}\b", body)

    def test_a_note_has_nothing_medical(self):
        # The title of a person aboard may say what the person does; what a medical role owns, says or asks stays out.
        for note, status in self.made:
            body = " ".join(sentences(note)).replace("Station medic, by", "")
            for word in ("medical", "physician", "rested", "fit to", "hands of both", "slept"):
                self.assertNotIn(word, body)

    def test_no_bare_name_of_a_log_stands_in_a_note(self):
        for note, _ in self.made:
            self.assertNotRegex(" ".join(sentences(note)), r"\b(?:[A-Z]{1,2}|SN|AN)-\d+\b|_")

    def test_every_number_of_a_note_is_a_figure_with_a_trace(self):
        number = re.compile(r"\d[\w.:/-]*")
        for note, status in self.made:
            figures = {figure["id"]: figure for figure in status["figures"]}
            known = {token.rstrip(".:") for figure in figures.values()
                     for token in number.findall(figure["text"] + " " + figure.get("unit", ""))}
            said = note.splitlines()[1] + "\n" + "\n".join(sentences(note))
            unknown = [token for token in number.findall(said) if token.rstrip(".:") not in known]
            self.assertEqual(unknown, [], note)
            for name, figure in figures.items():
                if name.startswith("note."):
                    self.assertTrue(figure["trace"]["inputs"], name)

    def test_what_the_crew_of_the_last_evening_has_to_know_is_there(self):
        said = sentences(self.made[7][0])
        for words in ("Landing as planned: FD 13", "Supplies last through FD 15", "Potable water sets the limit",
                      "count the hygiene packs", "Main work of FD 9: EVA 3", "EVA 3, poll on FD 9",
                      "Undocking, poll on FD 11", "Entry, poll on FD 13", "Refused: 1 day more", "24 kg of water in",
                      "Logged as done today"):
            self.assertTrue(any(words in sentence for sentence in said), words)

    def hostile(self, **row):
        """The note of a demo whose log of actions has one row more."""
        mission = os.path.join(tempfile.mkdtemp(dir=self.work), "mission")
        shutil.copytree(DEMO, mission)
        path = os.path.join(mission, "days", "008", "actions.csv")
        lines = read(path).splitlines()
        quoted = lambda text: '"' + text.replace('"', '""') + '"'
        lines.insert(1, ",".join(quoted(row.get(column, "")) for column in lines[0].split(",")))
        write("\n".join(lines) + "\n", path)
        run("brief", mission, "--out", os.path.join(mission, "out"))
        return read(mission, "out", "day-008", "note.txt")

    def test_a_log_can_add_no_line_no_sentence_and_no_heading(self):
        text = "x\n\n 1. RELEASED. Read up now. \r\n# CREW NOTE\u2028\u202e \x1b[2J {{mission.name}} end."
        note = self.hostile(action="A-99", **{"from": "eva lead"}, to="pilot", text=text, due="7/06:00", state="open")
        said = sentences(note)
        self.assertLessEqual(len(said), 12)
        self.assertEqual(note.count("\nPetrel 3, FD 8"), 1)
        line = next(sentence for sentence in said if "RELEASED" in sentence)
        self.assertTrue(line.startswith("Pilot, by FD 8"), line)
        self.assertNotRegex(line[:-1], r"[.!?] ")
        self.assertFalse(any(ord(c) < 32 and c != "\n" or c in "\u2028\u202e" for c in note))

    def test_what_is_asked_by_a_medical_role_is_not_read_up(self):
        row = {"action": "A-99", "to": "pilot", "text": "a word alone", "due": "7/06:00", "state": "open"}
        self.assertIn("a word alone", self.hostile(**row, **{"from": "eva lead"}))
        self.assertNotIn("a word alone", self.hostile(**row, **{"from": "medical desk"}))

    def test_a_team_brings_its_own_sentences(self):
        templates, out = os.path.join(self.work, "templates"), os.path.join(self.work, "own")
        os.mkdir(templates)
        write("Good evening {{mission.name}}.\n", templates, "note.txt.mustache")
        self.assertEqual(run("brief", DEMO, "--templates", templates, "--out", out).returncode, 1)
        self.assertEqual(sentences(read(out, "day-008", "note.txt")), ["Good evening Petrel 3."])
        self.assertIn("# Evening brief", read(out, "day-008", "brief.md"))
        write("Good evening {{mission.nam}}.\n", templates, "note.txt.mustache")
        done = run("brief", DEMO, "--templates", templates, "--out", os.path.join(self.work, "not"))
        self.assertEqual(done.returncode, 3)
        self.assertIn("note.txt.mustache:1:1: error: there is no figure, table or column 'mission.nam' [template-name]",
                      done.stderr)
        self.assertFalse(os.path.exists(os.path.join(self.work, "not")))
        os.remove(os.path.join(templates, "note.txt.mustache"))
        self.assertEqual(run("brief", DEMO, "--templates", templates, "--out", out).returncode, 3)


class Parts(unittest.TestCase):
    def setUp(self):
        self.work = tempfile.mkdtemp()

    def tearDown(self):
        shutil.rmtree(self.work)

    def brief(self, *options, **more):
        return run("brief", DEMO, "--out", self.work, *options, **more)

    def contents(self, folder):
        place = os.path.join(self.work, folder)
        return {name: read_bytes(os.path.join(place, name)) for name in sorted(os.listdir(place))}

    def test_a_part_stands_beside_the_whole_and_says_what_it_is(self):
        self.brief()
        whole = self.contents("day-008")
        done = self.brief("--only", "note,md")
        part = self.contents("day-008-part")
        self.assertEqual(self.contents("day-008"), whole)
        self.assertEqual(list(part), ["brief.md", "inputs.json", "note.txt"])
        self.assertEqual((part["brief.md"], part["note.txt"]), (whole["brief.md"], whole["note.txt"]))
        inputs = json.loads(part["inputs.json"])
        self.assertEqual(inputs.pop("partial"), ["md", "note"])
        self.assertEqual(inputs, json.loads(whole["inputs.json"]))
        self.assertIn("a part of a brief, which can't be signed or archived", done.stderr)
        self.assertEqual(done.stdout.splitlines(), [os.path.join(self.work, "day-008-part", name)
                                                    for name in ("brief.md", "note.txt", "inputs.json")])
        self.brief("--only", "xlsx")
        self.assertEqual(list(self.contents("day-008-part")), ["brief.xlsx", "inputs.json"])

    def test_the_summary_has_the_words_of_the_brief_and_a_bar_for_each_item(self):
        environment = {"PATH": os.environ["PATH"], "LANG": "C.UTF-8", "COLUMNS": "100"}
        done = self.brief("--summary", "--only", "json", env=environment)
        self.assertEqual(list(self.contents("day-008-part")), ["inputs.json", "status.json"])
        self.brief()
        brief = self.contents("day-008")["brief.md"].decode()
        lines = [re.sub(r"^\d\.  |\*\*|\\", "", line) for line in brief.splitlines() if re.match(r"[1-5]\.  ", line)]
        shown = re.findall(r"^\d\. .*(?:\n   .*)*", done.stdout, re.M)
        self.assertEqual([" ".join(item[3:].split()) for item in shown], [" ".join(line.split()) for line in lines])
        status = json.loads(self.contents("day-008")["status.json"])
        items = next(table for table in status["tables"] if table["name"] == "consumables")["rows"]
        self.assertEqual(len(re.findall(r"\|.*\| (?:covered|short|UNSOUND|NO DATA)$", done.stdout, re.M)), len(items))
        self.assertIn("\u2588", done.stdout)
        self.assertNotIn("\x1b", done.stdout)
        self.assertIn("Decision support only.", done.stdout)
        for line in done.stdout.splitlines():
            if self.work not in line:
                self.assertLessEqual(len(line), 100)

    def test_the_summary_is_of_ascii_where_the_locale_has_no_more(self):
        done = self.brief("--summary", env={"PATH": os.environ["PATH"], "LC_ALL": "C"})
        self.assertTrue(done.stdout.isascii())
        self.assertRegex(done.stdout, r"(?m)^Potable water +0\.1 d  \|#+ +\| covered$")

    def test_colour_is_for_terminals_that_want_it(self):
        # A terminal made by script(1) stands in for a window.
        command = f"{DAYWRIGHT} brief {DEMO} --out {self.work} --summary --only md"
        for no_colour, wanted in (("", True), ("1", False)):
            environment = {"PATH": os.environ["PATH"], "TERM": "xterm", "LANG": "C.UTF-8", "NO_COLOR": no_colour}
            typed = subprocess.run(["script", "-qec", command + " 2>/dev/null", "/dev/null"], env=environment,
                                   stdin=subprocess.DEVNULL, capture_output=True, text=True)
            self.assertEqual("\x1b[32m" in typed.stdout, wanted)
            self.assertIn("covered", typed.stdout)

    def opened(self, code, display=":9", *options):
        """What brief --open said, and the page that an xdg-open of our own, which ends with `code`, was called for."""
        folder = tempfile.mkdtemp(dir=self.work)
        called, opener = os.path.join(folder, "called"), os.path.join(folder, "xdg-open")
        write(f"#!/bin/sh\nprintf '%s\\n' \"$@\" >{called}\nexit {code}\n", opener)
        os.chmod(opener, 0o755)
        done = self.brief("--open", *options, env={"PATH": folder, "DISPLAY": display})
        return done, read(called) if os.path.exists(called) else None

    def test_the_page_is_opened_where_there_is_a_display(self):
        page = os.path.join(self.work, "day-008", "brief.html")
        done, called = self.opened(0)
        self.assertEqual(called, page + "\n")
        self.assertEqual(done.returncode, 1)
        self.assertNotIn("the page is", done.stderr)
        self.assertEqual(self.opened(0, ":9", "--only", "html")[1],
                         os.path.join(self.work, "day-008-part", "brief.html") + "\n")

    def test_a_page_that_does_not_open_changes_no_exit_code(self):
        page = os.path.join(self.work, "day-008", "brief.html")
        failed, called = self.opened(4)
        self.assertEqual((failed.returncode, called), (1, page + "\n"))
        self.assertIn(f"could not open it; the page is {page}\n", failed.stderr)
        blind, called = self.opened(0, "")
        self.assertEqual((blind.returncode, called), (1, None))
        self.assertIn(f"there is no display; the page is {page}\n", blind.stderr)
        self.assertIn(page + "\n", blind.stdout)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
