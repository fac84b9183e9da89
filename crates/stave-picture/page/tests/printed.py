"""What the page looks like on paper."""

import base64
import json
import os
import re
import subprocess
import sys
import tempfile

from browser import BUILT
from opened import Page
from pixels import small

PAPER = os.path.join(BUILT, "paper")


def prints(browser, pages, _args):
    """Paper shows the picture of the screen at its own proportions, on A4 and Letter, from a light
    page and a dark one."""
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
            found = [
                picture
                for picture in on_paper(pdf, os.path.dirname(page.path))
                if min(picture["pixels"]) > 200
            ]
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


def keys_to_colours_print(browser, pages, _args):
    """Whatever colour says on paper, paper says what it means."""
    browser.call("Emulation.setEmulatedMedia", media="print")
    for name, keys in [("crest", ["scale"]), ("other", ["scale", "differences"])]:
        Page(browser, pages[name])
        for key in keys:
            seen = f"document.getElementById({key!r}).getBoundingClientRect().height > 5"
            assert browser.run(seen), (name, key)
        assert not browser.run("document.getElementById('time-controls').checkVisibility()")
    browser.call("Emulation.setEmulatedMedia", media="")
    browser.scheme("light")


def an_order_prints(browser, pages, _args):
    """Paper is white, a text and what is said of it stay on one sheet, and a page by night is
    printed as by day."""
    browser.scheme("dark")
    browser.open(pages["order"], True)
    style = "getComputedStyle(document.documentElement)"
    assert browser.run(f"{style}.backgroundColor") == "rgb(22, 23, 24)"
    browser.call("Emulation.setEmulatedMedia", media="print")
    assert browser.run(f"{style}.backgroundColor") == "rgb(255, 255, 255)"
    apart = "[...document.querySelectorAll('.texts li, main > section')].filter((one) =>"
    apart += " getComputedStyle(one).breakInside !== 'avoid').length"
    assert browser.run(apart) == 0
    browser.call("Emulation.setEmulatedMedia", media="")
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
        sides = [(right - left) * 25.4 / 72, (top - bottom) * 25.4 / 72]
        told.append({"pixels": [bitmap.width, bitmap.height], "mm": sides, "file": name})
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


def on_paper(pdf, folder):
    """The pictures of a PDF, left in a folder."""
    python = paper_python()
    path = os.path.join(tempfile.mkdtemp(prefix="stave-paper-", dir=folder), "page.pdf")
    with open(path, "wb") as file:
        file.write(pdf)
    return json.loads(
        subprocess.run(
            [python, "-c", ON_PAPER, path], check=True, capture_output=True, text=True
        ).stdout
    )
