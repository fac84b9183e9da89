#!/usr/bin/env python3
"""The proof's page in a headless Chromium: run.py STAVE [--keep] [--look FOLDER].

STAVE is the binary. --keep writes the expected screenshots anew (then look at them), --look leaves full ones in a folder.
"""

import argparse
import base64
import glob
import json
import os
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from browser import Browser, executable  # noqa: E402
from pixels import compare, rows_of, small  # noqa: E402

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.abspath(os.path.join(HERE, "../../../.."))
FIXTURES = os.path.join(ROOT, "fixtures")
BUILT = os.environ.get("CARGO_TARGET_DIR") or os.path.join(ROOT, "target")
AXE, PAPER = os.path.join(BUILT, "axe"), os.path.join(BUILT, "paper")
# Where what a test leaves may lie.
FOLDERS = []
CREST = [
    "programs/crest.nc",
    "-b",
    "blanks/bottle.toml",
    "-m",
    "machines/degrees.toml",
    "-j",
    "jobs/step.toml",
]
# Over all of the back of a ball.
BACK = ["--path", "M-45 20h90v50h-90zM-45 20l90 50M-45 70l90 -50M-40 45h80", "-b", "blanks/ornament.toml"]
BACK += ["-m", "machines/degrees.toml", "--place-at", "-24", "--place-turn", "180"]
# Of several operations.
PARTS = ["art/crest.svg", "-b", "blanks/can.toml", "-m", "machines/degrees.toml"]
PARTS += ["-j", "art/crest.toml"]


class Page:
    """A browser with a page of ours open, and what may be asked of it."""

    def __init__(self, browser, path):
        self.browser, self.path = browser, path
        self.took = browser.open(path)
        browser.settle()

    def value(self, element):
        return self.browser.run(f"document.getElementById('{element}').value")

    def text(self, element):
        return self.browser.run(f"document.getElementById('{element}').textContent")

    def click(self, selector):
        self.browser.run(f"document.querySelector({selector!r}).click()")
        self.browser.settle()

    def middle(self):
        return self.browser.run(
            "(() => { const b = document.getElementById('work').getBoundingClientRect(); "
            "return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )

    def drawn(self):
        return json.loads(self.browser.run("document.getElementById('work').dataset.drawn"))

    def stage(self):
        # A picture at rest is drawn finely.
        self.browser.run("new Promise((done) => setTimeout(done, 300))")
        self.browser.settle()
        box = self.browser.run(
            "(() => { const b = document.getElementById('stage').getBoundingClientRect(); "
            "return {x: b.x, y: b.y, width: b.width, height: b.height, scale: 1}; })()"
        )
        return base64.b64decode(
            self.browser.call("Page.captureScreenshot", format="png", clip=box)["data"]
        )


def modules(browser, _pages, _args):
    """The modules by themselves: their tests run as one script, as the page's does."""

    def plain(path):
        with open(path) as file:
            return "".join(
                line.removeprefix("export ") for line in file if not line.startswith("import ")
            )

    browser.call("Page.navigate", url="about:blank")
    folder = os.path.join(HERE, "..")
    script = "".join(
        plain(os.path.join(folder, name))
        for name in [
            "geometry.js",
            "decode.js",
            "track.js",
            "mesh.js",
            "ink.js",
            "measure.js",
            "lists.js",
            "nozzle.js",
            "overlay.js",
            "view.js",
        ]
    )
    for path in sorted(glob.glob(os.path.join(HERE, "*.test.js"))):
        script += plain(path)
    ran = browser.run(
        "(async () => {"
        + script
        + "\nlet ran = 0; for (const [name, test] of Object.entries(tests)) { "
        "try { await test(); ran++; } catch (error) { throw new Error(`${name}: ${error.message}`); } } return ran; })()"
    )
    assert ran >= 8, ran


def loads(browser, pages, _args):
    """It opens without errors, and nothing leaves it."""
    page = Page(browser, pages["crest"])
    assert page.text("name") == "crest"
    assert browser.errors() == [], browser.errors()
    assert browser.requests() == [], browser.requests()


def drag_turns(browser, pages, _args):
    page = Page(browser, pages["crest"])
    x, y = page.middle()
    before = page.stage()
    browser.drag((x, y), (x + 120, y))
    turned = float(page.value("turn"))
    # What is under the pointer follows it: to the right is towards growing turn at the front.
    assert 20 < turned < 120, turned
    assert page.stage() != before
    browser.drag((x, y), (x - 120, y))
    assert abs(float(page.value("turn"))) <= 1
    browser.mouse("mouseWheel", x, y, deltaX=0, deltaY=-400)
    browser.settle()
    assert page.stage() != before, "the wheel zooms"


def keys_work(browser, pages, _args):
    page = Page(browser, pages["crest"])
    browser.run("document.getElementById('work').focus()")
    browser.key("ArrowRight")
    assert float(page.value("turn")) > 0
    browser.key("u")
    assert browser.run("document.getElementById('unrolled').getAttribute('aria-pressed')") == "true"
    assert "unrolled" in browser.run("document.getElementById('work').getAttribute('aria-label')")
    browser.key("u")
    before = page.stage()
    browser.key("+")
    assert page.stage() != before
    browser.key("0")
    browser.key(" ")
    assert page.text("play") == "Pause"
    browser.key(" ")
    assert page.text("play") == "Play"


def time_moves(browser, pages, _args):
    page = Page(browser, pages["crest"])
    whole = page.stage()
    browser.run(
        "(() => { const t = document.getElementById('time'); t.value = 400; t.dispatchEvent(new Event('input')); })()"
    )
    browser.settle()
    assert " left" in page.text("clock") and "0:00 left" not in page.text("clock"), page.text(
        "clock"
    )
    assert page.text("doing").startswith(("● burning", "○ travelling")), page.text("doing")
    half = page.stage()
    assert half != whole
    page.click("#play")
    browser.wait("Number(document.getElementById('time').value) > 400")
    page.click("#play")
    browser.run(
        "(() => { const t = document.getElementById('time'); t.value = 1000; t.dispatchEvent(new Event('input')); })()"
    )
    browser.settle()
    assert page.text("doing") == "done" and page.stage() == whole, "the end looks as at first"


def the_far_side_stays_hidden(browser, pages, _args):
    """What burns on the back alone changes no pixel of the front: none shows between two triangles."""
    page = Page(browser, pages["back"])
    browser.run("document.getElementById('over').hidden = true")
    for width, height in [(320, 900), (1280, 900)]:
        browser.size(width, height)
        shown = []
        for time in [0, 1000]:
            browser.run(
                f"(() => {{ const t = document.getElementById('time'); t.value = {time};"
                " t.dispatchEvent(new Event('input')); })()"
            )
            browser.settle()
            shown.append(page.stage())
        assert shown[0] == shown[1], f"the back shows on the front at {width} px"
    page.click("[data-facing='180']")
    assert page.stage() != shown[0]


def findings_show(browser, pages, _args):
    page = Page(browser, pages["zone"])
    # The job says that the head may strike: what it accepts is an error still, and says so.
    assert browser.run("document.querySelectorAll('#findings button').length") >= 1
    told = browser.run("document.querySelector('#findings .accepted-error').textContent")
    assert "accepted error: clearance" in told and "boss" in told, told
    page.click("#findings .accepted-error button")
    assert (
        browser.run(
            "document.querySelector('#findings .accepted-error button').getAttribute('aria-pressed')"
        )
        == "true"
    )
    # The boss is at the back: the piece turns there.
    assert abs(float(page.value("turn"))) > 150, page.value("turn")
    x, y = page.middle()
    page.click("#findings .accepted-error button")
    browser.press(x, y + 60)
    assert "turn" in page.text("readout"), page.text("readout")


def burns_are_a_mesh(browser, pages, _args):
    """Line art comes as triangles: few, sharp however near, drawn in few calls; a photograph stays a picture."""
    page = Page(browser, pages["crest"])
    drawn = page.drawn()
    # The crest: some thousand scan lines and curves.
    assert 1000 < drawn["triangles"] < 60_000, drawn
    assert drawn["corners"] < 3 * drawn["triangles"] and drawn["calls"] <= 8, drawn
    assert os.path.getsize(pages["crest"]) < 200_000, os.path.getsize(pages["crest"])
    page.click("#unrolled")
    assert page.drawn()["calls"] <= 8, page.drawn()
    # Very near, where the oars cross, bare ware turns into burned from one pixel to the next.
    page.click("#turned")
    browser.run("document.getElementById('over').hidden = true")
    for _ in range(8):
        page.click("#closer")
    width, channels, rows = rows_of(page.stage())
    greys = [
        [sum(row[k : k + 3]) / 3 for k in range(0, width * channels, channels)]
        for row in rows[20:-20:2]
    ]
    reach = max(map(max, greys)) - min(map(min, greys))
    sharp = sum(1 for row in greys for a, b in zip(row, row[1:]) if abs(a - b) > 0.4 * reach)
    assert reach > 80 and sharp > 300, (reach, sharp)
    long = Page(browser, pages["long"])
    assert long.drawn()["triangles"] == 0, long.drawn()


def sections_fade(browser, pages, _args):
    page = Page(browser, pages["crest"])
    # Nineteen strokes of one kind are one row; nothing burns before them, and no row says so.
    rows = browser.run(
        "[...document.querySelectorAll('#sections button')].map((row) => row.innerText.replace(/\\s+/g, ' '))"
    )
    assert rows == ["stroke × 19"], rows
    # The work turns to the part that is chosen.
    page.click("[data-facing='180']")
    page.click("#sections button")
    assert abs(float(page.value("turn"))) < 30, page.value("turn")
    # What belongs to another part fades.
    page = Page(browser, pages["parts"])
    page.click("#unrolled")
    before = page.stage()
    page.click("#sections button")
    assert page.stage() != before
    page.click("#sections button")
    assert page.stage() == before


def measures(browser, pages, _args):
    """Two places pressed, one keyed: what lies between them is told in mm, and shown."""
    page = Page(browser, pages["crest"])
    x, y = page.middle()
    page.click("#measure")
    browser.press(x, y - 80)
    before = page.stage()
    browser.press(x, y + 120)
    told = page.text("readout")
    assert "along the wall" in told and "the shortest way" in told, told
    along, around, way = (
        float(part.split(" mm")[0].split()[-1]) for part in told.replace("; ", ", ").split(", ")
    )
    assert 50 < along < 100 and around < 1 and abs(way - along) < 1, told
    assert page.stage() != before
    page.click("#measure")
    page.click("[data-facing='90']")
    browser.run("document.getElementById('work').focus()")
    browser.key("Enter")
    assert "⌀" in page.text("readout"), page.text("readout")


def travels_and_nozzle(browser, pages, _args):
    page = Page(browser, pages["crest"])
    before, calls = page.stage(), page.drawn()["calls"]
    page.click("#travels")
    assert not browser.run("document.getElementById('legend').hidden")
    travels = page.stage()
    assert travels != before and page.drawn()["calls"] > calls
    page.click("#nozzle")
    assert page.stage() != travels
    assert browser.errors() == [], browser.errors()


def buttons_do_what_dragging_does(browser, pages, _args):
    """WCAG 2.2, 2.5.7: whatever is dragged can be pressed instead."""
    page = Page(browser, pages["crest"])
    for button in [
        "[data-shift='1 0']",
        "[data-shift='0 1']",
        "#tip-up",
        "#closer",
        "[data-facing='90']",
    ]:
        before = page.stage()
        page.click(button)
        assert page.stage() != before, button


def two_fingers_zoom(browser, pages, _args):
    page = Page(browser, pages["crest"])
    x, y = page.middle()
    before = page.stage()
    touch = lambda kind, *points: browser.call(
        "Input.dispatchTouchEvent",
        type=kind,
        touchPoints=[{"x": a, "y": b, "id": k} for k, (a, b) in enumerate(points)],  # noqa: E731
    )
    touch("touchStart", (x - 30, y), (x + 30, y))
    for reach in (40, 60, 80):
        touch("touchMove", (x - reach, y), (x + reach, y))
    touch("touchEnd")
    browser.settle()
    assert page.stage() != before, "two fingers zoom"
    page.click("#whole")
    touch("touchStart", (x, y))
    for way in (20, 60, 100):
        touch("touchMove", (x + way, y))
    touch("touchEnd")
    browser.settle()
    assert float(page.value("turn")) > 15, page.value("turn")


def accessible(browser, pages, _args):
    """axe-core finds nothing amiss by WCAG 2.2 AA, light and dark, wide and at 320 px."""
    axe = axe_core()
    rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    for name in ["crest", "zone", "customer", "order"]:
        for scheme in ["light", "dark"]:
            for width, height in [(1280, 900), (320, 640)]:
                browser.size(width, height, 1, width < 400)
                browser.scheme(scheme)
                browser.open(pages[name], name == "order")
                if name == "zone":
                    browser.run("document.querySelector('#findings button').click()")
                    browser.run(
                        "document.getElementById('unrolled').click(); document.getElementById('travels').click()"
                    )
                browser.settle()
                browser.run(axe + "; 1")
                found = browser.run(
                    "axe.run(document, {runOnly: "
                    + json.dumps(rules)
                    + "}).then((told) => [told.passes.length, "
                    "told.violations.map((one) => [one.id, one.help, one.nodes.map((node) => node.target.join(' '))])])"
                )
                assert found[0] > 10 and found[1] == [], (name, scheme, width, found)
                assert browser.run("document.documentElement.scrollWidth <= innerWidth + 1"), (
                    name,
                    scheme,
                    width,
                )
    browser.size(1280, 900)
    browser.scheme("light")


def axe_core():
    """The script of axe-core: from AXE, or fetched by its name with npm once, beside what cargo builds."""
    path = os.environ.get("AXE") or os.path.join(AXE, "node_modules", "axe-core", "axe.min.js")
    if not os.path.exists(path):
        os.makedirs(AXE, exist_ok=True)
        subprocess.run(
            [
                "npm",
                "install",
                "--no-audit",
                "--no-fund",
                "--silent",
                "--prefix",
                AXE,
                "axe-core@4.14.1",
            ],
            check=True,
        )
    with open(path) as file:
        return file.read()


def prints(browser, pages, _args):
    """Paper shows the picture of the screen at its own proportions, on A4 and Letter, from a light page and a dark one."""
    for name, scheme, pictures in [
        ("customer", "light", 2),
        ("customer", "dark", 2),
        ("texts", "light", 2),
        ("crest", "light", 1),
    ]:
        browser.scheme(scheme)
        page = Page(browser, pages[name])
        on_screen = page.stage()
        for paper in [(8.27, 11.69), (8.5, 11)]:
            pdf = base64.b64decode(
                browser.call(
                    "Page.printToPDF",
                    paperWidth=paper[0],
                    paperHeight=paper[1],
                    preferCSSPageSize=False,
                    printBackground=True,
                )["data"]
            )
            found = [picture for picture in on_paper(pdf) if min(picture["pixels"]) > 200]
            # What is signed is one sheet.
            assert name == "crest" or sheets(pdf) == 1, (name, paper, sheets(pdf))
            assert len(found) == pictures, (name, paper, found)
            for picture in found:
                (w, h), (wide, tall) = picture["pixels"], picture["mm"]
                assert abs((w / h) / (wide / tall) - 1) < 0.01, (name, paper, picture)
                assert wide < 25.4 * paper[0] - 20 and tall < 25.4 * paper[1] - 20, (
                    name,
                    paper,
                    picture,
                )
            if scheme == "light":
                # The very picture: what it shows, cell by cell.
                width = browser.run("document.getElementById('work').width")
                shown = min(found, key=lambda picture: abs(picture["pixels"][0] - width))
                with open(shown["file"], "rb") as file:
                    apart = [abs(a - b) for a, b in zip(small(file.read()), small(on_screen))]
                assert sum(apart) / len(apart) < 6, sum(apart) / len(apart)
    browser.scheme("light")


def sheets(pdf):
    """How many sheets of paper a PDF has."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


# Pictures of a PDF: pixels, place on the paper in mm, and the picture as PNG in a file.
ON_PAPER = """
import json, sys, pypdfium2 as pdfium
document, told = pdfium.PdfDocument(sys.argv[1]), []
for page in document:
    for thing in page.get_objects(max_depth=8):
        if thing.type != pdfium.raw.FPDF_PAGEOBJ_IMAGE:
            continue
        left, bottom, right, top = thing.get_bounds()
        bitmap = thing.get_bitmap(render=False)
        name = f"{sys.argv[1]}-{len(told)}.png"
        bitmap.to_pil().convert("RGB").save(name)
        told.append({"pixels": [bitmap.width, bitmap.height], "mm": [(right - left) * 25.4 / 72, (top - bottom) * 25.4 / 72], "file": name})
print(json.dumps(told))
"""


def paper_python():
    """A Python that has pypdfium2 and pillow: fetched by name with pip once, into an environment
    beside what cargo builds."""
    python = os.path.join(PAPER, "bin", "python")
    if not os.path.exists(python):
        subprocess.run([sys.executable, "-m", "venv", PAPER], check=True)
        subprocess.run(
            [python, "-m", "pip", "install", "-q", "pypdfium2==5.15.2", "pillow"], check=True
        )
    return python


def on_paper(pdf):
    """The pictures of a PDF."""
    python = paper_python()
    path = os.path.join(tempfile.mkdtemp(prefix="stave-paper-", dir=FOLDERS[-1]), "page.pdf")
    with open(path, "wb") as file:
        file.write(pdf)
    return json.loads(
        subprocess.run(
            [python, "-c", ON_PAPER, path], check=True, capture_output=True, text=True
        ).stdout
    )


def readable(browser, pages, _args):
    """Everything that can be pressed has a name, and nothing hangs over the edge of a phone."""
    page = Page(browser, pages["crest"])
    tree = browser.call("Accessibility.getFullAXTree")["nodes"]
    pressed = [
        node
        for node in tree
        if node.get("role", {}).get("value")
        in ("button", "slider", "checkbox", "combobox", "image")
    ]
    assert len(pressed) > 12
    unnamed = [node["role"]["value"] for node in pressed if not node.get("name", {}).get("value")]
    assert unnamed == [], unnamed
    browser.size(390, 844, 2, True)
    page = Page(browser, pages["crest"])
    assert browser.run("document.documentElement.scrollWidth <= innerWidth + 1"), browser.run(
        "document.documentElement.scrollWidth"
    )
    browser.size(1280, 900)


def customer(browser, pages, _args):
    page = Page(browser, pages["customer"])
    words = browser.run("document.body.innerText")
    assert "signature" in words and "Figures" not in words and "Findings" not in words, words
    assert browser.run("document.getElementById('time')") is None
    assert "mm across" in page.text("made-for")
    assert browser.errors() == []


def looks(browser, pages, args):
    """Screenshots, light and dark, turned and unrolled, held against those that are kept."""
    for name, page_name, scheme, press in [
        ("front", "crest", "light", "[data-facing='0']"),
        ("unrolled", "crest", "light", "#unrolled"),
        ("dark", "crest", "dark", "[data-facing='0']"),
        ("back", "zone", "light", "[data-facing='180']"),
        ("customer", "customer", "light", "[data-facing='0']"),
    ]:
        browser.scheme(scheme)
        page = Page(browser, pages[page_name])
        page.click(press)
        compare(name, page.stage(), args.keep)
        if args.look:
            browser.screenshot(os.path.join(args.look, f"page-{name}.png"))
    browser.scheme("light")


def a_long_program_turns(browser, pages, _args):
    """A page of many megabytes opens and turns; how fast is told, and is no matter of right or wrong."""
    page = Page(browser, pages["long"])
    before = page.stage()
    rate = browser.run(TURNING)
    print(
        f"  long program: page of {os.path.getsize(pages['long']) / 1e6:.1f} MB open in {page.took:.2f} s, {rate:.0f} pictures a second"
    )
    assert float(page.value("turn")) == 117, page.value("turn")
    assert page.stage() != before
    assert browser.errors() == [], browser.errors()


# Most of a turn in a hundred pictures, from -180; pictures a second.
TURNING = """new Promise((done) => {
  const turn = document.getElementById('turn');
  let drawn = 0, begun = 0;
  const step = (now) => {
    if (!begun) begun = now;
    if (drawn === 100) return done(drawn / ((now - begun) / 1000));
    turn.value = String(drawn * 3 - 180);
    turn.dispatchEvent(new Event('input'));
    drawn++;
    requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
})"""


TESTS = [
    modules,
    loads,
    drag_turns,
    keys_work,
    time_moves,
    the_far_side_stays_hidden,
    findings_show,
    burns_are_a_mesh,
    sections_fade,
    measures,
    travels_and_nozzle,
    buttons_do_what_dragging_does,
    two_fingers_zoom,
    readable,
    accessible,
    customer,
    prints,
    looks,
    a_long_program_turns,
]


def long_program(path):
    """A flat program of 20 MB: scan lines of changing power, as a photograph makes them."""
    lines, u, row = ["G21 G90", "M4 S0", "G0 X0 Y-60"], 0, 0
    size = 0
    with open(path, "w") as file:
        file.write("\n".join(lines) + "\n")
        while size < 20_000_000:
            y = -60 + row * 0.1
            steps = range(0, 1000) if row % 2 == 0 else range(1000, 0, -1)
            text = f"G1 X{0 if row % 2 == 0 else 100} Y{y:.2f} F12000 S0\n" + "".join(
                f"G1 X{(k + (1 if row % 2 == 0 else -1)) / 10:.1f} S{(k * 7 + row * 13) % 600}\n"
                for k in steps
            )
            size += file.write(text)
            row += 1


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("stave")
    parser.add_argument("--keep", action="store_true")
    parser.add_argument("--look")
    parser.add_argument("--only")
    args = parser.parse_args()
    if executable() is None:
        sys.exit("no Chromium here: apt-get install chromium")
    with tempfile.TemporaryDirectory() as folder:
        FOLDERS.append(folder)
        long = os.path.join(folder, "long.nc")
        long_program(long)
        pages = {}
        menu = ["art/menu.svg", "-b", "blanks/cup.toml", "-m", "machines/degrees.toml"]
        made = [
            ("crest", CREST, []),
            ("customer", CREST, ["--for-customer"]),
            ("texts", menu, ["--for-customer"]),
            ("zone", CREST, ["--zones", "ignore", "--place-at", "100", "--place-turn", "180"]),
            ("back", BACK, []),
            ("parts", PARTS, []),
            (
                "long",
                [long, "-b", "blanks/can.toml", "-m", "machines/degrees.toml"],
                ["--title", "long"],
            ),
        ]
        for name, what, more in made:
            pages[name] = os.path.join(folder, name + ".html")
            subprocess.run(
                [os.path.abspath(args.stave), "proof", *what, *more, "-q", "-o", pages[name]],
                cwd=FIXTURES,
                check=True,
            )
        pages["order"] = os.path.join(folder, "order.html")
        subprocess.run(
            [
                os.path.abspath(args.stave),
                "proof",
                "orders/order.toml",
                "--for-customer",
                "-q",
                "-o",
                pages["order"],
            ],
            cwd=FIXTURES,
            check=True,
        )
        with Browser() as browser:
            browser.size(1280, 900)
            browser.scheme("light")
            for test in TESTS:
                if args.only and args.only not in test.__name__:
                    continue
                test(browser, pages, args)
                print(f"{test.__name__}: ok", flush=True)


if __name__ == "__main__":
    main()
