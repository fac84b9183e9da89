#!/usr/bin/env python3
"""Counts the instructions of small cases, which hang on no neighbour, beside kept figures.

    benches/instructions.py STAVE            # status 1 where a case grew by more than 5 %
    benches/instructions.py STAVE --keep     # writes benches/instructions.txt anew

STAVE is the binary of the dev profile, as `cargo build -p stave-cli` or the tests make it. Counted
by valgrind's callgrind, of the whole command: start, files and all. The kept figures are those of
one compiler, named in their first line: with another they are shown and nothing is asked.
"""

import math
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

HERE = Path(__file__).resolve().parent
KEPT = HERE / "instructions.txt"
MOST_GROWTH = 0.05
MACHINE = str(HERE.parent / "fixtures/machines/degrees.toml")


def blank(stations, wall="straight", zone=""):
    rows = "".join(f"[[station]]\nat = {at}\ndiameter = {d}\n" for at, d in stations)
    return f'name = "ware"\nwall = "{wall}"\n{rows}{zone}'


BALL = [(10 * k, 2 * math.sqrt(60**2 - (10 * k - 35) ** 2)) for k in range(8)]
ZONE = '[[zone]]\nname = "boss"\nat = [0, 69]\nturn = [170, 190]\nrise = 0\nmargin = 0\n'
BLANKS = {
    "can": blank([(0, 60), (70, 60)]),
    "cone": blank([(0, 70), (70, 84)]),
    "stepped": blank([(0, 80), (25, 78), (32, 60), (70, 56)]),
    "smooth": blank([(0, 80), (25, 78), (36, 66), (70, 60)], "smooth"),
    "ball": blank(BALL, "smooth"),
    "zoned": blank([(0, 70), (70, 84)], zone=ZONE),
}


def curves(style, rows=3, chords=400):
    """Flowers of short chords; but for `lines` every twentieth of them is an arc."""
    scale, places = (25.4, 4) if style == "inch" else (1.0, 3)
    out = ["G20" if style == "inch" else "G21", "G91" if style == "relative" else "G90", "M4 S0"]
    pen = (0.0, 0.0)

    def words(motion, to, arc=None):
        nonlocal pen
        base = pen if style == "relative" else (0.0, 0.0)
        x, y = ((to[k] - base[k]) / scale for k in (0, 1))
        line = f"{motion} X{x:.{places}f} Y{y:.{places}f}"
        if arc:
            dx, dy = to[0] - pen[0], to[1] - pen[1]
            i, j = dx / 2 - dy * math.sqrt(2), dy / 2 + dx * math.sqrt(2)
            line += f" I{i / scale:.5f} J{j / scale:.5f}"
        pen = to
        return line

    def rounded(x, y):
        grid = scale / 10**places
        return round(x / grid) * grid, round(y / grid) * grid

    for row in range(rows):
        cx, cy, radius = 20 + 8 * row, -20 + 12 * row, 6.0
        out.append(words("G0", rounded(cx + radius, cy)) + " S0")
        out.append(f"F{3000 / scale:.0f}\nS{200 + row * 50}")
        for k in range(1, chords + 1):
            a = 2 * math.pi * k / chords
            r = radius * (1 + 0.1 * math.sin(5 * a))
            arc = style != "lines" and k % 20 == 0
            to = rounded(cx + r * math.cos(a), cy + r * math.sin(a))
            out.append(words("G3" if arc else "G1", to, arc))
    return "\n".join(out) + "\nM5\nM2\n"


def raster(terse, rows=4):
    out = ["G21 G90", "M4 S0", "F12000"]
    for row in range(rows):
        start, step = (2.0, 0.1) if row % 2 == 0 else (58.0, -0.1)
        out.append(f"G0 X{start} Y{row * 0.1:.1f}\nG1 X{start} S0")
        for k in range(1, 401):
            x, shade = start + step * k, (k * 37 ^ row * 101) % 900 + 100
            out.append(f"X{x:.2f} S{shade}" if terse else f"G1 X{x:.3f} S{shade}")
    return "\n".join(out) + "\nM5\nM2\n"


def drawing(shapes, what):
    size = "width='219.9115mm' height='70mm' viewBox='0 0 219.9115 70'"
    page = f"<svg xmlns='http://www.w3.org/2000/svg' {size}>"
    drawn = "".join(what(20 + 9 * (k % 20), 6 + 9 * (k // 20)) for k in range(shapes))
    return f"{page}<g>{drawn}</g></svg>"


LINE = "fill='none' stroke='#000'"
INPUTS = {
    "arcs.nc": curves("arcs"),
    "lines.nc": curves("lines"),
    "short.nc": curves("lines", 1, 60),
    "relative.nc": curves("relative"),
    "inch.nc": curves("inch"),
    "spelled.nc": raster(False),
    "terse.nc": raster(True),
    "squares.svg": drawing(60, lambda x, y: f"<path d='M{x} {y}h5v5h-5z'/>"),
    "circles.svg": drawing(60, lambda x, y: f"<circle cx='{x}' cy='{y}' r='3' {LINE}/>"),
}
ALLOW = ["--allow", "overlap,clearance,defocus-far,travel-limit"]


def wrap(name, ware, *more):
    return ["wrap", name, "-q", "-b", f"{ware}.toml", "-m", MACHINE, *ALLOW, *more]


def of(command, name, ware, *more):
    return [command, name, "-b", f"{ware}.toml", "-m", MACHINE, *more]


CASES = {
    "wrap lines, arcs: can": wrap("arcs.nc", "can"),
    "wrap lines, arcs: cone": wrap("arcs.nc", "cone"),
    "wrap lines, arcs: stepped": wrap("arcs.nc", "stepped"),
    "wrap lines, arcs: smooth": wrap("arcs.nc", "smooth"),
    "wrap lines, arcs: ball": wrap("arcs.nc", "ball"),
    "wrap lines: cone": wrap("lines.nc", "cone"),
    "wrap relative: cone": wrap("relative.nc", "cone"),
    "wrap inch: cone": wrap("inch.nc", "cone"),
    "wrap raster, spelled: cone": wrap("spelled.nc", "cone"),
    "wrap raster, terse: cone": wrap("terse.nc", "cone"),
    "wrap raster: smooth": wrap("spelled.nc", "smooth"),
    "wrap even-angle: cone": wrap("arcs.nc", "cone", "--lay", "even-angle"),
    "wrap true-shape: cone": wrap("arcs.nc", "cone", "--lay", "true-shape"),
    "wrap label: cone": wrap("arcs.nc", "cone", "--lay", "label"),
    "wrap label: smooth": wrap("short.nc", "smooth", "--lay", "label"),
    "wrap even dose, tilt: cone": wrap("arcs.nc", "cone", "--dose", "even", "--tilt", "-5"),
    "wrap a zone beside: cone": wrap("arcs.nc", "zoned"),
    "wrap areas: cone": wrap("squares.svg", "cone"),
    "wrap circles: cone": wrap("circles.svg", "cone"),
    "wrap circles to svg: cone": wrap("circles.svg", "cone", "--to", "svg"),
    "estimate": ["estimate", "arcs.nc", "-m", MACHINE],
    "read": ["read", "arcs.nc"],
    "check": of("check", "arcs.nc", "cone"),
    "lays": of("lays", "circles.svg", "cone"),
    "walk": of("walk", "arcs.nc", "cone", "--allow", "clearance,defocus-far"),
    "proof": of("proof", "short.nc", "cone", "-o", "proof.svg"),
}


def count(stave, folder, name, command):
    if command[0] == "proof":
        command = [*command[:-1], f"{name}.svg".replace(" ", "-")]
    run = subprocess.run(
        ["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null", stave, *command],
        cwd=folder, capture_output=True, text=True, errors="replace", stdin=subprocess.DEVNULL,
    )
    found = re.search(r"Collected : (\d+)", run.stderr)
    # A finding is status 1 of `check`; anything that was not done would count as quick.
    if found is None or run.returncode not in ((0, 1) if command[0] == "check" else (0,)):
        sys.exit(f"{name}: status {run.returncode}\n{run.stderr[-2000:]}")
    return int(found[1])


def main():
    stave = str(Path(sys.argv[1]).resolve())
    compiler = subprocess.run(["rustc", "--version"], capture_output=True, text=True).stdout.strip()
    with tempfile.TemporaryDirectory() as folder:
        for name, text in BLANKS.items():
            Path(folder, f"{name}.toml").write_text(text)
        for name, text in INPUTS.items():
            Path(folder, name).write_text(text)
        with ThreadPoolExecutor(2) as pool:
            found = pool.map(lambda case: count(stave, folder, *case), CASES.items())
            counts = dict(zip(CASES, found))
    if "--keep" in sys.argv[2:]:
        rows = "".join(f"{n / 1e6:9.2f}  {name}\n" for name, n in counts.items())
        KEPT.write_text(f"# millions of instructions, dev profile, {compiler}\n{rows}")
    head, *rows = KEPT.read_text().splitlines()
    kept = {name: float(n) for n, name in (row.split(maxsplit=1) for row in rows)}
    same = head.endswith(compiler)
    grown = []
    for name, n in counts.items():
        millions, before = n / 1e6, kept.get(name)
        change = "new" if before is None else f"{100 * (millions / before - 1):+.1f} %"
        print(f"{millions:9.2f}  {change:>8}  {name}")
        if before is None or millions > before * (1 + MOST_GROWTH):
            grown.append(name)
    if not same:
        print(f"the kept figures are not those of {compiler}: nothing is asked")
    elif grown:
        sys.exit("more than 5 % above the kept figures, or without one: " + ", ".join(grown))


if __name__ == "__main__":
    main()
