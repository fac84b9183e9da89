#!/usr/bin/env python3
"""The words on every drawing of every fixture: labels.py STAVE [--look FOLDER].

Each drawing is opened in a headless Chromium, whose own measure of the words counts: no two may meet, and none may
leave its page. What lies beside the page of a template is to be shown by an editor; a pattern parted onto sheets is cut
at their edges: there words may leave, but not meet. --look leaves the drawings and a picture of each in a folder.
"""

import argparse
import glob
import os
import shutil
import subprocess
import sys
import tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.abspath(os.path.join(HERE, "../../../.."))
FIXTURES = os.path.join(ROOT, "fixtures")
sys.dont_write_bytecode = True
sys.path[:0] = [HERE, os.path.join(FIXTURES, "pictures")]
import draw  # noqa: E402
from browser import Browser, executable  # noqa: E402

MACHINE = "machines/degrees.toml"

# How many words stand there, and what is wrong. Above and below the letters a line's box has air: a seventh of it.
WORDS = """(() => {
  const page = document.documentElement.getBoundingClientRect(), wrong = [];
  const words = [...document.querySelectorAll('text')].map((text) => {
    const box = text.getBoundingClientRect(), air = 0.14 * Math.min(box.height, box.width);
    const across = box.width >= box.height;
    return {
      text: text.textContent, free: text.closest('#stave-guides-margin, svg svg') !== null, wide: box.width,
      left: box.left + (across ? 0 : air), right: box.right - (across ? 0 : air),
      top: box.top + (across ? air : 0), bottom: box.bottom - (across ? air : 0),
    };
  }).filter(({ text, wide }) => text.trim() && wide > 0);
  words.forEach((a, k) => {
    const out = a.left < page.left - 0.5 || a.right > page.right + 0.5 || a.top < page.top - 0.5 || a.bottom > page.bottom + 0.5;
    if (out && !a.free) wrong.push(`"${a.text}" leaves the page`);
    for (const b of words.slice(k + 1)) {
      const meets = Math.min(a.right, b.right) - Math.max(a.left, b.left) > 0.3 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 0.3;
      if (meets) wrong.push(`"${a.text}" meets "${b.text}"`);
    }
  });
  return [words.length, wrong];
})()"""


def drawn(stave, folder):
    """Every drawing of every fixture: their files are named after what they show."""
    def run(name, *words):
        done = subprocess.run([stave, *words, "-o", os.path.join(folder, name + ".svg")], cwd=FIXTURES, capture_output=True, text=True)
        assert done.returncode == 0, (words, done.stderr)

    for source, blank, job, more in draw.PROOFS:
        name = source.replace("/", "-").rsplit(".", 1)[0]
        files = ["-b", f"blanks/{blank}.toml", "-m", MACHINE, *(["-j", job] if job else []), *more]
        run(f"proof-{name}", "proof", source, *files, "-q")
        run(f"customer-{name}", "proof", source, *files, "-q", "--for-customer")
        run(f"lays-{name}", "lays", source, *files)
    for path in sorted(glob.glob(os.path.join(FIXTURES, "blanks/*.toml"))) + [os.path.join(FIXTURES, "globe/ball.toml")]:
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
        subprocess.run([stave, "swatch", "-b", "blanks/can.toml", "-m", MACHINE, *options, "-o", program], cwd=FIXTURES, check=True,
                       capture_output=True)
        run(f"swatch-{name}", "proof", program, "-b", "blanks/can.toml", "-m", MACHINE, "-q")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("stave")
    parser.add_argument("--look")
    args = parser.parse_args()
    if executable() is None:
        sys.exit("no Chromium here: apt-get install chromium")
    faults, seen = [], 0
    with tempfile.TemporaryDirectory() as folder, Browser() as browser:
        drawn(os.path.abspath(args.stave), folder)
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
    print(f"words on {seen} drawings: " + ("ok" if not faults else f"{len(faults)} faults"))
    sys.exit("\n".join(faults) if faults else 0)


if __name__ == "__main__":
    main()
