#!/usr/bin/env python3
"""How long art takes: benches/art.py STAVE [SHAPES…].

Drawings of so many small shapes on the can's page, as areas and as lines, to a program and to a
drawing for controllers that take the wall for a cylinder: seconds by the clock and on the
processor, and the most that was held. The median of three runs each."""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
WIDTH, HEIGHT = 232.0, 110.0
RUNS = 3


def drawing(count, stroked):
    """A page of rings or of lozenges, turned a little each, no two alike."""
    columns = max(1, round((count * WIDTH / HEIGHT) ** 0.5))
    rows = -(-count // columns)
    step_x, step_y = WIDTH / columns, HEIGHT / rows
    size = 0.35 * min(step_x, step_y)
    paint = "fill='none' stroke='#111' stroke-width='0.1'" if stroked else "fill='#1f3a5f'"
    shapes = []
    for k in range(count):
        x, y = (k % columns + 0.5) * step_x, (k // columns + 0.5) * step_y
        lean = size * 0.3 * ((k * 37) % 11 - 5) / 5
        shapes.append(
            f"<path d='M{x - size:.3f} {y + lean:.3f}Q{x - size:.3f} {y - size:.3f} {x + lean:.3f} "
            f"{y - size:.3f}L{x + size:.3f} {y - lean:.3f}L{x:.3f} {y + size:.3f}Z'/>"
        )
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' width='{WIDTH}mm' height='{HEIGHT}mm' "
        f"viewBox='0 0 {WIDTH} {HEIGHT}'><g id='art' {paint}>{''.join(shapes)}</g></svg>"
    )


def measured(command, status_most=0):
    """Seconds by the clock and on the processor, and MB held at the most."""
    begun = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    words = child.stderr.read()
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if not 0 <= child.returncode <= status_most:
        sys.exit(f"{' '.join(command)}: {words.decode()[-500:]}")
    return time.monotonic() - begun, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1e3


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    stave = sys.argv[1]
    counts = [int(word) for word in sys.argv[2:]] or [1_000, 10_000, 100_000]
    print(f"{'shapes':>8} {'as':<6} {'to':<6} {'clock s':>8} {'cpu s':>8} {'MB':>6}  load")
    with tempfile.TemporaryDirectory() as folder:
        art = Path(folder) / "art.svg"
        blank, machine = FIXTURES / "blanks/can.toml", FIXTURES / "machines/degrees.toml"
        for count in counts:
            for stroked in (False, True):
                art.write_text(drawing(count, stroked))
                for to in ("gcode", "svg"):
                    command = [stave, "wrap", str(art), "-b", str(blank), "-m", str(machine)]
                    command += ["--to", to, "-o", str(Path(folder) / f"out.{to}"), "-q"]
                    command += ["--allow", "defocus-far,clearance,overlap,travel-limit,zone"]
                    if to == "gcode":
                        command += ["--place-at", "0"]
                    runs = sorted(measured(command) for _ in range(RUNS))
                    clock, cpu, held = runs[RUNS // 2]
                    kind = "lines" if stroked else "areas"
                    load = os.getloadavg()[0]
                    print(
                        f"{count:>8} {kind:<6} {to:<6} {clock:>8.2f} {cpu:>8.2f} {held:>6.0f}  "
                        f"{load:.1f}",
                        flush=True,
                    )


if __name__ == "__main__":
    main()
