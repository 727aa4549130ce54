"""The handover by the real program: the page of every day of the demo on paper, and taking over with a real key.

Usage: handover_test.py DAYWRIGHT DEMO
"""
import hashlib, json, os, re, shutil, subprocess, sys, unittest

from markdown_it import MarkdownIt

import signoff_test
from signoff_test import DEMO, NAMESPACE, PEOPLE, Signing, read, run, write

STYLE = ("@page { size: A4; margin: 12mm } body { font: 9pt/1.25 'DejaVu Sans'; margin: 0 }"
         "table { border-collapse: collapse; font-size: 7pt } td, th { border: 0.3pt solid; padding: 0.5pt 3pt }"
         "h1 { font-size: 13pt; margin: 0 } h2 { font-size: 10.5pt; margin: 6pt 0 2pt } p, ol { margin: 2pt 0 }")


def tables_of(text):
    """Each table below its heading, rows of cells, as an independent reader of Markdown sees them."""
    tables, heading, rows = {}, "", []
    tokens = MarkdownIt("commonmark").enable("table").parse(text)
    for token, inline in zip(tokens, tokens[1:]):
        if token.type == "heading_open":
            heading = inline.content
        elif token.type == "table_open":
            rows = tables.setdefault(heading, [])
        elif token.type == "tr_open":
            rows.append([])
        elif token.type in ("td_open", "th_open"):
            rows[-1].append(inline.content)
    return tables


class Page(Signing):
    def page(self, *more, code=1):
        done = run("handover", self.mission, *more)
        self.assertEqual(done.returncode, code, done.stderr)
        return read(done.stdout.strip()).decode()

    def append(self, text, *path):
        with open(os.path.join(self.mission, *path), "a", encoding="utf-8") as file:
            file.write(text)

    def test_it_names_the_brief_that_is_in_place_only_where_it_is_of_these_inputs(self):
        brief = read(self.mission, "out", "day-008", "brief.md")
        self.assertIn("SHA-256 of its brief.md: " + hashlib.sha256(brief).hexdigest(), self.page())
        for more, code in ((("--cutoff", "7/06:00"), 1), (("--day", "7"), 0)):
            self.assertIn("**Its brief is not in place: make it first.**", self.page(*more, code=code))
        self.append("\n", "days", "008", "counts.csv")
        self.assertIn("**Its brief is not in place: make it first.**", self.page())

    def test_the_coming_shift_of_the_demo(self):
        tables = tables_of(self.page())
        deadlines = tables["Deadlines in the coming shift"][1:]
        times = [row[0] for row in deadlines]
        self.assertEqual(times, sorted(times))
        what = [(row[1], row[3]) for row in deadlines]
        self.assertIn(("poll", "Flight lead"), what)
        poll = next(row for row in deadlines if row[1] == "poll")
        self.assertIn("EVA 3: READY", poll[2])
        late = [row for row in deadlines if row[1].startswith("OVERDUE")]
        self.assertEqual(deadlines[:len(late)], late)
        others = [row[0] for row in tables["Other open actions"][1:]]
        self.assertEqual(others[0], "A-3")
        for row in deadlines:
            self.assertNotIn(row[2].split(":")[0], others)
        longer = tables_of(self.page("--hours", "24"))["Deadlines in the coming shift"][1:]
        self.assertEqual(longer[:len(deadlines)], deadlines)
        self.assertGreater(len(longer), len(deadlines))

    def test_the_length_of_the_shift_is_that_of_the_mission_or_of_the_command(self):
        plan = read(self.mission, "mission.toml").decode()
        twelve = self.page()
        write(plan.replace("planned_days = 12", "planned_days = 12\nshift_hours = 8.5"), self.mission, "mission.toml")
        run("brief", self.mission)
        self.assertIn("Shift to 2031-05-13T22:29Z", self.page())
        self.assertEqual(re.sub("[0-9a-f]{64}", "", self.page("--hours", "12")), re.sub("[0-9a-f]{64}", "", twelve))
        for hours in ("0", "-1", "72.5", "nan"):
            write(plan.replace("planned_days = 12", f"planned_days = 12\nshift_hours = {hours}"), self.mission, "mission.toml")
            self.assertEqual(run("handover", self.mission).returncode, 3, hours)
            self.assertEqual(run("handover", self.mission, "--hours", hours).returncode, 2, hours)

    def test_a_page_of_every_day_is_one_a4_page(self):
        for mission, days in ((self.mission, range(1, 9)), (os.path.join(DEMO, "..", "deep-lab"), (None,))):
            for day in days:
                out = os.path.join(self.shared, "pages")
                done = run("handover", mission, "--out", out, *(["--day", str(day)] if day else []))
                self.assertIn(done.returncode, (0, 1), done.stderr)
                body = MarkdownIt("commonmark").enable("table").render(read(done.stdout.strip()).decode())
                page, pdf = os.path.join(self.shared, "page.html"), os.path.join(self.shared, "page.pdf")
                write(f"<!doctype html><meta charset=utf-8><style>{STYLE}</style>{body}", page)
                subprocess.run(
                    ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
                     "--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer",
                     "--user-data-dir=" + os.path.join(self.shared, "browser"), "--print-to-pdf=" + pdf,
                     "file://" + page], capture_output=True, check=True)
                facts = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
                self.assertIn("(A4)", facts)
                self.assertRegex(facts, r"Pages: +1\n", f"{mission}, day {day}")
                words = subprocess.run(["pdftotext", pdf, "-"], capture_output=True, text=True, check=True).stdout
                self.assertIn("Decision support only.", words, "the last line is on the paper")
                os.remove(pdf)

    def test_hostile_words_of_logs_stay_words(self):
        self.append('A-20,<script>,| **lead** |,"<script>alert(1)</script> | **x** | {{now.utc}} \u202e\x1b[2J",7/06:00,open\n',
                    "days", "008", "actions.csv")
        self.append('coolant_pump_a,failed,"@table needs",6/22:10,"# no heading"\n', "days", "008", "equipment.csv")
        text = self.page()
        self.assertIsNone(re.search("[\x00-\x09\x0b-\x1f\x7f\u202e]", text))
        html = MarkdownIt("commonmark").enable("table").render(text)
        self.assertNotIn("<script", html)
        self.assertNotIn("<strong>x", html)
        self.assertIn("&lt;script&gt;alert(1)&lt;/script&gt; | **x** | {{now.utc}}", html)
        self.assertIn("<td># no heading</td>", html)
        self.assertTrue(all(len(set(map(len, rows))) == 1 for rows in tables_of(text).values()))

    def test_long_lists_are_cut_with_a_count_and_a_pointer(self):
        for number in range(20, 70):
            self.append(f"A-{number},lead,desk,do it,7/06:{number % 60:02},open\n", "days", "008", "actions.csv")
        text = self.page()
        self.assertRegex(text, r"And \d+ more; all of them are in the brief and the plan\.")
        self.assertRegex(text, r"And \d+ more; all of them are in the brief\.")
        self.assertLess(len(text.splitlines()), 110)

    def test_silence_is_not_good_news(self):
        doubt = "**May lack something:** log findings of FD 8: nobody closed it."
        self.assertNotIn(doubt, self.page())
        day = read(self.mission, "days", "008", "day.toml").decode()
        write(re.sub(r"\[closed\.findings\]\n(.+\n)+", "", day), self.mission, "days", "008", "day.toml")
        self.assertIn(doubt, self.page().split("## Findings under analysis")[1].split("##")[0])

    def test_every_deadline_leads_down_to_a_file(self):
        count = len(tables_of(self.page())["Deadlines in the coming shift"]) - 1
        for number in range(1, count + 1):
            done = run("explain", self.mission, f"handover.deadline.{number}.about")
            self.assertEqual(done.returncode, 1, done.stderr)
            self.assertRegex(done.stdout, r"\.(csv|toml):\d+")
        self.assertEqual(run("explain", self.mission, f"handover.deadline.{count + 1}.when").returncode, 3)

    def test_it_leaves_the_brief_alone_and_is_the_same_again(self):
        day = os.path.join(self.mission, "out", "day-008")
        before = {name: read(day, name) for name in os.listdir(day)}
        self.assertEqual(self.page(), self.page())
        self.assertEqual({name: read(day, name) for name in os.listdir(day)}, before)
        self.assertEqual(os.listdir(day + "-handover"), ["handover.md"])
        run("brief", self.mission)
        self.assertEqual({name: read(day, name) for name in os.listdir(day)}, before)

    def test_when_its_place_can_t_be_told_it_is_in_doubt(self):
        with open("/dev/full", "w") as full:
            done = subprocess.run([signoff_test.DAYWRIGHT, "handover", self.mission], stdout=full, stderr=subprocess.PIPE, text=True)
        self.assertEqual(done.returncode, 4)
        self.assertIn("the handover is in", done.stderr)


class Acceptance(Signing):
    stock = signoff_test.Verify.stock

    def setUp(self):
        super().setUp()
        run("handover", self.mission)

    def path(self):
        return os.path.join(self.mission, "out", "day-008-handover", "handover.md")

    def accept(self, who="flight_lead", *more, signed=True, **changes):
        words = self.sign_words(who, *more, signed=signed, **changes)
        return run("handover", *words[1:], "--accept", "--yes")

    def accepted(self, *arguments, **options):
        done = self.accept(*arguments, **options)
        self.assertEqual(done.returncode, 1, done.stderr)  # 1: the demo's planted faults
        return done

    def verify(self):
        done = run("verify", self.mission)
        return done.returncode, done.stdout

    def test_taking_over_is_a_record_that_the_stock_tools_verify(self):
        done = self.accepted("flight_lead", "--remark", "read at 06:00")
        shown = " ".join(done.stdout.split())
        for words in ("1. Rests on revision 1", "Next: EVA 3", "5. Data:", "has not taken over in this mission before",
                      "key SHA256:", "To be recorded: Teo Lund, Flight lead, takes over on"):
            self.assertIn(words, shown)
        place = os.path.join(self.mission, "signoffs", "000001")
        verified = subprocess.run(
            ["ssh-keygen", "-Y", "verify", "-f", os.path.join(self.mission, "allowed_signers"), "-I",
             PEOPLE["flight_lead"][0], "-n", NAMESPACE, "-s", os.path.join(place, "record.json.sig")],
            input=read(place, "record.json"), capture_output=True)
        self.assertEqual(verified.returncode, 0, verified.stderr)
        record, page = self.record(1), read(self.path())
        self.assertEqual(record["subjects"], [{"path": "handover.md", "sha256": hashlib.sha256(page).hexdigest(),
                                               "size": len(page)}])
        self.assertEqual((record["act"], record["call"], record["gate"], record["day"], record["remark"], record["schema"]),
                         ("acceptance", None, None, 8, "read at 06:00", "daywright sign-off 1"))
        self.assertEqual(record["statement"], "Teo Lund, Flight lead, takes over on revision 1 of the brief of FD 8 of "
                                              "Petrel 3, having read the handover.")
        self.assertIn({"gate": "eva_3", "verdict": "READY"}, record["verdicts"])
        self.assertTrue(record["limiting"])
        self.assertEqual(self.verify()[0], 5)
        self.go("eva_lead")
        self.assertEqual(self.stock(), ([], 2))

    def test_the_same_again_is_already_accepted(self):
        self.accepted()
        again = self.accept()
        self.assertEqual((again.returncode, self.numbers()), (0, ["000001"]))
        self.assertIn("already accepted: record 1", again.stdout)

    def test_a_page_that_is_not_what_the_inputs_give_now_is_refused(self):
        words = "the handover that is there is not what the inputs give now"
        page = read(self.path())
        write(page.decode().replace("READY", "NOT READY", 1), self.path())
        self.refused(self.accept(), words)
        write(page.decode(), self.path())
        self.refused(self.accept("flight_lead", "--hours", "8"), words)
        self.refused(self.accept("flight_lead", "--cutoff", "7/06:00"), "there is no brief to take over on: this brief is not")
        with open(os.path.join(self.mission, "days", "008", "actions.csv"), "a") as file:
            file.write("A-20,lead,desk,do it,7/06:00,open\n")
        self.refused(self.accept(), "there is no brief to take over on: the inputs have changed")
        run("brief", self.mission)
        self.refused(self.accept(), words)
        run("handover", self.mission)
        self.accepted()
        run("handover", self.mission, "--hours", "8")
        self.accepted("flight_lead", "--hours", "8")

    def test_a_new_brief_asks_for_a_new_page(self):
        shutil.rmtree(os.path.join(self.mission, "out", "day-008"))
        self.refused(self.accept(), "there is no brief to take over on: there is no whole brief")

    def test_what_is_no_page_is_refused(self):
        os.remove(self.path())
        self.refused(self.accept(), "there is no handover to accept")
        os.mkfifo(self.path())
        self.refused(self.accept(), "not a regular file")
        os.remove(self.path())
        os.symlink(os.path.join(self.mission, "out", "day-008", "brief.md"), self.path())
        self.refused(self.accept(), "there is no handover to accept")

    def test_who_may_not_sign_does_not_take_over(self):
        self.refused(self.accept("eva_lead", role="flight_lead"), "may not sign as")
        self.refused(self.accept(role="flight_led"), "did you mean 'flight_lead'")
        words = self.sign_words("flight_lead")
        self.refused(run("handover", *words[1:], "--accept"), "there is no terminal to ask on")
        words[words.index("--key") + 1] = self.key("systems")
        self.refused(run("handover", *words[1:], "--accept", "--yes"), "does not let sign as")

    def test_what_makes_no_sense_is_usage(self):
        whole = self.sign_words("flight_lead")[1:]
        for words, said in (([self.mission, "--accept"], "needs --role"), (whole, "--role needs --accept"),
                            ([*whole, "--accept", "--unsigned"], "give --key FILE, or --unsigned"),
                            ([self.mission, "--hours", "0"], "--hours is a number above 0"),
                            ([*whole, "--accept", "--call", "go"], "call"),
                            ([self.mission, "--yes"], "--yes needs --accept")):
            done = run("handover", *words)
            self.assertEqual((done.returncode, self.numbers()), (2, []), words)
            self.assertIn(said, done.stderr)

    def test_it_is_no_call_of_any_gate(self):
        rules = read(self.mission, "rules.toml").decode()
        write(rules.replace('["eva_lead", "systems", "medical", "stowage"]', '["flight_lead"]'), self.mission, "rules.toml")
        run("brief", self.mission)
        run("handover", self.mission)
        self.accepted()
        self.assertEqual(run("signoffs", self.mission).returncode, 1)
        folder = os.path.join(self.mission, "out", "day-008-signoffs")
        gates = {gate["title"]: gate for gate in json.loads(read(folder, "signoffs.json"))["gates"]}
        self.assertIn("1 not polled", gates["EVA 3"]["calls"])
        self.assertEqual(gates["EVA 3"]["records"], [])
        self.assertNotIn("The brief as a whole", gates)
        self.assertEqual([(r["call"], r["state"], r["role"]) for r in gates["Handover"]["records"]],
                         [("takes over", "stands", "Flight lead")])
        self.assertIn("## Handover", read(folder, "signoffs.md").decode())

    def test_a_changed_page_is_found(self):
        self.accepted()
        with open(self.path(), "a") as file:
            file.write(" ")
        self.assertEqual(self.verify()[0], 6)
        self.assertIn("signoffs/000001: incomplete: covers bytes that are not there: 'output handover.md' is another",
                      self.verify()[1])
        self.assertEqual(len(self.stock()[0]), 1)
        self.assertIn("'output handover.md' changed since", run("brief", self.mission).stderr)

    def test_changed_inputs_and_a_new_brief_leave_what_was_taken_over(self):
        self.accepted()
        with open(os.path.join(self.mission, "days", "008", "counts.csv"), "ab") as file:
            file.write(b"\n")
        self.assertNotIn("overtaken", run("brief", self.mission).stderr)
        self.assertEqual(self.verify()[0], 5)

    def test_what_was_handed_on_does_not_have_to_be_there_any_more(self):
        self.accepted()
        run("brief", self.mission, "--cutoff", "7/06:00")
        run("handover", self.mission)
        self.assertEqual(self.verify()[0], 6)
        self.accepted("systems")
        self.assertEqual(self.verify()[0], 5)

    def test_it_is_taken_back_by_its_signer_alone(self):
        self.accepted()
        self.assertEqual(self.sign("systems", "--withdraws", "1", "--remark", "not yours").returncode, 3)
        self.assertEqual(self.sign("flight_lead", "--withdraws", "1", "--remark", "wrong page").returncode, 1)
        self.assertEqual(self.record(2)["act"], "withdrawal")
        self.assertEqual(self.verify()[0], 5)
        self.assertEqual(self.stock(), ([], 2))
        run("signoffs", self.mission)
        made = json.loads(read(self.mission, "out", "day-008-signoffs", "signoffs.json"))
        handover = next(gate for gate in made["gates"] if gate["title"] == "Handover")
        self.assertEqual([(r["call"], r["state"]) for r in handover["records"]],
                         [("takes over", "taken back by record 2"), ("withdraws 1", "stands")])
        self.accepted()
        self.assertIsNone(self.record(3)["supersedes"])

    def test_unsigned_says_so_loudly(self):
        done = self.accepted(signed=False)
        self.assertIn("UNSIGNED: nothing proves who made this record", done.stderr)
        self.assertIn("record 1 (UNSIGNED)", done.stdout)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
