"""Breaks the engine in one place at a time and sees whether the tests notice. `make mutants` calls it.

A mutant is one source file with one comparison, constant, sign, branch or statement changed. It is compiled, linked
with each test program in place of the file it came from, and the programs run until one fails: killed. A mutant that
the optimiser turns into the same code as the original is no mutant and is left out. Whoever survives every program is
printed with the line it changed: a test is missing there, or the change is none that anybody could see.

Usage: run.py BUILD [--of N] [--seed S] [--only PART]
  BUILD    build tree with the test programs' objects, such as build/debug
  --of N   take about N mutants, spread evenly and chosen by the seed; 0 takes all
"""
import argparse
import concurrent.futures
import os
import pathlib
import random
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
LIMIT_S = 60
ACCEPTED = 0.90
FLAGS = ["-I.", "-Iinclude", "-std=c17", "-D_POSIX_C_SOURCE=200809L", "-DTRIVET_CRASH_POINTS", '-DTRIVET_VERSION="0"', "-pthread",
         "-fno-fast-math", "-ffp-contract=off", "-w"]
LIBS = "-lcmocka -lmodbus -lsqlite3 -lmicrohttpd -lyaml -ljansson -lsodium -lz -lm".split()
# What judges; the programs that test it through its contract, those that kill most first.
SOURCES = ["daemon/engine/*.c", "daemon/base/lethal.c", "daemon/base/correction.c", "daemon/base/units.c"]
PROGRAMS = ["tests/unit/test_engine_*.c", "tests/unit/test_correction.c", "tests/unit/test_units.c", "tests/unit/test_decision*.c",
            "tests/unit/test_entry.c", "tests/unit/test_kitchen_weeks.c", "tests/unit/test_recorder*.c"]

# ---- where a line can be broken ---------------------------------------------------------------------

# Operators stand between blanks in this tree's layout, which tells a binary one from a pointer or a sign.
SWAPS = [(r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "), (r" == ", " != "), (r" != ", " == "),
         (r" && ", " || "), (r" \|\| ", " && "), (r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" \+= ", " -= "),
         (r" -= ", " += "), (r"\btrue\b", "false"), (r"\bfalse\b", "true"), (r"\+\+", "--")]
CONSTANT = re.compile(r"(?<![\w.\"\[])(\d+)(?![\w.\"])")
BRANCH = re.compile(r"^(\s*(?:\} else )?if )\((.*)\)( \{)?$")
STATEMENT = re.compile(r"^\s+[a-z_][\w>.\[\]-]*(?: [-+|&]?= .*|\(.*\));$")
LEAVE = re.compile(r"^\s*(?:#|assert\(|static_assert|_Static_assert|\(void\)|/?\*|case .*:$|default:)")


def code_of(text):
    """The text with comments and strings blanked, so that places stay the same."""
    blank = lambda found: re.sub(r"[^\n]", "~", found.group(0))
    return re.sub(r"/\*.*?\*/|//[^\n]*|\"(?:\\.|[^\"\\\n])*\"|'(?:\\.|[^'\\\n])+'", blank, text, flags=re.S)


def mutants_of(path):
    """(path, line number, what was done, whole new text) for every place."""
    text = path.read_text()
    code, lines = code_of(text).split("\n"), text.split("\n")
    found = []

    def note(number, what, line):
        found.append((path, number + 1, what, "\n".join(lines[:number] + [line] + lines[number + 1:])))

    depth = 0
    for number, line in enumerate(code):
        inside = depth > 0
        depth += line.count("{") - line.count("}")
        if not inside or LEAVE.match(line) or not line.strip():
            continue
        for pattern, new in SWAPS:
            for at in re.finditer(pattern, line):
                note(number, f"{at.group(0).strip()} to {new.strip()}", lines[number][:at.start()] + new + lines[number][at.end():])
        for at in CONSTANT.finditer(line):
            new = str(int(at.group(1)) + 1)
            note(number, f"{at.group(1)} to {new}", lines[number][:at.start()] + new + lines[number][at.end():])
        branch = BRANCH.match(line)
        if branch:
            whole = BRANCH.match(lines[number])
            for what in ("0", "1") if whole else ():
                note(number, f"branch {'never' if what == '0' else 'always'}",
                     f"{whole.group(1)}(({what}) || (0 && ({whole.group(2)}))){whole.group(3) or ''}")
        if STATEMENT.match(line):
            note(number, "statement left out", re.match(r"\s*", line).group(0) + ";")
    return found


# ---- one mutant ---------------------------------------------------------------------------------------

def compiled(source, target, optimise):
    done = subprocess.run(["gcc", *FLAGS, *optimise, "-c", "-o", target, source], cwd=ROOT, capture_output=True)
    return done.returncode == 0


def code_bytes(path):
    """What the machine would run: sections and relocations, no names of files."""
    done = subprocess.run(["objdump", "-s", "-r", "-j", ".text", "-j", ".rodata", "-j", ".data", path], capture_output=True, text=True)
    return "\n".join(done.stdout.split("\n")[3:])


def passes(program, build, folder, instead):
    """Whether the program, linked with these objects in place of the library's, ends well and in time."""
    binary = f"{folder}/test"
    support = map(str, sorted((ROOT / build / "tests/support").glob("*.o")))
    linked = subprocess.run(["gcc", "-pthread", "-o", binary, f"{build}/{program[:-2]}.o", *instead, *support, f"{build}/libtrivet.a", *LIBS],
                            cwd=ROOT, capture_output=True, text=True)
    if linked.returncode != 0:
        sys.exit(f"{program}: cannot be linked:\n{linked.stderr}")
    try:
        ran = subprocess.run([binary], cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, timeout=LIMIT_S)
    except subprocess.TimeoutExpired:
        return False
    finally:
        os.unlink(binary)
    return ran.returncode == 0


def judge(mutant, build, programs, originals):
    path, number, what, text = mutant
    generated = f"-I{build}/generated"
    with tempfile.TemporaryDirectory(prefix="trivet-mutant-") as folder:
        # Under the name it came from, so that what asserts say and include is the same.
        source, small, whole = f"{folder}/{path.name}", f"{folder}/o2.o", f"{folder}/o0.o"
        pathlib.Path(source).write_text(text)
        if not compiled(source, small, [generated, "-O2", "-DNDEBUG"]):
            return mutant, "does not compile", None
        if code_bytes(small) == originals[path]:
            return mutant, "same code", None
        compiled(source, whole, [generated, "-O1"])
        for program in programs:
            if not passes(program, build, folder, [whole]):
                return mutant, "killed", program
    return mutant, "survived", None


def found(patterns):
    return sorted(str(path.relative_to(ROOT)) for pattern in patterns for path in ROOT.glob(pattern))


def original_of(path, build):
    with tempfile.TemporaryDirectory(prefix="trivet-mutant-") as folder:
        source, target = f"{folder}/{path.name}", f"{folder}/o.o"
        pathlib.Path(source).write_text(path.read_text())
        if not compiled(source, target, [f"-I{build}/generated", "-O2", "-DNDEBUG"]):
            sys.exit(f"{path}: does not compile by itself")
        return code_bytes(target)


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("build")
    parser.add_argument("--of", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    said = parser.parse_args()
    paths = [ROOT / name for name in found(SOURCES) if said.only in name]
    programs = found(PROGRAMS)
    mutants = [mutant for path in paths for mutant in mutants_of(path)]
    if said.of and said.of < len(mutants):
        # One of each run of neighbours: every part of every file has its share.
        step, chance = len(mutants) / said.of, random.Random(said.seed)
        mutants = [mutants[min(int((i + chance.random()) * step), len(mutants) - 1)] for i in range(said.of)]
    for program in programs:
        with tempfile.TemporaryDirectory(prefix="trivet-mutant-") as folder:
            if not passes(program, said.build, folder, []):
                sys.exit(f"{program} fails without any mutant: build again, or mend it first")
    originals = {path: original_of(path, said.build) for path in paths}
    print(f"{len(mutants)} mutants of {len(paths)} files against {len(programs)} test programs", flush=True)

    counts, kills, survivors = {}, dict.fromkeys(programs, 0), []
    with concurrent.futures.ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        # Each starts with the programs that killed most so far.
        run = lambda mutant: judge(mutant, said.build, sorted(programs, key=lambda p: -kills[p]), originals)
        for done in concurrent.futures.as_completed([pool.submit(run, mutant) for mutant in mutants]):
            mutant, outcome, by = done.result()
            counts[outcome] = counts.get(outcome, 0) + 1
            if by:
                kills[by] += 1
            if outcome == "survived":
                survivors.append(mutant)
                print(f"survived  {mutant[0].relative_to(ROOT)}:{mutant[1]}: {mutant[2]}: "
                      f"{mutant[0].read_text().splitlines()[mutant[1] - 1].strip()}", flush=True)
    killed, lived = counts.get("killed", 0), len(survivors)
    share = killed / max(killed + lived, 1)
    print("\n".join(f"{kills[program]:6} killed by {program}" for program in programs))
    print(f"{killed} of {killed + lived} killed, {100 * share:.1f} % (at least {100 * ACCEPTED:.0f}); left out: "
          f"{counts.get('same code', 0)} the same code, {counts.get('does not compile', 0)} do not compile")
    return 0 if share >= ACCEPTED else 1


if __name__ == "__main__":
    sys.exit(main())
