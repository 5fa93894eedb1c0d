"""Runs every benchmark and prints one table: medians of repeated runs with their spread, ratios against the raw library
measured in the same run, and where an aim is missed, by how much and what bounds it.

    run.py BUILD_DIRECTORY [NAME...]        NAME: only these, of: daemon jitter engine recorder store export modbus rtu path web convert forecast lessons
                                            cooling_lessons

Needs a quiet machine: whatever else runs is in the numbers. Ends with 1 only when a benchmark could not be run.
"""
import json
import math
import os
import pathlib
import re
import signal
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[2]
WITNESS_EVERY_S = 0.02  # as witness.py has it; it tells what was later than 5 ms
PROGRAMS = {  # arguments that keep the whole within a few minutes
    "engine": [], "recorder": [], "store": ["120000", "500", "5"], "export": ["1000000", "5"], "modbus": [], "rtu": [], "path": [],
    "web": [], "convert": [], "forecast": [], "lessons": [], "cooling_lessons": ["12", "4", "1"],
}
# What bounds a measure, said where its aim is missed.
BOUNDS = (
    ("whole recorder", "sealing: each reading is hashed and read again for its seal, and the engine's state is kept beside it"),
    ("store alone", "sealing: each reading is written as a line of text, hashed, and read again for its seal"),
    ("Modbus TCP", "one more look at the line before each request, for bytes that nobody asked for"),
    ("Modbus RTU", "how exactly the machine wakes whoever waits for the last character and for the silence after it"),
    ("conversion", "the steps from a first guess to the exact root, over the longest polynomial"),
    ("sampling", "the scheduling of the machine, as the bare loop beside it shows: the export and whoever reads it take a core each"),
    ("1000 probes", "the recorder's thread: judging, writing and hashing each reading"),
    ("10 000 probes", "the system calls of an exchange: each probe is a request of its own, ten thousand a second"),
    ("500 probes", "the scheduling of the machine: one thread a bus, woken by the clock"),
    ("status JSON", "one thread serves all; the text is built anew once a second"),
    ("page of now", "one thread serves all; the text is built anew once a second"),
    ("CSV export", "merging the probes into the order of time, and SQLite's reading"),
    ("memory", "the queue, the ring of readings that waits out a broken disk, and SQLite's page cache"),
    ("start", "SQLite's recovery of the write-ahead log, and the disk"),
    ("lessons", "SQLite's reading, and the JSON of the records that are no seals"),
    ("on disk, the demo's", "a seal a minute is some 200 bytes: with one reading a second, three and a half of the bytes of each"),
    ("on disk", "rows of SQLite and an index of none"),
)

PLAN = """\
site: {{name: Bench}}
people:
  - {{initials: AB, name: Ana Brandt, role: cook}}
  - {{initials: JO, name: Jun Okada, role: supervisor}}
buses:
  - {{id: rack, driver: modbus-tcp, host: 127.0.0.1, port: {port}}}
probes:
{probes}
places:
{places}
web: {{port: {web}}}
records: {{directory: records}}
"""


class Rows(list):
    def add(self, what, values, unit, kind="-", aim=0.0):
        self.append((what, statistics.median(values), min(values), max(values), unit, kind, aim))


def run_program(build, name, arguments, rows):
    done = subprocess.run([build / "tests/bench" / f"bench_{name}", *arguments], stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, text=True, timeout=600, check=True)
    rest = []
    for line in done.stdout.splitlines():
        if line.startswith("row\t"):
            _, what, middle, low, high, unit, kind, aim = line.split("\t")
            rows.append((what, float(middle), float(low), float(high), unit, kind, float(aim)))
        else:
            rest.append(line)
    return rest


# ---- the daemon as a whole -----------------------------------------------------------------------------


class Daemon:
    """A trivetd that says over NOTIFY_SOCKET when it is ready (sd_notify(3))."""

    def __init__(self, build, plan, directory):
        path = str(directory / "notify")
        manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        manager.bind(path)
        manager.settimeout(60)
        log = open(directory / "trivetd.log", "ab")
        began_s = time.monotonic()
        self.process = subprocess.Popen([build / "trivetd", plan], stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                                        env=dict(os.environ, NOTIFY_SOCKET=path))
        log.close()
        try:
            while b"READY=1" not in manager.recv(4096):
                pass
            self.start_s = time.monotonic() - began_s
        finally:
            manager.close()
            os.unlink(path)

    def memory_kb(self):
        status = pathlib.Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        return int(re.search(r"^VmRSS:\s+(\d+) kB", status, re.M)[1])

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout=60)


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def memory(build, directory, rows):
    """Resident memory with 16 probes read each second, a page shown and a table exported."""
    devices = subprocess.Popen([build / "trivet-kitchen", "--tcp-port", "0"], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                               text=True)
    try:
        port, web = int(re.search(r"tcp=[^ ]*:(\d+)", devices.stdout.readline())[1]), free_port()
        numbers = range(16)
        probe = ("  - {{id: probe-{0}, name: Probe {0}, kind: air, bus: rack, unit: 1, function: 4, register: {1}, type: int16,"
                 " scale: 0.1 °C, plausible: [-40 °C, 150 °C], every: 1 s}}")
        place = ("  - {{id: place-{0}, name: Place {0}, probe: probe-{0}, limit: {{kind: hold_cold, applies_to: air,"
                 " at_most: 5 °C, tolerance: 20 min}}}}")
        plan = directory / "plan.yaml"
        plan.write_text(PLAN.format(port=port, web=web, probes="\n".join(probe.format(n, n % 3) for n in numbers),
                                    places="\n".join(place.format(n) for n in numbers)), encoding="utf-8")
        values = []
        for _ in range(3):
            daemon = Daemon(build, plan, directory)
            time.sleep(3.0)  # the measure is of a while at work, and takes it
            today = time.strftime("%Y-%m-%d", time.gmtime())
            for page in ("", "now.json", "place/place-0", "deviations", f"export/readings.csv?from={today}&to={today}"):
                urllib.request.urlopen(f"http://127.0.0.1:{web}/{page}", timeout=30).read()
            values.append(daemon.memory_kb() / 1024)
            daemon.stop()
        rows.add("memory with 16 probes", values, "MiB", "most", 12)
    finally:
        devices.terminate()
        devices.wait()


def starts(build, directory, rows):
    plan = directory / "plan.yaml"
    text = (ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8")
    plan.write_text(text.replace("port: 8470", f"port: {free_port()}"), encoding="utf-8")

    def measure(what, before=lambda: None):
        values = []
        for _ in range(5):
            before()
            daemon = Daemon(build, plan, directory)
            values.append(daemon.start_s * 1000)
            daemon.stop()
        rows.add(what, values, "ms", "most", 200)

    store = directory / "records"

    def empty():
        for file in store.glob("*"):
            file.unlink()

    measure("start, empty store", empty)
    for hours in (336, 2800):
        empty()
        subprocess.run([build / "trivet-past", "--hours", str(hours), plan], check=True, stdout=subprocess.DEVNULL)
        with sqlite3.connect(f"file:{store / 'trivet.db'}?mode=ro", uri=True) as database:
            count = database.execute("SELECT count(*) FROM reading").fetchone()[0]
        if hours == 336:
            size = (store / "trivet.db").stat().st_size / count
            rate = count / hours / 3600
            rows.add(f"on disk, the demo's two weeks at {rate:.1f} readings a second", [size], "bytes a reading", "most", 24)
        else:
            measure(f"start, {count / 1e6:.1f} million readings on record")


def lateness(store, since_ms, until_ms, every_ms):
    """Of every good reading against its probe's schedule, in ms, sorted: the earliest one is in time."""
    late = []
    with sqlite3.connect(f"file:{store / 'trivet.db'}?mode=ro", uri=True) as database:
        for probe, in database.execute("SELECT DISTINCT probe FROM reading WHERE at_ms > ?", (since_ms,)).fetchall():
            times = [at for at, in database.execute(
                "SELECT at_ms FROM reading WHERE probe = ? AND at_ms > ? AND at_ms <= ? AND quality = 0",
                (probe, since_ms, until_ms))]
            off = [(at - times[0] + every_ms // 2) % every_ms for at in times]
            late += [ms - min(off) for ms in off]
    return sorted(late)


def jitter(build, directory, rows):
    """The demo's probes read twice a second over TCP and a serial line, while ten million readings are exported; and how late a
    bare loop beside the daemon gets its answers from the same device (tests/system/witness.py), which is the machine's doing."""
    every_ms, web = 500, free_port()
    line = directory / "line"
    devices = subprocess.Popen([build / "trivet-kitchen", "--rtu-link", line, "--tcp-port", "0"], stdin=subprocess.DEVNULL,
                               stdout=subprocess.PIPE, text=True)
    try:
        port = re.search(r"tcp=[^ ]*:(\d+)", devices.stdout.readline())[1]
        text = (ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8")
        text = text.replace("port: 8470", f"port: {web}").replace("port: 15020", f"port: {port}")
        text = text.replace("/run/trivet-demo/oven-line", str(line))
        plan, store = directory / "plan.yaml", directory / "records"
        plan.write_text(text, encoding="utf-8")
        subprocess.run([build / "trivet-past", "--hours", "2800", plan], check=True, stdout=subprocess.DEVNULL)
        text = text.replace("longest_delay: 500 ms", f"longest_delay: {every_ms // 2} ms")
        plan.write_text(re.sub(r"\bevery: \d+ s", f"every: {every_ms} ms", text), encoding="utf-8")
        daemon = Daemon(build, plan, directory)

        def newest():
            with sqlite3.connect(f"file:{store / 'trivet.db'}?mode=ro", uri=True) as database:
                return database.execute("SELECT max(at_ms) FROM reading").fetchone()[0]

        def note(what, seconds_or_export):
            began_ms = newest()
            witness = subprocess.Popen([sys.executable, "-B", ROOT / "tests/system/witness.py", port], stdin=subprocess.PIPE,
                                       stdout=subprocess.PIPE, text=True)
            witness.stdout.readline()  # "ready"
            began_s = time.monotonic()
            lines = seconds_or_export()
            asked = int((time.monotonic() - began_s) / WITNESS_EVERY_S)
            said, _ = witness.communicate("")
            time.sleep(1.5)  # the last commit
            late = lateness(store, began_ms, newest(), every_ms)
            suffered = sorted(ms for _, ms in json.loads(said))
            bare = suffered[-max(1, asked // 100)] if len(suffered) > asked // 100 else 0
            what = what.format(lines / 1e6)
            rows.add(f"sampling, late at the 99th percentile, {what}", [late[len(late) * 99 // 100]], "ms",
                     *(("most", 20) if lines else ("-", 0)))
            rows.add(f"the same of a bare loop beside it, {what}", [bare], "ms")

        def export():
            days = [time.strftime("%Y-%m-%d", time.gmtime(time.time() - back * 86400)) for back in (200, 0)]
            address = f"http://127.0.0.1:{web}/export/readings.csv?from={days[0]}&to={days[1]}"
            with urllib.request.urlopen(address, timeout=300) as answer:
                return sum(part.count(b"\n") for part in iter(lambda: answer.read(1 << 20), b""))

        time.sleep(2)
        note("nothing else to do", lambda: time.sleep(60) or 0)
        note("while {:.0f} million rows are exported", export)
        daemon.stop()
    finally:
        devices.terminate()
        devices.wait()


PARTS = {"daemon": (memory, starts), "jitter": (jitter,)}


def daemon(build, parts, rows):
    for part in parts:
        with tempfile.TemporaryDirectory(prefix="trivet-bench-") as directory:
            part(build, pathlib.Path(directory), rows)


# ---- the table -----------------------------------------------------------------------------------------


def number(value):
    if value == 0:
        return "0"
    return f"{value:.{max(0, 2 - math.floor(math.log10(abs(value))))}f}" if abs(value) < 1000 else f"{value:.0f}"


def verdict(what, middle, kind, aim):
    """What to print beside the aim, and the note beneath the table when it is missed."""
    if kind == "-":
        return "", None
    met = middle >= aim if kind == "least" else middle <= aim
    if met:
        return "met", None
    by = abs(middle - aim) / aim
    bound = next((text for start, text in BOUNDS if what.startswith(start)), "not looked into")
    return "MISSED", f"{what}: missed by {by:.0%}. Bound by: {bound}."


def show(rows):
    lines, notes = [("measure", "median", "spread", "unit", "aim", "")], []
    for what, middle, low, high, unit, kind, aim in rows:
        said, note = verdict(what, middle, kind, aim)
        spread = "" if low == high else f"{number(low)} to {number(high)}"
        goal = {"-": "", "least": f"at least {aim:g}", "most": f"at most {aim:g}"}[kind]
        lines.append((what, number(middle), spread, unit, goal, said))
        notes += [note] if note else []
    widths = [max(len(line[column]) for line in lines) for column in range(6)]
    for line in lines:
        cells = [line[0].ljust(widths[0]), line[1].rjust(widths[1])] + [text.ljust(width) for text, width in
                                                                      zip(line[2:], widths[2:])]
        print("  ".join(cells).rstrip())
    print()
    print("\n".join(notes) if notes else "Every aim is met.")


def main(words):
    build = pathlib.Path(words[0]).resolve()
    names = words[1:] or [*PARTS, *PROGRAMS]
    rows, rest = Rows(), []
    print(f"{os.cpu_count()} cores, load before {os.getloadavg()[0]:.1f}", flush=True)
    for name in names:
        began_s = time.monotonic()
        print(f"  {name} ...", end="", flush=True)
        if name in PARTS:
            daemon(build, PARTS[name], rows)
        else:
            rest += run_program(build, name, PROGRAMS[name], rows)
        print(f" {time.monotonic() - began_s:.0f} s", flush=True)
    print(f"load after {os.getloadavg()[0]:.1f}\n")
    show(rows)
    if rest:
        print("\n" + "\n".join(rest))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
