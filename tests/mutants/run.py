"""Breaks the engine in one place at a time and sees whether the tests notice. `make mutants` calls it.

A mutant is one source file with one comparison, constant, sign, branch or statement changed (places.py). All of them
are woven into one program with the tests (woven.py), which is run with one mutant at a time until a test program
fails: killed. A mutant that the optimiser turns into the same code as the original is no mutant and is left out.
Whoever survives every program is looked up in survivors.txt, which says why; if nothing is said there, it is printed:
a test is missing, or a reason (docs/mutants.md).

Usage: run.py BUILD [--of N] [--seed S] [--only PART[,PART...]]
  BUILD    build tree with the test programs' objects, such as build/release
  --of N   take about N mutants, spread evenly and chosen by the seed; 0 takes all
  --only   of files whose names hold one of these parts
"""
import argparse
import collections
import concurrent.futures
import os
import pathlib
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time

import places
import woven

ROOT = pathlib.Path(__file__).resolve().parents[2]
LISTED = pathlib.Path(__file__).with_name("survivors.txt")
# A program that runs longer than this and so many times its own time does not end: that is noticed too.
LIMIT_S, LIMIT_TIMES, WHOLE_S = 5, 20, 300
ACCEPTED = 0.90
FLAGS = ["-I.", "-Iinclude", "-std=c17", "-D_POSIX_C_SOURCE=200809L", '-DTRIVET_VERSION="0"', "-pthread", "-fno-fast-math", "-ffp-contract=off",
         "-O2", "-w"]
LINKER = ["-Wl,--strip-debug"] + (["-fuse-ld=gold"] if shutil.which("ld.gold") else [])
LIBS = "-lcmocka -lmodbus -lsqlite3 -lmicrohttpd -lyaml -ljansson -lsodium -lz -lm".split()
# What judges; the programs that test it through its contract.
SOURCES = ["daemon/engine/*.c", "daemon/base/lethal.c", "daemon/base/correction.c", "daemon/base/units.c"]
PROGRAMS = ["tests/unit/test_engine_*.c", "tests/unit/test_correction.c", "tests/unit/test_units.c", "tests/unit/test_decision*.c",
            "tests/unit/test_entry.c", "tests/unit/test_kitchen_weeks.c", "tests/unit/test_recorder.c"]


class Bench:
    """Builds mutants and runs the test programs, all of which are one binary that is told which to be."""

    def __init__(self, build, folder):
        self.build, self.folder = build, folder
        self.programs = found(PROGRAMS)
        self.took_s, self.reaches, self.kills = {}, {}, collections.Counter()

    def compiler(self, source, target, level="-O1"):
        done = subprocess.run(["gcc", *FLAGS, level, f"-I{self.build}/generated", "-c", "-o", target, source], cwd=ROOT, capture_output=True, text=True)
        return done.stderr or "the compiler failed" if done.returncode != 0 else ""

    def gather(self):
        """Each program's object with its main renamed and all else its own, and a main that chooses."""
        mains = self.folder / "mains"
        mains.mkdir()
        for i, program in enumerate(self.programs):
            subprocess.run(["objcopy", "--redefine-sym", f"main=main_{i}", f"{self.build}/{program[:-2]}.o", f"{mains}/{i}.o"], cwd=ROOT, check=True)
            subprocess.run(["objcopy", f"--keep-global-symbol=main_{i}", f"{mains}/{i}.o"], check=True)
        text = "#include <stdlib.h>\n" + "".join(f"int main_{i}(void);\n" for i in range(len(self.programs)))
        text += "static int (*const mains[])(void) = {" + ", ".join(f"main_{i}" for i in range(len(self.programs))) + "};\n"
        text += "int main(int argc, char **argv) { return argc == 2 ? mains[atoi(argv[1])]() : 2; }\n"
        (mains / "choose.c").write_text(text)
        subprocess.run(["gcc", "-c", "-o", f"{mains}/choose.o", f"{mains}/choose.c"], check=True)
        self.mains = sorted(mains.glob("*.o"))

    def linked(self, instead, target):
        support = sorted((ROOT / self.build / "tests/support").glob("*.o"))
        done = subprocess.run(["gcc", *LINKER, "-pthread", "-o", target, *self.mains, *instead, *support, f"{self.build}/libtrivet.a", *LIBS], cwd=ROOT,
                              capture_output=True, text=True)
        if done.returncode != 0:
            sys.exit(f"cannot be linked:\n{done.stderr}")
        return target

    def weave(self, paths, mutants):
        self.woven = woven.Woven(self.folder, paths, mutants, self.compiler)
        self.binary = self.linked(self.woven.objects, self.folder / "tests")

    def measure(self):
        """How long each program takes unbroken, and which functions it reaches; all have to pass, or a kill would mean nothing."""
        for i, program in enumerate(self.programs):
            began, told = time.monotonic(), self.folder / f"reached{i}"
            if woven.run(self.binary, i, ROOT, WHOLE_S, reached=told):
                sys.exit(f"{program} fails without any mutant: build again, or mend it first")
            self.took_s[i], self.reaches[i] = time.monotonic() - began, set(map(int, told.read_text().split()))

    def order(self, mutant):
        """First the programs that killed most of its function and its file so far, then the fastest."""
        at = self.woven.reached[mutant.path, mutant.function]
        reaching = [i for i in self.took_s if at in self.reaches[i] or (mutant.path, mutant.function) in self.woven.apart]
        return sorted(reaching, key=lambda i: (-self.kills[mutant.path, mutant.function, i], -self.kills[mutant.path, i], self.took_s[i]))

    def judge(self, number, mutant):
        """(mutant, outcome, the program that noticed)"""
        binary = self.binary
        if (mutant.path, mutant.function) in self.woven.apart:
            target = self.folder / f"{number}.o"
            if self.alone(mutant.text(), mutant.path, target):
                return mutant, "does not compile", None
            binary = self.linked([target], self.folder / f"tests{number}")
        elif number in self.woven.broken:
            return mutant, "does not compile", None
        for i in self.order(mutant):
            outcome = woven.run(binary, i, ROOT, LIMIT_S + LIMIT_TIMES * self.took_s[i], mutant=number)
            if outcome:
                self.kills[mutant.path, i] += 1
                self.kills[mutant.path, mutant.function, i] += 1
                return mutant, outcome, i
        return mutant, "same code" if self.is_same(number, mutant) else "survived", None

    def alone(self, text, path, target):
        """Compiled under the name it came from, so that what asserts say and include is the same; what the compiler said."""
        folder = pathlib.Path(tempfile.mkdtemp(dir=self.folder))
        (folder / path.name).write_text(text)
        return self.compiler(folder / path.name, target, "-O2")

    def is_same(self, number, mutant):
        """Whether the machine would run the same: sections and relocations, no names of files."""
        code = []
        for i, text in enumerate((mutant.text(), mutant.path.read_text())):
            target = self.folder / f"{number}.{i}.o"
            self.alone(text, mutant.path, target)
            said = subprocess.run(["objdump", "-s", "-r", "-j", ".text", "-j", ".rodata", "-j", ".data", target], capture_output=True, text=True)
            code.append(said.stdout.split("\n")[3:])
        return code[0] == code[1]


def found(patterns):
    return sorted(str(path.relative_to(ROOT)) for pattern in patterns for path in ROOT.glob(pattern))


def listed():
    """Every mutant that may survive -> why: reasons stand at the margin, the mutants they are of below them, indented."""
    reasons, why = {}, ""
    for line in LISTED.read_text().splitlines() if LISTED.exists() else ():
        if line.startswith(" "):
            reasons[line.strip()] = why
        elif line and not line.startswith("#"):
            why = line
    return reasons


def sample(mutants, of, seed):
    """About that many, one of each run of neighbours: every part of every file has its share."""
    if not of or of >= len(mutants):
        return mutants
    step, chance = len(mutants) / of, random.Random(seed)
    taken = [mutants[min(int((i + chance.random()) * step), len(mutants) - 1)] for i in range(of)]
    chance.shuffle(taken)  # so that what is known after a while is of all files too
    return taken


def report(bench, counts, survivors, all_keys, killed_keys):
    """Says what came out; True when enough were killed and nobody survives without a reason."""
    late, killed, reasons = counts["in time"], counts["killed"] + counts["in time"], listed()
    share = killed / max(killed + len(survivors), 1)
    silent = [mutant for mutant in survivors if mutant.key() not in reasons]
    for key in reasons:
        if key not in all_keys:
            print(f"listed in {LISTED.name}, but there is no such place: {key}")
        elif key in killed_keys:
            print(f"listed in {LISTED.name}, but killed: {key}")
    by_program = collections.Counter({i: sum(n for key, n in bench.kills.items() if len(key) == 2 and key[1] == i) for i in bench.took_s})
    print("\n".join(f"{n:6} killed by {bench.programs[i]}" for i, n in by_program.most_common() if n > 0))
    print(f"{killed} of {killed + len(survivors)} killed ({late} because they did not end), {100 * share:.1f} % (at least {100 * ACCEPTED:.0f}); "
          f"left out: {counts['same code']} the same code, {counts['does not compile']} do not compile")
    print(f"{len(survivors)} survivors, {len(silent)} of them without a reason in {LISTED.relative_to(ROOT)}")
    return share >= ACCEPTED and not silent


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("build")
    parser.add_argument("--of", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    said = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    every = [mutant for name in found(SOURCES) for mutant in places.mutants_of(ROOT / name)]
    wanted = [mutant for mutant in every if any(part in mutant.path.name for part in said.only.split(","))]
    mutants = sample(wanted, said.of, said.seed)
    with tempfile.TemporaryDirectory(prefix="trivet-mutants-") as folder:
        bench = Bench(said.build, pathlib.Path(folder))
        bench.gather()
        bench.weave(sorted({mutant.path for mutant in mutants}), mutants)
        bench.measure()
        print(f"{len(mutants)} of {len(every)} mutants against {len(bench.programs)} test programs, seed {said.seed}", flush=True)
        ok = judged(bench, mutants, {mutant.key() for mutant in every})
    return 0 if ok else 1


def judged(bench, mutants, all_keys):
    counts, survivors, killed_keys, reasons = collections.Counter(), [], set(), listed()
    with concurrent.futures.ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as pool:
        for done in concurrent.futures.as_completed([pool.submit(bench.judge, *numbered) for numbered in enumerate(mutants)]):
            mutant, outcome, by = done.result()
            counts[outcome] += 1
            if by is not None:
                killed_keys.add(mutant.key())
            if outcome == "survived":
                survivors.append(mutant)
                if mutant.key() not in reasons:
                    print(f"survived  {mutant.path.relative_to(ROOT)}:{mutant.at + 1}\n    {mutant.key()}", flush=True)
    return report(bench, counts, survivors, all_keys, killed_keys)


if __name__ == "__main__":
    sys.exit(main())
