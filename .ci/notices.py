#!/usr/bin/env python3
"""The licences of all that the `stave` binary carries, as `cargo` knows them.

    .ci/notices.py            writes crates/stave-cli/NOTICES.md
    .ci/notices.py --check    fails where that file is not what would be written, or where a crate
                              that runs code while it is built is not named in DEVELOPERS.md

Only what is linked counts: normal dependencies of stave-cli with its default features on the
machine it runs on. Each text stands once, with the crates that it came with.
"""

import json
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
NOTICES = ROOT / "crates/stave-cli/NOTICES.md"
NAMES = ("license", "licence", "copying", "notice", "unlicense", "copyright")


def run(*words):
    return subprocess.run(words, cwd=ROOT, check=True, capture_output=True, text=True).stdout


def linked():
    """Names and versions of the crates in the binary that are not the project's own."""
    tree = run("cargo", "tree", "-p", "stave-cli", "--locked", "-e", "normal,no-proc-macro",
               "--prefix", "none", "--format", "{p}")
    found = {tuple(line.split()[:2]) for line in tree.splitlines() if line.strip()}
    return sorted((n, v.removeprefix("v")) for n, v in found if not n.startswith("stave"))


def run_while_built(packages):
    """Crates that the binary is built with and whose build scripts or macros run then."""
    tree = run("cargo", "tree", "-p", "stave-cli", "--locked", "-e", "normal,build",
               "--prefix", "none", "--format", "{p}")
    used = {tuple(line.split()[:2]) for line in tree.splitlines() if line.strip()}
    for package in packages:
        kinds = {kind for target in package["targets"] for kind in target["kind"]}
        if (package["name"], "v" + package["version"]) in used and kinds & {"custom-build",
                                                                           "proc-macro"}:
            yield package["name"]


def texts(folder):
    """The licence files of a crate."""
    files = [f for f in sorted(folder.iterdir()) if f.is_file()
             and f.name.lower().startswith(NAMES)]
    for folded in ("LICENSES", "licenses"):
        if (folder / folded).is_dir():
            files += sorted((folder / folded).iterdir())
    return [f.read_text(encoding="utf-8", errors="replace").replace("\r\n", "\n") for f in files]


def notices(packages):
    known = {(p["name"], p["version"]): p for p in packages}
    crates, by_text = [], {}
    for crate in linked():
        package = known[crate]
        licence = package["license"]
        assert licence, f"{crate}: no licence is named"
        crates.append(f"- {crate[0]} {crate[1]}: {licence}")
        for text in texts(pathlib.Path(package["manifest_path"]).parent):
            key = " ".join(text.split())
            by_text.setdefault(key, (text.strip("\n"), []))[1].append(crate[0])
    own = (ROOT / "crates/stave-parse/src/svg/line_fonts/NOTICE").read_text(encoding="utf-8")
    lines = ["# What the `stave` binary carries", "",
             "Made by `.ci/notices.py`; not to be edited.", "", *crates, "",
             "## The letters of single lines", "", "```", own.strip("\n"), "```", ""]
    for text, names in sorted(by_text.values(), key=lambda both: both[1]):
        lines += ["## " + ", ".join(names), "", "````", text, "````", ""]
    return "\n".join(lines)


if __name__ == "__main__":
    packages = json.loads(run("cargo", "metadata", "--locked", "--format-version", "1"))["packages"]
    made = notices(packages)
    if "--check" not in sys.argv:
        NOTICES.write_text(made, encoding="utf-8")
    elif not NOTICES.exists() or NOTICES.read_text(encoding="utf-8") != made:
        sys.exit(f"{NOTICES.relative_to(ROOT)} is not what the binary carries: run .ci/notices.py")
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    untold = [name for name in run_while_built(packages) if f"`{name}`" not in guide]
    if untold:
        sys.exit(f"DEVELOPERS.md does not name what runs while it is built: {', '.join(untold)}")
