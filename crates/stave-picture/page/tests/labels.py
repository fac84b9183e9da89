#!/usr/bin/env python3
"""The words on every drawing and page of every fixture: labels.py STAVE [--look FOLDER].

Each drawing is opened in a headless Chromium, whose own measure of the words counts: no two may
meet, and none may leave its page. What lies beside the page of a template is to be shown by an
editor; a pattern parted onto sheets is cut at their edges: there words may leave, but not meet. On
the pages of the proof the words beside the picture and those drawn over it are looked at on a
phone, a tablet and a desk, turned three ways and unrolled. --look leaves the drawings and a picture
of each in a folder. No page is larger than can be sent.
"""

import argparse
import glob
import os
import shutil
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from browser import FIXTURES, Browser, executable  # noqa: E402

sys.path.insert(1, os.path.join(FIXTURES, "pictures"))
import draw  # noqa: E402

MACHINE = "machines/degrees.toml"

# How many words stand there, and what is wrong. Above and below the letters a line's box has air: a
# seventh of it.
WORDS = """(() => {
  const page = document.documentElement.getBoundingClientRect(), wrong = [];
  const words = [...document.querySelectorAll('text')].map((text) => {
    const box = text.getBoundingClientRect(), air = 0.14 * Math.min(box.height, box.width);
    const across = box.width >= box.height, view = text.closest('svg svg');
    const clip = { left: -1e9, right: 1e9, top: -1e9, bottom: 1e9 };
    if (view) {
      // What lies outside an inner view is cut off.
      const page = view.parentElement.getScreenCTM();
      const [x, y] = [view.x.baseVal.value, view.y.baseVal.value];
      const [wide, high] = [view.width.baseVal.value, view.height.baseVal.value];
      clip.left = page.e + page.a * x, clip.right = page.e + page.a * (x + wide);
      clip.top = page.f + page.d * y, clip.bottom = page.f + page.d * (y + high);
    }
    const seen = {
      left: Math.max(clip.left, box.left + (across ? 0 : air)),
      right: Math.min(clip.right, box.right - (across ? 0 : air)),
      top: Math.max(clip.top, box.top + (across ? air : 0)),
      bottom: Math.min(clip.bottom, box.bottom - (across ? air : 0)),
    };
    const wide = seen.bottom > seen.top ? seen.right - seen.left : 0;
    const free = text.closest('#stave-guides-margin, svg svg') !== null;
    return { text: text.textContent, free, wide, ...seen };
  }).filter(({ text, wide }) => text.trim() && wide > 0);
  words.forEach((a, k) => {
    const across = a.left < page.left - 0.5 || a.right > page.right + 0.5;
    const out = across || a.top < page.top - 0.5 || a.bottom > page.bottom + 0.5;
    if (out && !a.free) wrong.push(`"${a.text}" leaves the page`);
    for (const b of words.slice(k + 1)) {
      const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (wide > 0.3 && high > 0.3) wrong.push(`"${a.text}" meets "${b.text}"`);
    }
  });
  return [words.length, wrong];
})()"""


# The same of a page: the words that are laid out, and those that are drawn over the piece, with its
# flags.
ON_PAGE = """(() => {
  const wrong = [], edge = document.documentElement.clientWidth, laid = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const of = node.parentElement;
    const unseen = of.closest('script, style, noscript, option, [hidden]') || !of.checkVisibility();
    const text = node.textContent.trim().slice(0, 40);
    if (!text || unseen) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects()) if (box.width > 0.5) laid.push({ box, of, text });
  }
  const meet = (a, b, by) =>
    Math.min(a.right, b.right) - Math.max(a.left, b.left) > by &&
    Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > by;
  const listed = (one) => one.of.closest('#sections');
  laid.forEach((a, k) => {
    // A sheet in an order's page is moved under a screen that is narrower.
    const out = (a.box.right > edge + 1 || a.box.left < -1) && !a.of.closest('.sheet');
    if (out) wrong.push(`"${a.text}" leaves the page`);
    // What is scrolled away inside a list lies under what follows it.
    for (const b of laid.slice(k + 1)) {
      if (a.of === b.of || listed(a) || listed(b)) continue;
      if (meet(a.box, b.box, 2)) wrong.push(`"${a.text}" meets "${b.text}"`);
    }
  });
  const over = document.getElementById('over'), words = JSON.parse(over?.dataset.words ?? '[]');
  words.forEach((a, k) => {
    const inside = a.left >= 0 && a.top >= 0 && a.right <= over.clientWidth;
    if (!inside || a.bottom > over.clientHeight) wrong.push(`"${a.text}" leaves the picture`);
    for (const b of words.slice(k + 1)) {
      if (meet(a, b, 0.1)) wrong.push(`"${a.text}" meets "${b.text}" on the picture`);
    }
  });
  return [laid.length, words.filter(({ text }) => text).map(({ text }) => text), wrong];
})()"""

# What a page is at the most, so that it can be sent.
MOST_BYTES = 1_000_000

# Widths of a phone, a tablet and a desk, CSS pixels.
WIDTHS = [320, 800, 1400]
VIEWS = ["[data-facing='0']", "[data-facing='90']", "[data-facing='180']", "#unrolled"]


def pages(stave, folder):
    """A page for every program and drawing, for the customer, of work that lies and that stands on
    its rim, with findings, and of an order.
    """
    bottle = ["-b", "blanks/bottle.toml", "-m", MACHINE, "-j", "jobs/step.toml"]
    made = [
        ("order", "orders/order.toml", []),
        ("order-customer", "orders/order.toml", ["--for-customer"]),
    ]
    for source, blank, job, more in draw.PROOFS:
        name = source.replace("/", "-").rsplit(".", 1)[0]
        made.append(
            (
                name,
                source,
                ["-b", f"blanks/{blank}.toml", "-m", MACHINE, *(["-j", job] if job else []), *more],
            )
        )
    crest = "programs/crest.nc"
    globe = ["-b", "globe/ball.toml", "-m", MACHINE, "-j", "globe/job.toml"]
    photo = ["-b", "blanks/can.toml", "-m", MACHINE, "-j", "photos/job.toml"]
    made += [
        ("globe", "globe/world.svg", globe),
        ("photo", "photos/boathouse.png", photo),
        ("customer", crest, [*bottle, "--for-customer"]),
        ("lying", crest, [*bottle, "--stands", "lying"]),
        ("inverted", crest, [*bottle, "--stands", "inverted"]),
        ("zone", crest, [*bottle, "--zones", "ignore", "--place-at", "100", "--place-turn", "180"]),
    ]
    for name, source, words in made:
        path = os.path.join(folder, f"page-{name}.html")
        done = subprocess.run(
            [stave, "proof", source, *words, "-q", "-o", path],
            cwd=FIXTURES,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, (words, done.stderr)
        # Of an order it holds every piece.
        size, most = os.path.getsize(path), MOST_BYTES * (2 if name.startswith("order") else 1)
        assert size < most, f"page {name}: {size} bytes"
        yield name, path


def on_pages(browser, stave, folder, look, sample):
    """What is wrong with the words of one page in `sample`, and how many were looked at."""
    faults, seen = [], 0
    for k, (name, path) in enumerate(pages(stave, folder)):
        if k % sample:
            continue
        seen += 1
        for width in WIDTHS:
            browser.size(width, 900, 1, width < 400)
            browser.open(path, name.startswith("order"))
            for view in [None] if name.startswith("order") else VIEWS:
                if view:
                    browser.run(f"document.querySelector({view!r}).click()")
                browser.settle()
                count, over, wrong = browser.run(ON_PAGE)
                case = f"page {name} at {width} px, {view}"
                if count == 0 or (
                    view == "#unrolled" and name not in ("customer",) and "turn 0°" not in over
                ):
                    faults.append(f"{case}: words are missing")
                faults += [f"{case}: {fault}" for fault in wrong]
            if look:
                browser.screenshot(os.path.join(look, f"page-{name}-{width}.png"))
    return faults, seen


def drawn(stave, folder):
    """Every drawing of every fixture: their files are named after what they show."""

    def run(name, *words):
        done = subprocess.run(
            [stave, *words, "-o", os.path.join(folder, name + ".svg")],
            cwd=FIXTURES,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, (words, done.stderr)

    for source, blank, job, more in draw.PROOFS:
        name = source.replace("/", "-").rsplit(".", 1)[0]
        files = ["-b", f"blanks/{blank}.toml", "-m", MACHINE, *(["-j", job] if job else []), *more]
        run(f"proof-{name}", "proof", source, *files, "-q")
        run(f"customer-{name}", "proof", source, *files, "-q", "--for-customer")
        run(f"lays-{name}", "lays", source, *files)
        run(f"framed-{name}", "template", source, *files)
    for path in sorted(glob.glob(os.path.join(FIXTURES, "blanks/*.toml"))) + [
        os.path.join(FIXTURES, "globe/ball.toml")
    ]:
        name, files = os.path.basename(path)[:-5], ["-b", path, "-m", MACHINE]
        run(f"template-{name}", "template", *files)
        run(f"level-{name}", "level", *files)
        with open(path) as file:
            developable = 'wall = "smooth"' not in file.read()
        if developable:
            run(f"paper-{name}", "template", "-b", path, "--paper")
            run(f"sheets-{name}", "template", "-b", path, "--paper", "--sheet", "a4")
    run("order", "proof", "orders/order.toml", "-q")
    run("order-customer", "proof", "orders/order.toml", "-q", "--for-customer")
    for name, options in draw.SWATCHES:
        program = os.path.join(folder, f"swatch-{name}.nc")
        subprocess.run(
            [stave, "swatch", "-b", "blanks/can.toml", "-m", MACHINE, *options, "-o", program],
            cwd=FIXTURES,
            check=True,
            capture_output=True,
        )
        run(f"swatch-{name}", "proof", program, "-b", "blanks/can.toml", "-m", MACHINE, "-q")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("stave")
    parser.add_argument("--look")
    parser.add_argument("--sample", type=int, default=1, help="one page in so many; every drawing")
    args = parser.parse_args()
    if executable() is None:
        sys.exit("no Chromium here: apt-get install chromium")
    stave, faults, seen = os.path.abspath(args.stave), [], 0
    if args.look:
        os.makedirs(args.look, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, Browser() as browser:
        drawn(stave, folder)
        browser.size(1600, 1200)
        for path in sorted(glob.glob(os.path.join(folder, "*.svg"))):
            browser.open(path, True)
            count, wrong = browser.run(WORDS)
            name = os.path.basename(path)
            # A sheet of a pattern may show a part of it alone.
            if count == 0 and not name.startswith("sheets-"):
                faults.append(f"{name}: no words")
            faults += [f"{name}: {fault}" for fault in wrong]
            seen += 1
            if args.look:
                shutil.copy(path, args.look)
                browser.screenshot(os.path.join(args.look, name[:-4] + ".png"))
        browser.scheme("light")
        more, shown = on_pages(browser, stave, folder, args.look, args.sample)
        faults += more
    print(
        f"words on {seen} drawings and {shown} pages: "
        + ("ok" if not faults else f"{len(faults)} faults")
    )
    sys.exit("\n".join(faults) if faults else 0)


if __name__ == "__main__":
    main()
