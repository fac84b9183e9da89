#!/usr/bin/env python3
"""Which small faults, planted one at a time, do the tests let pass?

    tests/mutants.py plant COPY CRATE=N… [--seed S]    plant N faults of each crate into COPY
    tests/mutants.py try COPY [--crate C] [--every]    run the tests with each of them live

The faults are those that cargo-mutants lists, of each crate a sample drawn by the seed. To build
the tests anew for each would take days: so all of them are planted at once, each in a copy of its
function's body of its own, and STAVE_MUTANT in the environment says which one is live. COPY is a
clone that may be spoiled. Faults outside functions, in constant ones and in those that give back
some `impl` cannot be planted so and are not drawn; one that does not compile is unviable. `try`
runs the tests of the fault's own crate, and with --every those of the whole workspace on what has
passed so far, examples in comments excepted. What is found stands in COPY/mutants.json, from which
a second `try` goes on.
"""
import argparse
import json
import os
import random
import re
import signal
import subprocess
import sys
import time

SWITCH = """
/// Which planted fault is live.
pub(crate) fn planted() -> u32 {
    static LIVE: std::sync::OnceLock<u32> = std::sync::OnceLock::new();
    let live = || std::env::var("STAVE_MUTANT").ok().and_then(|k| k.parse().ok());
    *LIVE.get_or_init(|| live().unwrap_or(0))
}
"""
# A test program may take so long: seconds, and so many times what it takes with no fault.
PATIENCE = (30, 5)


def past(text, i):
    """The place after the string, character or comment that begins at i; else i."""
    if text.startswith("//", i):
        end = text.find("\n", i)
        return len(text) if end < 0 else end
    if text.startswith("/*", i):
        return text.index("*/", i) + 2
    raw = re.compile(r'b?r(#*)"').match(text, i)
    if raw and not (i and (text[i - 1].isalnum() or text[i - 1] == "_")):
        return text.index('"' + raw.group(1), raw.end()) + 1 + len(raw.group(1))
    if text[i] == '"':
        i += 1
        while text[i] != '"':
            i += 2 if text[i] == "\\" else 1
        return i + 1
    character = re.compile(r"'(\\(x..|u\{[^}]*\}|.)|[^\\'])'", re.S).match(text, i)
    return character.end() if character else i


def body_of(text, start, end):
    """Where the braces stand of the body of the function between start and end."""
    opened, found, i = [], None, start
    while i < end:
        after = past(text, i)
        if after == i:
            if text[i] == "{":
                opened.append(i)
            elif text[i] == "}":
                begin = opened.pop()
                found = found if opened else (begin, i)
            after = i + 1
        i = after
    return found


def listed(copy, crate):
    """The faults of a crate that can be planted, and how many there are in all."""
    told = subprocess.run(["cargo", "mutants", "--list", "--json", "-p", crate],
                          cwd=copy, check=True, capture_output=True, text=True).stdout
    every = json.loads(told)
    texts = {}

    def is_of_one_body(fault):
        file = fault["file"]
        if file not in texts:
            with open(os.path.join(copy, file)) as source:
                texts[file] = source.read().splitlines()
        first, last = fault["function"]["span"]["start"]["line"], fault["span"]["start"]["line"]
        head = "\n".join(texts[file][first - 1 : last]).split("{")[0]
        # Two bodies of one that gives back an iterator of its own would be of two types.
        return "const fn" in head or "-> impl " in head

    return [f for f in every if f["function"] and not is_of_one_body(f)], len(every)


def write(copy, faults):
    """Writes the sources with the viable faults, and says on which line each begins."""
    marks = {}
    files = {fault["file"] for fault in faults}
    for file in files | {fault["file"].split("/src/")[0] + "/src/lib.rs" for fault in faults}:
        original = subprocess.run(["git", "show", "HEAD:" + file], cwd=copy, check=True,
                                  capture_output=True, text=True).stdout
        starts = [0]
        for line in original.splitlines(keepends=True):
            starts.append(starts[-1] + len(line))

        def at(place):
            return starts[place["line"] - 1] + place["column"] - 1

        bodies = {}
        for fault in faults:
            if fault["file"] == file and fault["outcome"] != "unviable":
                span = fault["function"]["span"]
                body = body_of(original, at(span["start"]), at(span["end"]))
                bodies.setdefault(body, []).append(fault)
        # The body of a function within a function is in the outer one's.
        for inner in list(bodies):
            outer = [body for body in bodies if body[0] < inner[0] and inner[1] < body[1]]
            if outer:
                bodies[min(outer)] += bodies.pop(inner)
        text, done, begun = "", 0, []
        for begin, end in sorted(bodies):
            text += original[done:begin] + "{ match crate::planted() {\n"
            for fault in bodies[(begin, end)]:
                a, b = at(fault["span"]["start"]), at(fault["span"]["end"])
                begun.append((text.count("\n") + 1, fault["k"]))
                text += f"{fault['k']} => {original[begin:a]}{fault['replacement']}"
                text += original[b : end + 1] + "\n"
            begun.append((text.count("\n") + 1, None))
            text += f"_ => {original[begin:end + 1]}}} }}"
            done = end + 1
        text += original[done:] + (SWITCH if file.endswith("src/lib.rs") else "")
        with open(os.path.join(copy, file), "w") as source:
            source.write(text)
        marks[file] = begun
    return marks


def plant(args):
    faults, counts = [], {}
    rng = random.Random(args.seed)
    for given in args.crates:
        crate, number = given.split("=")
        can_be, counts[crate] = listed(args.copy, crate)
        faults += rng.sample(can_be, min(int(number), len(can_be)))
    for k, fault in enumerate(faults, 1):
        fault.update(k=k, outcome=None)
    while True:
        marks = write(args.copy, faults)
        check = ["cargo", "check", "--workspace", "--locked", "--message-format=json"]
        run = subprocess.run(check, cwd=args.copy, capture_output=True, text=True)
        if run.returncode == 0:
            break
        told = [json.loads(line).get("message") or {} for line in run.stdout.splitlines()]
        errors = [message for message in told if message.get("level") == "error"]
        spans = [span for error in errors for span in error["spans"] if span["is_primary"]]
        bad = set()
        for span in spans:
            begun = marks.get(span["file_name"], [])
            before = [k for line, k in begun if line <= span["line_start"]]
            bad |= {k for k in before[-1:] if k}
        if not bad:
            sys.exit("".join(error["rendered"] for error in errors))
        for k in bad:
            faults[k - 1]["outcome"] = "unviable"
    save(args.copy, {"seed": args.seed, "counts": counts, "faults": faults})


def save(copy, state):
    with open(os.path.join(copy, "mutants.json"), "w") as file:
        json.dump(state, file, indent=1)


def built(copy):
    """The test programs: crate, folder, program."""
    build = ["cargo", "test", "--workspace", "--locked", "--no-run", "--message-format=json"]
    run = subprocess.run(build, cwd=copy, check=True, stdout=subprocess.PIPE, text=True)
    told = [json.loads(line) for line in run.stdout.splitlines()]
    programs = [one for one in told if one.get("executable") and one["profile"]["test"]]
    folders = [os.path.dirname(one["manifest_path"]) for one in programs]
    return [(os.path.basename(f), f, one["executable"]) for f, one in zip(folders, programs)]


def fails(program, k, most_s):
    """The test of a program that fails with a fault, if one does, or "timed out"."""
    _, folder, path = program
    env = dict(os.environ, STAVE_MUTANT=str(k), CARGO_MANIFEST_DIR=folder, INSTA_UPDATE="no",
               PROPTEST_MAX_SHRINK_ITERS="0", PROPTEST_DISABLE_FAILURE_PERSISTENCE="1")
    until = time.monotonic() + most_s
    run = subprocess.Popen([path], cwd=folder, env=env, stdout=subprocess.PIPE,
                           stderr=subprocess.DEVNULL, start_new_session=True)
    os.set_blocking(run.stdout.fileno(), False)
    said, failed = b"", None
    while failed is None:
        piece = run.stdout.read()
        if piece == b"":
            break
        said += piece or b""
        hit = re.search(rb"^test (.*) \.\.\. FAILED$", said, re.M)
        if hit:
            failed = hit.group(1).decode()
        elif time.monotonic() > until:
            failed = "timed out"
        elif piece is None:
            time.sleep(0.02)
    if failed:
        os.killpg(run.pid, signal.SIGKILL)
    code = run.wait()
    return failed or (f"status {code}" if code else None)


def try_all(args):
    args.copy = os.path.abspath(args.copy)
    with open(os.path.join(args.copy, "mutants.json")) as file:
        state = json.load(file)
    programs, usual_s = built(args.copy), {}

    def usual(program):
        if program[2] not in usual_s:
            begun = time.monotonic()
            failed = fails(program, 0, 7200)
            if failed:
                sys.exit(f"{program[2]}: {failed}, with no fault planted")
            usual_s[program[2]] = time.monotonic() - begun
        return usual_s[program[2]]

    for fault in state["faults"]:
        crate = fault["file"].split("/")[1]
        if args.crate and args.crate != crate:
            continue
        own = [program for program in programs if program[0] == crate]
        if fault["outcome"] is None:
            todo = own
        elif fault["outcome"] == "passed its own tests" and args.every:
            todo = [program for program in programs if program not in own]
        else:
            continue
        outcome = "passed every test" if args.every and todo != own else "passed its own tests"
        for program in sorted(todo, key=usual):
            failed = fails(program, fault["k"], PATIENCE[0] + PATIENCE[1] * usual(program))
            if failed:
                outcome = "timed out" if failed == "timed out" else "caught"
                fault["by"] = f"{program[0]}: {failed}"
                break
        fault["outcome"] = outcome
        print(f"{outcome}: {fault['k']} {fault['name']} {fault.get('by', '')}", flush=True)
        save(args.copy, state)


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    rooms = parser.add_subparsers(required=True)
    one = rooms.add_parser("plant")
    one.add_argument("copy")
    one.add_argument("crates", nargs="+")
    one.add_argument("--seed", type=int, default=1)
    one.set_defaults(run=plant)
    one = rooms.add_parser("try")
    one.add_argument("copy")
    one.add_argument("--crate")
    one.add_argument("--every", action="store_true")
    one.set_defaults(run=try_all)
    args = parser.parse_args()
    args.run(args)


if __name__ == "__main__":
    main()
