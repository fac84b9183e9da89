"""What the page shows of the piece."""

import os

from opened import Page
from pixels import compare, rows_of


def loads(browser, pages, _args):
    """It opens without errors, and nothing leaves it."""
    page = Page(browser, pages["crest"])
    assert page.text("name") == "crest"
    assert browser.errors() == [], browser.errors()
    assert browser.requests() == [], browser.requests()


def the_far_side_stays_hidden(browser, pages, _args):
    """What burns on the back alone changes no pixel of the front: none shows between triangles."""
    page = Page(browser, pages["back"])
    browser.run("document.getElementById('over').hidden = true")
    for width, height in [(320, 900), (1280, 900)]:
        browser.size(width, height)
        shown = []
        for time in [0, 1000]:
            page.slide("time", time)
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
            "document.querySelector('#findings .accepted-error button')"
            ".getAttribute('aria-pressed')"
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
    """Line art comes as triangles: few, sharp however near, drawn in few calls; a photograph stays
    a picture."""
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
        "[...document.querySelectorAll('#sections button')]"
        ".map((row) => row.innerText.replace(/\\s+/g, ' '))"
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


def pixels_of(png):
    """Its pixels, each as red, green and blue."""
    width, channels, rows = rows_of(png)
    return [tuple(row[k : k + 3]) for row in rows for k in range(0, width * channels, channels)]


def differences_show(browser, pages, _args):
    """What burns and was not meant is orange, what was meant and does not is light blue, and a
    legend says so, turned and unrolled."""
    assert Page(browser, pages["crest"]).hidden("differences")
    page = Page(browser, pages["other"])
    assert not page.hidden("differences") and "not meant" in page.text("differences")
    assert page.drawn()["triangles"] == 0, page.drawn()
    browser.run("document.getElementById('over').hidden = true")
    for way in ["#turned", "#unrolled"]:
        page.click(way)
        seen = pixels_of(page.stage())
        orange = sum(1 for r, g, b in seen if r > g + 50 and g > b + 30)
        blue = sum(1 for r, g, b in seen if b > g + 20 and g > r + 40)
        assert orange > 200 and blue > 200, (way, orange, blue)


def a_walk_shows_its_way(browser, pages, _args):
    """Of a program that burns nothing the way is there from the start, and no scale of energy."""
    page = Page(browser, pages["walk"])
    assert page.hidden("scale") and not page.hidden("legend")
    assert browser.run("document.getElementById('travels').checked")
    shown = page.stage()
    page.click("#travels")
    assert page.hidden("legend") and page.stage() != shown
    assert "run-up" not in page.text("legend") and "walked" in page.text("legend")
    page.slide("time", 500)
    assert page.text("doing").startswith(("○ walking", "○ travelling")), page.text("doing")


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


def customer(browser, pages, _args):
    page = Page(browser, pages["customer"])
    words = browser.run("document.body.innerText")
    assert "signature" in words and "Figures" not in words and "Findings" not in words, words
    assert browser.run("document.getElementById('time')") is None
    assert "mm across" in page.text("made-for")
    assert browser.errors() == []


NO_WEBGL = """(() => {
  const before = HTMLCanvasElement.prototype.getContext;
  HTMLCanvasElement.prototype.getContext = function (kind, ...more) {
    return kind === 'webgl2' ? null : before.call(this, kind, ...more);
  };
})()"""

# What is seen of a few things, as the height they have on the page.
SEEN = """Object.fromEntries(['still', 'stage', 'texts', 'signing', 'findings', 'notice', 'keys']
  .map((id) => [id, document.getElementById(id)?.getBoundingClientRect().height ?? 0])
  .concat([['buttons', [...document.querySelectorAll('button, input, select')]
    .filter((one) => one.checkVisibility()).length]]))"""


def a_still_picture_stands_in(browser, pages, _args):
    """Without WebGL, and without scripts, who signs sees the piece and reads its texts, and nothing
    is there that does nothing; with both the picture gives way."""
    seen = []
    for name in ["texts", "crest"]:
        number = browser.call("Page.addScriptToEvaluateOnNewDocument", source=NO_WEBGL)
        Page(browser, pages[name])
        seen.append((name, True, browser.run(SEEN)))
        browser.call("Page.removeScriptToEvaluateOnNewDocument", **number)
        browser.call("Emulation.setScriptExecutionDisabled", value=True)
        browser.open(pages[name], True)
        seen.append((name, False, browser.run(SEEN)))
        browser.call("Emulation.setScriptExecutionDisabled", value=False)
    for name, scripted, there in seen:
        assert there["stage"] == there["keys"] == 0, (name, there)
        if name == "texts":
            assert there["still"] > 300 and there["texts"] > 300 and there["signing"] > 100, there
            assert there["buttons"] == 0, there
            assert (there["notice"] > 0) == scripted, there
        else:
            assert there["still"] == there["signing"] == 0, there
            assert (there["findings"] > 0) == scripted, there
    Page(browser, pages["texts"])
    there = browser.run(SEEN)
    assert there["still"] == 0 and there["stage"] > 300 and there["texts"] > 300, there


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


def a_long_program_turns(browser, pages, _args):
    """A page of many megabytes opens and turns; how fast is told, and is no matter of right or
    wrong."""
    page = Page(browser, pages["long"])
    before = page.stage()
    rate = browser.run(TURNING)
    print(
        f"  long program: page of {os.path.getsize(pages['long']) / 1e6:.1f} MB"
        f" open in {page.took:.2f} s, {rate:.0f} pictures a second"
    )
    assert float(page.value("turn")) == 117, page.value("turn")
    assert page.stage() != before
    assert browser.errors() == [], browser.errors()
