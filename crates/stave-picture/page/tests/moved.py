"""What is pressed, dragged and typed on the page, and what follows from it."""

from opened import Page


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
    page.slide("time", 400)
    assert " left" in page.text("clock") and "0:00 left" not in page.text("clock"), page.text(
        "clock"
    )
    assert page.text("doing").startswith(("● burning", "○ travelling")), page.text("doing")
    half = page.stage()
    assert half != whole
    page.click("#play")
    browser.wait("Number(document.getElementById('time').value) > 400")
    page.click("#play")
    page.slide("time", 1000)
    assert page.text("doing") == "done" and page.stage() == whole, "the end looks as at first"


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
