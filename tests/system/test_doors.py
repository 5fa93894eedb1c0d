"""What comes in by the doors of a living daemon harms nothing: crowds at the page, crowds and nonsense at the control
socket, two people at once, names that are scripts, formulas or worse.

Meanwhile readings keep to their schedule: none is later than a tenth of a second, beyond what the machine at that moment
did to a witness as well, which asks the same device by the clock and has nothing to do with the daemon.
"""
import contextlib
import csv
import json
import pathlib
import re
import resource
import select
import socket
import subprocess
import threading
import time
import unittest
import urllib.request

import rig

EVERY_MS = 100
LATE_MS = 100           # the latest that any reading may be
MEMORY_KB = 32 * 1024   # the most that a crowd may add; 256 connections of 6 to 12 KB and 160 streams' share
IDLE, SLOW = 500, 50

SCRIPT = "<script>alert(1)</script>\"'&"
FORMULA = "=HYPERLINK(\"http://127.0.0.1/\")"
EMOJI = "Rôti 🥘 𝔘 日本"      # two, four, four and three bytes a character
LONGEST_NAME = "ü" * 60   # 120 bytes
TURNED = "abc\u202ecba"    # right-to-left override


def plan(device_port, web_port, dish=SCRIPT, site=EMOJI, place=LONGEST_NAME):
    text = rig.small_plan(device_port, every=f"{EVERY_MS} ms", web=f"{{port: {web_port}}}")
    for name, ours in (("Harbour Lane Kitchen", site), ("Leek soup", dish), ("Walk-in fridge", place)):
        text = text.replace(f"name: {name}", f"name: {json.dumps(ours, ensure_ascii=False)}")
    return text


def lateness(instants_ms):
    """(due_ms, late_ms) of each reading but the first, given when they were taken, in order.

    Readings fall due at EVERY_MS from an instant that nobody tells: the one by which they are never early. On the circle
    of one period they lie close behind it, so it is the first after the widest gap. A reading serves what fell due first
    after the reading before it; what falls due meanwhile is passed over.
    """
    circle = sorted(at_ms % EVERY_MS for at_ms in instants_ms)
    gaps = [(after - before, after) for before, after in zip(circle, circle[1:])]
    phase_ms = max(gaps + [(circle[0] + EVERY_MS - circle[-1], circle[0])])[1]
    late = []
    for before_ms, at_ms in zip(instants_ms, instants_ms[1:]):
        due_ms = before_ms - (before_ms - phase_ms) % EVERY_MS + EVERY_MS
        late.append((due_ms, at_ms - due_ms))
    return late


class Living(unittest.TestCase):
    """A kitchen whose devices answer at once, and what is measured of its daemon."""

    probe = "walk-in-air"

    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.device_port = self.kitchen.simulated()
        self.web_port = rig.free_port()
        self.prepare()
        self.kitchen.start()
        number = self.kitchen.records("plan")[-1]["data"]["probes"][self.probe]
        self.readings = f"SELECT {{}} FROM reading WHERE probe = {number}"
        began_ms = self.newest_ms() or 0
        rig.await_that(lambda: (self.newest_ms() or 0) > began_ms, "readings")

    def prepare(self):
        self.kitchen.write_plan(plan(self.device_port, self.web_port))

    # ---- what is measured ----

    def memory_kb(self):
        status = pathlib.Path(f"/proc/{self.kitchen.daemon.pid}/status").read_text(encoding="ascii")
        return int(re.search(r"^VmRSS:\s+(\d+) kB", status, re.M)[1])

    def newest_ms(self):
        return self.kitchen.query(self.readings.format("max(at_ms)"))[0][0]

    def instants(self, from_ms):
        """When the one probe was read, from an instant on; all of them good."""
        rows = self.kitchen.query(self.readings.format("at_ms, quality") + " AND at_ms >= ? ORDER BY at_ms", from_ms)
        self.assertEqual([row for row in rows if row[1] >= 200], [], "bad readings")
        return [at_ms for at_ms, _ in rows]

    @contextlib.contextmanager
    def readings_in_time(self, least=15):
        """No reading is LATE_MS late while something is done inside."""
        with contextlib.closing(rig.Witness(self.device_port)) as witness:
            began_ms = self.newest_ms()
            rig.await_that(lambda: self.newest_ms() > began_ms + 1000, "a second without a crowd")
            crowd_ms = self.newest_ms()
            yield
            rig.await_that(lambda: self.newest_ms() > crowd_ms + least * EVERY_MS, "readings in a crowd")
        late = lateness(self.instants(began_ms))
        for due_ms, late_ms in late:
            allowed_ms = witness.most_ms(due_ms, due_ms + late_ms)
            self.assertLessEqual(late_ms, LATE_MS + allowed_ms, f"the witness: {allowed_ms} ms; all: {late}")

    def page(self, path=""):
        with urllib.request.urlopen(f"http://127.0.0.1:{self.web_port}/{path}", timeout=rig.PATIENCE_S) as answer:
            return answer.read().decode()

    def sound(self):
        """Everything still works and nothing was written that should not be."""
        socket = rig.Socket(self.kitchen.socket)
        self.addCleanup(socket.close)
        socket.ask(do="note", who="AB", text="still here")
        self.assertEqual(self.kitchen.stop(), 0)
        self.assertEqual(self.kitchen.trivet("chain").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)


class Measure(unittest.TestCase):
    def test_lateness_is_counted_from_what_fell_due(self):
        # Due at 7, 107, 207, ...: 3 ms late, 0, 2, then 141, so that 1407 is passed over, then 1.
        self.assertEqual(lateness([1010, 1107, 1209, 1448, 1508]),
                         [(1107, 0), (1207, 2), (1307, 141), (1507, 1)])
        self.assertEqual(lateness([1998, 2098, 2201]), [(2098, 0), (2198, 3)], "a gap across the end of the circle")


class Doors(Living):
    # ---- the page ----

    def clients(self, count, first, request):
        """So many clients, at an address of its own for every 40: one address may not take every place. Those that find
        all places taken wait in the system's queue or are turned away."""
        crowd = []
        for number in range(first, first + count):
            ours = socket.socket()
            self.crowd.append(ours)
            ours.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            ours.bind((f"127.0.1.{1 + number // 40}", 0))
            ours.setblocking(False)
            with contextlib.suppress(BlockingIOError):
                ours.connect(("127.0.0.1", self.web_port))
            crowd.append(ours)
        for ours in crowd:
            if select.select([], [ours], [], 0.01)[1]:
                with contextlib.suppress(OSError):
                    ours.sendall(request)
        return crowd

    def hear_idle(self, clients, for_s):
        """Reads what the idle ones are sent, as a browser does that only listens; how many heard a snapshot."""
        heard, until_s = set(), time.monotonic() + for_s
        while time.monotonic() < until_s and clients:
            for ours in select.select(clients, [], [], 0.1)[0]:
                try:
                    got = ours.recv(65536)
                except OSError:
                    got = b""  # turned away
                if b"event: now" in got:
                    heard.add(ours)
                if not got:
                    clients.remove(ours)
        return len(heard)

    def test_500_idle_and_50_slow_streams_delay_no_reading_and_take_bounded_memory(self):
        most = resource.getrlimit(resource.RLIMIT_NOFILE)
        resource.setrlimit(resource.RLIMIT_NOFILE, (min(4096, most[1]), most[1]))
        self.crowd = []
        self.addCleanup(lambda: [ours.close() for ours in self.crowd])
        before_kb = self.memory_kb()
        stream = b"GET /events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
        with self.readings_in_time():
            self.clients(SLOW, 0, stream)
            heard = self.hear_idle(self.clients(IDLE, SLOW, stream), 3.0)
            during_kb = self.memory_kb()
        self.assertEqual(len(self.crowd), SLOW + IDLE)
        self.assertGreaterEqual(heard, 50, "so many screens at least are served at once")
        self.assertLess(during_kb - before_kb, MEMORY_KB, f"{before_kb} kB before")
        for ours in self.crowd:
            ours.close()
        rig.await_that(self.page_lives, "the page, when the crowd has gone", 30)
        self.sound()

    def page_lives(self):
        try:
            return bool(self.page())
        except OSError:
            return False

    # ---- the control socket ----

    def knock(self, said):
        with socket.socket(socket.AF_UNIX) as ours:  # blocking: a full backlog is waited for
            ours.connect(str(self.kitchen.socket))
            with contextlib.suppress(BrokenPipeError, ConnectionResetError):
                ours.sendall(said)

    def test_ten_thousand_connections_delay_no_reading(self):
        before_kb = self.memory_kb()
        with self.readings_in_time():
            for number in range(10000):
                self.knock((b"", b"{\"do\"", b"{\"do\":\"now\"}\n", b"\xff\x00\n")[number % 4])
            during_kb = self.memory_kb()
        self.assertLess(during_kb - before_kb, MEMORY_KB)
        rig.await_that(self.kitchen.up, "the control socket")
        self.sound()

    def test_lines_of_a_mebibyte_are_refused_in_words_and_delay_no_reading(self):
        before_kb = self.memory_kb()
        line = json.dumps({"do": "note", "who": "AB", "text": "x" * (1 << 20)}).encode() + b"\n"
        with self.readings_in_time():
            for _ in range(20):
                with socket.socket(socket.AF_UNIX) as ours:
                    ours.settimeout(rig.PATIENCE_S)
                    ours.connect(str(self.kitchen.socket))
                    lines = ours.makefile("rb")
                    self.assertIn(b"Trivet", lines.readline())
                    with contextlib.suppress(BrokenPipeError, ConnectionResetError):
                        ours.sendall(line)
                    answer = json.loads(lines.readline())
                    self.assertEqual(answer["code"], 413)
                    self.assertIn("65536 bytes", answer["say"])
                    lines.close()
        self.assertLess(self.memory_kb() - before_kb, MEMORY_KB)
        self.assertEqual(self.kitchen.records("note"), [])
        self.sound()

    def at_once(self, *requests):
        """Each request on a connection of its own, all sent at one moment; the answers."""
        start, answers = threading.Barrier(len(requests)), [None] * len(requests)

        def person(number):
            ours = rig.Socket(self.kitchen.socket)
            try:
                start.wait(rig.PATIENCE_S)
                answers[number] = ours.ask(**requests[number])
            except rig.Refused as refused:
                answers[number] = refused.answer
            finally:
                ours.close()

        people = [threading.Thread(target=person, args=(number,)) for number in range(len(requests))]
        for one in people:
            one.start()
        for one in people:
            one.join()
        return answers

    def test_two_people_at_once_are_both_answered_in_the_order_on_record(self):
        ours = rig.Socket(self.kitchen.socket)
        self.addCleanup(ours.close)
        for number in range(10):
            who = ("AB", "LM")
            answers = self.at_once(*({"do": "note", "who": one, "text": f"{number} {one}"} for one in who))
            self.assertEqual([answer["code"] for answer in answers], [200, 200])
            for answer, one in zip(answers, who):
                record = self.kitchen.records("note", after=answer["seq"] - 1)[0]
                self.assertEqual((record["seq"], record["data"]["text"]), (answer["seq"], f"{number} {one}"))
        # Both end the same batch: the first has done it, the second is told.
        batch = ours.ask(do="begin", who="AB", product="soup", probes=["pot-core"])["batch"]
        answers = self.at_once({"do": "end", "who": "AB", "batch": batch, "outcome": "served"},
                               {"do": "end", "who": "LM", "batch": batch, "outcome": "discarded"})
        self.assertEqual(sorted(answer["code"] for answer in answers), [200, 409])
        won, lost = sorted(answers, key=lambda answer: answer["code"])
        self.assertIn(f"batch {batch} is not open", lost["say"])
        ends = self.kitchen.records("end")
        self.assertEqual([(body["seq"], body["data"]["batch"]) for body in ends], [(won["seq"], batch)])
        self.sound()

    def test_entries_for_a_finished_batch_are_refused_and_a_note_is_taken(self):
        ours = rig.Socket(self.kitchen.socket)
        self.addCleanup(ours.close)
        batch = ours.ask(do="begin", who="AB", product="soup", probes=["pot-core"])["batch"]
        ours.ask(do="end", who="AB", batch=batch, outcome="served")
        before = self.kitchen.records()[-1]["seq"]
        for request in ({"do": "move"}, {"do": "end", "outcome": "stored"}, {"do": "cooked", "given_ms": 1},
                        {"do": "hand", "thermometer": "red-pen", "temp_mC": 63000},
                        {"do": "decide", "accept": True, "reason": "seen"}):
            with self.assertRaises(rig.Refused) as refused:
                ours.ask(who="AB", batch=batch, **request)
            self.assertEqual(refused.exception.code, 409, request)
            self.assertIn(str(batch), str(refused.exception))
        self.assertEqual([body for body in self.kitchen.records(after=before) if body["kind"] not in ("seal", "decision")], [])
        ours.ask(do="note", who="AB", batch=batch, text="the plates came back empty")
        self.sound()

    # ---- names ----

    def test_names_are_shown_and_stored_as_text_and_nothing_else(self):
        ours = rig.Socket(self.kitchen.socket)
        self.addCleanup(ours.close)
        batch = ours.ask(do="begin", who="AB", product="soup", probes=["pot-core"])["batch"]
        longest = "é" * 500  # 1000 bytes
        for text in (SCRIPT, FORMULA, EMOJI, longest, "+1", "@x", "-2"):
            ours.ask(do="note", who="AB", batch=batch, text=text)
        ours.ask(do="end", who="AB", batch=batch, outcome="stored", text=FORMULA)
        pages = [self.page(path) for path in ("", "deviations", "place/walk-in", f"batch/{batch}", "now.json")]
        for page in pages[:4]:
            self.assertNotIn("<script>alert", page)
            self.assertIn(EMOJI, page)
        self.assertIn("&lt;script&gt;alert(1)&lt;/script&gt;&quot;&#39;&amp;", pages[3])
        self.assertIn(LONGEST_NAME, pages[2])
        self.assertIn(longest, pages[3])
        self.assertEqual(json.loads(pages[4])["site"], EMOJI)
        texts = [body["data"]["text"] for body in self.kitchen.records("note")]
        self.assertEqual(texts[:4], [SCRIPT, FORMULA, EMOJI, longest], "on record as they were written")
        for what in ("batches", "records", "actions", "deviations"):
            for row in csv.reader(self.kitchen.trivet("export", what).out.splitlines()):
                for cell in row:
                    self.assertNotRegex(cell, r"^[=+@\t\r]|^-(?![0-9.]+$)", what)
        rows = self.kitchen.trivet("export", "batches").rows
        self.assertEqual(rows[0]["end_note"], "'" + FORMULA)
        self.assertIn(EMOJI, self.kitchen.log_text())
        self.sound()

    def test_what_turns_the_reading_direction_or_is_too_long_is_refused(self):
        ours = rig.Socket(self.kitchen.socket)
        self.addCleanup(ours.close)
        turns = [TURNED, "a\u2066b\u2069", "a\u200fb", "a\u061cb", "a\u2028b"]
        for text in turns + ["a\u0000b", "a\u0007b", "\ufeffa", "x" * 1001, "é" * 501, ""]:
            with self.assertRaises(rig.Refused, msg=ascii(text)) as refused:
                ours.ask(do="note", who="AB", text=text)
            self.assertIn(refused.exception.code, (400, 409), ascii(text))
            self.assertNotIn("\u202e", str(refused.exception))
        self.assertEqual(self.kitchen.records("note"), [])
        for name in turns + ["ü" * 61]:
            self.kitchen.write_plan(plan(self.device_port, self.web_port, dish=name))
            checked = subprocess.run([rig.TRIVETD, "--check", str(self.kitchen.plan)], stdin=subprocess.DEVNULL,
                                     stdout=subprocess.PIPE, stderr=subprocess.PIPE, timeout=30)
            said = checked.stderr.decode()
            self.assertEqual(checked.returncode, 1, ascii(name))
            self.assertRegex(said, r"plan\.yaml:\d+:\d+: ")
            self.assertNotIn("\u202e", said)
        self.sound()


class Exports(Living):
    """The same with a million readings on record."""

    def prepare(self):
        text = (rig.ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8")
        text = text.replace("port: 8470", f"port: {self.web_port}").replace("port: 15020", f"port: {self.device_port}")
        text = text.replace("/run/trivet-demo/oven-line", str(self.kitchen.directory / "no-line"))
        self.kitchen.write_plan(text)
        subprocess.run([rig.PAST, "--hours", "280", str(self.kitchen.plan)], check=True, timeout=120,
                       stdout=subprocess.DEVNULL)
        text = text.replace("longest_delay: 500 ms", f"longest_delay: {EVERY_MS // 2} ms")
        self.kitchen.write_plan(text.replace("every: 10 s", f"every: {EVERY_MS} ms"))

    def test_exports_of_a_million_readings_delay_no_reading_and_pin_no_log(self):
        wal, most = self.kitchen.store / "trivet.db-wal", []
        days = [time.strftime("%Y-%m-%d", time.gmtime(time.time() - days * 86400)) for days in (15, 0)]
        exports = []

        def fetch():
            path = "export/readings.csv?from={}&to={}".format(*days)
            with urllib.request.urlopen(f"http://127.0.0.1:{self.web_port}/{path}", timeout=60) as answer:
                exports.append(sum(part.count(b"\n") for part in iter(lambda: answer.read(1 << 20), b"")))

        before_kb = self.memory_kb()
        with self.readings_in_time():
            readers = [threading.Thread(target=fetch) for _ in range(3)]
            for reader in readers:
                reader.start()
            while any(reader.is_alive() for reader in readers):
                most.append((wal.stat().st_size, self.memory_kb()))
                readers[0].join(0.05)
        self.assertEqual(len(exports), 3)
        self.assertGreater(min(exports), 1_000_000)
        self.assertLess(max(size for size, _ in most), 16 << 20, "the write-ahead log")
        self.assertLess(max(kb for _, kb in most) - before_kb, MEMORY_KB)
        self.sound()


if __name__ == "__main__":
    unittest.main(verbosity=1)
