"""What plans learned from earlier attempts are worth, beside the baseline, as a table.

    learning.py BUILD_DIRECTORY         on series made here: spheres by their exact series solution, in an oven that is off by
                                        some degrees, cooked by days that differ (tests/system/test_series.py has the formulas)
    TRIVET_SERIES=DIR learning.py ...   on a directory of series with index.csv, runs/ and truth/RUN.json (t_target_s)

The baseline is the mean of all earlier times, each carried over by mass^(2/3) and ln((oven - start)/(oven - target)).
"""
import collections
import csv
import gzip
import io
import json
import math
import os
import pathlib
import random
import statistics
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/system"))
BASELINE_FACTOR = 1.13  # nine of ten of its errors, on series of another kind


def make(directory, products=8, seed=1):
    import test_series as made
    draw = random.Random(seed)
    (directory / "runs").mkdir(parents=True)
    times = {}
    with open(directory / "index.csv", "w", newline="", encoding="ascii") as file:
        table = csv.DictWriter(file, made.COLUMNS, lineterminator="\n")
        table.writeheader()
        for product in range(products):
            film, factor, dial = draw.uniform(14, 40), draw.uniform(0.9, 1.12), draw.gauss(0, 5)
            usual = draw.uniform(700, 1800)
            for attempt in range(1, 7):
                mass, start = round(usual * math.exp(draw.uniform(-0.39, 0.39))), draw.uniform(2, 18)
                oven, target = 5 * draw.randint(26, 38), draw.randint(100, 132) / 2
                ball = made.Sphere(mass, film * math.exp(draw.gauss(0, 0.05)), factor * math.exp(draw.gauss(0, 0.015)))
                end = ball.time(target, start, oven + dial)
                name = f"p{product}_a{attempt}"
                times[f"p{product}", attempt] = end
                with gzip.open(directory / f"runs/{name}.csv.gz", "wt") as run:
                    run.write("time_s,core_degC,air_degC,event\n")
                    for t in range(0, int(end) + 120, 20):
                        event = "start" if t == 0 else "removed" if end <= t < end + 20 else ""
                        run.write(f"{t},{ball.core(t, start, oven + dial) + draw.gauss(0, 0.1):.1f},,{event}\n")
                table.writerow(dict(zip(made.COLUMNS, [name, "cook", f"runs/{name}.csv.gz", target, f"p{product}", attempt, mass,
                                                      f"{start:.1f}", oven, "fan", 1, "oval", "none"])))
    return times


def truths(directory, index):
    return {(row["product"], int(row["attempt"])): json.loads((directory / f"truth/{row['run']}.json").read_text())["t_target_s"]
            for row in index}


def log_ratio(row):
    oven, start, target = (float(row[key]) for key in ("oven_setpoint_degC", "start_degC", "target_C"))
    return math.log((oven - start) / (oven - target))


def baseline(index, times):
    plans = {}
    for row in index:
        key = row["product"], int(row["attempt"])
        old = [times[key[0], int(r["attempt"])] * (float(row["mass_g"]) / float(r["mass_g"])) ** (2 / 3) * log_ratio(row) / log_ratio(r)
               for r in index if r["product"] == key[0] and int(r["attempt"]) < key[1]]
        if old:
            middle = statistics.fmean(old)
            plans[key] = middle, middle / BASELINE_FACTOR, middle * BASELINE_FACTOR
    return plans


def score(plans, times):
    late = {key: time for key, time in times.items() if key[1] >= 3}
    errors = sorted(abs(plans[key][0] - time) / time if key in plans else 1.0 for key, time in late.items())
    held = sum(key in plans and plans[key][1] <= time <= plans[key][2] for key, time in late.items())
    width = statistics.median((plans[key][2] - plans[key][1]) / time for key, time in late.items() if key in plans)
    return f"{100 * statistics.median(errors):4.1f} / {100 * errors[int(0.9 * (len(errors) - 1))]:4.1f} %", f"{held} of {len(errors)}", width


def main():
    with tempfile.TemporaryDirectory(prefix="trivet-learning-") as work:
        given = os.environ.get("TRIVET_SERIES")
        directory = pathlib.Path(given or pathlib.Path(work) / "series")
        times = {} if given else make(directory)
        with open(directory / "index.csv", newline="", encoding="utf-8") as file:
            index = list(csv.DictReader(file))
        times = times or truths(directory, index)
        done = subprocess.run([pathlib.Path(sys.argv[1]) / "trivet", "plan-series", directory], stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, text=True, timeout=1800, check=True)
    rows = csv.DictReader(io.StringIO(done.stdout))
    plans = {(r["product"], int(r["attempt"])): tuple(float(r[f"plan_s_{q}"]) for q in ("p50", "p05", "p95")) for r in rows}
    count = collections.Counter(product for product, _ in times)
    print(f"\nPlans from earlier attempts: {len(count)} series, attempts 3 and later; error median / 90th percentile of the time, "
          "how many 90 % ranges held, their width")
    for name, of in (("trivet plan-series", plans), ("mean, carried over", baseline(index, times))):
        error, held, width = score(of, times)
        print(f"  {name:20s} {error}   {held:>9s}   {width:.2f}")
    print("  bar                   5.0 / 14.0 %   85 to 95 %")


if __name__ == "__main__":
    main()
