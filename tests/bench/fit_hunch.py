"""Fits the two networks of daemon/thermal/hunch.c to made coolings and writes their numbers; checks them on others.

    fit_hunch.py BUILD_DIRECTORY NUMBERS.c [COOLINGS SEED]       usual: 12000 coolings, seed 510001

No recorded run goes in. Needs numpy. Quantiles of the logarithm of the time left against the straight line's, of
coolings that get there within their record (11 hours); and the odds to miss a deadline, that of the usual rule (21 °C within
two hours and 5 °C within six of 57 °C) and two drawn by chance.
"""
import pathlib
import subprocess
import sys
import tempfile

import numpy as np

RUN, NOW, LIMIT, LEFT, BEGAN, STRAIGHT, SIGNS = 0, 1, 2, 3, 4, 5, 6  # columns of bench_signs
QUANTILES = np.array([0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95])
KEPT = [0, 3, 6]  # the others only help the fit
HIDDEN, EPOCHS, BATCH, RATE = 32, 80, 512, 3e-3
MOMENTS, PART = 16, 6000
RECORD_S = 39000


def made(build, coolings, seed):
    found = []
    for part in range(0, coolings, PART):
        with tempfile.TemporaryDirectory() as directory:
            count = min(PART, coolings - part)
            subprocess.run([build / "tests/bench/bench_made", directory, "0", str(count), str(seed + part // PART)], check=True)
            rows = subprocess.run([build / "tests/bench/bench_signs", directory, str(MOMENTS), str(seed)], check=True, stdout=subprocess.PIPE)
            found.append(np.array([line.split(b",") for line in rows.stdout.splitlines()]).astype(float))
    return np.vstack(found)


def usual(rows, limit):
    return abs(rows[:, LIMIT] - limit) < 0.01


def times(rows):
    """Signs, what is to be said, weights; a limit drawn by chance counts a third."""
    rows = rows[np.isfinite(rows[:, LEFT])]
    weight = np.where(usual(rows, 21) | usual(rows, 5), 1, 0.3)
    return rows[:, SIGNS:], np.log(rows[:, LEFT] / rows[:, STRAIGHT]), weight


def lengths(rows):
    """How long the batch of each row was: moments are spread over it, so a minute of a long one has fewer of them."""
    begins = np.flatnonzero(np.diff(rows[:, RUN], prepend=-1))
    return np.repeat(np.maximum.reduceat(rows[:, NOW], begins), np.diff(begins, append=len(rows)))


def misses(rows, random, drawn=2):
    """Signs, whether missed, weights: each minute of each batch counts alike, else misses, which take long, would be told too seldom."""
    lasted = lengths(rows) / 20000
    rows, lasted = (values[rows[:, NOW] >= rows[:, BEGAN]] for values in (rows, lasted))
    rule = np.where(usual(rows, 21), 7200, np.where(usual(rows, 5), 21600, 0)) - (rows[:, NOW] - rows[:, BEGAN])
    parts = []
    for deadline in [rule] + [rows[:, STRAIGHT] * np.exp(random.uniform(-0.7, 3, len(rows))) for _ in range(drawn)]:
        told = (deadline > 60) & (np.isfinite(rows[:, LEFT]) | (rows[:, NOW] + deadline < RECORD_S))
        here, left = rows[told], deadline[told]
        more = np.clip(np.log([left / here[:, STRAIGHT], left / 5000]), -4, 4).T
        parts.append((np.hstack([here[:, SIGNS:], more]), (here[:, LEFT] > left).astype(float), lasted[told]))
    return [np.concatenate(part) for part in zip(*parts)]


def forward(layers, signs):
    cells, sums = [signs], []
    for number, (weights, bias) in enumerate(layers):
        sums.append(cells[-1] @ weights + bias)
        cells.append(sums[-1] / (1 + abs(sums[-1])) if number < 2 else sums[-1])
    return cells, sums


def steps(layers, cells, sums, slope):
    found = []
    for number in (2, 1, 0):
        if number < 2:
            slope = slope / (1 + abs(sums[number])) ** 2
        found += [slope.sum(0), cells[number].T @ slope]
        slope = slope @ layers[number][0].T
    return found[::-1]


def by_quantiles(said, wanted):
    off = wanted[:, None] - said
    return np.where(off > 0, -QUANTILES, 1 - QUANTILES) * np.minimum(abs(off) / 0.01, 1)


def by_odds(said, wanted):
    return 1 / (1 + np.exp(-said)) - wanted[:, None]


def fitted(signs, wanted, weight, outputs, slope_of, epochs=EPOCHS):
    """Three layers by Adam's rule, with the signs' mean and spread folded into the first."""
    random = np.random.default_rng(1)
    mean, spread = signs.mean(0), signs.std(0) + 1e-6
    signs, wanted, weight = (values.astype("f") for values in ((signs - mean) / spread, wanted, weight))
    sizes = [signs.shape[1], HIDDEN, HIDDEN, outputs]
    layers = [(random.normal(size=(a, b)).astype("f") * np.float32(np.sqrt(1.5 / a)), np.zeros(b, "f")) for a, b in zip(sizes, sizes[1:])]
    numbers = [number for layer in layers for number in layer]
    first, second = ([np.zeros_like(number) for number in numbers] for _ in range(2))
    batches, step = len(signs) // BATCH, 0
    for _ in range(epochs):
        order = random.permutation(len(signs))
        for batch in range(batches):
            here = order[batch * BATCH:(batch + 1) * BATCH]
            cells, sums = forward(layers, signs[here])
            slope = (slope_of(cells[-1], wanted[here]) * weight[here, None] / BATCH).astype("f")
            step += 1
            rate = RATE * 0.5 * (1 + np.cos(np.pi * step / (epochs * batches))) + 1e-5
            for number, grow, m, v in zip(numbers, steps(layers, cells, sums, slope), first, second):
                m += 0.1 * (grow - m)
                v += 0.001 * (grow * grow - v)
                number -= rate * (m / (1 - 0.9 ** step)) / (np.sqrt(v / (1 - 0.999 ** step)) + 1e-8)
    weights, bias = layers[0]
    layers[0] = (weights / spread[:, None], bias - (mean / spread) @ weights)
    return [[np.round(1000 * part).clip(-32767, 32767) / 1000 for part in layer] for layer in layers]


def table(name, outputs, layers):
    text = ""
    for place, (weights, bias) in zip(("FIRST", "SECOND", "LAST"), layers):
        numbers = np.round(1000 * np.vstack([bias, weights]).T.ravel()).astype(int)
        text += f"static const int16_t {name}_{place}[] = {{{', '.join(str(number) for number in numbers)}}};\n"
    return text + (f"const struct network HUNCH_{name} = {{.inputs = {len(layers[0][0])}, .outputs = {outputs}, .first = {name}_FIRST, "
                   f".second = {name}_SECOND, .last = {name}_LAST}};\n")


def report(rows, when, miss):
    said = np.exp(forward(when, rows[:, SIGNS:])[0][-1]) * rows[:, [STRAIGHT]]
    way = (rows[:, NOW] - rows[:, BEGAN]) / (rows[:, NOW] - rows[:, BEGAN] + rows[:, LEFT])
    for limit in (21, 5):
        for part in (0.3, 0.5, 0.7, 0.85):
            here = usual(rows, limit) & (way > part - 0.05) & (way < part + 0.05)
            error = abs(said[here, 1] / rows[here, LEFT] - 1)
            held = (said[here, 0] <= rows[here, LEFT]) & (rows[here, LEFT] <= said[here, 2])
            print(f"to {limit} °C, {100 * part:.0f} %: {100 * np.median(error):.1f} / {100 * np.percentile(error, 90):.0f} %, "
                  f"{100 * held.mean():.0f} % within the range (n {here.sum()})")
    signs, missed, weight = misses(rows, np.random.default_rng(2), 0)
    chance = 1 / (1 + np.exp(-forward(miss, signs)[0][-1][:, 0]))
    for low in (0, 0.2, 0.4, 0.6, 0.8):
        here = (chance >= low) & (chance < low + 0.2)
        print(f"misses said with {low:.1f} to {low + 0.2:.1f}: mean {100 * np.average(chance[here], weights=weight[here]):.0f} %, "
              f"came {100 * np.average(missed[here], weights=weight[here]):.0f} % (n {here.sum()})")


def main(words):
    build, numbers = (pathlib.Path(word) for word in words[:2])
    coolings, seed = (int(word) for word in (words[2:4] or ("12000", "510001")))
    rows = made(build, coolings, seed)
    when = fitted(*times(rows), len(QUANTILES), by_quantiles)
    when[2] = [part[..., KEPT] for part in when[2]]
    miss = fitted(*misses(rows, np.random.default_rng(seed)), 1, by_odds, EPOCHS // 3)
    numbers.write_text("/* The numbers of the hunch for coolings, in thousandths: printed by tests/bench/fit_hunch.py, which says\n"
                       " * what they are fitted to.  Not written by hand. */\n#include \"daemon/thermal/hunch.h\"\n\n"
                       + table("WHEN", len(KEPT), when) + "\n" + table("MISS", 1, miss), encoding="ascii")
    subprocess.run(["clang-format", "-i", numbers], check=True)
    report(made(build, max(coolings // 8, 50), seed + 190000), when, miss)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
