#!/usr/bin/env python3
"""Every drawing of every fixture by two renderers, and on paper: renderers.py STAVE RENDER
[--sample N] [--look FOLDER].

RENDER is the example `render` of the package stave-tests: resvg. The other renderer is a headless
Chromium, whose print to PDF is turned back into pixels by PDFium (pypdfium2, fetched by its name
with pip once, beside what cargo builds). All three pictures of a drawing must show the same: cells
of some pixels are compared by their mean colours, which leaves the edges of letters to each
renderer. --sample takes every so many; --look leaves the pictures in a folder.
"""

import argparse
import base64
import glob
import json
import os
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
import labels  # noqa: E402
import printed  # noqa: E402
from browser import Browser, executable  # noqa: E402

# Pixels of a cell each way; how far its mean colour may be off, of 255, and all of them on the
# mean. PDFium draws a hair line a whole pixel wide: a page of nothing but such lines comes out
# darker.
CELL, MOST_CELL, MOST_MEAN = 12, 40, {"resvg": 1.5, "paper": 4.0}
# A font that is installed wherever the tests run, so that no letter's width hangs on whose default
# is which.
FONT = "DejaVu Sans"

# Compares NAME-resvg.png, NAME-chromium.png and NAME.pdf of a folder; prints the worst of every
# drawing as JSON.
COMPARE = """
import glob, json, os, sys
import pypdfium2 as pdfium
from PIL import Image, ImageChops, ImageStat
folder, cell = sys.argv[1], int(sys.argv[2])
told = {}
for path in sorted(glob.glob(os.path.join(folder, "*-chromium.png"))):
    name = os.path.basename(path)[:-13]
    first = Image.open(path).convert("RGB")
    resvg = Image.open(os.path.join(folder, name + "-resvg.png")).convert("RGB")
    document = pdfium.PdfDocument(os.path.join(folder, name + ".pdf"))
    page = document[0].render(scale=96 / 72).to_pil().convert("RGB")
    page.save(os.path.join(folder, name + "-paper.png"))
    pages, found = len(document), {}
    cells = (max(1, first.width // cell), max(1, first.height // cell))
    small = lambda picture: picture.resize(cells, Image.BOX)
    for which, other in [("resvg", resvg), ("paper", page)]:
        if max(abs(other.width - first.width), abs(other.height - first.height)) > 2:
            found[which] = ["size", first.size, other.size]
            continue
        other = other.crop((0, 0, first.width, first.height))
        apart = ImageChops.difference(small(first), small(other))
        most = max(band[1] for band in apart.getextrema())
        found[which] = [sum(ImageStat.Stat(apart).mean) / 3, most]
    # A blank sheet agrees with a blank sheet.
    inked = ImageStat.Stat(first.convert("L")).extrema[0]
    told[name] = {"pages": pages, "blank": inked[0] == inked[1], **found}
print(json.dumps(told))
"""


def shown(browser, path, folder, name):
    """What the browser shows of a drawing, and prints of it."""
    browser.open(path, True)
    box = browser.run(
        "(() => { const { width, height } = document.documentElement.getBoundingClientRect();"
        " return [width, height]; })()"
    )
    wide, high = (round(length) for length in box)
    browser.size(wide, high)
    png = browser.call(
        "Page.captureScreenshot",
        format="png",
        captureBeyondViewport=True,
        clip={"x": 0, "y": 0, "width": wide, "height": high, "scale": 1},
    )["data"]
    pdf = browser.call(
        "Page.printToPDF",
        paperWidth=box[0] / 96,
        paperHeight=box[1] / 96,
        marginTop=0,
        marginBottom=0,
        marginLeft=0,
        marginRight=0,
        printBackground=True,
    )["data"]
    for ending, data in [("-chromium.png", png), (".pdf", pdf)]:
        with open(os.path.join(folder, name + ending), "wb") as file:
            file.write(base64.b64decode(data))


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("stave")
    parser.add_argument("render")
    parser.add_argument("--sample", type=int, default=1)
    parser.add_argument("--look")
    args = parser.parse_args()
    if executable() is None:
        sys.exit("no Chromium here: apt-get install chromium")
    with tempfile.TemporaryDirectory() as drawings, tempfile.TemporaryDirectory() as spare:
        folder = args.look or spare
        labels.drawn(os.path.abspath(args.stave), drawings)
        paths = sorted(glob.glob(os.path.join(drawings, "*.svg")))[:: args.sample]
        for path in paths:
            with open(path, encoding="utf-8") as file:
                text = file.read().replace('font-family="sans-serif"', f'font-family="{FONT}"')
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
        subprocess.run([os.path.abspath(args.render), drawings, *paths], check=True)
        with Browser() as browser:
            browser.scheme("light")
            for path in paths:
                name = os.path.basename(path)[:-4]
                os.replace(path[:-4] + ".png", os.path.join(folder, name + "-resvg.png"))
                shown(browser, path, folder, name)
        compared = subprocess.run(
            [printed.paper_python(), "-c", COMPARE, folder, str(CELL)],
            check=True,
            capture_output=True,
            text=True,
        )
    faults, worst = [], {"resvg": [0.0, 0], "paper": [0.0, 0]}
    told = json.loads(compared.stdout)
    for name, found in told.items():
        if found["pages"] != 1:
            faults.append(f"{name}: {found['pages']} sheets of paper")
        if found["blank"] and not name.startswith("sheets-"):
            faults.append(f"{name}: blank")
        for which in worst:
            if found[which][0] == "size":
                faults.append(f"{name}: {which} is of another size: {found[which][1:]}")
                continue
            worst[which] = [max(a, b) for a, b in zip(worst[which], found[which])]
            if found[which][0] > MOST_MEAN[which] or found[which][1] > MOST_CELL:
                faults.append(
                    f"{name}: {which} differs by {found[which][0]:.2f} on the mean, "
                    f"{found[which][1]} at most"
                )
    told_worst = ", ".join(
        f"{which} {mean:.2f} on the mean and {most} at most"
        for which, (mean, most) in worst.items()
    )
    print(
        f"{len(told)} drawings by two renderers and on paper, worst of 255: {told_worst}: "
        + ("ok" if not faults else f"{len(faults)} faults")
    )
    sys.exit("\n".join(faults) if faults else 0)


if __name__ == "__main__":
    main()
