"""Fits the rule of thumb of daemon/thermal/trend.c to made cooks and prints its table; checks it on others.

    fit_trend.py BUILD_DIRECTORY [COOKS SEED]       usual: 4000 cooks, seed 99

No recorded run goes in. Needs numpy. The signs are those of trend_left_s, in the same order, over whole minutes; the fit is
a quadratic form of least absolute error in the logarithm of the time left against the straight line's.
"""
import csv
import itertools
import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np

SIGNS = 8
MOMENTS = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.85)
SILENT, HAS_AIR = 5, (4, 7)  # a sign for "no air": its products with what needs air are nothing


def minutes(values, minute, count):
    known = np.isfinite(values)
    sums, counts = np.bincount(minute[known], values[known], count), np.bincount(minute[known], None, count)
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan)


def line(core, first, last):
    first = max(first, 0)
    x, y = np.arange(first, last) + 0.5, core[first:last]
    known = np.isfinite(y)
    if known.sum() < 4:
        return None
    x, y = x[known], y[known]
    slope = ((x - x.mean()) * (y - y.mean())).sum() / ((x - x.mean()) ** 2).sum()
    return slope / 60, y.mean() + slope * (last - x.mean())


def mean(values):
    known = values[np.isfinite(values)]
    return known.mean() if len(known) else np.nan


def signs(core, air, target, now):
    """The signs at the end of minute `now`, and the seconds along the straight line; None where there are none."""
    start = mean(core[:2])
    window = int(min(15, max(7, 0.25 * now)))
    newest, before = line(core, now - window, now), line(core, now - 2 * window, now - window)
    if now < 8 or newest is None or np.isnan(start):
        return None
    slope, core_now = max(newest[0], 2e-4), newest[1]
    earlier = max((before or newest)[0], 1e-4)
    gap = max(target - core_now, 0.2)
    straight = gap / slope
    oven = mean(air[max(0, now - 25):now])
    heats = oven > max(core_now, target) + 3
    return np.clip([
        np.log(slope / earlier), np.log(max(core_now - start, 0.3) / gap), np.log(straight / (60 * now)), np.log(gap / 30),
        np.log(gap / (oven - core_now)) + 0.7 if heats else 0, 0 if heats else 1, np.log(60 * now / 3000),
        (oven - mean(air[:now])) / 30 if heats else 0], -4, 4), straight


def examples(directory, random):
    found = []
    with open(directory / "index.csv", encoding="ascii") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        truth = json.loads((directory / "truth" / f"{row['run']}.json").read_text())
        done = truth["t_target_s"]
        if done is None or done > truth["t_removed_s"] or done < 1500:
            continue
        run = np.genfromtxt(directory / row["file"].removesuffix(".gz"), delimiter=",", skip_header=1, usecols=(0, 1, 2))
        minute = (run[:, 0] // 60).astype(int)
        core, air = (minutes(run[:, k], minute, minute[-1] + 1) for k in (1, 2))
        for moment in MOMENTS:
            now = int((moment + 0.1 * (random.random() - 0.5)) * done // 60)
            got = signs(core, air, truth["target_C"], now)
            if got is not None:
                found.append([*got[0], np.log((done - 60 * now) / got[1]), moment])
    return np.array(found)


TERMS = [()] + [(i,) for i in range(SIGNS)] + [
    pair for pair in itertools.combinations_with_replacement(range(SIGNS), 2)
    if not (SILENT in pair and (pair.count(SILENT) > 1 or any(k in pair for k in HAS_AIR)))]


def design(values):
    return np.array([np.prod(values[:, list(term)], axis=1) if term else np.ones(len(values)) for term in TERMS]).T


def fitted(found):
    columns, wanted = design(found[:, :SIGNS]), found[:, SIGNS]
    scale = columns.std(0) + 1e-9
    scale[0] = 1
    columns, weight = columns / scale, np.ones(len(wanted))
    for _ in range(12):
        part = columns * weight[:, None]
        numbers = np.linalg.solve(columns.T @ part + np.eye(len(TERMS)), part.T @ wanted)
        weight = 1 / np.maximum(abs(wanted - columns @ numbers), 0.05)
    return numbers / scale


def made(build, cooks, seed):
    with tempfile.TemporaryDirectory() as directory:
        subprocess.run([build / "tests/bench/bench_made", directory, str(cooks), "0", str(seed)], check=True)
        return examples(pathlib.Path(directory), np.random.default_rng(seed))


def main(words):
    build = pathlib.Path(words[0])
    cooks, seed = (int(word) for word in (words[1:3] or ("4000", "99")))
    numbers = fitted(made(build, cooks, seed))
    table = np.zeros((SIGNS + 1, SIGNS + 1))
    for term, number in zip(TERMS, numbers):
        first, last = (0, 0) if not term else (0, term[0] + 1) if len(term) == 1 else (term[0] + 1, term[1] + 1)
        table[first, last] = number
    for row in table:
        print("    {" + ", ".join(f"{number:.4f}" if number else "0" for number in row) + "},")
    others = made(build, max(cooks // 4, 50), seed + 1)
    error = abs(np.exp(design(others[:, :SIGNS]) @ numbers - others[:, SIGNS]) - 1)
    for moment in MOMENTS:
        here = error[others[:, -1] == moment]
        print(f"other cooks, {100 * moment:.0f} % of the way: {100 * np.median(here):.1f} / {100 * np.percentile(here, 90):.0f} % (n {len(here)})")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
