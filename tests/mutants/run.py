"""Breaks the engine in one place at a time and sees whether the tests notice. `make mutants` calls it.

A mutant is one source file with one comparison, constant, sign, branch or statement changed. It is compiled, linked
with the test programs in place of the file it came from, and the programs run until one fails: killed. A mutant that
the optimiser turns into the same code as the original is no mutant and is left out. Whoever survives every program is
printed with the line it changed: a test is missing there, or the change is none that anybody could see
(docs/mutants.md).

Usage: run.py BUILD [--of N] [--seed S] [--only PART[,PART...]] [--quick]
  BUILD    build tree with the test programs' objects, such as build/release
  --of N   take about N mutants, spread evenly and chosen by the seed; 0 takes all
  --only   of files whose names hold one of these parts
  --quick  leave out the programs that take long: for work on one file; it finds more survivors than there are
"""
import argparse
import concurrent.futures
import os
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
# A program that runs longer than this and so many times its own time does not end: that is noticed too.
LIMIT_S, LIMIT_TIMES = 10, 20
QUICK_S, WHOLE_S = 0.8, 300
ACCEPTED = 0.90
FLAGS = ["-I.", "-Iinclude", "-std=c17", "-D_POSIX_C_SOURCE=200809L", '-DTRIVET_VERSION="0"', "-pthread", "-fno-fast-math", "-ffp-contract=off",
         "-O2", "-w"]
LINKER = ["-Wl,--strip-debug"] + (["-fuse-ld=gold"] if shutil.which("ld.gold") else [])
LIBS = "-lcmocka -lmodbus -lsqlite3 -lmicrohttpd -lyaml -ljansson -lsodium -lz -lm".split()
# What judges; the programs that test it through its contract, those that kill most first.
SOURCES = ["daemon/engine/*.c", "daemon/base/lethal.c", "daemon/base/correction.c", "daemon/base/units.c"]
PROGRAMS = ["tests/unit/test_engine_*.c", "tests/unit/test_correction.c", "tests/unit/test_units.c", "tests/unit/test_decision*.c",
            "tests/unit/test_entry.c", "tests/unit/test_kitchen_weeks.c", "tests/unit/test_recorder.c"]

# ---- where a line can be broken ---------------------------------------------------------------------

# Operators stand between blanks in this tree's layout, which tells a binary one from a pointer or a sign.
SWAPS = [(r" < ", " <= "), (r" <= ", " < "), (r" > ", " >= "), (r" >= ", " > "), (r" == ", " != "), (r" != ", " == "),
         (r" && ", " || "), (r" \|\| ", " && "), (r" \+ ", " - "), (r" - ", " + "), (r" \* ", " / "), (r" \+= ", " -= "),
         (r" -= ", " += "), (r"\btrue\b", "false"), (r"\bfalse\b", "true"), (r"\+\+", "--")]
# A loop over a list is made to miss the last entry. One entry more would be no change: what lies beyond the count means
# nothing to anybody, and beyond the array's end the sanitizers speak, not a test's expectation.
LOOP, SHORT = re.compile(r"^\s*for \("), (r" < ", " + 1 < ")
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
        for pattern, new in [SHORT] + SWAPS[1:] if LOOP.match(line) else SWAPS:
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

def compiled(source, target, build):
    done = subprocess.run(["gcc", *FLAGS, f"-I{build}/generated", "-c", "-o", target, source], cwd=ROOT, capture_output=True)
    return done.returncode == 0


def code_bytes(path):
    """What the machine would run: sections and relocations, no names of files."""
    done = subprocess.run(["objdump", "-s", "-r", "-j", ".text", "-j", ".rodata", "-j", ".data", path], capture_output=True, text=True)
    return "\n".join(done.stdout.split("\n")[3:])


def linked(build, instead, target):
    """All test programs as one, which links once a mutant: the first argument says whose main is meant."""
    support = map(str, sorted((ROOT / build / "tests/support").glob("*.o")))
    done = subprocess.run(["gcc", *LINKER, "-pthread", "-o", target, *sorted(map(str, ROOT.glob(f"{build}/mutants/*.o"))), *instead, *support,
                           f"{build}/libtrivet.a", *LIBS], cwd=ROOT, capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"cannot be linked:\n{done.stderr}")


def gather(programs, build):
    """Each program's object with its main renamed and all else its own, and a main that chooses."""
    folder = ROOT / build / "mutants"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    for i, program in enumerate(programs):
        target = f"{folder}/{i}.o"
        subprocess.run(["objcopy", "--redefine-sym", f"main=main_{i}", f"{build}/{program[:-2]}.o", target], cwd=ROOT, check=True)
        subprocess.run(["objcopy", f"--keep-global-symbol=main_{i}", target], check=True)
    text = "#include <stdlib.h>\n" + "".join(f"int main_{i}(void);\n" for i in range(len(programs)))
    text += "static int (*const mains[])(void) = {" + ", ".join(f"main_{i}" for i in range(len(programs))) + "};\n"
    text += "int main(int argc, char **argv) { return argc == 2 ? mains[atoi(argv[1])]() : 2; }\n"
    (folder / "choose.c").write_text(text)
    subprocess.run(["gcc", "-c", "-o", f"{folder}/choose.o", f"{folder}/choose.c"], check=True)


def outcome_of(binary, number, limit_s):
    """None when the program ends well, else how it did not."""
    try:
        ran = subprocess.run([binary, str(number)], cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, timeout=limit_s)
    except subprocess.TimeoutExpired:
        return "in time"
    return "killed" if ran.returncode != 0 else None


def judge(mutant, build, order, took_s, originals):
    path, number, what, text = mutant
    with tempfile.TemporaryDirectory(prefix="trivet-mutant-") as folder:
        # Under the name it came from, so that what asserts say and include is the same.
        source, target, binary = f"{folder}/{path.name}", f"{folder}/mutant.o", f"{folder}/tests"
        pathlib.Path(source).write_text(text)
        if not compiled(source, target, build):
            return mutant, "does not compile", None
        if code_bytes(target) == originals[path]:
            return mutant, "same code", None
        linked(build, [target], binary)
        for program in order:
            outcome = outcome_of(binary, program, LIMIT_S + LIMIT_TIMES * took_s[program])
            if outcome:
                return mutant, outcome, program
    return mutant, "survived", None


def found(patterns):
    return sorted(str(path.relative_to(ROOT)) for pattern in patterns for path in ROOT.glob(pattern))


def original_of(path, build):
    with tempfile.TemporaryDirectory(prefix="trivet-mutant-") as folder:
        source, target = f"{folder}/{path.name}", f"{folder}/o.o"
        pathlib.Path(source).write_text(path.read_text())
        if not compiled(source, target, build):
            sys.exit(f"{path}: does not compile by itself")
        return code_bytes(target)


def sample(mutants, of, seed):
    """About that many, one of each run of neighbours: every part of every file has its share."""
    if not of or of >= len(mutants):
        return mutants
    step, chance = len(mutants) / of, random.Random(seed)
    taken = [mutants[min(int((i + chance.random()) * step), len(mutants) - 1)] for i in range(of)]
    chance.shuffle(taken)  # so that what is known after a while is of all files too
    return taken


def time_of_each(programs, build, limit_s):
    """How long each takes unbroken, None = longer; all have to pass, or a kill would mean nothing."""
    took_s = []
    with tempfile.TemporaryDirectory(prefix="trivet-mutant-") as folder:
        linked(build, [], f"{folder}/tests")
        for i, program in enumerate(programs):
            began = time.monotonic()
            outcome = outcome_of(f"{folder}/tests", i, limit_s)
            if outcome == "killed" or (outcome and limit_s >= WHOLE_S):
                sys.exit(f"{program} fails without any mutant: build again, or mend it first")
            took_s.append(None if outcome else time.monotonic() - began)
    return took_s


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("build")
    parser.add_argument("--of", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--quick", action="store_true")
    said = parser.parse_args()
    wanted = said.only.split(",")
    paths = [ROOT / name for name in found(SOURCES) if any(part in name for part in wanted)]
    programs = found(PROGRAMS)
    mutants = sample([mutant for path in paths for mutant in mutants_of(path)], said.of, said.seed)
    gather(programs, said.build)
    took_s = time_of_each(programs, said.build, QUICK_S if said.quick else WHOLE_S)
    in_use = [i for i in range(len(programs)) if took_s[i] is not None]
    originals = {path: original_of(path, said.build) for path in paths}
    print(f"{len(mutants)} mutants of {len(paths)} files against {len(in_use)} of {len(programs)} test programs, seed {said.seed}", flush=True)

    counts, kills, survivors = {}, {}, []
    with concurrent.futures.ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        # Each starts with the programs that killed most of its file so far, then the fastest.
        def run(mutant):
            order = sorted(in_use, key=lambda i: (-kills.get((mutant[0], i), 0), took_s[i]))
            return judge(mutant, said.build, order, took_s, originals)

        for done in concurrent.futures.as_completed([pool.submit(run, mutant) for mutant in mutants]):
            mutant, outcome, by = done.result()
            counts[outcome] = counts.get(outcome, 0) + 1
            if by is not None:
                kills[mutant[0], by] = kills.get((mutant[0], by), 0) + 1
            if outcome == "survived":
                survivors.append(mutant)
                print(f"survived  {mutant[0].relative_to(ROOT)}:{mutant[1]}: {mutant[2]}: "
                      f"{mutant[0].read_text().splitlines()[mutant[1] - 1].strip()}", flush=True)
    late, lived = counts.get("in time", 0), len(survivors)
    killed = counts.get("killed", 0) + late
    share = killed / max(killed + lived, 1)
    by_program = {i: sum(n for (_, by), n in kills.items() if by == i) for i in in_use}
    print("\n".join(f"{n:6} killed by {programs[i]}" for i, n in by_program.items() if n > 0))
    print(f"{killed} of {killed + lived} killed ({late} because they did not end), {100 * share:.1f} % (at least {100 * ACCEPTED:.0f}); left out: "
          f"{counts.get('same code', 0)} the same code, {counts.get('does not compile', 0)} do not compile")
    return 0 if share >= ACCEPTED else 1


if __name__ == "__main__":
    sys.exit(main())
