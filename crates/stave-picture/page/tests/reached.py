"""The page for everybody: with a screen reader, in the dark, on a phone."""

import json
import os
import subprocess

from browser import BUILT
from opened import Page

AXE = os.path.join(BUILT, "axe")


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
                        "document.getElementById('unrolled').click();"
                        " document.getElementById('travels').click()"
                    )
                browser.settle()
                browser.run(axe + "; 1")
                found = browser.run(
                    "axe.run(document, {runOnly: "
                    + json.dumps(rules)
                    + "}).then((told) => [told.passes.length, "
                    "told.violations.map((one) => [one.id, one.help, "
                    "one.nodes.map((node) => node.target.join(' '))])])"
                )
                assert found[0] > 10 and found[1] == [], (name, scheme, width, found)
                assert browser.run("document.documentElement.scrollWidth <= innerWidth + 1"), (
                    name,
                    scheme,
                    width,
                )
    browser.size(1280, 900)
    browser.scheme("light")


def an_order_is_read_on_a_phone(browser, pages, _args):
    """The sheet keeps a size at which it can be read, and is moved under a narrow screen."""
    browser.size(320, 640, 1, True)
    browser.open(pages["order"], True)
    wide = browser.run("document.querySelector('.sheet svg').getBoundingClientRect().width")
    assert wide > 800, wide
    assert browser.run("document.documentElement.scrollWidth <= innerWidth + 1")
    browser.size(1280, 900)


def axe_core():
    """The script of axe-core: from AXE, or fetched by its name with npm once, beside what cargo
    builds."""
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
