"""Figures over the filed days, by the real program, read back by independent readers.

Usage: history_test.py DAYWRIGHT DEMO [TEST...]
"""
import csv, hashlib, html.parser, io, json, os, re, shutil, subprocess, sys, tempfile, unittest

DAYWRIGHT, DEMO = sys.argv[1:3]
LEVEL = "item.water.level"


def run(*arguments, **environment):
    return subprocess.run([DAYWRIGHT, *arguments], capture_output=True, text=True, stdin=subprocess.DEVNULL,
                          env={**os.environ, **environment})


def read(*path):
    with open(os.path.join(*path), "rb") as file:
        return file.read()


def write(text, *path):
    with open(os.path.join(*path), "wb") as file:
        file.write(text.encode() if isinstance(text, str) else text)


class Page(html.parser.HTMLParser):
    """The tags of a page, its words, and the cells of its tables."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.attributes, self.words, self.rows = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += attributes
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_data(self, data):
        self.words.append(data)
        if self.rows and self.rows[-1] and self.tags[-1] in ("td", "th"):
            self.rows[-1][-1] += data.rstrip("\n")


class Filed(unittest.TestCase):
    """Each test has days 4 to 8 filed, day 8 twice."""

    @classmethod
    def setUpClass(cls):
        cls.shared = tempfile.mkdtemp()
        cls.template = os.path.join(cls.shared, "mission")
        shutil.copytree(DEMO, cls.template, ignore=shutil.ignore_patterns("out"))
        for day in range(4, 9):
            cls.file(day)
        counts = os.path.join(cls.template, "days", "008", "counts.csv")
        with open(counts, "ab") as file:
            file.write(b"\n")
        cls.file(8, "--reason", "a line more")

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.shared)

    @classmethod
    def file(cls, day, *more):
        run("brief", cls.template, "--day", str(day))
        done = run("archive", cls.template, "--day", str(day), *more)
        assert "filed day" in done.stdout, done.stderr

    def setUp(self):
        self.mission = os.path.join(tempfile.mkdtemp(dir=self.shared), "mission")
        shutil.copytree(self.template, self.mission)
        self.place = os.path.join(self.mission, "archive")

    def history(self, *words, code=0, place=None):
        done = run("history", place or self.mission, *words)
        self.assertEqual(done.returncode, code, done.stdout + done.stderr)
        return done

    def rows(self, *words, code=0):
        return list(csv.DictReader(io.StringIO(self.history(*words, "--csv", code=code).stdout, newline="")))

    def status(self, number):
        return json.loads(read(self.place, f"{number:06}", "data", "outputs", "status.json"))

    def figure(self, number, name):
        return next((f for f in self.status(number)["figures"] if f["id"] == name), None)


class Figures(Filed):
    def test_csv_json_and_page_say_what_was_filed(self):
        names = [LEVEL, "gate.eva_3.verdict", "supplies.through", "item.water.sentence"]
        rows = self.rows(*names)
        told = json.loads(self.history(*names, "--json").stdout)
        self.assertIn("Decision support only.", told["caution"])
        page = os.path.join(self.shared, "page.html")
        self.history(*names, "--html", page)
        cells = Page(read(page).decode()).rows
        self.assertEqual(len(rows), 4 * 5)
        for row, (name, number) in zip(rows, [(name, number) for name in names for number in (1, 2, 3, 4, 6)]):
            filed = self.figure(number, name)
            self.assertEqual((row["figure"], row["number"]), (name, str(number)))
            self.assertEqual(row["cutoff"], self.figure(number, "now.utc")["text"])
            self.assertEqual(row["text"], filed["text"])
            self.assertEqual(row["unit"], filed.get("unit", ""))
            self.assertEqual(row["doubts"], "; ".join(filed.get("doubts", [])))
            value = filed["value"]
            self.assertEqual(float(row["value"]) if isinstance(value, (int, float)) else row["value"], value)
            day = next(d for f in told["figures"] if f["id"] == name for d in f["days"] if d["number"] == number)
            self.assertEqual((day["value"], day["text"], day["doubts"]), (value, filed["text"], filed.get("doubts", [])))
            shown = filed["text"] + (" " + filed["unit"] if "unit" in filed else "") + (" UNSOUND" if "doubts" in filed else "")
            self.assertIn([str(number), row["day"], row["revision"], row["cutoff"], shown], cells)
        self.assertEqual([row["day"] for row in rows[:5]], ["4", "5", "6", "7", "8"])

    def test_all_revisions_and_a_folder_of_bags(self):
        self.assertEqual([(r["day"], r["revision"]) for r in self.rows(LEVEL, "--all")][-2:], [("8", "1"), ("8", "2")])
        self.assertEqual(self.history(LEVEL, place=self.place).stdout, self.history(LEVEL).stdout)

    def test_a_day_without_the_figure_says_so(self):
        rows = self.rows("gate.eva_1.verdict")
        self.assertEqual(rows[0]["text"], "READY")
        self.assertEqual(rows[-1]["text"], "not there")
        self.assertIn("not there", self.history("gate.eva_1.verdict").stdout)

    def test_an_unknown_figure_is_an_error_with_the_nearest_name(self):
        done = self.history(LEVEL, "item.watr.level", code=3)
        self.assertIn("no filed day has a figure 'item.watr.level'; did you mean 'item.water.level'?", done.stderr)
        self.assertEqual(done.stdout, "")

    def test_the_plot_is_plain_where_the_locale_is(self):
        plain = run("history", self.mission, LEVEL, LC_ALL="C", COLUMNS="60").stdout
        self.assertTrue(plain.isascii())
        self.assertTrue(all(len(line) <= 89 for line in plain.splitlines()))
        self.assertEqual(sum(line.count("*") for line in plain.splitlines() if "|" in line), 5)
        self.assertIn("\u25cf", run("history", self.mission, LEVEL, LC_ALL="C.UTF-8").stdout)

    def test_usage(self):
        for words in (["--csv"], [LEVEL, "--csv", "--json"], [LEVEL, "--html", "--all"]):
            self.history(*words, code=2)
        self.history(code=3, place=self.shared)
        self.assertEqual(run("compare", self.mission + "@8").returncode, 2)

    def test_the_page_needs_nothing_else_and_comes_whole_or_not_at_all(self):
        page = os.path.join(self.shared, "own.html")
        self.history(LEVEL, "--html", page)
        text = read(page).decode()
        read_page = Page(text)
        self.assertNotIn("script", read_page.tags)
        self.assertIn("svg", read_page.tags)
        self.assertFalse([a for a in read_page.attributes if a[0] in ("src", "href", "srcset", "action", "onload")])
        self.assertIn("default-src 'none'", text)
        self.assertIn("Decision support only.", text)
        self.assertEqual(text, (self.history(LEVEL, "--html", page), read(page).decode())[1])
        limited = subprocess.run(["sh", "-c", 'ulimit -f 1; exec "$@"', "sh", DAYWRIGHT, "history", self.mission, LEVEL, "--html", page],
                                 capture_output=True, text=True)
        self.assertEqual(limited.returncode, 3, limited.stderr)
        self.assertEqual(read(page).decode(), text)
        self.assertEqual([n for n in os.listdir(self.shared) if "building" in n], [])


class Hostile(Filed):
    def test_texts_of_logs_can_do_nothing(self):
        words = "=HYPERLINK(\"http://x\") <script>alert(1)</script> \u202e\x1b[31m | **x** |"
        plan = os.path.join(self.template, "mission.toml")
        kept = read(plan)
        try:
            write(re.sub(rb'(?m)^destination = .*$', lambda _: ("destination = " + json.dumps(words)).encode(), kept, count=1), plan)
            self.assertNotEqual(read(plan), kept)
            archive = os.path.join(self.shared, "hostile")
            run("brief", self.template, "--day", "7")
            done = run("archive", self.template, "--day", "7", "--to", archive)
            self.assertIn("filed day", done.stdout, done.stderr)
        finally:
            write(kept, plan)
        text = self.history("mission.destination", place=archive).stdout
        self.assertNotIn("\x1b", text)
        self.assertNotIn("\u202e", text)
        row = next(csv.DictReader(io.StringIO(self.history("mission.destination", "--csv", place=archive).stdout)))
        self.assertTrue(row["text"].startswith("'=HYPERLINK"))
        page = os.path.join(self.shared, "hostile.html")
        self.history("mission.destination", "--html", page, place=archive)
        self.assertNotIn("script", Page(read(page).decode()).tags)
        self.assertIn("<script>alert(1)</script>", " ".join(Page(read(page).decode()).words))


class Changed(Filed):
    def test_a_changed_status_is_named_and_not_shown(self):
        path = os.path.join(self.place, "000003", "data", "outputs", "status.json")
        text = read(path).decode()
        value = self.figure(3, LEVEL)["text"]
        write(text.replace(f'"text":"{value}"', '"text":"999.0"'), path)
        done = self.history(LEVEL, code=1)
        self.assertIn("'000003' is NOT AS FILED: 'data/outputs/status.json' has another SHA-256", done.stderr)
        self.assertNotIn("999.0", done.stdout)
        self.assertIn("NOT AS FILED", done.stdout)
        self.assertEqual(self.rows(LEVEL, code=1)[2]["text"], "NOT AS FILED")
        page = os.path.join(self.shared, "changed.html")
        self.history(LEVEL, "--html", page, code=1)
        self.assertIn("NOT AS FILED", " ".join(Page(read(page).decode()).words))
        self.assertIn("FD 6 NOT AS FILED", self.history(code=1).stdout.replace("day 6", "FD 6"))
        self.assertIn("NOT AS FILED", run("compare", self.mission + "@6", self.mission + "@7").stderr)

    def test_a_list_made_to_fit_is_found_too(self):
        bag = os.path.join(self.place, "000003")
        before = read(bag, "data", "outputs", "status.json")
        after = before.replace(b'"NOT READY"', b'"READY"')
        write(after, bag, "data", "outputs", "status.json")
        lists = read(bag, "manifest-sha256.txt").decode()
        digest = lambda data: hashlib.sha256(data).hexdigest()
        self.assertIn(digest(before), lists)
        write(lists.replace(digest(before), digest(after)), bag, "manifest-sha256.txt")
        done = self.history("gate.entry.verdict", code=1)
        self.assertIn("manifest-sha256.txt has another SHA-512", done.stderr)
        # With the tag manifest made to fit as well, the next day no more follows this one.
        tags = read(bag, "tagmanifest-sha512.txt").decode()
        write(tags.replace(hashlib.sha512(lists.encode()).hexdigest(),
                           hashlib.sha512(read(bag, "manifest-sha256.txt")).hexdigest()), bag, "tagmanifest-sha512.txt")
        done = self.history("gate.entry.verdict", code=1)
        self.assertIn("NOT SOUND: '000004/bag-info.txt' does not follow the day before", done.stderr)

    def test_a_missing_day_is_a_loud_warning(self):
        shutil.rmtree(os.path.join(self.place, "000002"))
        done = self.history(LEVEL, code=1)
        self.assertIn("NOT SOUND: '000002' is missing", done.stderr)


class Overview(Filed):
    def test_verdicts_are_told_where_they_change(self):
        gates = {}
        for number in (1, 2, 3, 4, 6):
            figures = {f["id"]: f["text"] for f in self.status(number)["figures"]}
            for name, text in figures.items():
                if re.fullmatch(r"gate\.\w+\.title", name):
                    gates.setdefault(text, [])
            for title in gates:
                gate = next((n.split(".")[1] for n, t in figures.items() if re.fullmatch(r"gate\.\w+\.title", n) and t == title), None)
                verdict = figures[f"gate.{gate}.verdict"] if gate else "not there"
                day = figures["now.flight_day"]
                if not gates[title] or gates[title][-1][1] != verdict:
                    gates[title].append((f"FD {day}", verdict))
        text = self.history().stdout
        for title, changes in gates.items():
            self.assertIn(f"{title}: " + ", ".join(f"{day} {verdict}" for day, verdict in changes) + "\n", text)
        self.assertGreater(len(gates), 3)

    def test_forecasts_are_scored_as_an_independent_sum_does(self):
        from datetime import datetime
        when = lambda text: datetime.strptime(text, "%Y-%m-%dT%H:%MZ").timestamp()
        days = []
        for number in (1, 2, 3, 4, 6):
            figures = {f["id"]: f for f in self.status(number)["figures"]}
            ahead = [(when(figures[f"forecast.{i}.at"]["value"]),
                      *(figures[f"item.water.forecast.{i}.{end}"]["value"] for end in ("low", "level", "high"))) for i in range(4)]
            level = figures[LEVEL]
            days.append((when(figures["now.utc"]["text"]), None if "doubts" in level else level["value"], ahead))
        errors, within = [], 0
        for i, (made, _, ahead) in enumerate(days):
            for at, level, _ in days[i + 1:]:
                if level is None or at > ahead[-1][0]:
                    continue
                begin, end = next((a, b) for a, b in zip(ahead, ahead[1:]) if a[0] <= at <= b[0])
                low, middle, high = (a + (at - begin[0]) / (end[0] - begin[0]) * (b - a) for a, b in zip(begin[1:], end[1:]))
                errors.append(level - middle)
                within += low <= level <= high
        told = next(i for i in json.loads(self.history("--json").stdout)["items"] if i["id"] == "water")
        self.assertGreater(len(errors), 5)
        self.assertEqual((told["forecasts"], told["within"]), (len(errors), within))
        self.assertAlmostEqual(told["mean_error"], sum(errors) / len(errors), 9)
        self.assertAlmostEqual(told["mean_distance"], sum(map(abs, errors)) / len(errors), 9)

    def test_pairs_of_another_plan_are_left_out(self):
        plan = os.path.join(self.mission, "mission.toml")
        write(read(plan).replace(b"[end_of_file]", b"# changed\n[end_of_file]"), plan)
        run("brief", self.mission, "--day", "8")
        done = run("archive", self.mission, "--day", "8", "--reason", "plan changed")
        self.assertIn("filed day 8, revision 3", done.stdout, done.stderr)
        told = next(i for i in json.loads(self.history("--json").stdout)["items"] if i["id"] == "water")
        self.assertEqual(told["other_plan"], 3)

    def test_the_brief_says_how_its_counts_were_foreseen(self):
        figures = {f["id"]: f for f in self.status(6)["figures"]}
        counts = [f["value"] for n, f in figures.items() if re.fullmatch(r"item\.\w+\.forecast\.counts", n)]
        within = [f["value"] for n, f in figures.items() if re.fullmatch(r"item\.\w+\.forecast\.within", n)]
        self.assertEqual((figures["credibility.counts"]["value"], figures["credibility.within"]["value"]), (sum(counts), sum(within)))
        self.assertGreater(sum(counts), 100)
        brief = read(self.place, "000006", "data", "outputs", "brief.md").decode()
        self.assertIn(f"Of {sum(counts)} counts {sum(within)} fell into their 90 % forecast band.", brief)


class Compare(Filed):
    def test_what_differs_is_told_and_nothing_else(self):
        done = run("compare", self.mission + "@7", self.place + "@8.1", "--json")
        self.assertEqual(done.returncode, 0, done.stderr)
        told = {row["id"]: row for row in json.loads(done.stdout)["figures"]}
        shown = lambda f: "" if f is None else (f["text"] + (" " + f["unit"] if "unit" in f and f["kind"] != "no data" else "") +
                                               (" UNSOUND" if "doubts" in f else ""))
        one = {f["id"]: f for f in self.status(4)["figures"]}
        other = {f["id"]: f for f in self.status(5)["figures"]}
        for name in sorted(set(one) | set(other)):
            if name.startswith("chart."):
                continue
            was, is_ = shown(one.get(name)), shown(other.get(name))
            if was != is_:
                self.assertEqual((told[name]["a"], told[name]["b"]), (was, is_), name)
            else:
                self.assertNotIn(name, told)
        inputs = {row["path"]: row["in_b"] for row in json.loads(done.stdout)["inputs"]}
        self.assertTrue(inputs and all(path.startswith("days/008/") and kind == "added" for path, kind in inputs.items()), inputs)

    def test_a_bag_its_day_and_its_outputs_are_the_same(self):
        for other in (self.place + "/000006", self.mission + "/out/day-008", self.place + "@8"):
            done = run("compare", self.mission + "@8.2", other)
            self.assertEqual(done.returncode, 0, done.stderr)
            self.assertIn("no figure differs", done.stdout)
            self.assertIn("no input differs", done.stdout)
        self.assertIn("days/008/counts.csv  changed", run("compare", self.mission + "@8.1", self.mission + "@8.2").stdout)

    def test_what_is_not_there_is_refused(self):
        for wrong in ("@9", "@8.3", "@x", "", "/days"):
            done = run("compare", self.mission + wrong, self.mission + "@8")
            self.assertEqual((done.returncode, done.stdout), (3, ""), wrong)


if __name__ == "__main__":
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
