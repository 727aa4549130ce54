"""Days filed and verified by the real program, and by the stock tools alone.

Usage: archive_test.py DAYWRIGHT DEMO [TEST...]
"""
import json, os, random, re, shutil, subprocess, sys, unittest

from signoff_test import FULL, Signing, read, run, write


class Archiving(Signing):
    """Each test has a mission whose briefs of days 7 and 8 have been made; nothing is filed yet."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        assert run("brief", cls.template, "--day", "7").returncode == 0  # no planted fault yet

    def setUp(self):
        super().setUp()
        self.place = os.path.join(self.mission, "archive")

    def archive(self, *options, code=None):
        """Without `code` something is to be filed, or to be there: 0, or 1 with the planted faults of day 8."""
        done = run("archive", self.mission, *options)
        expected = code if code is not None else 0 if "7" in options else 1
        self.assertEqual(done.returncode, expected, done.stdout + done.stderr)
        return done

    def refused_to_file(self, words, *options):
        before = self.tree()
        self.assertIn(words, self.archive(*options, code=3).stderr)
        self.assertEqual(self.tree(), before)

    def tree(self):
        """Every file of the archive with its bytes."""
        return {os.path.relpath(os.path.join(folder, name), self.place): read(folder, name)
                for folder, _, names in os.walk(self.place) for name in names}

    def verify(self, code, *options, path=None):
        done = run("verify", path or self.place, *options)
        self.assertEqual(done.returncode, code, done.stdout + done.stderr)
        return done.stdout

    def bag(self, number):
        return os.path.join(self.place, f"{number:06}")

    def label(self, number, name):
        found = re.search(rf"^{name}: (.*)$", read(self.bag(number), "bag-info.txt").decode(), re.MULTILINE)
        return found and found[1]


class File(Archiving):
    def test_a_bag_holds_all_that_belongs_to_the_day_and_nothing_else(self):
        self.go("eva_lead")
        done = self.archive("--day", "8")
        self.assertIn("filed day 8, revision 1: ", done.stdout)
        data = os.path.join(self.bag(1), "data")
        days = os.path.join(self.mission, "days")
        inputs = {os.path.join("days", day, name) for day in os.listdir(days) for name in os.listdir(os.path.join(days, day))
                  if int(day) <= 8} | {"mission.toml", "rules.toml"}
        expected = {os.path.join("inputs", name): os.path.join(self.mission, name) for name in inputs}
        for folder, into in ((os.path.join("out", "day-008"), "outputs"), ("signoffs", "signoffs")):
            for where, _, names in os.walk(os.path.join(self.mission, folder)):
                for name in names:
                    path = os.path.join(where, name)
                    expected[os.path.join(into, os.path.relpath(path, os.path.join(self.mission, folder)))] = path
        expected["allowed_signers"] = os.path.join(self.mission, "allowed_signers")
        templates = os.path.join(os.path.dirname(os.path.dirname(self.demo())), "templates")
        for name in ("brief.md.mustache", "brief.css", "note.txt.mustache"):
            expected[os.path.join("templates", name)] = os.path.join(templates, name)
        found = {os.path.relpath(os.path.join(folder, name), data) for folder, _, names in os.walk(data) for name in names}
        self.assertEqual(found, set(expected))
        for path, source in expected.items():
            self.assertEqual(read(data, path), read(source), path)

    @staticmethod
    def demo():
        return os.path.abspath(sys.argv[2])

    def test_an_earlier_day_is_filed_without_what_came_later(self):
        self.archive("--day", "7")
        self.assertFalse(os.path.exists(os.path.join(self.bag(1), "data", "inputs", "days", "008")))
        self.assertTrue(os.path.exists(os.path.join(self.bag(1), "data", "inputs", "days", "007")))

    def test_the_same_again_is_already_filed(self):
        self.archive()
        before = self.tree()
        self.assertIn("already filed: ", self.archive().stdout)
        self.assertEqual(self.tree(), before)

    def test_a_later_sign_off_is_a_new_revision_that_explains_itself(self):
        self.archive()
        self.go("eva_lead")  # of what was filed, though the next brief would be revision 2
        run("signoffs", self.mission)
        sheet = json.loads(read(self.mission, "out", "day-008-signoffs", "signoffs.json"))
        self.assertEqual(sheet["heading"], "Petrel 3, FD 8, revision 1")
        self.assertEqual(sheet["gates"][0]["records"][0]["state"], "stands")
        self.archive()
        self.assertEqual((self.label(2, "Day-Revision"), self.label(2, "Replaces")), ("2", "1"))
        self.assertEqual(self.label(2, "Reason"), "sign-offs, the list of signers or the handover have changed since")
        self.verify(5)

    def test_a_correction_needs_a_reason(self):
        self.archive()
        with open(os.path.join(self.mission, "days", "008", "counts.csv"), "ab") as file:
            file.write(b"\n")
        self.refused_to_file("the inputs have changed since this brief was made ('days/008/counts.csv')")
        run("brief", self.mission)
        self.refused_to_file("day 8 is filed already, as 000001 (revision 1), and 'data/inputs/days/008/counts.csv' and ")
        self.archive("--reason", "late count | **of** bags")
        self.assertEqual(self.label(2, "Reason"), "late count | **of** bags")
        self.verify(5)

    def test_what_is_not_a_whole_brief_of_just_these_inputs_is_not_filed(self):
        out = os.path.join(self.mission, "out", "day-008")
        status = read(out, "status.json").decode()
        write(status.replace("READY", "READX", 1), out, "status.json")
        self.refused_to_file("this brief is not what the inputs give")
        write(status, out, "status.json")
        workbook = read(out, "brief.xlsx")
        shutil.copy(os.path.join(out, "note.txt"), os.path.join(out, "brief.xlsx"))
        self.refused_to_file("'brief.xlsx' was changed after it was made")
        with open(os.path.join(out, "brief.xlsx"), "wb") as file:
            file.write(workbook)
        os.remove(os.path.join(out, "note.txt"))
        self.refused_to_file("does not hold the outputs of a whole brief")
        shutil.rmtree(out)
        self.refused_to_file("there is no whole brief")

    def test_a_brief_of_another_cut_off_is_filed_as_it_is(self):
        run("brief", self.mission, "--cutoff", "7/03:00")
        self.archive()
        self.verify(5, "--remake")

    def test_a_brief_of_other_templates_is_filed_with_them(self):
        templates = os.path.join(self.shared, "templates")
        os.makedirs(templates, exist_ok=True)
        write("# {{mission.name}}\n\n1. a\n2. b\n3. c\n4. d\n5. e\n", templates, "brief.md.mustache")
        run("brief", self.mission, "--templates", templates)
        self.refused_to_file("this brief was made with another 'templates/brief.md.mustache'")
        self.archive("--templates", templates)
        self.assertEqual(read(self.bag(1), "data", "templates", "brief.md.mustache"),
                         read(templates, "brief.md.mustache"))
        self.verify(5, "--remake")

    def test_a_link_is_not_filed_wherever_it_leads(self):
        secret = os.path.join(self.shared, "secret.csv")
        write("secret\n", secret)
        link = os.path.join(self.mission, "days", "008", "more.csv")
        os.symlink(secret, link)
        run("brief", self.mission)
        self.refused_to_file("'days/008/more.csv' is a link, or no file of a day folder")
        os.remove(link)
        os.rename(os.path.join(self.mission, "days", "007"), os.path.join(self.shared, "seven"))
        os.symlink(os.path.join(self.shared, "seven"), os.path.join(self.mission, "days", "007"))
        run("brief", self.mission)
        self.refused_to_file("'days/007' is a link")
        os.remove(os.path.join(self.mission, "days", "007"))
        os.rename(os.path.join(self.shared, "seven"), os.path.join(self.mission, "days", "007"))
        run("brief", self.mission)
        out = os.path.join(self.mission, "out", "day-008", "note.txt")
        os.rename(out, os.path.join(self.shared, "note.txt"))
        os.symlink(os.path.join(self.shared, "note.txt"), out)
        self.refused_to_file("there is no whole brief")

    def test_names_of_files_are_filed_as_they_are_or_refused(self):
        folder = os.path.join(self.mission, "days", "008")
        for name in ("r\u00e9cit \u6f22 (2).txt", "n" * 251 + ".csv", "a'b\"c.txt", "*.txt", "\u202e.txt"):
            write("x", folder, name)
        run("brief", self.mission)
        self.archive()
        self.verify(5)
        for tool in ("sha256sum", "sha512sum"):
            for kind in ("manifest", "tagmanifest"):
                self.stock([tool, "--strict", "-c", "--quiet", f"{kind}-{tool[:-3]}.txt"])
        for name in ("a%41.txt", "a\\b.txt", "a\nb.txt"):
            write("x", folder, name)
            run("brief", self.mission)
            done = run("archive", self.mission, "--reason", "names")
            self.assertEqual(done.returncode, 3)
            self.assertIn("which the stock tools read otherwise in a manifest", done.stderr)
            self.assertNotIn("a\nb.txt", done.stderr)
            os.remove(os.path.join(folder, name))
        for name, words in ((b"x\xff.txt", "has a name that is not UTF-8"),
                            (b"COUNTS.csv", "differs from 'data/inputs/days/008/COUNTS.csv' only in case or Unicode "
                                            "normal form: rename it or take it out")):
            path = os.path.join(os.fsencode(folder), name)
            write("x", path)
            run("brief", self.mission)
            done = run("archive", self.mission, "--reason", "names")
            self.assertEqual(done.returncode, 3)
            self.assertIn(words, done.stderr)
            os.remove(path)

    def test_a_mission_whose_name_no_label_can_carry_is_not_filed(self):
        place = os.path.join(self.mission, "mission.toml")
        plan = read(place).decode()
        for name in (r"Petrel\nVoid-Sign-Off: 1\nX: y", r"Petrel\u202e 3", "x" * 201):
            write(plan.replace('name = "Petrel 3"', f'name = "{name}"', 1), place)
            run("brief", self.mission)
            self.refused_to_file("the name of the mission")

    def stock(self, words, **options):
        done = subprocess.run(words, cwd=self.bag(1), capture_output=True, **options)
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)

    def test_a_record_that_is_void_is_filed_as_such(self):
        self.go("eva_lead")
        self.go("systems")
        shutil.copy(self.key("systems") + ".pub", os.path.join(self.mission, "revoked_keys"))
        self.assertIn("record 2 is filed as VOID", self.archive().stderr)
        self.assertEqual(self.label(1, "Void-Sign-Off"), "2")
        self.assertIn("data/signoffs/000002: VOID, as it was when filed: is made with the key", self.verify(5))

    def test_when_nothing_can_be_said_it_is_in_doubt(self):
        with open("/dev/full", "w") as full:
            done = subprocess.run([sys.argv[1], "archive", self.mission], stdout=full, stderr=subprocess.PIPE, text=True)
        self.assertEqual(done.returncode, 4, done.stderr)
        self.assertIn("day 8 is filed as ", done.stderr)
        self.assertIn("already filed", self.archive().stdout)

    def test_two_that_file_at_once_file_once(self):
        several = [subprocess.Popen([sys.argv[1], "archive", self.mission], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
                   for _ in range(6)]
        said = [process.communicate()[0].decode() for process in several]
        self.assertEqual(sum("filed day 8, revision 1" in text for text in said), 1)
        self.assertEqual(sum("already filed" in text for text in said), 5)
        self.assertEqual(sorted(os.listdir(self.place)), ["000001"])
        self.verify(5)

    def test_what_makes_no_sense_is_usage(self):
        for options in (["--reason", "a\nb"], ["--cutoff", "7/00:00"], ["--to", ""], ["--day", "0"]):
            self.archive(*options, code=2)

    def test_another_place_can_be_the_archive(self):
        second = os.path.join(self.shared, "second")
        self.archive("--to", second + "/")
        self.verify(5, path=second)
        self.assertFalse(os.path.exists(self.place))

    def test_no_archive_lies_among_what_is_read_or_swapped(self):
        outputs = os.path.join(self.mission, "out")
        for place in ("days", "days/archive", "signoffs", "signoffs/", "out/day-008", "out/day-008-handover",
                      "out/day-009/archive", "out/../signoffs"):
            self.assertIn("give --to a folder of its own",
                          self.archive("--to", os.path.join(self.mission, place), code=3).stderr)
        self.assertFalse(os.path.exists(os.path.join(self.mission, "signoffs")))
        self.assertEqual(sorted(os.listdir(outputs)), ["day-007", "day-008"])
        self.archive("--to", os.path.join(outputs, "archive"))


class Witness(Archiving):
    """What the brief of a day says of the days before."""

    def test_a_brief_says_count_and_head_of_the_earlier_days(self):
        self.archive("--day", "7")
        self.archive("--day", "8")
        self.assertIn("day 8 is filed already; this is revision 2", run("brief", self.mission).stderr)
        status = {figure["id"]: figure for figure in
                  json.loads(read(self.mission, "out", "day-008", "status.json"))["figures"]}
        digest = self.verify(5, path=self.bag(1)).rsplit(":", 1)[1].strip()
        head = f"1:{digest[:16]}"
        self.assertEqual(status["archive.head"]["text"], head)
        self.assertEqual(status["brief.revision"]["text"], "2")
        self.assertIn(f"head {head}.", read(self.mission, "out", "day-008", "brief.md").decode())
        listed = json.loads(read(self.mission, "out", "day-008", "inputs.json"))["archive"]
        self.assertEqual(listed, {"count": 1, "digest": digest, "revisions": 1, "fault": ""})
        self.assertIn("up to 1 it is what was noted", self.verify(5, "--expect", head))

    def test_a_brief_says_when_the_archive_is_not_sound(self):
        self.archive("--day", "7")
        os.remove(os.path.join(self.bag(1), "bag-info.txt"))
        done = run("brief", self.mission)
        self.assertIn("warning: the archive is not sound: '000001' is not whole", done.stderr)
        self.assertIn("head NOT SOUND, ", read(self.mission, "out", "day-008", "brief.md").decode())


class AfterFiling(Archiving):
    """What is said of sign-offs whose brief lies in the archive, when days go on."""

    def test_what_an_old_sign_off_covers_is_looked_for_in_the_archive(self):
        self.assertEqual(self.sign("eva_lead", "--day", "7", "--gate", "eva_3", "--call", "go").returncode, 0)
        write(read(self.mission, "mission.toml").decode() + "# later\n", self.mission, "mission.toml")
        brief = run("brief", self.mission)
        self.assertIn("of other days, 1 sign-off is overtaken and not filed", brief.stderr)
        self.verify(6, path=self.mission)
        write(read(self.mission, "mission.toml").decode().replace("# later\n", ""), self.mission, "mission.toml")
        self.archive("--day", "7")
        write(read(self.mission, "mission.toml").decode() + "# later\n", self.mission, "mission.toml")
        shutil.rmtree(os.path.join(self.mission, "out", "day-007"))
        self.assertNotIn("overtaken", run("brief", self.mission).stderr)
        said = self.verify(5, path=self.mission)
        self.assertIn("signoffs/000001: note: what it covers is another since, and filed as archive/000001", said)
        self.assertIn(f"archive: note: not looked at here; 'daywright verify {self.place}' does", said)
        # A list that was changed to name what was signed proves nothing.
        manifest = os.path.join(self.bag(1), "manifest-sha256.txt")
        write(read(manifest).decode() + "\n", manifest)
        self.verify(6, path=self.mission)

    def test_a_brief_that_names_an_archive_that_is_not_there_is_not_signed_or_filed(self):
        self.archive("--day", "7")
        run("brief", self.mission)
        os.rename(self.place, self.place + ".away")
        words = "the archive is not the one that this brief was made with"
        done = self.sign("eva_lead", "--gate", "eva_3", "--call", "go")
        self.assertEqual((done.returncode, self.numbers()), (3, []))
        self.assertIn(words, done.stderr)
        self.assertIn(words, self.archive(code=3).stderr)
        os.rename(self.place + ".away", self.place)
        self.archive()


class Verify(Archiving):
    """Three filed revisions of two days, with a call and a decision."""

    def setUp(self):
        super().setUp()
        filed = os.path.join(self.shared, "filed")
        if not os.path.exists(filed):
            self.archive("--day", "7")
            self.archive("--day", "8")
            self.go("eva_lead")
            self.sign("flight_lead", "--gate", "eva_3", "--call", "go", "--decide")
            self.archive("--day", "8")
            shutil.copytree(self.mission, filed)
        shutil.rmtree(self.mission)
        shutil.copytree(filed, self.mission)
        self.head = self.verify(5).rsplit("the last is ", 1)[1].strip()
        self.assertTrue(self.head.startswith("3:"))

    def test_what_is_sound_is_valid_and_with_an_anchor_anchored(self):
        self.assertTrue(self.verify(5).startswith("valid, not anchored: 3 filed days"))
        self.assertTrue(self.verify(0, "--expect", self.head).startswith("valid and anchored"))
        self.verify(0, "--expect", self.head[:18])
        self.verify(0, "--expect", self.head, path=self.bag(3))
        self.verify(7, "--expect", self.head, path=self.bag(2))
        self.verify(2, "--expect", self.head[:17])
        self.verify(5, "--remake")

    def test_the_stock_tools_alone_audit_a_day(self):
        """The commands are those of the README."""
        text = read(os.path.dirname(os.path.dirname(File.demo())), "README.md").decode()
        commands = text.split("In `DIR/archive`, with stock tools alone", 1)[1].split("\n\n", 1)[1]
        lines = []
        for line in commands.split("\n"):
            if line and not line.startswith("    "):
                break
            lines.append(line[4:])
        script = "\n".join(lines)
        self.assertIn("sha512sum --strict", script)

        def audit():
            done = subprocess.run(["bash", "-c", script], cwd=self.place, capture_output=True, text=True)
            return [line for line in (done.stdout + done.stderr).splitlines() if not line.startswith("Good ")]
        self.assertEqual(audit(), [])
        brief = os.path.join(self.bag(2), "data", "outputs", "brief.md")
        text = read(brief)
        write(text.decode().replace("READY", "READX", 1), brief)
        self.assertTrue(any("brief.md: FAILED" in line for line in audit()))
        write(text.decode(), brief)
        self.assertEqual(audit(), [])
        record = os.path.join(self.bag(3), "data", "signoffs", "000001", "record.json")
        self.forge(record, read(record).decode().replace("GO", "NO", 1), 3)
        said = audit()
        self.assertTrue(any("000001 is not signed by" in line for line in said), said)
        shutil.rmtree(self.bag(1))
        self.assertTrue(any("does not follow" in line for line in audit()))

    def forge(self, path, text, number):
        """Changes a file and makes all lists of its bag fit again, as somebody would who can write everywhere."""
        write(text, path)
        for tool in ("sha256sum", "sha512sum"):
            name = f"manifest-{tool[:-3]}.txt"
            listed = [line.split("  ", 1)[1] for line in read(self.bag(number), name).decode().splitlines()]
            done = subprocess.run([tool, *listed], cwd=self.bag(number), capture_output=True, text=True, check=True)
            write(done.stdout, self.bag(number), name)
        info = read(self.bag(number), "bag-info.txt").decode()
        sizes = [os.path.getsize(os.path.join(folder, name))
                 for folder, _, names in os.walk(os.path.join(self.bag(number), "data")) for name in names]
        write(re.sub(r"Payload-Oxum: .*", f"Payload-Oxum: {sum(sizes)}.{len(sizes)}", info), self.bag(number), "bag-info.txt")
        for tool in ("sha256sum", "sha512sum"):
            names = ["bag-info.txt", "bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt"]
            done = subprocess.run([tool, *names], cwd=self.bag(number), capture_output=True, text=True, check=True)
            write(done.stdout, self.bag(number), f"tagmanifest-{tool[:-3]}.txt")

    def test_a_forger_who_makes_all_lists_fit_is_found_by_chain_signature_or_anchor(self):
        brief = os.path.join(self.bag(1), "data", "outputs", "brief.md")
        text = read(brief).decode()
        self.forge(brief, text.replace("READY", "READX", 1), 1)
        self.assertIn("000002/bag-info.txt: invalid: does not follow the day before", self.verify(7))
        self.verify(5, path=self.bag(1))  # alone it looks sound, and the docs say so
        self.assertIn("is not what its inputs give by this very version", self.verify(7, "--remake", path=self.bag(1)))
        self.forge(brief, text, 1)
        self.verify(5)
        # The last day has no successor: only what was noted elsewhere tells.
        brief = os.path.join(self.bag(3), "data", "outputs", "brief.md")
        self.forge(brief, text.replace("READY", "READX", 1), 3)
        self.assertIn("covers another brief or handover of that day", self.verify(5))
        self.assertIn("has another digest than expected", self.verify(7, "--expect", self.head))

    def test_inputs_that_are_not_those_of_the_brief_are_found(self):
        counts = os.path.join(self.bag(3), "data", "inputs", "days", "008", "counts.csv")
        self.forge(counts, read(counts).decode() + "\n", 3)
        self.assertIn("000003/data/inputs/days/008/counts.csv: invalid: is not what inputs.json of the brief lists",
                      self.verify(7))

    def test_labels_that_are_not_those_of_the_brief_are_found(self):
        info = os.path.join(self.bag(3), "bag-info.txt")
        text = read(info).decode()
        self.forge(info, text.replace("Mission-Day: 8", "Mission-Day: 7"), 3)
        self.assertIn("bag-info.txt: invalid: names day 7, and the newest inputs are those of day 8",
                      self.verify(7, path=self.bag(3)))
        self.forge(info, text.replace("Mission: Petrel 3", "Mission: Kestrel"), 3)
        self.assertIn("bag-info.txt: invalid: names the mission 'Kestrel', and the brief is of 'Petrel 3'",
                      self.verify(7, path=self.bag(3)))

    def test_one_bag_that_is_beyond_reading_hides_no_other(self):
        os.truncate(os.path.join(self.bag(2), "data", "outputs", "inputs.json"), 257 << 20)
        signers = os.path.join(self.bag(3), "data", "allowed_signers")
        os.remove(signers)
        os.mkdir(signers)
        note = os.path.join(self.bag(1), "data", "outputs", "note.txt")
        write("x", note)
        said = self.verify(7)
        for words in ("000001/data/outputs/note.txt: invalid: has another", "000002/data/outputs/inputs.json: invalid: ",
                      "000003/data/allowed_signers: invalid: is a folder"):
            self.assertIn(words, said)

    def test_a_bag_that_can_not_be_made_again_is_said_to_be_so(self):
        more = os.path.join(self.bag(3), "data", "outputs", "more.txt")
        for tool in ("sha256sum", "sha512sum"):
            with open(os.path.join(self.bag(3), f"manifest-{tool[:-3]}.txt"), "a", encoding="utf-8") as manifest:
                manifest.write("0  data/outputs/more.txt\n")
        self.forge(more, "x", 3)
        self.verify(5)
        self.assertIn("000003/data: invalid: can't be made again: ", self.verify(7, "--remake"))

    def test_a_sign_off_that_was_changed_or_moved_is_found(self):
        record = os.path.join(self.bag(3), "data", "signoffs", "000001", "record.json")
        self.forge(record, read(record).decode().replace('"GO"', '"ABSTAIN"', 1), 3)
        said = self.verify(7)
        self.assertIn("does not fit the bytes that it lies beside", said)
        self.assertIn("000003/data/signoffs/000002/record.json: invalid: does not follow the record before", said)

    def test_what_is_missing_is_incomplete_and_named(self):
        os.remove(os.path.join(self.bag(2), "data", "outputs", "note.txt"))
        self.assertIn("000002/data/outputs/note.txt: incomplete: is missing", self.verify(6))
        os.remove(os.path.join(self.bag(3), "tagmanifest-sha256.txt"))  # without which a bag is a bag
        self.assertIn("tagmanifest-sha256.txt: incomplete: is missing", self.verify(6, path=self.bag(3)))
        shutil.rmtree(self.bag(2))
        said = self.verify(6)
        self.assertIn("000002: incomplete: is missing", said)
        self.assertIn("INCOMPLETE: 2 filed days", said)

    def test_the_end_of_the_chain_is_held_by_the_anchor(self):
        shutil.rmtree(self.bag(3))
        self.verify(5)
        self.assertIn("archive: incomplete: holds 2 filed days, expected at least 3", self.verify(6, "--expect", self.head))
        shutil.rmtree(self.place)
        os.mkdir(self.place)
        self.verify(6, "--expect", self.head)

    def test_an_older_state_put_back_is_found_by_the_anchor(self):
        older = os.path.join(self.shared, "older")
        shutil.rmtree(older, ignore_errors=True)
        shutil.copytree(self.place, older)
        self.go("systems")
        self.archive("--day", "8")
        head = self.verify(5).rsplit("the last is ", 1)[1].strip()
        shutil.rmtree(self.place)
        shutil.copytree(older, self.place)
        self.verify(6, "--expect", head)

    def test_what_is_too_much_is_found(self):
        for path in ("data/more.txt", "more.txt", "data/signoffs/000009/record.json"):
            place = os.path.join(self.bag(3), path)
            os.makedirs(os.path.dirname(place), exist_ok=True)
            write("x", place)
            self.assertIn(path, self.verify(7))
            os.remove(place)
            if "000009" in path:
                os.rmdir(os.path.dirname(place))
        self.verify(5)

    def test_an_answer_that_can_not_be_said_is_an_error(self):
        with open("/dev/full", "w") as full:
            self.assertEqual(subprocess.run([sys.argv[1], "verify", self.place], stdout=full,
                                            stderr=subprocess.DEVNULL).returncode, 3)

    def test_only_missions_archives_and_bags_are_verified(self):
        for path in (os.path.join(self.mission, "out"), os.path.join(self.mission, "nowhere"), self.shared):
            self.verify(2, path=path)
        self.verify(2, "--remake", path=self.mission)
        empty = os.path.join(self.shared, "empty", "archive")
        os.makedirs(empty)
        self.verify(5, path=empty + "/")

    def test_a_bag_without_its_declaration_is_an_incomplete_bag(self):
        os.remove(os.path.join(self.bag(1), "bagit.txt"))
        self.assertIn("bagit.txt: incomplete: is missing", self.verify(6, path=self.bag(1)))

    def test_a_bag_is_held_against_the_anchor_whatever_it_says_of_itself(self):
        self.assertIn("is number 1 of its archive, and number 3 was expected",
                      self.verify(7, "--expect", self.head, path=self.bag(1)))
        self.verify(0, "--expect", self.head, path=self.bag(3))
        info = os.path.join(self.bag(3), "bag-info.txt")
        self.forge(info, re.sub("Archive-Number: .*\n", "", read(info).decode()), 3)
        self.verify(5, path=self.bag(3))  # a bag, but no filed day
        self.assertIn("is no filed day, and one was expected",
                      self.verify(7, "--expect", self.head, path=self.bag(3)))

    def test_every_change_of_any_file_is_reported(self):
        """Flips, cuts, insertions, deletions, additions, renames and swaps, each with the anchor given."""
        chance = random.Random(7)
        files = sorted(os.path.join(folder, name) for folder, _, names in os.walk(self.place) for name in names)
        changes = self.every_change(files) if FULL else self.some_changes(files, chance)
        count = 0
        for words, do, undo in changes:
            do()
            done = run("verify", self.place, "--expect", self.head)
            self.assertIn(done.returncode, (6, 7), words)
            undo()
            count += 1
        self.verify(0, "--expect", self.head)
        print(f"{count} changes of an archive, all reported", file=sys.stderr)

    def changes_of_bytes(self, path, at):
        """The changes of one file at one place."""
        bytes_ = read(path)

        def put(changed):
            with open(path, "wb") as file:
                file.write(changed)
        name = os.path.relpath(path, self.place)
        kinds = {"insert": bytes_[:at] + b"x" + bytes_[at:], "cut": bytes_[:at]}
        if at < len(bytes_):
            kinds["flip"] = bytes_[:at] + bytes([bytes_[at] ^ 1 << at % 8]) + bytes_[at + 1:]
            kinds["delete"] = bytes_[:at] + bytes_[at + 1:]
        for kind, changed in kinds.items():
            if changed != bytes_:
                yield f"{kind} at {at} of {name}", lambda changed=changed: put(changed), lambda: put(bytes_)

    def changes_of_names(self, path, other):
        moved = path + ".moved"
        name = os.path.relpath(path, self.place)
        yield "rename " + name, lambda: os.rename(path, moved), lambda: os.rename(moved, path)
        yield "remove " + name, lambda: os.rename(path, self.shared + "/kept"), lambda: os.rename(self.shared + "/kept", path)
        yield "add beside " + name, lambda: write("x", moved), lambda: os.remove(moved)
        if read(path) != read(other):
            def swap():
                os.rename(path, moved)
                os.rename(other, path)
                os.rename(moved, other)
            yield f"swap {name} and {os.path.relpath(other, self.place)}", swap, swap

    def some_changes(self, files, chance):
        for path in chance.sample(files, 25):
            yield from self.changes_of_bytes(path, chance.randrange(os.path.getsize(path) + 1))
            yield from self.changes_of_names(path, chance.choice(files))

    def every_change(self, files):
        """Of each file every change of names; of its bytes as many places as make it a matter of minutes."""
        chance = random.Random(8)
        for path in files:
            yield from self.changes_of_names(path, chance.choice(files))
            size = os.path.getsize(path)
            for at in sorted(chance.sample(range(size + 1), min(size + 1, 12))):
                yield from self.changes_of_bytes(path, at)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1] + sys.argv[3:])
