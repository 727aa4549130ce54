"""The real binary on the demo: exit codes, same bytes, outputs read back by independent readers.

Usage: end_to_end.py DAYWRIGHT DEMO DATA
"""
import csv, datetime
import json, os, re, shutil, subprocess, sys, tempfile, unittest

import openpyxl
from markdown_it import MarkdownIt

DAYWRIGHT, DEMO, DATA = sys.argv[1:4]
LAB = os.path.join(os.path.dirname(DEMO), "deep-lab")


def run(*arguments, **options):
    return subprocess.run([DAYWRIGHT, *arguments], capture_output=True, text=True, **options)


def brief(mission, out, **options):
    return run("brief", mission, "--out", out, **options)


def read(path):
    with open(path, "rb") as file:
        return file.read()


def outputs(folder):
    day = os.path.join(folder, "day-008")
    return {name: read(os.path.join(day, name)) for name in sorted(os.listdir(day))}


def tables(text):
    """The pipe tables below a line of text or a heading: its words -> rows of cells, the header first."""
    found, title = {}, ""
    for line in text.splitlines():
        if line.startswith("|"):
            if not re.fullmatch(r"[|: -]+", line):
                cells = [cell.strip().replace("\\", "") for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
                found.setdefault(title, []).append(cells)
        elif line:
            title = line.lstrip("# ")
    return found


def write_small_mission(folder, items):
    """A sound flight of one day without a log to its name; `items` are its [[item]] tables, held in 'tank'."""
    os.makedirs(os.path.join(folder, "days", "001"))
    logs = ("plan tasks sorties closeouts surveys findings clearances counts transfers readings equipment anomalies "
            "decisions actions statements crew").split()
    texts = {
        "mission.toml": """
[mission]
name = "Tern"
vehicle = "ship"
approved_by = "flight lead"
audience = "planning meeting"
launch = "2031-05-06T00:00Z"
planned_days = 1
extension_before = "landing"
extension_kind = "work"
margin_kind = "work"
wake_ups = ["1/00:00"]
[[vehicle]]
id = "ship"
title = "Ship"
[[place]]
id = "tank"
title = "Tank"
vehicle = "ship"
[[person]]
id = "pilot"
title = "Pilot"
aboard = "ship"
seat = "ship"
[[day_kind]]
id = "work"
title = "Work day"
[[phase]]
id = "flight"
title = "Flight"
start = "0/00:00"
kind = "work"
[[event]]
id = "landing"
title = "Landing"
at = "1/06:00"
kind = "touchdown"
[[landing_day]]
kind = "planned"
opportunities = ["1/06:00"]
[[method]]
id = "gauge"
kind = "gauge"
[[gate]]
id = "entry"
title = "Entry"
event = "landing"
poll = "1/00:00"
""" + items,
        "rules.toml": """
[[role]]
id = "board"
title = "Board"
[[criterion]]
id = "checks"
title = "Checks done"
gate = "entry"
owner = "board"
rationale = "invented"
kind = "tasks"
""",
        "days/001/day.toml": """
start = "0/00:00"
end = "1/00:00"
prepared_by = "third shift lead"
""" + "".join(f'[closed.{log}]\nby = "desk"\ncomplete_to = "1/00:00"\nnothing_to_report = true\n' for log in logs),
    }
    for name, text in texts.items():
        with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
            file.write(text + "[end_of_file]\n")


class EndToEnd(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.work = tempfile.mkdtemp()
        cls.out = os.path.join(cls.work, "out")
        cls.first = brief(DEMO, cls.out)
        cls.status = json.loads(read(os.path.join(cls.out, "day-008", "status.json")))
        cls.figures = {figure["id"]: figure for figure in cls.status["figures"]}
        cls.text = read(os.path.join(cls.out, "day-008", "brief.md")).decode()

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.work)

    def test_the_demo_has_faults_so_brief_ends_with_1(self):
        self.assertEqual(self.first.returncode, 1, self.first.stderr)

    def test_faults_have_a_place_a_rule_and_a_caret(self):
        self.assertRegex(self.first.stderr, r"days/008/counts-stowage\.csv:10:\d+: error: '1O2,5' in 'quantity', expected a number such as 12,5 \[number\]\n.*\n +\^")

    def test_exit_codes(self):
        self.assertEqual(run().returncode, 2)
        self.assertEqual(run("breif", DEMO).returncode, 2)
        self.assertIn("did you mean 'brief'?", run("breif", DEMO).stderr)
        self.assertEqual(run("brief").returncode, 2)
        self.assertEqual(run("brief", DEMO, "--da", "8").returncode, 2)
        self.assertEqual(run("--help").returncode, 0)
        self.assertEqual(run("brief", "--help").returncode, 0)
        self.assertEqual(run("--version").returncode, 0)
        self.assertEqual(run("brief", os.path.join(self.work, "nowhere")).returncode, 3)
        self.assertEqual(run("explain", DEMO, "item.watr.level").returncode, 3)
        strict = os.path.join(self.work, "strict")
        self.assertEqual(run("brief", DEMO, "--strict", "--out", strict).returncode, 3)
        self.assertFalse(os.path.exists(strict))

    def test_a_failed_write_to_standard_output_counts(self):
        with open("/dev/full", "w") as full:
            done = subprocess.run([DAYWRIGHT, "check", DEMO], stdout=full, stderr=subprocess.DEVNULL)
        self.assertEqual(done.returncode, 3)

    def test_when_only_the_last_word_fails_the_outputs_may_be_there(self):
        out = os.path.join(self.work, "said-nothing")
        with open("/dev/full", "w") as full:
            done = subprocess.run([DAYWRIGHT, "brief", DEMO, "--out", out], stdout=full, stderr=subprocess.PIPE)
        self.assertEqual(done.returncode, 4)
        self.assertIn(b"the new outputs are in", done.stderr)
        self.assertEqual(outputs(out), outputs(self.out))

    def test_a_cutoff_that_is_no_time_is_usage_and_one_before_launch_is_refused(self):
        for cutoff in ("yesterday", "2031-05-13", "7/25:00", ""):
            self.assertEqual(run("brief", DEMO, "--cutoff", cutoff).returncode, 2, cutoff)
        self.assertEqual(run("brief", DEMO, "--cutoff", "2031-05-01T00:00Z").returncode, 3)

    def test_an_early_cutoff_leaves_logs_open_and_raises_no_rank(self):
        shown = run("explain", DEMO, "gate.undock.undock_anomalies.verdict", "--cutoff", "7/00:00")
        self.assertIn("NO DATA", shown.stdout.splitlines()[0])
        checked = run("check", DEMO, "--cutoff", "7/00:00")
        self.assertIn("[cutoff-early]", checked.stderr)

    def test_explain_says_that_the_inputs_have_faults(self):
        for arguments in (["item.water.level"], ["--list"]):
            done = run("explain", DEMO, *arguments)
            self.assertEqual(done.returncode, 1)
            self.assertIn("'daywright check' shows them", done.stderr)

    def test_the_margin_can_be_worked_out_again_from_its_explanation(self):
        shown = run("explain", DEMO, "item.water.margin.plan.units").stdout
        names = ("usable at the cut-off", "less used up to then", "made up to then",
                 "moved by the transfers that count", "less the reserve held then")
        parts = [float(re.search(rf"^  {name}: (\S+) kg", shown, re.M)[1]) for name in names]
        margin = self.figures["item.water.margin.plan.units"]["value"]
        self.assertTrue(margin <= sum(parts) < margin + 0.5, (margin, parts))

    def test_a_tank_does_not_hold_more_than_it_holds(self):
        mission = os.path.join(self.work, "overfull")
        shutil.copytree(DEMO, mission)
        path = os.path.join(mission, "days", "008", "counts-stowage.csv")
        with open(path, encoding="utf-8-sig", newline="") as file:
            text = file.read()
        self.assertIn(";94,8;kg;", text)
        with open(path, "w", encoding="utf-8", newline="") as file:
            file.write(text.replace(";94,8;kg;", ";948;kg;"))
        self.assertIn("948 kg in 'waste_tank_1', expected no more than the 120 that it holds [value-range]",
                      run("check", mission).stderr)

    def test_every_day_of_the_demo_makes_a_brief(self):
        for day in range(1, 8):
            out = os.path.join(self.work, f"day-{day}")
            self.assertIn(run("brief", DEMO, "--day", str(day), "--out", out).returncode, (0, 1))
            text = read(os.path.join(out, f"day-00{day}", "brief.md")).decode()
            self.assertNotIn("2131", text, "no supply lasts for a hundred years")

    def test_same_bytes_elsewhere(self):
        copy = os.path.join(self.work, "elsewhere", "mission")
        for root, _, files in os.walk(DEMO):  # created in another order
            target = os.path.join(copy, os.path.relpath(root, DEMO))
            os.makedirs(target, exist_ok=True)
            for name in sorted(files, reverse=True):
                shutil.copy(os.path.join(root, name), target)
            for name in files:  # written on another day
                os.utime(os.path.join(target, name), (1e9, 1e9))
        again = os.path.join(self.work, "again")
        locales = os.path.join(self.work, "locales")  # a decimal comma
        os.mkdir(locales)
        subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", os.path.join(locales, "de_DE.UTF-8")], check=True)
        german = {"LOCPATH": locales, "LC_ALL": "de_DE.UTF-8"}
        self.assertEqual(subprocess.run(["locale", "decimal_point"], env=german, capture_output=True).stdout, b",\n")
        brief(copy, again, cwd="/", env={**german, "TZ": "Asia/Tokyo", "HOME": "/nonexistent"})
        self.assertEqual(outputs(self.out), outputs(again))

    def test_same_bytes_for_another_user(self):
        with tempfile.TemporaryDirectory() as place:
            os.chmod(place, 0o777)
            shutil.copytree(DEMO, os.path.join(place, "mission"))
            program = shutil.copy(DAYWRIGHT, place)
            # Only root can become another user; anybody can have another umask.
            other = {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}
            subprocess.run([program, "brief", "mission", "--out", "out"], cwd=place, umask=0o077, capture_output=True,
                           **other)
            self.assertEqual(outputs(self.out), outputs(os.path.join(place, "out")))

    def test_every_number_of_the_brief_is_a_figure_with_a_place(self):
        def has_place(figure, seen=()):
            for entry in figure["trace"]["inputs"]:
                if "file" in entry:
                    return True
                inner = entry.get("figure")
                if inner and inner not in seen and has_place(self.figures[inner], (*seen, inner)):
                    return True
            return False

        number = re.compile(r"\d[\w.:/-]*")
        known = set()
        for figure in self.figures.values():
            self.assertTrue(has_place(figure), figure["id"])
            known.update(token.rstrip(".:") for token in number.findall(figure["text"]))
            known.update(token.rstrip(".:") for token in number.findall(figure.get("unit", "")))
        unknown = []
        for line in self.text.splitlines():
            line = re.sub(r"^[1-5]\. ", "", line).replace("\\", "")
            unknown += [token for token in number.findall(line) if token.rstrip(".:") not in known]
        self.assertEqual(unknown, [])

    def test_the_first_five_lines_are_a_list_of_five(self):
        tokens = MarkdownIt("commonmark").parse(self.text)
        opened = [token.type for token in tokens].index("ordered_list_open")
        closed = [token.type for token in tokens].index("ordered_list_close")
        items = [token for token in tokens[opened:closed] if token.type == "list_item_open"]
        self.assertEqual(len(items), 5)

    def test_an_independent_reader_finds_the_tables(self):
        html = MarkdownIt("commonmark").enable("table").render(self.text)
        self.assertGreaterEqual(html.count("<table>"), 10)
        self.assertNotIn("@table", html)

    def test_the_brief_prints_on_two_pages_of_A4(self):
        style = (
            "@page { size: A4; margin: 12mm } body { font: 9pt/1.25 'DejaVu Sans'; margin: 0 }"
            "table { border-collapse: collapse; font-size: 7.5pt } td, th { border: 0.3pt solid; padding: 0.5pt 3pt }"
            "h1 { font-size: 13pt; margin: 0 } h2 { font-size: 10.5pt; margin: 6pt 0 2pt } p, ol { margin: 2pt 0 }"
        )
        body = MarkdownIt("commonmark").enable("table").render(self.text)
        page, pdf = os.path.join(self.work, "brief.html"), os.path.join(self.work, "brief.pdf")
        with open(page, "w", encoding="utf-8") as file:
            file.write(f"<!doctype html><meta charset=utf-8><style>{style}</style>{body}")
        printed = subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
             "--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer",
             "--user-data-dir=" + os.path.join(self.work, "browser"), "--print-to-pdf=" + pdf, "file://" + page],
            capture_output=True, text=True,
        )
        self.assertTrue(os.path.exists(pdf), printed.stderr)
        facts = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
        self.assertRegex(facts, r"Page size: +59\d(\.\d+)? x 84\d(\.\d+)? pts \(A4\)")
        self.assertLessEqual(int(re.search(r"Pages: +(\d+)", facts)[1]), 2)
        words = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
        self.assertIn("Decision support only.", words, "the last line is on the paper")

    def test_the_second_mission_speaks_its_own_language(self):
        # An undersea habitat: nothing of the program is wired to the words of a flight, nor to the first demo.
        done = run("brief", LAB, "--out", os.path.join(self.work, "lab"))
        self.assertEqual(done.returncode, 1, done.stderr)
        text = read(os.path.join(self.work, "lab", "day-009", "brief.md")).decode()
        # What the cautions of every output say is left out.
        said = text.replace("The mission's own flight rules and certified authorities prevail.", "")
        for word in ("FD", "MET", "EVA", "Petrel", "Lantern", "Undock", "Entry", "[Ll]aunch", "flight", "Landing", "orbit"):
            self.assertNotRegex(said, rf"\b{word}", word)
        for verdict in ("READY", "READY WITH CONDITIONS", "NOT READY", "NO DATA"):
            self.assertIn(f"| {verdict} ", text)
        self.assertIn("1.  **Deep Lab**, Day 9 (ET 8/10:50)", text)
        self.assertIn("Waivers in force: D-4", text)
        self.assertIn("Plan changed by D-1", text)

    def test_every_kind_of_criterion_is_used_in_a_mission(self):
        rules = [read(os.path.join(mission, "rules.toml")).decode() for mission in (DEMO, LAB)]
        used = set(re.findall(r'^kind = "(\w+)"$', "\n".join(text.split("[[criterion]]", 1)[1] for text in rules), re.M))
        refused = run("check", self.mission_with(rules[0].replace('kind = "tasks"', 'kind = "taks"', 1))).stderr
        known = set(re.search(r"is 'taks', expected one of ([\w, ]+)", refused)[1].split(", "))
        self.assertEqual(known - used, set())

    def mission_with(self, rules):
        copy = os.path.join(tempfile.mkdtemp(dir=self.work), "mission")
        shutil.copytree(DEMO, copy)
        with open(os.path.join(copy, "rules.toml"), "w", encoding="utf-8") as file:
            file.write(rules)
        return copy

    def test_every_day_of_the_second_mission_makes_a_brief(self):
        for day in range(1, 9):
            done = run("brief", LAB, "--day", str(day), "--out", os.path.join(self.work, f"lab-{day}"))
            self.assertEqual(done.returncode, 1 if day == 4 else 0, done.stderr)  # a slip of day 4 is put right on day 5

    def test_the_workbook_reads_back_with_the_same_figures(self):
        book = openpyxl.load_workbook(os.path.join(self.out, "day-008", "brief.xlsx"))
        by_title = {sheet["A1"].value.split(". ")[0]: sheet for sheet in book}
        compared = 0
        for table in self.status["tables"]:
            if table["title"] not in by_title:
                continue
            sheet = by_title.pop(table["title"])
            self.assertEqual(sheet.freeze_panes, "A5", sheet.title)
            headers = [cell.value for cell in sheet[4]][: len(table["columns"])]
            for header, column in zip(headers, table["columns"]):
                self.assertTrue(header.startswith(column["title"]), header)
            for number, row in enumerate(table["rows"], start=5):
                for at, cell in enumerate(row, start=1):
                    read = sheet.cell(number, at)
                    figure = self.figures.get(cell.get("figure"))
                    where = f"{sheet.title}!{read.coordinate}"
                    if figure is None:
                        self.assertEqual(read.value or "", cell["words"], where)
                    elif figure["kind"] == "number":
                        self.assertAlmostEqual(read.value, figure["value"], places=9, msg=where)
                    elif figure["kind"] == "instant":
                        # A time is a serial number of days in a cell; to the second is what it can hold.
                        wanted = datetime.datetime.fromisoformat(figure["value"].rstrip("Z"))
                        self.assertLess(abs((read.value - wanted).total_seconds()), 1, where)
                    else:
                        self.assertEqual(read.value or "", figure["text"], where)
                    compared += 1
            self.assertIsNone(sheet.cell(5 + max(1, len(table["rows"])), 1).value, sheet.title)
        # workbook_test.py reads the live sheets.
        live = {"Five lines", "Options", "Margins", "Course", "Places", "Phases", "Cases"}
        self.assertLessEqual({sheet.title for sheet in by_title.values()}, live, "every other sheet is a table")
        self.assertGreater(compared, 1000)

    def test_text_from_the_logs_stays_text(self):
        mission = os.path.join(self.work, "hostile")
        shutil.copytree(DEMO, mission)
        hostile = '=HYPERLINK("x") | **x** | <script>alert(1)</script> \x1b[31m \u202e @table gates'
        path = os.path.join(mission, "days", "008", "actions.csv")
        with open(path, encoding="utf-8") as file:
            lines = file.read().splitlines()
        header = lines[0].split(",")
        row = {"action": "A-99", "from": "x", "to": "y", "text": '"' + hostile.replace('"', '""') + '"', "state": "open"}
        lines.insert(1, ",".join(row.get(column, "") for column in header))
        with open(path, "w", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
        out = os.path.join(self.work, "hostile-out")
        done = brief(mission, out)
        self.assertNotIn("\x1b", done.stdout + done.stderr)
        data = outputs(out)
        text = data["brief.md"].decode()
        self.assertNotIn("\x1b", text)
        self.assertNotIn("\u202e", text)
        html = MarkdownIt("commonmark").enable("table").render(text)
        self.assertNotIn("<script>", html)
        data["status.json"].decode("ascii")
        sheet = openpyxl.load_workbook(os.path.join(out, "day-008", "brief.xlsx"))["Actions"]
        cells = [cell for row in sheet.iter_rows() for cell in row if cell.value and "HYPERLINK" in str(cell.value)]
        self.assertEqual([cell.data_type for cell in cells], ["s"])

    def test_explain_goes_down_to_file_and_line(self):
        shown = run("explain", DEMO, "item.water.margin.days")
        self.assertRegex(shown.stdout, r"\(days/008/counts\S*\.csv:\d+\)")

    def test_options_says_what_if_only_where_something_is_changed(self):
        plain, changed = run("options", DEMO), run("options", DEMO, "--rate", "water=1.1")
        for done in (plain, changed):
            self.assertEqual(done.returncode, 1)
            self.assertIn("'daywright check' shows them", done.stderr)
            self.assertIn("Decision support only.", done.stdout)
        self.assertNotIn("WHAT-IF", plain.stdout)
        self.assertEqual(changed.stdout.splitlines()[:3],
                         ["WHAT-IF, NOT OF RECORD", "", "Changed: water at 1.1 times its rate"])
        self.assertEqual(list(tables(plain.stdout)), ["Extension", "Return"])
        self.assertEqual(list(tables(changed.stdout)),
                         ["What if", "What if, item by item", "Extension, as planned", "Return, as planned"])
        for title, rows in tables(plain.stdout).items():
            self.assertEqual(tables(changed.stdout)[title + ", as planned"], rows)

    def test_options_shows_the_extension_and_the_ways_home_of_the_brief(self):
        printed = [row for table in tables(self.text).values() for row in table]
        for title, rows in tables(run("options", DEMO).stdout).items():
            self.assertGreater(len(rows), 1, title)
            for row in rows:
                self.assertIn(row, printed)

    def test_a_day_added_is_the_extension_by_a_day_in_the_brief(self):
        row = tables(run("options", DEMO, "--extra-days", "1").stdout)["What if"][2]
        text = lambda name: self.figures["extension.by_1." + name]["text"]
        names = ("verdict", "landing", "needed", "limiting", "margin", "reason")
        self.assertEqual(row, ["1 d more", *map(text, names)])

    def test_the_exit_codes_of_options(self):
        for usage in ("--extra-days 11", "--crew 4", "--at 8/02:00", "--rate water", "--out x"):
            self.assertEqual(run("options", DEMO, *usage.split()).returncode, 2, usage)
        for refused, why in (("--with-transfer X-90", "did you mean 'X-"), ("--rate watr=1", "did you mean 'water'?"),
                             ("--return nextday", "did you mean 'next_day'?"),
                             ("--return next_day --at 13/18:00", "no opportunity to land"),
                             ("--crew 4 --from 1/00:00", "before the cut-off")):
            done = run("options", DEMO, *refused.split())
            self.assertEqual((done.returncode, done.stdout), (3, ""), refused)
            self.assertRegex(done.stderr, r"\Adaywright: .*" + re.escape(why) + r".*\n\Z")
        self.assertEqual(run("options", os.path.join(self.work, "nowhere")).returncode, 3)
        sound = os.path.join(self.work, "sound")
        write_small_mission(sound, '[[item]]\nid = "air"\ntitle = "Air"\nsort = "stock"\nunit = "kg"\n'
                            'vehicle = "ship"\nplaces = ["tank"]\nper_day = 1\n')
        done = run("options", sound, "--crew", "0", "--from", "1/00:00")
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        with open("/dev/full", "w") as full:
            failed = subprocess.run([DAYWRIGHT, "options", sound], stdout=full, stderr=subprocess.PIPE, text=True)
        self.assertEqual(failed.returncode, 3)
        self.assertIn("cannot write to standard output", failed.stderr)

    def test_the_examples_of_options_run_and_leave_everything_as_it_was(self):
        mission = os.path.join(self.work, "asked")
        shutil.copytree(DEMO, mission)
        self.assertEqual(run("brief", mission).returncode, 1)

        def everything():
            paths = [os.path.join(root, name) for root, _, files in os.walk(mission) for name in (*files, ".")]
            return {path: (os.stat(path).st_mtime_ns, os.path.isfile(path) and read(path)) for path in paths}

        before = everything()
        examples = re.findall(r"^  daywright options missions/petrel-3(.*)$", run("options", "--help").stdout, re.M)
        self.assertGreaterEqual(len(examples), 4)
        for example in examples:
            done = run("options", mission, *example.split(), cwd=mission)
            self.assertEqual(done.returncode, 1, example + done.stderr)
            self.assertEqual(done.stdout.startswith("WHAT-IF"), bool(example))
        self.assertEqual(everything(), before)

    def test_two_published_ledgers_come_out_as_printed(self):
        # NASA MSC, Apollo 11 Final Flight Plan, 1 July 1969, tables 5-4 and 5-8: amounts and printed remainders.
        with open(os.path.join(DATA, "ledger", "apollo11_margin_ledgers_lb.csv"), encoding="utf-8") as file:
            lines = list(csv.DictReader(file))
        self.assertEqual(len(lines), 19)
        tables = {}
        for line in lines:
            tables.setdefault(line["table"], []).append(line)
        items = ""
        for table, entries in tables.items():
            items += (f'[[item]]\nid = "table_{table.replace("-", "_")}"\ntitle = "Table {table}"\nsort = "stock"\n'
                      'unit = "lb"\nvehicle = "ship"\nplaces = ["tank"]\n')
            for line in entries:
                items += (f'[[item.ledger]]\ntext = "{line["item"]}"\nkind = "{line["kind"]}"\n'
                          f'quantity = {line["amount_lb"]}\n')
        mission, out = os.path.join(self.work, "ledgers"), os.path.join(self.work, "ledgers-out")
        write_small_mission(mission, items)
        done = brief(mission, out)
        self.assertEqual((done.returncode, done.stderr), (0, ""))

        wanted = [[f"Table {line['table']}", line["item"], line["kind"], line["amount_lb"],
                   line["printed_remaining_lb"], "lb"] for line in lines]
        status = json.loads(read(os.path.join(out, "day-001", "status.json")))
        figures = {figure["id"]: figure for figure in status["figures"]}
        table = next(table for table in status["tables"] if table["name"] == "ledger")
        self.assertEqual([column["key"] for column in table["columns"]],
                         ["item", "line", "kind", "amount", "remainder", "unit"])
        self.assertEqual([[figures[cell["figure"]]["text"] if "figure" in cell else cell["words"] for cell in row]
                          for row in table["rows"]], wanted)
        for name, entries in tables.items():
            item = f"item.table_{name.replace('-', '_')}.ledger."
            for number, line in enumerate(entries, start=1):
                self.assertEqual(figures[f"{item}{number}.amount"]["value"], float(line["amount_lb"]), line)
                remainder = figures[f"{item}{number}.remainder"]
                self.assertEqual(remainder["value"], float(line["printed_remaining_lb"]), line)
                self.assertEqual(remainder["unit"], "lb")
            self.assertEqual(figures[f"{item}remainder"]["text"], entries[-1]["printed_remaining_lb"])

        sheet = openpyxl.load_workbook(os.path.join(out, "day-001", "brief.xlsx"))["Ledgers"]
        rows = [[cell.value for cell in row[:6]] for row in sheet.iter_rows(min_row=5, max_row=4 + len(lines))]
        self.assertEqual(rows, [[item, text, kind, float(amount), float(left), unit]
                                for item, text, kind, amount, left, unit in wanted])
        self.assertEqual(sheet.cell(5, 5).number_format, sheet.cell(6, 5).number_format)
        self.assertIsNone(sheet.cell(5 + len(lines), 1).value)

        html = MarkdownIt("commonmark").enable("table").render(read(os.path.join(out, "day-001", "brief.md")).decode())
        printed = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in re.findall(r"<tr>.*?</tr>", html, re.S)]
        self.assertEqual([row for row in printed if row in wanted], wanted)
        self.assertIn("Ledgers: Table 5-4; Table 5-8.", html)
        self.assertEqual(html.count("is in its ledger and not in the filter"), 1)

        shown = run("explain", mission, "item.table_5_8.ledger.3.remainder").stdout
        self.assertIn("17946.7 lb", shown.splitlines()[0])
        with open(os.path.join(mission, "mission.toml"), encoding="utf-8") as file:
            texts = file.read().splitlines()
        line = max(number for number, text in enumerate(texts) if text == 'text = "outage"')  # below its header
        self.assertIn(f"outage: 14 lb   (mission.toml:{line})", shown)

    def test_the_brief_says_nothing_of_ledgers_where_there_are_none(self):
        self.assertNotIn("edger", self.text)
        self.assertEqual([figure for figure in self.figures if "ledger" in figure], [])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
