"""What the system tests share: a kitchen in a temporary directory, with Modbus devices, a plan and a daemon.

Nothing here sleeps for a fixed time: every wait has a condition and a bound, and a wait that runs out fails the test
with what was seen.
"""
import csv
import ctypes
import io
import json
import os
import pathlib
import random
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
TRIVETD = os.environ.get("TRIVETD", str(ROOT / "build/debug/trivetd"))
TRIVET = os.environ.get("TRIVET", str(ROOT / "build/debug/trivet"))
PAST = os.environ.get("TRIVET_PAST", str(ROOT / "build/debug/trivet-past"))
SIMULATED = os.environ.get("TRIVET_KITCHEN", str(ROOT / "build/debug/trivet-kitchen"))
PATIENCE_S = 15.0
LOOK_EVERY_S = 0.02

DONE, NO, USAGE, UNREACHABLE, REFUSED = range(5)  # what `trivet` ends with


PR_SET_PDEATHSIG = 1  # linux/prctl.h


def end_with_us():
    """In a child: a daemon does not outlive a test that was ended by force."""
    ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)


def await_that(condition, what, patience_s=PATIENCE_S):
    """The first value of condition() that is true; fails when there is none in time."""
    until_s = time.monotonic() + patience_s
    while True:
        value = condition()
        if value:
            return value
        if time.monotonic() > until_s:
            raise AssertionError(f"waited {patience_s} s in vain for {what() if callable(what) else what}")
        time.sleep(LOOK_EVERY_S)


def free_port():
    """A port for somebody else to listen on. Not one of those that the system gives to whoever connects: with a crowd at
    work beside us it would be taken before it is used."""
    first = int(pathlib.Path("/proc/sys/net/ipv4/ip_local_port_range").read_text(encoding="ascii").split()[0])
    while True:
        port = random.randrange(10000, max(first, 20000))
        with socket.socket() as probe:
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port


def answers(port):
    with socket.socket() as probe:
        probe.settimeout(0.2)
        return probe.connect_ex(("127.0.0.1", port)) == 0


class PtyPair:
    """Two ends of a serial line: the daemon opens one, the device the other."""

    def __init__(self, directory):
        self.ours, self.theirs = str(directory / "line-a"), str(directory / "line-b")
        self.socat = subprocess.Popen(["socat", f"pty,raw,echo=0,link={self.ours}", f"pty,raw,echo=0,link={self.theirs}"])
        await_that(lambda: os.path.exists(self.ours) and os.path.exists(self.theirs), "socat's pair of terminals")
        # A terminal that nobody holds open hangs up, and socat ends: a daemon may close its end and come back.
        self.held = os.open(self.ours, os.O_RDWR | os.O_NOCTTY)

    def unplug(self):
        """Both ends hang up, as when an adapter is pulled out of its socket."""
        self.socat.terminate()
        self.socat.wait()
        os.close(self.held)

    close = unplug


class Peer:
    """The other implementation of Modbus, in a process of its own. See peer.py."""

    def __init__(self, log, units, device=None, port=None):
        self.log = log
        where = ["--device", device] if device else ["--port", str(port)]
        self.process = subprocess.Popen(
            [sys.executable, "-B", str(ROOT / "tests/system/peer.py"), *where, "--units", ",".join(map(str, units)),
             "--log", str(log)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        if port:
            await_that(lambda: answers(port), "the Modbus server on TCP")
        else:
            await_that(lambda: self.holds(os.path.realpath(device)), "the Modbus server on the serial line")

    def holds(self, path):
        return any(self.leads_to(file) == path for file in pathlib.Path(f"/proc/{self.process.pid}/fd").iterdir())

    @staticmethod
    def leads_to(file):
        try:
            return os.readlink(file)
        except FileNotFoundError:  # it was closed since the directory was read
            return None

    def tell(self, **command):
        """Gives a command and waits until it is in force; the instant, by the wall clock."""
        self.process.stdin.write(json.dumps(command) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())["at_ms"]

    def set(self, unit, register, *values, table="ir"):
        return self.tell(do="set", unit=unit, table=table, register=register, values=list(values))

    def ramp(self, unit, register, to, over_s, table="ir"):
        return self.tell(do="ramp", unit=unit, table=table, register=register, to=to, over_s=over_s)

    def stick(self, unit, register):
        return self.tell(do="stick", unit=unit, register=register)

    def die(self, unit):
        return self.tell(do="die", unit=unit)

    def live(self, unit):
        return self.tell(do="live", unit=unit)

    def served(self):
        """Everything it answered: (wall_ms, unit, function, address, values)."""
        return [tuple(json.loads(line)) for line in self.log.read_text().splitlines()]

    def close(self):
        self.process.stdin.close()
        self.process.wait(timeout=PATIENCE_S)
        self.process.stdout.close()


class Simulated:
    """The demo's devices on Modbus TCP, which answer at once: for measuring how late readings are."""

    def __init__(self):
        self.process = subprocess.Popen([SIMULATED, "--tcp-port", "0"], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                        text=True, preexec_fn=end_with_us)
        self.port = int(re.search(r"tcp=[^ ]*:(\d+)", self.process.stdout.readline())[1])

    def close(self):
        self.process.terminate()
        self.process.wait(timeout=PATIENCE_S)
        self.process.stdout.close()


class Witness:
    """Asks a device of ours by the clock, as the daemon does, and tells how late it got its answers. See witness.py."""

    def __init__(self, port):
        self.process = subprocess.Popen([sys.executable, "-B", str(ROOT / "tests/system/witness.py"), str(port)],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout.readline() == "ready\n"
        self.suffered = None

    def close(self):
        if not self.process.stdin.closed:
            self.process.stdin.close()
            self.suffered = json.loads(self.process.stdout.readline() or "null")
            self.process.wait(timeout=PATIENCE_S)
            self.process.stdout.close()

    def most_ms(self, from_ms, to_ms):
        """The latest that it was between two instants, by the wall clock; once it is closed."""
        return max((late_ms for due_ms, late_ms in self.suffered if due_ms <= to_ms and due_ms + late_ms >= from_ms), default=0)


class Answer:
    """How a run of `trivet` (or `trivetd --check`) ended."""

    def __init__(self, done):
        self.code, self.out, self.err = done.returncode, done.stdout, done.stderr

    @property
    def json(self):
        return json.loads(self.out)

    @property
    def rows(self):
        return list(csv.DictReader(io.StringIO(self.out)))

    def __repr__(self):
        return f"exit code {self.code}\n--- stdout\n{self.out}\n--- stderr\n{self.err}"


class Refused(Exception):
    """The daemon answered an entry with something other than 200."""

    def __init__(self, answer):
        super().__init__(answer["say"])
        self.code, self.answer = answer["code"], answer


class Socket:
    """The control socket, spoken by hand: what `trivet` speaks, one JSON object a line."""

    def __init__(self, path):
        self.socket = socket.socket(socket.AF_UNIX)
        self.lines = self.socket.makefile("r", encoding="utf-8")
        try:
            self.socket.settimeout(PATIENCE_S)
            self.socket.connect(str(path))
            self.greeting = json.loads(self.lines.readline())
        except (OSError, ValueError):
            self.close()
            raise

    def ask(self, **request):
        self.socket.sendall(json.dumps(request).encode() + b"\n")
        line = self.lines.readline()
        if not line:
            raise ConnectionError("the daemon closed the connection")
        answer = json.loads(line)
        if answer["code"] != 200:
            raise Refused(answer)
        return answer

    def close(self):
        self.lines.close()
        self.socket.close()


class Kitchen:
    """A directory with a plan, its devices and a daemon; everything ends with it."""

    def __init__(self):
        self.directory = pathlib.Path(tempfile.mkdtemp(prefix="trivet-"))
        self.plan = self.directory / "plan.yaml"
        self.store = self.directory / "records"
        self.socket = self.store / "control"
        self.log = self.directory / "trivetd.log"
        self.daemon = None
        self.parts = []

    # ---- devices ----

    def serial_peer(self, units):
        line = PtyPair(self.directory)
        self.parts.append(line)
        peer = Peer(self.directory / "served-rtu.log", units, device=line.theirs)
        self.parts.append(peer)
        return line.ours, peer

    def tcp_peer(self, units):
        port = free_port()
        peer = Peer(self.directory / "served-tcp.log", units, port=port)
        self.parts.append(peer)
        return port, peer

    def simulated(self):
        self.parts.append(Simulated())
        return self.parts[-1].port

    # ---- the daemon ----

    def write_plan(self, text):
        self.plan.write_text(text, encoding="utf-8")

    def start(self, wait=True, **environment):
        with open(self.log, "ab") as log:
            self.daemon = subprocess.Popen([TRIVETD, str(self.plan)], stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                                           env=dict(os.environ, **environment), preexec_fn=end_with_us)
        if wait:
            await_that(self.up, lambda: "the daemon to listen; its log:\n" + self.log_text())

    def up(self):
        if self.daemon.poll() is not None:
            raise AssertionError(f"the daemon ended with {self.daemon.returncode}; its log:\n{self.log_text()}")
        try:
            Socket(self.socket).close()
        except OSError:
            return False
        return True

    def log_text(self):
        return self.log.read_text(errors="replace") if self.log.exists() else ""

    def stop(self, how=signal.SIGTERM):
        """Asks it to end and waits; its exit code (minus the signal's number when that killed it)."""
        if self.daemon is None:
            return None
        if self.daemon.poll() is None:
            self.daemon.send_signal(how)
        try:
            code = self.daemon.wait(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            self.daemon.kill()
            self.daemon.wait()
            raise AssertionError("the daemon did not end when asked; its log:\n" + self.log_text()) from None
        self.daemon = None
        return code

    def close(self):
        try:
            if self.daemon is not None and self.daemon.poll() is None:
                self.daemon.kill()
                self.daemon.wait()
        finally:
            for part in reversed(self.parts):
                part.close()
            if os.environ.get("TRIVET_KEEP"):
                print(f"kept: {self.directory}", file=sys.stderr)
            else:
                shutil.rmtree(self.directory, ignore_errors=True)

    def __enter__(self):
        return self

    def __exit__(self, *what):
        self.close()

    # ---- people ----

    def trivet(self, *words, program=TRIVET, stdin=subprocess.DEVNULL, patience_s=60, **environment):
        """Runs `trivet`, pointed at this kitchen's daemon (and at its store when no daemon runs)."""
        options = ["--socket", str(self.socket)] if self.daemon is not None else ["--store", str(self.store)]
        return Answer(subprocess.run([program, *options, *map(str, words)], stdin=stdin, stdout=subprocess.PIPE,
                                     stderr=subprocess.PIPE, text=True, timeout=patience_s,
                                     env=dict(os.environ, **environment)))

    # ---- what is on record ----

    def query(self, sql, *values):
        """Reads the store beside the daemon, as anybody with SQLite could."""
        with_store = sqlite3.connect(f"file:{self.store}/trivet.db?mode=ro", uri=True, timeout=PATIENCE_S)
        try:
            return with_store.execute(sql, values).fetchall()
        finally:
            with_store.close()

    def records(self, *kinds, after=0):
        """Bodies of records as objects, in order."""
        rows = self.query("SELECT body FROM record WHERE seq > ? ORDER BY seq", after)
        bodies = [json.loads(body) for (body,) in rows]
        return [body for body in bodies if not kinds or body["kind"] in kinds]

    def decisions(self, **wanted):
        """Data of decision records whose keys have the wanted values, in order."""
        found = [dict(body["data"], seq=body["seq"]) for body in self.records("decision")]
        return [data for data in found if all(data.get(key) == value for key, value in wanted.items())]

    def await_decision(self, patience_s=PATIENCE_S, **wanted):
        return await_that(lambda: self.decisions(**wanted),
                          lambda: f"decision {wanted}; there were\n" + "\n".join(map(str, self.decisions())),
                          patience_s)[-1]

    def await_readings(self, count, patience_s=PATIENCE_S):
        return await_that(lambda: self.query("SELECT count(*) FROM reading")[0][0] >= count, f"{count} readings", patience_s)


# ---- plan texts ------------------------------------------------------------------------------------

PEOPLE = """\
people:
  - {initials: AB, name: Ana Brandt, role: cook}
  - {initials: LM, name: Luis Marchetti, role: cook}
  - {initials: JO, name: Jun Okada, role: supervisor}
  - {initials: RS, name: Ruth Sandoval, role: verifier}
"""


def small_plan(port, every="100 ms", web="{enabled: no}", alarm="", socket=""):
    """The smallest kitchen with something to watch: a fridge, a pot and one Modbus TCP device."""
    return f"""\
site: {{name: Harbour Lane Kitchen, time_zone: Europe/London}}
{PEOPLE}
buses:
  - {{id: rack, driver: modbus-tcp, host: 127.0.0.1, port: {port}, timeout: 500 ms, longest_delay: 100 ms}}
probes:
  - {{id: walk-in-air, name: Walk-in air, kind: air, bus: rack, unit: 1, function: 4, register: 0, type: int16,
     scale: 0.1 °C, plausible: [-40 °C, 60 °C], every: {every}}}
  - {{id: pot-core, name: Pot core, kind: food, bus: rack, unit: 1, function: 4, register: 1, type: int16,
     scale: 0.1 °C, plausible: [-40 °C, 150 °C], every: {every}}}
thermometers:
  - {{id: red-pen, name: Red pen thermometer}}
places:
  - id: walk-in
    name: Walk-in fridge
    probe: walk-in-air
    limit: {{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 1 s, back_for: 1 s}}
  - {{id: stove, name: Stove, limit: {{kind: none}}}}
products:
  - id: soup
    name: Leek soup
    steps:
      - id: cook
        name: Cooking
        place: stove
        limit: {{kind: cook, applies_to: food, at_least: 70 °C, for: 1 s}}
      - id: cool
        name: Cooling
        limit:
          kind: cool
          applies_to: food
          from: 57 °C
          stages: [{{to: 21 °C, within: 2 h}}, {{to: 5 °C, within: 6 h}}]
      - {{id: rest, name: Resting, limit: {{kind: none}}}}
tolerances: {{largest_spacing: 3, silent_for: 30 s, food_rate: 200 °C/min, food_jump: 50 °C, settle_for: 1 s}}
{alarm}
web: {web}
records: {{directory: records, commit_within: 50 ms, seal_every: 1 s{socket}}}
"""


def in_words(page):
    """A page without what keeps a date or a number and its unit on one line."""
    return re.sub(r'<span class="whole">([^<]*)</span>', r"\1", page).replace("&nbsp;", " ")


def utc_ms(text):
    """Milliseconds since 1970 of an exported time."""
    import datetime
    match = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)\.(\d{3})Z", text)
    if not match:
        raise AssertionError(f"not a time of an export: {text!r}")
    year, month, day, hour, minute, second, milli = map(int, match.groups())
    moment = datetime.datetime(year, month, day, hour, minute, second, tzinfo=datetime.timezone.utc)
    return int(moment.timestamp()) * 1000 + milli
