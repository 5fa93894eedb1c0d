"""A stored day judged anew by four builds, gcc and clang, -O0 and -O2: every decision is the one recorded live.

The day is short and has a bit of everything, a killed daemon in the middle included. That a difference would be seen is
shown on a store whose decision was forged with its hashes made to fit.
"""
import hashlib
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import unittest

import rig

BUILDS = [(compiler, level) for compiler in ("gcc", "clang") for level in ("-O0", "-O2")]

PRODUCTS = """\
products:
  - id: broth
    name: Chicken broth
    steps:
      - {id: reheat, name: Reheating,
         limit: {kind: reheat, applies_to: food, at_least: 165 °F, for: 1 s, within: 1 min}}
      - {id: serve, name: Held hot, limit: {kind: hold_hot, applies_to: food, at_least: 135 °F, tolerance: 1 s, back_for: 1 s}}
      - id: cool
        name: Cooling
        limit:
          kind: cool
          applies_to: food
          from: 135 °F
          stages: [{to: 70 °F, within: 2 h}, {to: 41 °F, within: 6 h}]
"""


def chained(previous, body):
    """docs/storage.md: SHA-256 over the hash of the record before and the body."""
    return hashlib.sha256(previous + body.encode()).digest()


class ReplayMatrix(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.kitchen = rig.Kitchen()
        cls.addClassCleanup(cls.kitchen.close)
        cls.live()

    @classmethod
    def plan(cls, port):
        text = rig.small_plan(port)
        second = text[text.index("  - {id: pot-core"):text.index("thermometers:")]
        second = second.replace("pot-core", "pot-edge").replace("Pot core", "Pot edge").replace("register: 1", "register: 2")
        text = text.replace("thermometers:", second + "thermometers:").replace("products:\n", PRODUCTS)
        return text.replace("food_jump: 50 °C", "food_jump: 12 °C").replace("silent_for: 30 s", "silent_for: 2 s")

    @classmethod
    def live(cls):
        kitchen = cls.kitchen
        port, peer = kitchen.tcp_peer([1])
        kitchen.write_plan(cls.plan(port))
        peer.set(1, 0, 30, 400, 410)
        kitchen.start()
        kitchen.await_readings(6)
        line = rig.Socket(kitchen.socket)
        line.ask(do="begin", product="broth", probes=["pot-core", "pot-edge"], who="AB")
        peer.ramp(1, 1, 760, 12.0)
        peer.ramp(1, 2, 752, 12.0)
        peer.set(1, 0, 80)
        opened = kitchen.await_decision(decision="deviation-opened", place="walk-in")
        line.close()
        kitchen.stop(signal.SIGKILL)  # in the middle of it all
        kitchen.start()
        peer.set(1, 0, 30)
        line = rig.Socket(kitchen.socket)
        line.ask(do="action", deviation=opened["deviation"], who="AB", found="door", done="closed", disposition="no-food")
        line.ask(do="verify", deviation=opened["deviation"], who="RS")
        kitchen.await_decision(decision="limit-met", batch=1, step="reheat")
        line.ask(do="move", batch=1, who="AB")
        kitchen.await_readings(kitchen.query("SELECT count(*) FROM reading")[0][0] + 9)  # it has been seen in the food
        peer.set(1, 1, 210)  # pulled out
        kitchen.await_decision(decision="suspect-begun")
        kitchen.await_decision(decision="deviation-opened", batch=1)
        line.ask(do="hand", who="LM", thermometer="red-pen", batch=1, temp_mC=74000)
        peer.set(1, 1, 760)
        kitchen.await_decision(decision="suspect-ended")
        kitchen.await_decision(decision="deviation-ended", batch=1)
        line.ask(do="move", batch=1, who="AB")
        peer.ramp(1, 1, 480, 9.0)
        peer.ramp(1, 2, 500, 9.0)
        kitchen.await_decision(decision="clock-started", batch=1)
        peer.die(1)
        kitchen.await_decision(decision="gap-opened")
        peer.live(1)
        kitchen.await_decision(decision="gap-ended")
        second = line.ask(do="begin", product="soup", step="cool", who="LM")["batch"]
        line.ask(do="end", batch=second, outcome="discarded", who="LM")
        line.ask(do="end", batch=1, outcome="stored", place="walk-in", who="AB")
        line.close()
        assert kitchen.stop() == 0, kitchen.log_text()

    @classmethod
    def build(cls, compiler, level):
        """Only the command; through the project's own Makefile, in a tree of its own."""
        tree = f"build/matrix/{compiler}{level}"
        env = {key: value for key, value in os.environ.items() if key not in ("MAKEFLAGS", "MFLAGS", "MAKELEVEL")}
        made = subprocess.run(["nice", "make", "--silent", "-j2", f"BUILD={tree}", "VARIANT=matrix", f"CC={compiler}",
                               f"CFLAGS={level}", f"{tree}/trivet"], cwd=rig.ROOT, env=env, text=True,
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        if made.returncode != 0:
            raise AssertionError(f"{tree} cannot be built:\n{made.stdout}")
        return str(rig.ROOT / tree / "trivet")

    def test_day_has_a_bit_of_everything(self):
        kinds = {data["decision"] for data in self.kitchen.decisions()}
        self.assertEqual(kinds, {"step-begun", "clock-started", "limit-met", "deviation-opened", "deviation-ended",
                                 "gap-opened", "gap-ended", "suspect-begun", "suspect-ended", "batch-ended"})
        self.assertEqual(len(self.kitchen.records("start")), 2)
        self.assertIn("F", {data.get("required_unit") for data in self.kitchen.decisions()})

    def test_four_builds_judge_the_same(self):
        live = self.kitchen.trivet("--json", "replay").json
        for compiler, level in BUILDS:
            with self.subTest(compiler=compiler, level=level):
                replayed = self.kitchen.trivet("--json", "replay", program=self.build(compiler, level))
                self.assertEqual((replayed.code, replayed.json["same"]), (rig.DONE, True), replayed)
                self.assertEqual(replayed.json["decisions"], len(self.kitchen.decisions()))
                self.assertEqual(replayed.json["inputs"], live["inputs"])
                self.assertEqual(replayed.json["this_engine"], live["recorded_engine"])

    # ---- a difference would be seen ----

    def forged(self, change):
        """A copy of the store with records changed and chained anew; what verification and replay make of it."""
        copy = self.kitchen.directory / "forged"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(self.kitchen.store, copy)
        store = sqlite3.connect(copy / "trivet.db")
        previous = bytes(32)
        for seq, at_ms, body in store.execute("SELECT seq, at_ms, body FROM record ORDER BY seq").fetchall():
            record = json.loads(body)
            change(record)
            body = json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
            previous = chained(previous, body)
            store.execute("UPDATE record SET body = ?, hash = ? WHERE seq = ?", (body, previous, seq))
        store.commit()
        store.close()
        return [self.kitchen.trivet("--store", copy, "--json", verb) for verb in ("chain", "replay")]

    def test_chain_is_what_its_format_says(self):
        chain, replay = self.forged(lambda record: None)
        self.assertEqual((chain.code, replay.code), (rig.DONE, rig.DONE), (chain, replay))
        self.assertEqual(chain.json["head"], self.kitchen.trivet("--json", "chain").json["head"])

    def test_forged_decision_differs_in_replay(self):
        forged = self.kitchen.decisions(decision="limit-met")[0]

        def change(record):
            if record["seq"] == forged["seq"]:
                record["data"]["temp_mC"] += 100

        chain, replay = self.forged(change)
        self.assertEqual(chain.code, rig.DONE, chain)  # the forger had the whole store
        self.assertEqual((replay.code, replay.json["same"], replay.json["differs_at"]), (rig.NO, False, forged["seq"]), replay)
        self.assertIn(str(forged["temp_mC"]), replay.json["say"])

    def test_forged_entry_changes_what_follows_from_it(self):
        moved = self.kitchen.records("move")[0]

        def change(record):
            if record["seq"] == moved["seq"]:
                record["data"]["step"] = "cool"

        chain, replay = self.forged(change)
        self.assertEqual(chain.code, rig.DONE, chain)
        self.assertEqual((replay.code, replay.json["same"]), (rig.NO, False), replay)
        self.assertGreater(replay.json["differs_at"], moved["seq"])


if __name__ == "__main__":
    unittest.main(verbosity=1)
