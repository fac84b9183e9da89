#!/usr/bin/env python3
"""The proof's page in a headless Chromium: run.py STAVE [--keep] [--look FOLDER] [--only NAME].

STAVE is the binary. --keep writes the expected screenshots anew (then look at them), --look leaves
full ones in a folder, --only runs the tests whose names hold NAME.
"""

import argparse
import glob
import os
import subprocess
import sys
import tempfile

sys.dont_write_bytecode = True
HERE = os.path.dirname(os.path.abspath(__file__))
sys.path.insert(0, HERE)
import drawn  # noqa: E402
import moved  # noqa: E402
import printed  # noqa: E402
import reached  # noqa: E402
from browser import FIXTURES, Browser, executable  # noqa: E402

MACHINE = ["-m", "machines/degrees.toml"]
CREST = ["programs/crest.nc", "-b", "blanks/bottle.toml", *MACHINE, "-j", "jobs/step.toml"]
# Over all of the back of a ball.
BACK = ["--path", "M-45 20h90v50h-90zM-45 20l90 50M-45 70l90 -50M-40 45h80"]
BACK += ["-b", "blanks/ornament.toml", *MACHINE, "--place-at", "-24", "--place-turn", "180"]
# Of several operations.
PARTS = ["art/crest.svg", "-b", "blanks/can.toml", *MACHINE, "-j", "art/crest.toml"]


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
            "bare.js",
            "overlay.js",
            "shader.js",
            "view.js",
            "flat.js",
        ]
    )
    for path in sorted(glob.glob(os.path.join(HERE, "*.test.js"))):
        script += plain(path)
    ran = browser.run(
        "(async () => {"
        + script
        + "\nlet ran = 0; for (const [name, test] of Object.entries(tests)) { "
        "try { await test(); ran++; } catch (error) "
        "{ throw new Error(`${name}: ${error.message}`); } } return ran; })()"
    )
    assert ran >= 8, ran


TESTS = [
    modules,
    drawn.loads,
    moved.drag_turns,
    moved.keys_work,
    moved.time_moves,
    drawn.the_far_side_stays_hidden,
    drawn.findings_show,
    drawn.burns_are_a_mesh,
    drawn.sections_fade,
    drawn.differences_show,
    drawn.a_walk_shows_its_way,
    moved.measures,
    drawn.travels_and_nozzle,
    moved.buttons_do_what_dragging_does,
    moved.two_fingers_zoom,
    reached.readable,
    reached.accessible,
    reached.an_order_is_read_on_a_phone,
    drawn.customer,
    drawn.a_still_picture_stands_in,
    printed.prints,
    printed.keys_to_colours_print,
    printed.an_order_prints,
    drawn.looks,
    drawn.a_long_program_turns,
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
        long = os.path.join(folder, "long.nc")
        long_program(long)
        pages = {}
        menu = ["art/menu.svg", "-b", "blanks/cup.toml", *MACHINE]
        made = [
            ("crest", CREST, []),
            ("customer", CREST, ["--for-customer"]),
            ("texts", menu, ["--for-customer"]),
            ("zone", CREST, ["--zones", "ignore", "--place-at", "100", "--place-turn", "180"]),
            ("back", BACK, []),
            ("parts", PARTS, []),
            (
                "long",
                [long, "-b", "blanks/can.toml", *MACHINE],
                ["--title", "long"],
            ),
        ]
        stave = os.path.abspath(args.stave)

        def run(*words):
            subprocess.run([stave, *words], cwd=FIXTURES, check=True, capture_output=True)

        other, walk = os.path.join(folder, "other.nc"), os.path.join(folder, "walk.nc")
        run("wrap", *CREST, "--place-turn", "20", "-q", "-o", other)
        run("walk", *CREST, "-o", walk)
        made += [
            ("other", CREST, ["--wrapped", other]),
            ("walk", [walk, *CREST[1:]], []),
            ("order", ["orders/order.toml"], ["--for-customer"]),
        ]
        for name, what, more in made:
            pages[name] = os.path.join(folder, name + ".html")
            run("proof", *what, *more, "-q", "-o", pages[name])
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
