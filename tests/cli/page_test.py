"""The page as people meet it: read by an independent reader, looked at and printed by a browser, checked for access.

Usage: page_test.py DAYWRIGHT DEMO AXE
"""
import html, json, os, re, shutil, subprocess, sys, tempfile, unittest
from html.parser import HTMLParser

from markdown_it import MarkdownIt

DAYWRIGHT, DEMO, AXE = sys.argv[1:4]
LAB = os.path.join(os.path.dirname(DEMO), "deep-lab")
VOID = {"meta", "link", "br", "hr", "img", "input"}
NARROW, WIDE = 320, 1280  # a small telephone, or a desk at four times the size; a desk


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read()


def make_brief(mission, day, out, *options):
    """The folder with the outputs of a day."""
    done = subprocess.run([DAYWRIGHT, "brief", mission, "--day", str(day), "--out", out, *options], capture_output=True)
    assert done.returncode in (0, 1), done.stderr
    return os.path.join(out, f"day-{day:03}")


class Reader(HTMLParser):
    """Elements with their attributes, texts that somebody can see or is read, tables; complains of what is not closed."""

    def __init__(self, page):
        super().__init__()
        self.open, self.elements, self.texts, self.tables, self.faults = [], [], [], [], []
        self.feed(page)
        self.faults += [f"<{name}> is not closed" for name in self.open]

    def handle_starttag(self, name, attributes):
        self.elements.append((name, dict(attributes)))
        if len({key for key, _ in attributes}) < len(attributes):
            self.faults.append(f"<{name}> says an attribute twice")
        if name == "table":
            self.tables.append([])
        elif name == "tr":
            self.tables[-1].append([])
        elif name in ("td", "th"):
            self.tables[-1][-1].append("")
        self.texts += [dict(attributes)[key] for key in ("aria-label", "alt", "title") if key in dict(attributes)]
        if name not in VOID:
            self.open.append(name)

    def handle_startendtag(self, name, attributes):
        self.handle_starttag(name, attributes)
        if name not in VOID:
            self.open.pop()

    def handle_endtag(self, name):
        if not self.open or self.open.pop() != name:
            self.faults.append(f"</{name}> closes something else")

    def handle_data(self, text):
        if "style" in self.open:
            return
        self.texts.append(text)
        if {"td", "th"} & set(self.open):
            self.tables[-1][-1][-1] += text.replace("\xa0", " ")

    def named(self, name):
        return [attributes for element, attributes in self.elements if element == name]


class Browser:
    def __init__(self, work):
        self.work = work

    def run(self, url, *options):
        return subprocess.run(
            ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
             "--disable-background-networking", "--disable-component-update", "--disable-default-apps",
             "--disable-extensions", "--hide-scrollbars", "--host-resolver-rules=MAP * ~NOTFOUND", "--user-data-dir=" + os.path.join(self.work, "browser"),
             *options, url],
            capture_output=True, text=True, timeout=120)

    def print(self, page):
        """How many A4 pages it takes, and their text."""
        pdf = os.path.join(self.work, "page.pdf")
        printed = self.run("file://" + page, "--no-pdf-header-footer", "--print-to-pdf=" + pdf)
        assert os.path.exists(pdf), printed.stderr
        facts = subprocess.run(["pdfinfo", pdf], capture_output=True, text=True, check=True).stdout
        assert re.search(r"Page size: +59\d(\.\d+)? x 84\d(\.\d+)? pts \(A4\)", facts), facts
        words = subprocess.run(["pdftotext", "-layout", pdf, "-"], capture_output=True, text=True, check=True).stdout
        os.remove(pdf)
        return int(re.search(r"Pages: +(\d+)", facts)[1]), words

    def check(self, page, width, is_dark):
        """What axe finds wrong with a page this wide, and by how many pixels the page itself scrolls sideways.

        A window can't be as narrow as a telephone, so the page is put into a frame. Its policy is taken out there,
        since the checker is a script.
        """
        run = """
<script>addEventListener("load", () => axe.run(document, {resultTypes: ["violations"]}).then(found => {
  const root = document.documentElement;
  parent.document.getElementById("said").textContent = JSON.stringify({
    violations: found.violations.map(v => v.id + ": " + v.nodes.map(n => n.html).join(" ")),
    passes: found.passes.length,
    sideways: root.scrollWidth - root.clientWidth,
    width: root.clientWidth,
    dark: matchMedia("(prefers-color-scheme: dark)").matches});
}));</script></body>"""
        inner = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
        inner = inner.replace("</head>", "<script>" + read(AXE) + "</script></head>").replace("</body>", run)
        outer = (f'<!DOCTYPE html><meta charset="utf-8"><meta name="color-scheme" content="light dark"><pre id="said"></pre>'
                 f'<iframe width="{width}" height="900" style="border:0" srcdoc="{html.escape(inner)}"></iframe>')
        path = os.path.join(self.work, "checked.html")
        with open(path, "w", encoding="utf-8") as file:
            file.write(outer)
        dom = self.run("file://" + path, "--dump-dom", "--virtual-time-budget=60000",
                       f"--window-size={max(width, 600) + 60},1000",
                       f"--blink-settings=preferredColorScheme={0 if is_dark else 1}").stdout
        said = re.search(r'<pre id="said">(.+?)</pre>', dom, re.S)
        assert said, dom[-2000:]
        result = json.loads(html.unescape(said[1]))
        assert (result["width"], result["dark"]) == (width, is_dark), result
        assert result["passes"] > 20, result
        return result

    def requests(self, page):
        """What the page asks the network for while it is shown. What the browser itself asks has no origin."""
        path, log = (os.path.join(self.work, name) for name in ("watched.html", "network.json"))
        with open(path, "w", encoding="utf-8") as file:
            file.write(page)
        self.run("file://" + path, "--dump-dom", "--virtual-time-budget=5000", "--log-net-log=" + log)
        events = json.loads(read(log))
        start = events["constants"]["logEventTypes"]["URL_REQUEST_START_JOB"]
        asked = [event["params"] for event in events["events"] if event["type"] == start and "url" in event.get("params", {})]
        return [request["url"] for request in asked if request["initiator"] != "not an origin"]


class Page(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        if not os.path.exists(AXE):
            raise RuntimeError(f"there is no {AXE}: run tests/run.sh once, which installs it")
        cls.work = tempfile.mkdtemp()
        cls.browser = Browser(cls.work)
        cls.days = {day: make_brief(DEMO, day, os.path.join(cls.work, "petrel")) for day in range(1, 9)}
        cls.lab = make_brief(LAB, 9, os.path.join(cls.work, "lab"))
        cls.page = read(os.path.join(cls.days[8], "brief.html"))

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.work)

    def folders(self):
        return [*self.days.values(), self.lab]

    def test_every_number_that_is_seen_or_read_aloud_is_a_figure(self):
        number = re.compile(r"\d[\w.:/-]*")
        for folder in self.folders():
            status = json.loads(read(os.path.join(folder, "status.json")))
            known = set()
            for figure in status["figures"]:
                known.update(token.rstrip(".:") for token in number.findall(figure["text"]))
                known.update(token.rstrip(".:") for token in number.findall(figure.get("unit", "")))
            texts = Reader(read(os.path.join(folder, "brief.html"))).texts
            self.assertGreater(len(texts), 200)
            unknown = [token for text in texts for token in number.findall(text) if token.rstrip(".:") not in known]
            self.assertEqual(unknown, [], folder)

    def test_the_tables_are_those_of_the_brief_cell_by_cell(self):
        compared = 0
        for folder in self.folders():
            markdown = MarkdownIt("commonmark").enable("table").render(read(os.path.join(folder, "brief.md")))
            wanted = Reader(markdown).tables
            self.assertEqual(Reader(read(os.path.join(folder, "brief.html"))).tables, wanted)
            compared += sum(len(row) for table in wanted for row in table)
        self.assertGreater(compared, 2000)

    def test_the_words_between_the_tables_are_those_of_the_brief(self):
        brief = Reader(MarkdownIt("commonmark").enable("table").render(read(os.path.join(self.days[8], "brief.md"))))
        page = " ".join("".join(Reader(self.page).texts).split())
        for text in brief.texts:
            self.assertIn(" ".join(text.split()), page)

    def test_the_page_is_well_formed_and_says_what_everything_is(self):
        for folder in self.folders():
            page = read(os.path.join(folder, "brief.html"))
            reader = Reader(page)
            self.assertEqual(reader.faults, [])
            self.assertTrue(page.startswith("<!DOCTYPE html>\n<html lang=\"en\">"))
            ids = [attributes["id"] for _, attributes in reader.elements if "id" in attributes]
            self.assertEqual(len(ids), len(set(ids)), "an id is there once")
            for _, attributes in reader.elements:
                for name in attributes.get("aria-labelledby", "").split():
                    self.assertIn(name, ids)
                self.assertEqual([key for key in attributes if key.startswith("on") or key == "src"], [])
                self.assertTrue(attributes.get("href", "#").startswith("#"))
            self.assertEqual(len(reader.named("main")), 1)
            self.assertEqual(len(reader.named("caption")), len(reader.named("table")))
            self.assertTrue(all(cell.get("scope") in ("col", "row") for cell in reader.named("th")))
            plots = [svg for svg in reader.named("svg") if svg.get("role") == "img"]
            self.assertTrue(all("aria-labelledby" in svg for svg in plots))
            self.assertTrue(all("aria-hidden" in svg or svg.get("role") == "img" or "preserveaspectratio" in svg
                                for svg in reader.named("svg")))

    def test_every_chart_is_there_on_the_demo(self):
        for name in ("levels", "margins", "work", "clearance"):
            self.assertIn(f'<figure class="chart {name}">', self.page)
        self.assertEqual(self.page.count('<div class="panel">'), 6)
        self.assertEqual(self.page.count('class="band" points='), 6)
        self.assertEqual(len(re.findall(r"<dd>", self.page)), 17, "zones of the three gates")
        for words in ("Redline of the way home Undock and land next day: 51.5 kg.", "UNSOUND"):
            self.assertIn(words, self.page)

    def test_days_1_to_8_print_on_two_pages_of_A4_and_the_lab_on_three(self):
        for day, folder in self.days.items():
            pages, words = self.browser.print(os.path.join(folder, "brief.html"))
            self.assertLessEqual(pages, 2, f"day {day}")
            self.assertIn("Decision support only.", words, "the last line is on the paper")
        self.assertLessEqual(self.browser.print(os.path.join(self.lab, "brief.html"))[0], 3)

    def test_a_checker_finds_nothing_in_either_scheme_on_a_desk_or_a_telephone_and_nothing_scrolls_sideways(self):
        for page in (self.page, read(os.path.join(self.lab, "brief.html"))):
            for width in (NARROW, WIDE):
                for is_dark in (False, True):
                    found = self.browser.check(page, width, is_dark)
                    self.assertEqual(found["violations"], [])
                    self.assertLessEqual(found["sideways"], 0)

    def test_the_checker_catches_what_is_wrong(self):
        planted = {
            "html-has-lang": (self.page.replace(' lang="en"', "", 1), WIDE, False),
            "color-contrast": (self.page.replace("</style>", ".more { color: #777 !important }</style>"), WIDE, True),
            "scrollable-region-focusable": (self.page.replace(' tabindex="0"', ""), NARROW, False),
        }
        for rule, (page, width, is_dark) in planted.items():
            self.assertNotEqual(page, self.page)
            violations = self.browser.check(page, width, is_dark)["violations"]
            self.assertTrue(any(violation.startswith(rule + ":") for violation in violations), (rule, violations))
        wide = self.page.replace("</main>", '<p style="width: 40rem">wide</p></main>')
        self.assertGreater(self.browser.check(wide, NARROW, False)["sideways"], 0)

    def test_the_page_asks_the_network_for_nothing(self):
        self.assertEqual(self.browser.requests(self.page), [])
        image = '<img src="http://watched.invalid/x.png" alt=""></main>'
        asking = self.page.replace("</main>", image)
        self.assertEqual(self.browser.requests(asking), [], "the policy of the page keeps it from asking")
        unguarded = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", asking)
        self.assertEqual(self.browser.requests(unguarded), ["http://watched.invalid/x.png"])

    def test_text_from_the_inputs_stays_text(self):
        mission = os.path.join(self.work, "hostile")
        shutil.copytree(DEMO, mission)
        hostile = '</style></svg><script>alert(1)</script> & "q" <b> \x1b[31m \u202e @chart levels'
        path = os.path.join(mission, "days", "008", "actions.csv")
        lines = read(path).splitlines()
        row = {"action": "A-0", "from": "x", "to": "y", "text": '"' + hostile.replace('"', '""') + '"', "state": "open"}
        lines.insert(1, ",".join(row.get(column, "") for column in lines[0].split(",")))
        with open(path, "w", encoding="utf-8") as file:
            file.write("\n".join(lines) + "\n")
        path = os.path.join(mission, "mission.toml")
        text = read(path)
        self.assertIn('"Potable water"', text)
        with open(path, "w", encoding="utf-8") as file:
            file.write(text.replace('"Potable water"', '"<i>Water</i> & <script>"'))
        page = read(os.path.join(make_brief(mission, 8, os.path.join(self.work, "hostile-out")), "brief.html"))
        reader = Reader(page)
        self.assertEqual(reader.faults, [])
        self.assertEqual(reader.named("script") + reader.named("i") + reader.named("b"), [])
        self.assertEqual(page.count('<figure class="chart levels">'), 1)
        self.assertNotRegex(page, "[\x1b\u202e]")
        cells = [cell for table in reader.tables for row in table for cell in row]
        self.assertTrue(any(cell.startswith("</style></svg><script>alert(1)</script> & \"q\" <b> \\x1B") for cell in cells),
                        [cell for cell in cells if "style" in cell])
        self.assertIn("<i>Water</i> & <script>", cells)

    def test_a_team_can_bring_its_own_look_and_the_manifest_names_it(self):
        folder = os.path.join(self.work, "own")
        os.mkdir(folder)
        with open(os.path.join(folder, "brief.md.mustache"), "w", encoding="utf-8") as file:
            file.write("# {{mission.name}}\n\n@chart work\n\n@table gates\n")
        plain = make_brief(DEMO, 8, os.path.join(self.work, "own-words"), "--templates", folder)
        style = "main { color: #123 } /* </style><script> */\n"
        with open(os.path.join(folder, "brief.css"), "w", encoding="utf-8") as file:
            file.write(style)
        styled = make_brief(DEMO, 8, os.path.join(self.work, "own-look"), "--templates", folder)
        built_in, own = (read(os.path.join(out, "brief.html")) for out in (plain, styled))
        self.assertIn(re.search(r"<style>(.*?)</style>", self.page, re.S)[1], built_in)
        self.assertIn("main { color: #123 }", own)
        self.assertEqual(Reader(own).named("script"), [])
        for page in (built_in, own):
            self.assertIn("Decision support only.", page, "whatever the template says")
            self.assertEqual(page.count("<figure"), 1)
        sizes = {file["path"]: file["size"] for file in json.loads(read(os.path.join(styled, "inputs.json")))["files"]}
        self.assertEqual(sizes["templates/brief.css"], len(style))

    def test_a_chart_that_does_not_exist_is_a_fault_of_the_template(self):
        folder = os.path.join(self.work, "wrong")
        os.mkdir(folder)
        with open(os.path.join(folder, "brief.md.mustache"), "w", encoding="utf-8") as file:
            file.write("# {{mission.name}}\n\n@chart pie\n")
        done = subprocess.run([DAYWRIGHT, "brief", DEMO, "--out", os.path.join(self.work, "none"), "--templates", folder],
                              capture_output=True, text=True)
        self.assertEqual(done.returncode, 3)
        self.assertIn("brief.md.mustache:3:1: error: there is no chart 'pie' [template-chart]", done.stderr)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
