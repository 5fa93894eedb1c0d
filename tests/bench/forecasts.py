"""Scores `trivet forecast` on recorded batches and on batches made by bench_made, beside the scorer's three baselines.

    forecasts.py BUILD_DIRECTORY SCORER CORPUS [COOKS COOLINGS SEED]

SCORER is score_forecasts.py (it needs numpy), CORPUS a directory with index.csv, runs/ and truth/. Without SCORER and CORPUS
there is nothing to score with: that is said, and the end is 0. The made batches come from COOKS, COOLINGS and SEED: another seed, other batches.
"""
import concurrent.futures
import csv
import gzip
import importlib.util
import os
import pathlib
import subprocess
import sys
import tempfile

BASELINES = ("linear", "newton", "ball")
# (key of the scorer, what it is, bar for the median, bar for the 90th percentile)
TIMES = (
    ("cook_eta_30", "cook, 30 % of the way", 15, 45), ("cook_eta_50", "cook, 50 %", 9, 30),
    ("cook_eta_70", "cook, 70 %", 6, 20), ("cook_eta_85", "cook, 85 %", 5, 15),
    ("cool_eta21_30", "to 21 °C, 30 %", None, None), ("cool_eta21_50", "to 21 °C, 50 %", 4, 20),
    ("cool_eta21_70", "to 21 °C, 70 %", None, None), ("cool_eta21_85", "to 21 °C, 85 %", None, None),
    ("cool_eta5_30", "to 5 °C, 30 %", None, None), ("cool_eta5_50", "to 5 °C, 50 %", 8, 30),
    ("cool_eta5_70", "to 5 °C, 70 %", None, None), ("cool_eta5_85", "to 5 °C, 85 %", None, None),
)


def forecast(build, corpus, row, directory):
    goal = ["--target", row["target_C"]] if row["kind"] == "cook" else ["--cooling", "57,21@2h,5@6h"]
    with open(directory / f"{row['run']}.csv", "w", encoding="ascii") as out:
        subprocess.run([build / "trivet", "forecast", *goal, corpus / row["file"]], stdin=subprocess.DEVNULL, stdout=out,
                       stderr=subprocess.DEVNULL, check=True, timeout=600)


def forecasts(build, corpus, directory):
    with open(corpus / "index.csv", encoding="ascii") as file:
        rows = list(csv.DictReader(file))
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        for done in [pool.submit(forecast, build, corpus, row, directory) for row in rows]:
            done.result()


def widths(scorer, corpus, found, kind, key, limit):
    """Median width of the 90 % range over the time left, for the checkpoints of coolings (the scorer gives it for cooks)."""
    result = []
    for row, truth in corpus:
        first, last = truth.get("t57_s"), truth.get("t21_s" if limit == 21 else "t5_s")
        if row["kind"] != kind or last is None:
            continue
        result.append([point[2] for point in scorer.eta_points(found[row["run"]], first, last, key, 600.0)])
    middle = []
    for k in range(4):
        column = sorted(point[k] for point in result if point[k] == point[k])
        middle.append(column[len(column) // 2] if column else None)
    return middle


def cells(scorer, corpus, found):
    """Every entry of one column of the table: name to text."""
    score = scorer.score(corpus, found)
    wide = {"cool_eta21": widths(scorer, corpus, found, "cool", "eta_s", 21),
            "cool_eta5": widths(scorer, corpus, found, "cool", "eta5_s", 5)}
    column = {}
    for key, what, _, _ in TIMES:
        if key not in score:
            continue
        s = score[key]
        held = round(s["coverage90"] * s["n"])
        width = s.get("rel_width") if key.startswith("cook") else wide[key.rsplit("_", 1)[0]][(30, 50, 70, 85).index(int(key[-2:]))]
        column[what] = f"{100 * s['median']:.1f}/{100 * s['p90']:.0f} {held} of {s['n']}" + ("" if width is None else f" w {width:.2f}")
    if "cook_coverage90_all" in score:
        column["cooks, ranges that hold"] = f"{100 * score['cook_coverage90_all']:.0f} %"
        s = score["peak"]
        column["peak after removal, °C"] = f"{s['median_abs']:.2f}/{s['p90_abs']:.2f} n {s['n']}"
    if "stage1" in score:
        for stage, ahead in (("stage1", 90), ("stage2", 240)):
            s = score[stage]
            share = s[f"detected_{ahead}min"]
            column[f"{stage[:5]} {stage[5]} misses seen {ahead} min ahead"] = f"{round((share or 0) * s['missers'])} of {s['missers']}"
        s = score["either"]
        column["compliers flagged for 10 min"] = f"{round((s['false_alarm_sustained_10min'] or 0) * s['compliers'])} of {s['compliers']}"
    return column


BARS = {what: f"{median}/{p90}" for _, what, median, p90 in TIMES if median} | {
    "cooks, ranges that hold": "85-95 %", "peak after removal, °C": "1.5/4",
    "stage 1 misses seen 90 min ahead": "97 %", "stage 2 misses seen 240 min ahead": "95 %", "compliers flagged for 10 min": "5 %"}


def table(build, scorer, path, title):
    corpus = scorer.load_corpus(str(path))
    with tempfile.TemporaryDirectory() as directory:
        directory = pathlib.Path(directory)
        forecasts(build, path, directory)
        found = {row["run"]: scorer.load_forecast(str(directory / f"{row['run']}.csv")) for row, _ in corpus}
    columns = [cells(scorer, corpus, found)]
    for name in BASELINES:
        columns.append(cells(scorer, corpus, scorer.run_baseline(str(path), corpus, name)))
    print(f"{title}: relative error of the time left, median/90th percentile in %; how many 90 % ranges hold, and their width over the time left")
    print(f"{'':34}{'bar':>9}{'trivet':>26}" + "".join(f"{name:>26}" for name in BASELINES))
    for what in columns[0]:
        print(f"{what:34}{BARS.get(what, '-'):>9}" + "".join(f"{column.get(what, '-'):>26}" for column in columns))
    print(flush=True)


def made(build, directory, cooks, coolings, seed):
    subprocess.run([build / "tests/bench/bench_made", directory, str(cooks), str(coolings), str(seed)], check=True, timeout=300)
    for path in (directory / "runs").glob("*.csv"):
        with gzip.open(f"{path}.gz", "wb", compresslevel=1) as out:
            out.write(path.read_bytes())
        path.unlink()


def main(words):
    build, tool, path = (pathlib.Path(word).resolve() for word in words[:3])
    cooks, coolings, seed = words[3:6] or (60, 40, 1)
    if not tool.is_file() or not (path / "index.csv").is_file():
        print(f"forecasts not scored: needs the scorer {words[1]} and the corpus {words[2]}; name others with SCORER= and CORPUS=")
        return 0
    spec = importlib.util.spec_from_file_location("scorer", tool)
    scorer = importlib.util.module_from_spec(spec)
    sys.dont_write_bytecode = True
    spec.loader.exec_module(scorer)
    table(build, scorer, path, "the corpus")
    with tempfile.TemporaryDirectory() as directory:
        directory = pathlib.Path(directory)
        made(build, directory, cooks, coolings, seed)
        table(build, scorer, directory, f"{cooks} cooks and {coolings} coolings made with seed {seed}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
