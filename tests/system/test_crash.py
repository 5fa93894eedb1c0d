"""Killed at every stage of the cycle and at any moment, over one growing store: nothing acknowledged is lost.

The daemon reads a device, people make entries and deviations come and go; then it dies by SIGKILL, is started again
over what it left, and so on. TRIVET_ROUNDS says how often (a hundred or so by default), TRIVET_SEED repeats a run.
What a power cut adds to a killed process (writes that never reached the disk) is tests/fault's to show.
"""
import json
import os
import random
import signal
import threading
import time
import unittest

import rig

STAGES = ("before-judge", "inside-transaction", "after-commit", "before-publish", "before-acknowledge",
          "after-acknowledge")
COUNT_MOST = 10  # a stage is survived at most this often before it kills
ROUNDS = int(os.environ.get("TRIVET_ROUNDS", "105"))
SEED = int(os.environ.get("TRIVET_SEED", "0")) or random.SystemRandom().randrange(1, 10**9)
REPLAY_EVERY = 20
ROUNDS_A_STORE = 210  # then a long campaign goes on with a new one: all of the store is looked at after each round
CLOCK_SLACK_MS = 20  # the records' time runs on the monotonic clock, this test's on the wall clock


class Writer(threading.Thread):
    """Makes entries as fast as they are acknowledged, until the daemon dies; keeps what was acknowledged."""

    def __init__(self, socket_path, number):
        super().__init__(daemon=True)
        self.path, self.number = socket_path, number
        self.ended = threading.Event()
        self.acknowledged = []  # (seq, kind, what the entry said)
        self.wrong = None

    def run(self):
        while not self.ended.is_set():
            try:
                line = rig.Socket(self.path)
            except (OSError, ValueError):  # not up yet, or down again
                time.sleep(0.002)
                continue
            try:
                self.work(line)
            except rig.Refused as refused:
                self.wrong = f"refused: {refused.answer}"
                return
            except (OSError, ValueError):
                pass  # it was killed under our hands
            finally:
                line.close()

    def enter(self, line, kind, **fields):
        answer = line.ask(do=kind, **fields)
        self.acknowledged.append((answer["seq"], kind, fields))
        return answer

    def work(self, line):
        lists = line.ask(do="lists")["lists"]
        for deviation in lists["deviations"]:
            if deviation["state"] == "action":
                self.enter(line, "action", deviation=deviation["number"], who="AB", found="the door stood open",
                           done="closed it", disposition="no-food")
            elif deviation["state"] == "verify":
                self.enter(line, "verify", deviation=deviation["number"], who="RS")
        if lists["batches"]:
            self.enter(line, "end", batch=lists["batches"][0]["number"], outcome="discarded", who="LM",
                       text="a test has no guests")
        else:
            self.enter(line, "begin", product="soup", probes=["pot-core"], who="AB")
        for i in range(40):
            if self.ended.is_set():
                return
            self.enter(line, "note", who="AB", text=f"round {self.number}, note {i}")
            self.enter(line, "hand", who="LM", thermometer="red-pen", place="walk-in", temp_mC=3000 + i)


class Crash(unittest.TestCase):
    def new_kitchen(self):
        self.kitchen = rig.Kitchen()
        port, self.peer = self.kitchen.tcp_peer([1])
        self.told = self.kitchen.directory / "told"
        hook = self.kitchen.directory / "hook.sh"
        hook.write_text('#!/bin/sh\n[ ! -e "$1.deaf" ] || exit 1\n{ cat; echo; } >> "$1"\n')
        hook.chmod(0o755)
        self.kitchen.write_plan(rig.small_plan(port, alarm=f"alarm: {{command: [{hook}, {self.told}]}}"))
        self.peer.set(1, 0, 30, 200)
        self.acknowledged = []
        self.readings = []   # of the store, after the last round
        self.left = None     # what the last round left: (last instant stored, when it was killed, last seq)

    # ---- one round ----

    def die_once(self, number):
        kind = (STAGES + ("at random",))[number % (len(STAGES) + 1)]
        writer = Writer(self.kitchen.socket, number)
        if kind == "at random":
            self.kitchen.start(wait=False)
        else:
            self.kitchen.start(wait=False, TRIVET_CRASH_AT=f"{kind}:{self.random.randint(1, COUNT_MOST)}")
        writer.start()
        try:
            self.await_end(kind)
        finally:
            writer.ended.set()
        killed_ms = time.time() * 1000
        writer.join(rig.PATIENCE_S)
        self.assertFalse(writer.is_alive(), "the writer did not end")
        self.assertIsNone(writer.wrong)
        self.acknowledged += writer.acknowledged
        return killed_ms

    def await_end(self, kind):
        daemon = self.kitchen.daemon
        if kind == "at random":
            try:
                daemon.wait(timeout=self.random.uniform(0.0, 0.5))
            except rig.subprocess.TimeoutExpired:
                daemon.send_signal(signal.SIGKILL)
        code = daemon.wait(timeout=rig.PATIENCE_S)
        self.kitchen.daemon = None
        self.assertEqual(code, -signal.SIGKILL, self.kitchen.log_text()[-2000:])

    # ---- what has to be true afterwards ----

    def check_chain(self):
        verified = self.kitchen.trivet("chain")
        self.assertEqual(verified.code, rig.DONE, verified)

    def check_acknowledged(self):
        stored = {seq: (kind, body) for seq, kind, body in self.kitchen.query("SELECT seq, kind, body FROM record")}
        self.assertEqual(sorted(stored), list(range(1, len(stored) + 1)), "a record is missing")
        for seq, kind, fields in self.acknowledged:
            self.assertTrue(seq in stored, f"acknowledged and lost: record {seq}, {kind} {fields}")
            self.assertEqual(stored[seq][0], kind)
            data = json.loads(stored[seq][1])["data"]
            self.assertEqual({key: data.get(key) for key in fields}, fields)

    def check_readings(self):
        now = self.kitchen.query("SELECT at_ms, probe, temp_mC, quality FROM reading ORDER BY at_ms, probe")
        self.assertEqual(now[:len(self.readings)], self.readings, "readings that were stored have changed")
        self.readings = now

    def check_outage(self):
        """The first start after a crash says from when to when nobody watched."""
        if self.left is None:
            return True
        last_ms, killed_ms, last_seq = self.left
        starts = self.kitchen.records("start", after=last_seq)
        if not starts:
            return False  # killed again before it had begun to watch: the next start covers both
        self.assertEqual(starts[0]["data"]["since_ms"], last_ms)
        self.assertLessEqual(last_ms, killed_ms + CLOCK_SLACK_MS)
        self.assertGreaterEqual(starts[0]["at_ms"], killed_ms - CLOCK_SLACK_MS)
        self.assertEqual(self.kitchen.query("SELECT count(*) FROM reading WHERE at_ms > ? AND at_ms < ?", last_ms,
                                            starts[0]["at_ms"])[0][0], 0)
        return True

    def check_replay(self):
        replayed = self.kitchen.trivet("replay")
        self.assertEqual(replayed.code, rig.DONE, replayed)

    def check_all(self, number, killed_ms):
        if not (self.kitchen.store / "trivet.db").exists() or self.kitchen.query("PRAGMA user_version") == [(0,)]:
            self.assertEqual(self.acknowledged, [])
            return
        self.check_chain()
        self.check_acknowledged()
        self.check_readings()
        if self.check_outage() or self.left is None:
            last_ms = self.kitchen.query("SELECT max(at_ms) FROM (SELECT at_ms FROM reading UNION ALL "
                                         "SELECT at_ms FROM record)")[0][0]
            last_seq = self.kitchen.query("SELECT max(seq) FROM record")[0][0]
            self.left = (last_ms, killed_ms, last_seq) if last_ms is not None else None
        if number % REPLAY_EVERY == REPLAY_EVERY - 1:
            self.check_replay()

    def test_killed_at_every_stage_nothing_acknowledged_is_lost(self):
        self.random = random.Random(SEED)
        print(f"seed {SEED}, {ROUNDS} rounds", flush=True)
        for begun in range(0, ROUNDS, ROUNDS_A_STORE):
            self.new_kitchen()
            try:
                self.campaign(min(ROUNDS_A_STORE, ROUNDS - begun))
            finally:
                self.kitchen.close()

    def campaign(self, rounds):
        for number in range(rounds):
            if number % 8 == 0:
                self.peer.set(1, 0, 80 if number % 16 == 0 else 30)  # the door is opened, the door is closed
            try:
                self.check_all(number, self.die_once(number))
            except AssertionError as wrong:
                stage = (STAGES + ("at random",))[number % (len(STAGES) + 1)]
                raise AssertionError(f"seed {SEED}, round {number}, {stage}: {wrong}") from wrong
        self.finish(rounds)

    def finish(self, rounds):
        """A last run that ends well: every deviation has been told, however often it was killed in between."""
        self.peer.set(1, 0, 30)
        self.kitchen.start()
        wanted = {f"{data['deviation']}-{'opened' if data['decision'].endswith('opened') else 'ended'}"
                  for data in self.kitchen.decisions() if data.get("deviation") and not data.get("silent") and
                  data["decision"].endswith(("opened", "ended"))}
        rig.await_that(lambda: wanted <= self.heard(), lambda: f"the hook to hear of {sorted(wanted - self.heard())}")
        self.assertEqual(self.kitchen.stop(), 0)
        self.check_chain()
        self.check_acknowledged()
        self.check_readings()
        self.assertTrue(self.check_outage())
        self.check_replay()
        # Otherwise this has shown nothing.
        self.assertGreater(len(self.acknowledged), rounds)
        self.assertGreater(len(self.readings), rounds)
        if rounds >= 50:
            self.assertTrue(wanted)

    def test_killed_before_anybody_was_told_it_tells_after_the_next_start(self):
        self.new_kitchen()
        try:
            deaf = self.kitchen.directory / "told.deaf"
            deaf.touch()
            self.peer.set(1, 0, 80)
            self.kitchen.start()
            opened = self.kitchen.await_decision(decision="deviation-opened")
            tried = rig.await_that(lambda: self.kitchen.records("told"), "the hook to have failed")
            self.assertEqual(tried[0]["data"], {"done": False, "how": "ended with exit code 1", "refers": opened["seq"]})
            self.assertEqual(self.kitchen.stop(signal.SIGKILL), -signal.SIGKILL)
            self.assertEqual(self.heard(), set())
            deaf.unlink()
            self.kitchen.start()
            rig.await_that(lambda: f"{opened['deviation']}-opened" in self.heard(), "the hook to hear of it")
            rig.await_that(lambda: [body for body in self.kitchen.records("told") if body["data"]["done"] and
                                    body["data"]["refers"] == opened["seq"]], "a record that it was told")
        finally:
            self.kitchen.close()

    def heard(self):
        """Ids of notices the hook got whole; a run that was killed in the middle is told again."""
        ids = set()
        for line in self.told.read_text().splitlines() if self.told.exists() else []:
            try:
                ids.add(json.loads(line)["id"])
            except (ValueError, KeyError):
                continue
        return ids


if __name__ == "__main__":
    unittest.main(verbosity=1)
