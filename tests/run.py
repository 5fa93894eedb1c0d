"""Runs test programs and test modules, two at a time, and closes with one line: N passed, N failed.

A C test program is a cmocka binary; a Python one is a module of unittest; a fuzz target is named with the seconds it
runs ("build/fuzz/tests/fuzz/fuzz_plan:10") and counts as one. A program that ends without its own closing line, by a
signal or a sanitizer, counts as one failure; one whose every test lacks something on this machine is skipped, and said
to be. TRIVET_LIMIT_S bounds each of them. TRIVET_FUZZ_SEED is the seed of the fuzz targets: the same one each time, so
that a slice that passed passes again; 0 takes another one each time. What failed is told twice, the second time at the
end and short, where it is seen in a long log.
"""
import concurrent.futures
import os
import re
import subprocess
import sys
import tempfile
import time

LIMIT_S = int(os.environ.get("TRIVET_LIMIT_S", "600"))


def run(path):
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="trivet-run-") as scratch:
        env = dict(os.environ, CMOCKA_MESSAGE_OUTPUT="stdout")
        command = command_of(path, scratch)
        try:
            done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                                  stdin=subprocess.DEVNULL, timeout=LIMIT_S, env=env)
            text, code = done.stdout.decode(errors="replace"), done.returncode
        except subprocess.TimeoutExpired as late:
            text, code = (late.stdout or b"").decode(errors="replace") + f"\nno end after {LIMIT_S} s\n", -1
    passed, failed = (1 - (code != 0), int(code != 0)) if "/fuzz_" in path else count(text)
    if code != 0 and failed == 0:
        failed = 1
    if passed + failed == 0 and not all_skipped(text):
        failed, text = 1, text + "\nran no test\n"
    return path, passed, failed, text, time.monotonic() - began


def command_of(path, scratch):
    if path.endswith(".py"):
        return ["/usr/bin/python3", "-B", path]
    if "/fuzz_" in path:
        program, seconds = path.rsplit(":", 1)
        corpus = "tests/fuzz/corpus/" + os.path.basename(program)[len("fuzz_"):]
        # New inputs go to the scratch folder; the kept corpus is only read.
        seed = os.environ.get("TRIVET_FUZZ_SEED", "1")
        return [program, f"-seed={seed}", f"-max_total_time={seconds}", "-timeout=20", "-rss_limit_mb=2048", "-print_final_stats=1",
                f"-artifact_prefix={os.path.dirname(program)}/", scratch, corpus]
    return [path]


def count(text):
    passed = sum(int(n) for n in re.findall(r"^\[  PASSED  \] (\d+) test", text, re.M))
    failed = sum(int(n) for n in re.findall(r"^\[  FAILED  \] [^:\n]*: (\d+) test", text, re.M))
    failed += sum(int(n) for n in re.findall(r"^\[  FAILED  \] (\d+) test", text, re.M))
    for ran in re.findall(r"^Ran (\d+) tests? in", text, re.M):
        bad = sum(int(n) for n in re.findall(r"(?:failures|errors)=(\d+)", text))
        skipped = sum(int(n) for n in re.findall(r"skipped=(\d+)", text))
        passed, failed = passed + max(int(ran) - bad - skipped, 0), failed + bad
    return passed, failed


def all_skipped(text):
    """Every test of a module said that what it needs is not on this machine."""
    ran = re.search(r"^Ran (\d+) tests? in", text, re.M)
    return bool(ran) and int(ran[1]) > 0 and f"OK (skipped={ran[1]})" in text


def end_of(text, lines=30):
    """The last lines, without those in which a fuzzer tells of its progress."""
    kept = [line for line in text.splitlines() if not re.match(r"#\d+\t", line)]
    return "\n".join(kept[-lines:])


def main(paths):
    passed = failed = 0
    ends = []
    with concurrent.futures.ThreadPoolExecutor(max_workers=2) as pool:
        for done in concurrent.futures.as_completed([pool.submit(run, path) for path in paths]):
            path, good, bad, text, took_s = done.result()
            print(f"{'FAILED' if bad else 'ok' if good else 'skipped':7} {good:4d} {took_s:6.1f} s  {path}", flush=True)
            if bad:
                print(text)
                ends.append(f"---- {path}\n{end_of(text)}")
            passed, failed = passed + good, failed + bad
    print("\n".join(ends))
    print(f"\n{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
