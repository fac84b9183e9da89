#!/usr/bin/env python3
"""How each command grows: benches/scaling.py STAVE [--shapes N…] [--megabytes N…].

Flat programs of so many megabytes on the cup and drawings of so many small shapes on the can,
through each command that takes them: seconds of processor and the most that was held, MB, each
once; what is held counts from Python's own 15 MB up. Beside them what `mawk` takes to scale one
word of the same program, since a second is another on another day."""

import argparse
import importlib.util
import math
import subprocess
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
FIXTURES = HERE.parent / "fixtures"
MACHINE = ["-m", str(FIXTURES / "machines/degrees.toml")]
SETUP = ["-b", str(FIXTURES / "blanks/cup.toml"), *MACHINE]
# The drawings' page is this blank's.
CAN = ["-b", str(FIXTURES / "blanks/can.toml"), *MACHINE]
ALLOW = ["--allow", "defocus-far,clearance,overlap,travel-limit,zone,off-wall"]
# What a command is given besides INPUT; OUT is a file that nobody reads.
OF_PROGRAMS = {
    "read": ["-o", "OUT"],
    "wrap": [*SETUP, "-o", "OUT", "-q", *ALLOW],
    "check": [*SETUP],
    "estimate": [*SETUP],
    "walk": [*SETUP, "-o", "OUT", *ALLOW],
    "lays": [*SETUP],
    "proof": [*SETUP, "-o", "OUT.svg", *ALLOW],
}
OF_DRAWINGS = {
    "wrap": [*CAN, "-o", "OUT", "-q", *ALLOW],
    "wrap --to svg": [*CAN, "-o", "OUT.svg", "-q", *ALLOW],
    "check": [*CAN],
    "estimate": [*CAN],
    "walk": [*CAN, "-o", "OUT", *ALLOW],
    "lays": [*CAN],
    "proof": [*CAN, "-o", "OUT.svg", *ALLOW],
    "proof, page": [*CAN, "-o", "OUT.html", *ALLOW],
}


def art():
    spec = importlib.util.spec_from_file_location("art", HERE / "art.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def program(path, megabytes):
    """Curves of short chords with an arc in every twentieth line, on 60 mm by 80 mm."""
    with path.open("w") as file:
        size = file.write("G21\nG90\nM4 S0\nF12000\n")
        row = 0
        while size < megabytes * 1e6:
            y = -40 + row * 0.05 % 80
            lines = [f"G0 X0 Y{y:.3f}"]
            was = (0.0, y)
            for k in range(1, 601):
                x, at = round(k * 0.1, 3), round(y + 0.4 * math.sin(k * 0.13 + row * 0.7), 3)
                if k % 20 == 0:
                    # About a centre beside the middle of its chord, on the left.
                    i, j = (0.5 * (a - b) for a, b in zip((x, at), was))
                    i, j = i - 2.0 * j, j + 2.0 * i
                    lines.append(f"G3 X{x:.3f} Y{at:.3f} I{i:.4f} J{j:.4f} S{300 + row % 200}")
                else:
                    lines.append(f"G1 X{x:.3f} Y{at:.3f}")
                was = (x, at)
            size += file.write("\n".join(lines) + "\n")
            row += 1
        file.write("M5\nM2\n")


def scans(path, megabytes):
    """Scan lines along X, a changing S on every step."""
    with path.open("w") as file:
        size = file.write("G21\nG90\nM4 S0\nF12000\n")
        row = 0
        while size < megabytes * 1e6:
            lines = [f"G0 X0 Y{-40 + row * 0.1 % 80:.3f}", "G1 X1 S0"]
            lines += [f"G1 X{k * 0.1:.3f} S{(k * 37 + row * 11) % 800}" for k in range(11, 591)]
            size += file.write("\n".join(lines) + "\nG1 X60 S0\n")
            row += 1
        file.write("M5\nM2\n")


def cell(measured, command):
    try:
        # That something was found is no failure.
        _, cpu_s, held_mb = measured(command, 1)
    except SystemExit as why:
        return f"fails: {str(why)[-300:]}"
    return f"{cpu_s:.2f} s, {held_mb:.0f} MB"


def rows(stave, commands, inputs, folder, measured):
    for name, words in commands.items():
        of = words_of(stave, name.split(","))
        yield name, [cell(measured, [*of, str(path), *put(words, folder)]) for path in inputs]


def words_of(stave, name):
    return [stave, *name[0].split()]


def put(words, folder):
    return [str(folder / word.replace("OUT", "out")) if "OUT" in word else word for word in words]


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("stave")
    asked.add_argument("--shapes", type=int, nargs="*", default=[1_000, 10_000, 100_000])
    asked.add_argument("--megabytes", type=float, nargs="*", default=[1, 10, 100])
    asked = asked.parse_args()
    drawn = art()
    measured = drawn.measured
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        for kind, make in (("lines with arcs", program), ("scan lines", scans)):
            inputs = []
            for megabytes in asked.megabytes:
                inputs.append(folder / f"{megabytes:g}.nc")
                make(inputs[-1], megabytes)
            print(f"\n| {kind} | " + " | ".join(f"{m:g} MB" for m in asked.megabytes) + " |")
            print("| --- |" + " --- |" * len(inputs))
            scale = ["mawk", "-f", str(HERE / "src/scale.awk")]
            cells = [cell(measured, [*scale, str(path)]) for path in inputs]
            print("| `mawk` | " + " | ".join(cells) + " |")
            for name, cells in rows(asked.stave, OF_PROGRAMS, inputs, folder, measured):
                print(f"| `{name}` | " + " | ".join(cells) + " |", flush=True)
            for path in inputs:
                path.unlink()
        for kind, stroked in (("areas", False), ("lines", True)):
            inputs = []
            for count in asked.shapes:
                inputs.append(folder / f"{count}.svg")
                inputs[-1].write_text(drawn.drawing(count, stroked))
            print(f"\n| {kind} | " + " | ".join(f"{n} shapes" for n in asked.shapes) + " |")
            print("| --- |" + " --- |" * len(inputs))
            for name, cells in rows(asked.stave, OF_DRAWINGS, inputs, folder, measured):
                print(f"| `{name}` | " + " | ".join(cells) + " |", flush=True)


if __name__ == "__main__":
    main()
