"""The workbook worked out again by another program, as it is and with cases tried, and held against the program.

Usage: workbook_test.py DAYWRIGHT MISSION... (each with all its days)
       workbook_test.py --full DAYWRIGHT MISSION... (every day, not only the newest)

LibreOffice works every formula out anew from a copy whose kept results are all wrong.
"""
import datetime, json, os, re, shutil, subprocess, sys, tempfile, unittest, warnings, zipfile
import xml.etree.ElementTree as xml

import openpyxl

warnings.simplefilter("error", UserWarning)  # openpyxl's word that something is odd in a workbook
FULL = sys.argv[1] == "--full"
DAYWRIGHT, *MISSIONS = sys.argv[2 if FULL else 1:]
DEMO = MISSIONS[0]
ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
MODULES = os.path.join(ROOT, ".build", "tools", "node_modules")  # put there by tests/run.sh
WHAT_IF = "WHAT-IF, NOT OF RECORD"
ASK = "run daywright options"
ALWAYS_RECALCULATE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item></oor:items>
"""


def newest_day(mission):
    return max(int(name) for name in os.listdir(os.path.join(mission, "days")))


def make_workbook(mission, day, out, *options):
    run = subprocess.run([DAYWRIGHT, "brief", mission, "--day", str(day), "--out", out, *options], capture_output=True,
                         text=True)
    assert run.returncode in (0, 1), run.stderr
    return os.path.join(out, f"day-{day:03}", "brief.xlsx")


def rewrite_sheets(source, target, change):
    """A copy with each sheet's text put through `change`."""
    with zipfile.ZipFile(source) as read, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as write:
        for part in read.infolist():
            data = read.read(part.filename)
            if part.filename.startswith("xl/worksheets/sheet"):
                data = change(data.decode()).encode()
            write.writestr(part, data)


class Spoiler:
    """Replaces the kept result of every formula by a wrong one."""

    def __init__(self):
        self.spoilt = 0

    def __call__(self, text):
        def wrong(found):
            self.spoilt += 1
            return found[1] + ("SPOILT" if 't="str"' in found[0] else "54321.25") + found[3]

        return re.sub(r"(<c [^>]*><f>[^<]*</f><v>)([^<]*)(</v>)", wrong, text)


class Office:
    """Works workbooks out anew, always, in a profile of its own."""

    def __init__(self, folder):
        self.folder = folder
        os.makedirs(os.path.join(folder, "profile", "user"))
        with open(os.path.join(folder, "profile", "user", "registrymodifications.xcu"), "w") as file:
            file.write(ALWAYS_RECALCULATE)

    def recalculate(self, path):
        target = os.path.join(self.folder, "recalculated")
        run = subprocess.run(
            ["soffice", "-env:UserInstallation=file://" + os.path.join(self.folder, "profile"), "--headless",
             "--convert-to", "xlsx", "--outdir", target, path], capture_output=True, text=True, timeout=300)
        assert run.returncode == 0, run.stderr
        # What it says of Java is of another part of it.
        complaints = [line for line in run.stderr.splitlines() if line and "java" not in line.lower()]
        assert not complaints, complaints
        return openpyxl.load_workbook(os.path.join(target, os.path.basename(path)), data_only=True)


def same(expected, found):
    expected = "" if expected is None else expected
    found = "" if found is None else found
    if isinstance(expected, datetime.datetime) and isinstance(found, datetime.datetime):
        return abs((expected - found).total_seconds()) < 0.001
    if isinstance(expected, (int, float)) and isinstance(found, (int, float)):
        return abs(expected - found) <= 1e-9 * max(1, abs(expected))
    return expected == found


def formula_cells(path):
    for sheet in openpyxl.load_workbook(path):
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    yield sheet.title, cell.coordinate


def tables(text):
    """The pipe tables of a text: header of the first column -> rows as dictionaries, the first table of a kind."""
    found, head = {}, None
    for line in text.splitlines():
        if not line.startswith("|"):
            head = None
        elif not re.fullmatch(r"[|: -]+", line):
            cells = [cell.strip().replace("\\", "") for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
            if head is None:
                head = cells
                rows = found.setdefault(head[0], [])
            else:
                rows.append(cells)
    return found


class Workbook(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.work = tempfile.mkdtemp()
        cls.office = Office(os.path.join(cls.work, "office"))
        cls.path = make_workbook(DEMO, newest_day(DEMO), os.path.join(cls.work, "demo"))

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.work)

    def expect_recalculated(self, mission, day, *options):
        with self.subTest(mission=mission, day=day, options=options):
            name = f"{os.path.basename(mission)}-{day}"
            path = make_workbook(mission, day, os.path.join(self.work, name), *options)
            spoiler = Spoiler()
            copy = os.path.join(self.work, f"{name}.xlsx")
            rewrite_sheets(path, copy, spoiler)
            ours = openpyxl.load_workbook(path, data_only=True)
            theirs = self.office.recalculate(copy)
            cells = list(formula_cells(path))
            self.assertEqual(len(cells), spoiler.spoilt)
            self.assertGreaterEqual(len(cells), 200)
            wrong = [(sheet, cell, ours[sheet][cell].value, theirs[sheet][cell].value) for sheet, cell in cells
                     if not same(ours[sheet][cell].value, theirs[sheet][cell].value)]
            self.assertEqual(wrong, [])
            print(f"{name} {' '.join(options)}: {len(cells)} formulas", file=sys.stderr)

    def test_another_program_gets_our_result_in_every_formula_cell(self):
        for mission in MISSIONS:
            for day in range(1, newest_day(mission) + 1) if FULL else [newest_day(mission)]:
                self.expect_recalculated(mission, day)

    def test_a_wrong_result_that_is_not_worked_out_anew_is_seen(self):
        # The twin of the test above: what if the other program had left the results alone?
        copy = os.path.join(self.work, "left-alone.xlsx")
        rewrite_sheets(self.path, copy, Spoiler())
        ours, left = (openpyxl.load_workbook(path, data_only=True) for path in (self.path, copy))
        for sheet, cell in formula_cells(self.path):
            self.assertFalse(same(ours[sheet][cell].value, left[sheet][cell].value), (sheet, cell))

    # ---- Cases that are tried ----

    @staticmethod
    def input_cells(book):
        """Name -> its cell, of inputs and results."""
        cells = {}
        for name, defined in book.defined_names.items() if hasattr(book.defined_names, "items") else [
                (d.name, d) for d in book.defined_names.definedName]:
            sheet, cell = defined.attr_text.replace("$", "").split("!")
            cells[name] = book[sheet][cell]
        return cells

    def try_case(self, inputs, mission=DEMO, path=None):
        """The workbook with `inputs` (name -> value) set, worked out anew."""
        book = openpyxl.load_workbook(path or self.path)
        cells = self.input_cells(book)
        for name, value in inputs.items():
            cells[name].value = value
        copy = os.path.join(self.work, "case.xlsx")
        book.save(copy)
        return self.office.recalculate(copy)

    def options(self, *changes, mission=DEMO):
        run = subprocess.run([DAYWRIGHT, "options", mission, *changes], capture_output=True, text=True)
        self.assertIn(run.returncode, (0, 1), run.stderr)
        found = tables(run.stdout)
        items = {row[0]: dict(zip(["plan", "measured", "assured"], row[5:8])) for row in found["Item"]}
        margins = {row[0]: (row[3], row[4]) for row in found["Item"]}
        return found["Flight"][-1], items, margins

    @staticmethod
    def item_rows(book):
        """Item -> the cells of its row by header."""
        sheet = book["Options"]
        rows = list(sheet.iter_rows(values_only=True))
        head = next(i for i, row in enumerate(rows) if row[0] == "Item")
        return {row[0]: dict(zip(rows[head], row)) for row in rows[head + 1:] if row[0]}

    @staticmethod
    def flight(book):
        """Words in the first column of the upper part -> what stands beside them."""
        return {row[0]: row[1:3] for row in book["Options"].iter_rows(values_only=True, max_row=60) if row[0]}

    def expect_same_as_options(self, book, changes, assured=True, mission=DEMO):
        flight, items, margins = self.options(*changes, mission=mission)
        compared = 0
        for title, row in self.item_rows(book).items():
            for basis, units, days in (("plan", "At plan", "At plan, d"), ("measured", "Measured", "Measured, d"),
                                       ("assured", "Assured", "Assured, d")):
                said = items[title][basis]
                if basis == "assured" and not assured:
                    self.assertEqual(row[units], ASK if said != "-" else row[units], title)
                    continue
                if said in ("-", "NO DATA"):
                    continue
                value, unit = said.split(" ", 1)
                shown = row[days] if unit == "d" else row[units]
                self.assertTrue(same(float(value), shown), (title, basis, said, shown))
                compared += 1
            if assured:
                self.assertEqual(row["Basis"], margins[title][1], title)
        self.assertGreaterEqual(compared, 2 * len(items) - 4)
        shown = self.flight(book)
        if assured:
            self.assertEqual(shown["Verdict"][0], flight[1])
            self.assertEqual(shown["Limited by"][0], flight[4])
            self.assertTrue(same(float(flight[5]), shown["Limited by"][1]))
        else:
            self.assertEqual(shown["Limited by"][0], ASK)
            self.assertIn(shown["Verdict"][0], (flight[1], "NO DATA"))
        named = self.input_cells(book)
        for name, said in (("landing", flight[2]), ("needed_through", flight[3])):
            wanted = datetime.datetime.strptime(said.split("Z")[0], "%Y-%m-%dT%H:%M")
            self.assertTrue(same(wanted, named[name].value), (name, said, named[name].value))

    def expect_what_if(self, book):
        self.assertEqual({sheet["A2"].value for sheet in book}, {WHAT_IF})

    def cutoff(self):
        return openpyxl.load_workbook(self.path)["Phases"]["D5"].value.strftime("%Y-%m-%dT%H:%MZ")

    def test_nothing_changed_is_of_record_on_every_sheet(self):
        book = self.try_case({})
        self.assertEqual({sheet["A2"].value for sheet in book}, {"Of record: nothing is changed"})
        self.assertEqual(self.flight(book)["Inputs"][0], "in order")

    def test_days_more_give_what_the_program_gives(self):
        for days in (1, 2, 10) if FULL else (1, 2):
            with self.subTest(days=days):
                book = self.try_case({"extra_days": days})
                self.expect_what_if(book)
                self.expect_same_as_options(book, ["--extra-days", str(days)])

    def test_transfers_turned_give_what_the_program_gives(self):
        for inputs, changes in (({"transfer_X_9": "yes"}, ["--with-transfer", "X-9"]),
                                ({"transfer_X_7": "no"}, ["--without-transfer-out", "X-7"]),
                                ({"transfer_X_9": "yes", "transfer_X_7": "no", "transfer_X_13": "yes",
                                  "transfer_X_12": "yes", "extra_days": 1},
                                 ["--with-transfer", "X-9", "--without-transfer-out", "X-7", "--with-transfer", "X-13",
                                  "--with-transfer", "X-12", "--extra-days", "1"])):
            with self.subTest(inputs=inputs):
                book = self.try_case(inputs)
                self.expect_what_if(book)
                self.expect_same_as_options(book, changes)

    def test_another_crew_gives_what_the_program_gives_where_no_assurance_is_asked(self):
        for crew, days in ((4, 0), (6, 2)):
            with self.subTest(crew=crew, days=days):
                book = self.try_case({"crew_aboard": crew, "extra_days": days})
                self.expect_what_if(book)
                changes = ["--crew", str(crew), "--from", self.cutoff()]
                if days:
                    changes += ["--extra-days", str(days)]
                self.expect_same_as_options(book, changes, assured=False)

    def test_another_rate_leaves_the_assured_margin_of_its_item_to_the_program(self):
        book = self.try_case({"rate_cryo_oxygen": 1.5})
        self.expect_what_if(book)
        _, items, _ = self.options("--rate", "cryo_oxygen=1.5")
        for title, row in self.item_rows(book).items():
            # Water is made from it.
            is_touched = title in ("Cell oxygen, liquid", "Potable water")
            self.assertEqual(row["Assured"] == ASK, is_touched, title)
            for basis, units, days in (("plan", "At plan", "At plan, d"), ("measured", "Measured", "Measured, d")):
                if items[title][basis] == "-":
                    continue
                value, unit = items[title][basis].split(" ", 1)
                self.assertTrue(same(float(value), row[days] if unit == "d" else row[units]), (title, basis))
        self.assertEqual(self.item_rows(book)["Cell oxygen, liquid"]["Verdict"], "NOT READY")  # short at plan already

    def test_a_rate_that_leaves_it_open_reads_no_data_and_not_ready_to_go(self):
        book = self.try_case({"rate_food": 1.01})
        self.assertEqual(self.item_rows(book)["Food"]["Verdict"], "NO DATA")
        self.assertEqual(self.flight(book)["Verdict"][0], "NO DATA")

    def test_inputs_that_can_not_be_used_read_no_data(self):
        for inputs in ({"extra_days": 11}, {"extra_days": -1}, {"extra_days": 1.5}, {"extra_days": "one"},
                       {"crew_aboard": -1}, {"rate_food": -0.5}, {"rate_food": None}, {"transfer_X_9": "maybe"}):
            with self.subTest(inputs=inputs):
                book = self.try_case(inputs)
                self.assertEqual(self.flight(book)["Inputs"][0], "NOT IN ORDER")
                self.assertEqual(self.flight(book)["Verdict"][0], "NO DATA")

    def test_another_mission_gives_what_the_program_gives(self):
        for mission in MISSIONS[1:]:
            path = make_workbook(mission, newest_day(mission), os.path.join(self.work, "other"))
            self.expect_same_as_options(self.try_case({"extra_days": 1}, path=path), ["--extra-days", "1"],
                                        mission=mission)

    def test_a_leak_and_a_made_item_in_places_that_go_are_worked_out_alike(self):
        # Bottle 1 leaks 1.2 kg a day from day 4 on; oxygen is made into the depot's bottle, which goes at undocking.
        mission = os.path.join(self.work, "leaking")
        shutil.copytree(DEMO, mission)
        changes = [("mission.toml", "residual = { o2_bottle_1", 'made_from = "cryo_oxygen"\nmade_ratio = 0.5\n'
                    'made_into = "depot_o2"\nresidual = { o2_bottle_1')]
        changes += [(f"days/00{day}/counts-gauges.csv", f"o2_bottle_1,{was},", f"o2_bottle_1,{now},")
                    for day, was, now in ((5, 21.5, 20.3), (6, 21.7, 19.1), (7, 21.4, 17.9), (8, 21.7, 17.4),
                                          (8, 21.6, 16.8))]
        for name, was, now in changes:
            path = os.path.join(mission, name)
            with open(path, encoding="utf-8") as file:
                text = file.read()
            self.assertIn(was, text)
            with open(path, "w", encoding="utf-8") as file:
                file.write(text.replace(was, now))
        self.expect_recalculated(mission, newest_day(mission))
        path = make_workbook(mission, newest_day(mission), os.path.join(self.work, "leaking-out"))
        self.assertIn("Places", openpyxl.load_workbook(path).sheetnames)
        self.expect_same_as_options(self.try_case({"extra_days": 2}, path=path), ["--extra-days", "2"], mission=mission)
        self.expect_same_as_options(self.try_case({"crew_aboard": 6}, path=path),
                                    ["--crew", "6", "--from", self.cutoff()], assured=False, mission=mission)

    def test_cut_offs_to_the_end_of_the_flight(self):
        for cutoff in ("8/00:00", "9/20:00", "11/12:00", "13/18:00"):
            self.expect_recalculated(DEMO, newest_day(DEMO), "--cutoff", cutoff)

    # ---- The file ----

    def test_every_part_is_well_formed_and_nothing_in_it_runs_or_calls_out(self):
        with zipfile.ZipFile(self.path) as parts:
            for name in parts.namelist():
                xml.fromstring(parts.read(name))
                self.assertNotIn("vba", name.lower())
                self.assertNotIn("externalLink", name)
        self.assertIn("xl/charts/chart1.xml", zipfile.ZipFile(self.path).namelist())

    def test_a_third_reader_sees_the_same_formulas_and_results(self):
        run = subprocess.run(["node", os.path.join(ROOT, "tests", "tools", "read_workbook.js"), self.path],
                             capture_output=True, text=True, env={**os.environ, "NODE_PATH": MODULES})
        self.assertEqual((run.returncode, run.stderr), (0, ""))
        theirs = json.loads(run.stdout)
        ours = openpyxl.load_workbook(self.path, data_only=True)
        self.assertEqual(list(theirs), ours.sheetnames)
        found = [(sheet, cell) for sheet, cells in theirs.items() for cell in cells]
        self.assertEqual(sorted(found), sorted(formula_cells(self.path)))
        for sheet, cell in found:
            result, wanted = theirs[sheet][cell][1], ours[sheet][cell].value
            if isinstance(wanted, datetime.datetime):
                result = datetime.datetime.fromisoformat(result.rstrip("Z"))
            self.assertTrue(same(wanted, result), (sheet, cell, wanted, result))

    def test_sheets_have_frozen_panes_print_titles_and_marked_inputs(self):
        book = openpyxl.load_workbook(self.path)
        self.assertEqual(book.sheetnames[:2], ["Five lines", "Options"])
        for sheet in book:
            self.assertEqual(sheet.freeze_panes, "A5", sheet.title)
            self.assertEqual(sheet.print_title_rows.replace("$", ""), "1:4", sheet.title)
            self.assertTrue(sheet.print_area, sheet.title)
            self.assertEqual(sheet["A2"].value, "=what_if", sheet.title)
        cells = self.input_cells(book)
        inputs = [name for name in cells if name.startswith(("extra_", "crew_", "rate_", "transfer_"))]
        self.assertGreaterEqual(len(inputs), 16)
        ruled = {str(cell) for rule in book["Options"].data_validations.dataValidation for cell in rule.sqref.ranges}
        for name in inputs:
            self.assertIn(cells[name].coordinate, ruled, name)
            self.assertEqual(cells[name].fill.fgColor.rgb, "FFFFF2CC", name)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=1)
