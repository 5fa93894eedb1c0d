"""What the tests of `trivet judge` share: a made trace, judged by the command, and published temperatures as readings."""
import atexit
import json
import os
import pathlib
import subprocess
import tempfile

import rig

HEADER = "time_s,core_degC,air_degC,event"
TABLES = pathlib.Path(__file__).resolve().parent / "published/cook_tables.csv"
WORK = tempfile.TemporaryDirectory(prefix="trivet-judge-")
atexit.register(WORK.cleanup)
TRACE = pathlib.Path(WORK.name) / "trace.csv"


def run(*words, profiles=None):
    environment = dict(os.environ)
    environment.pop("TRIVET_PROFILES", None)
    if profiles:
        environment["TRIVET_PROFILES"] = str(profiles)
    return subprocess.run([rig.TRIVET, *map(str, words)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=60,
                          stdin=subprocess.DEVNULL, env=environment)


def write(rows):
    """rows: (time_s, core or None[, event[, air]])."""
    lines = [HEADER]
    for time_s, core, *more in rows:
        event = more[0] if more else ""
        air = more[1] if len(more) > 1 else ""
        lines.append(f"{time_s:.10g},{'' if core is None else format(core, '.3f')},{air},{event}")
    TRACE.write_text("\n".join(lines) + "\n", encoding="ascii")


def judge(rows, *how):
    """The last line, after checking the exit code against it and every line against JSON."""
    write(rows)
    done = run("judge", *how, TRACE)
    if done.returncode not in (0, 1) or done.stderr:
        raise AssertionError(f"ended with {done.returncode}: {done.stderr}")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    for line in lines[:-1]:
        if "decision" not in line:
            raise AssertionError(line)
    if (lines[-1]["verdict"] == "met") != (done.returncode == 0):
        raise AssertionError(f"{lines[-1]} with exit code {done.returncode}")
    return lines[-1]


def by(rule, rows):
    return judge(rows, "--limit", rule)["verdict"]


def milli_c(temp, unit):
    """The thousandth of a degree Celsius nearest to a published temperature."""
    celsius = float(temp) if unit == "C" else (float(temp) - 32) * 5 / 9
    return round(celsius * 1000)


def steady(milli, hold_s):
    """Twenty readings over exactly hold_s; one when there is nothing to hold."""
    if hold_s <= 0:
        return [(0, milli / 1000)]
    return [(hold_s * i / 20, milli / 1000) for i in range(21)]


def path(points, every=60):
    """Straight lines between (time_s, core), read at a fixed period and at each point."""
    rows = []
    for (t0, c0), (t1, c1) in zip(points, points[1:]):
        t = t0
        while t < t1:
            rows.append((t, c0 + (c1 - c0) * (t - t0) / (t1 - t0)))
            t += every
    return rows + [points[-1]]
