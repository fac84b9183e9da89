"""Screenshots made small, and held against pictures kept in `expected/` with a tolerance."""

import os
import struct
import zlib

EXPECTED = os.path.join(os.path.dirname(os.path.abspath(__file__)), "expected")
CELLS = (48, 32)
MOST_MEAN, MOST_CELL = 4.0, 60


def rows_of(png):
    """Width, channels and rows of an eight-bit PNG (ISO/IEC 15948)."""
    at, data = 8, b""
    while at < len(png):
        length, kind = struct.unpack(">I4s", png[at : at + 8])
        body = png[at + 8 : at + 8 + length]
        if kind == b"IHDR":
            width, height, depth, colour = struct.unpack(">IIBB", body[:10])
        if kind == b"IDAT":
            data += body
        at += 12 + length
    assert depth == 8
    channels = {2: 3, 6: 4}[colour]
    raw, stride, rows, before = (
        zlib.decompress(data),
        width * channels,
        [],
        bytearray(width * channels),
    )
    for k in range(height):
        kind, row = raw[k * (stride + 1)], bytearray(
            raw[k * (stride + 1) + 1 : (k + 1) * (stride + 1)]
        )
        for i in range(stride if kind else 0):
            a, b = row[i - channels] if i >= channels else 0, before[i]
            c = before[i - channels] if i >= channels else 0
            if kind == 4:
                p = a + b - c
                near = min((abs(p - a), 0, a), (abs(p - b), 1, b), (abs(p - c), 2, c))[2]
            row[i] = (
                row[i] + {1: a, 2: b, 3: (a + b) // 2, 4: near if kind == 4 else 0}[kind]
            ) & 255
        rows.append(row)
        before = row
    return width, channels, rows


def small(png):
    """Mean grey of each of 48 by 32 cells."""
    width, channels, rows = rows_of(png)
    out = []
    for j in range(CELLS[1]):
        band = rows[j * len(rows) // CELLS[1] : (j + 1) * len(rows) // CELLS[1]]
        for i in range(CELLS[0]):
            low, high = i * width // CELLS[0], (i + 1) * width // CELLS[0]
            greys = [
                sum(row[k * channels : k * channels + 3]) / 3
                for row in band
                for k in range(low, high)
            ]
            out.append(round(sum(greys) / len(greys)))
    return out


def compare(name, png, keep):
    """Complains where a screenshot strays from the one that is kept; `keep` writes it anew."""
    found, path = small(png), os.path.join(EXPECTED, name + ".pgm")
    if keep:
        os.makedirs(EXPECTED, exist_ok=True)
        lines = [
            " ".join(map(str, found[k : k + CELLS[0]])) for k in range(0, len(found), CELLS[0])
        ]
        with open(path, "w") as file:
            file.write("P2\n{} {}\n255\n{}\n".format(*CELLS, "\n".join(lines)))
        return
    with open(path) as file:
        expected = list(map(int, file.read().split()[4:]))
    apart = [abs(a - b) for a, b in zip(found, expected)]
    mean = sum(apart) / len(apart)
    assert (
        len(found) == len(expected) and mean < MOST_MEAN and max(apart) < MOST_CELL
    ), f"{name}: {mean:.1f} apart on the mean, {max(apart)} at most"
