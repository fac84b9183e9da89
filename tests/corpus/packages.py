#!/usr/bin/env python3
"""Runs packages of icons and flags against the renderer, to see what people's drawings need.

    python3 tests/corpus/packages.py [--sample N] [--most N] [PACKAGE …]

Each package is fetched from npm into a temporary folder and thrown away again; nothing of it is
kept. Of each at most `--most` drawings are taken, evenly spread (`--sample 20` is what CI runs).
Prints for each package how many drawings agree with the renderer on 99.5 % of the points away from
edges, how many do not but name what is left out, how many are refused, and every file that does
neither. Status 1 if there is one.
"""

import argparse
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = [
    "@mdi/svg",
    "@phosphor-icons/core",
    "@primer/octicons",
    "@tabler/icons",
    "@twemoji/svg",
    "bootstrap-icons",
    "circle-flags",
    "country-flag-icons",
    "feather-icons",
    "flag-icons",
    "heroicons",
    "ionicons",
    "lucide-static",
]
DEMAND = 0.995
AT_ONCE = 50


def fetch(package, folder):
    told = subprocess.run(
        ["npm", "pack", "--silent", package], cwd=folder, check=True, capture_output=True, text=True
    )
    archive = folder / told.stdout.split()[-1]
    with tarfile.open(archive) as tar:
        tar.extractall(folder / "in", filter="data")
    return sorted((folder / "in").rglob("*.svg"))


def spread(files, most):
    if len(files) <= most:
        return files
    return [files[k * len(files) // most] for k in range(most)]


def compare(files):
    program = ROOT / "target" / "debug" / "examples" / "agreement"
    for k in range(0, len(files), AT_ONCE):
        names = [str(file) for file in files[k : k + AT_ONCE]]
        out = subprocess.run([str(program), *names], capture_output=True, text=True).stdout
        for line in out.splitlines():
            share, codes, name = line.split("\t", 2)
            yield share, codes, name


def run(package, most):
    good, told, refused, bad = 0, 0, 0, []
    with tempfile.TemporaryDirectory() as folder:
        files = spread(fetch(package, Path(folder)), most)
        for share, codes, name in compare(files):
            name = str(Path(name).relative_to(Path(folder) / "in"))
            if share == "refused":
                refused += 1
                print(f"  refused: {name}: {codes}")
            elif float(share) >= DEMAND:
                good += 1
            elif {"left-out", "font"} & set(codes.split(",")):
                told += 1
            else:
                bad.append((share, name))
    print(f"{package}: {len(files)} drawings, {good} agree, {told} name what is left out, "
          f"{refused} refused, {len(bad)} do neither")
    for share, name in bad:
        print(f"  {share} {name}")
    return len(bad)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("packages", nargs="*", default=PACKAGES)
    parser.add_argument("--most", type=int, default=500)
    parser.add_argument("--sample", type=int)
    options = parser.parse_args()
    subprocess.run(
        ["cargo", "build", "--workspace", "--locked", "--example", "agreement"],
        cwd=ROOT,
        check=True,
    )
    bad = sum(run(package, options.sample or options.most) for package in options.packages)
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
