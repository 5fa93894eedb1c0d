"""Steps that begin by themselves over a living daemon: on record as nobody's, shown, kept over a kill, replayed alike."""
import signal
import unittest
import urllib.request

import rig
from rig import await_that

COOL = "      - id: cool\n        name: Cooling\n"
BY_ITSELF = COOL + "        begins: by_itself\n        begins_on: [pot-core]\n"


class HandsFree(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200)  # 3.0 °C in the fridge, 20.0 °C in the pot
        text = rig.small_plan(self.port, web="{port: 0}")
        assert COOL in text
        self.text = text.replace(COOL, BY_ITSELF)

    def begin_watching(self, text=None):
        self.kitchen.write_plan(text or self.text)
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def cook(self):
        answer = self.kitchen.trivet("begin", "soup", "--probes", "pot-core", "--who", "AB")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.peer.set(1, 1, 600)
        self.peer.set(1, 1, 750)
        self.kitchen.await_decision(decision="limit-met")

    def await_waiting(self, count):
        """An answer comes with the commit, the snapshot right after it."""
        await_that(lambda: len(self.kitchen.trivet("now", "--json").json["undecided"]) == count, f"{count} to wait for a person")
        return self.kitchen.trivet("now", "--json").json

    def replays_alike(self):
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def test_batch_goes_on_to_its_cooling_by_itself(self):
        self.begin_watching()
        self.cook()
        self.peer.set(1, 1, 560)
        begun = self.kitchen.await_decision(decision="step-begun", reason="by-itself")
        self.assertEqual((begun["batch"], begun["step"]), (1, "cool"))
        clock = self.kitchen.await_decision(decision="clock-started")
        move = self.kitchen.records("move")[-1]["data"]
        self.assertEqual(move, {"batch": 1, "probe": "pot-core", "step": "cool"})
        # From the last reading above 57 °C on, which was before the record.
        above = self.kitchen.query("SELECT max(at_ms) FROM reading WHERE temp_mC > 57000")[0][0]
        self.assertEqual(clock["since_ms"], above)
        self.assertLess(above, begun["at_ms"])
        self.kitchen.stop(signal.SIGKILL)
        self.kitchen.start()
        batch = await_that(lambda: self.kitchen.trivet("now", "--json").json["batches"], "the batch after the kill")[0]
        self.assertEqual(batch["step"], "cool")
        why = self.kitchen.trivet("why", str(self.kitchen.records("move")[-1]["seq"]), "--json").json[0]
        self.assertEqual(why["by_probe"], "pot-core")
        page = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(page + "batch/1", timeout=rig.PATIENCE_S) as shown:
            self.assertIn("By itself (not a person), probe pot-core", shown.read().decode())
        self.assertEqual(len(self.kitchen.decisions(decision="step-begun", reason="by-itself")), 1)
        self.replays_alike()

    def test_hot_food_on_a_free_probe_begins_its_batch(self):
        self.begin_watching()
        self.peer.set(1, 1, 800)
        begun = self.kitchen.await_decision(decision="step-begun", reason="by-itself")
        self.assertEqual(begun["step"], "cool")
        rows = self.kitchen.trivet("export", "batches").rows
        self.assertEqual([(row["product"], row["begun_by"], row["probes"]) for row in rows],
                         [("soup", "by itself: pot-core", "pot-core")])
        self.replays_alike()

    def test_two_probes_of_one_pan_are_one_batch_in_one_record(self):
        """E236: as the plan says; without that word each begins a batch of its own."""
        pan = self.text.replace("  - {id: pot-core,", """\
  - {id: pot-edge, name: Pot edge, kind: food, bus: rack, unit: 1, function: 4, register: 2, type: int16, scale: 0.1 °C,
     plausible: [-40 °C, 150 °C], every: 100 ms}
  - {id: pot-core,""").replace("begins_on: [pot-core]\n", "begins_on: [pot-core, pot-edge]\n        begins_together: yes\n")
        self.assertEqual(pan.count("pot-edge"), 2)
        self.peer.set(1, 0, 30, 200, 200)
        self.begin_watching(pan)
        self.peer.set(1, 1, 800, 800)
        self.kitchen.await_decision(decision="step-begun", reason="by-itself")
        data = self.kitchen.records("begin")[0]["data"]
        self.assertEqual((sorted(data["probes"]), data["step"]), (["pot-core", "pot-edge"], "cool"))
        self.assertIn(data["probe"], data["probes"])
        count = self.kitchen.query("SELECT count(*) FROM reading")[0][0]
        self.kitchen.await_readings(count + 20)
        batches = self.kitchen.trivet("now", "--json").json["batches"]
        self.assertEqual([sorted(batch["probes"]) for batch in batches], [["pot-core", "pot-edge"]])
        self.replays_alike()

    def test_hot_food_in_the_chiller_moves_its_batch_there(self):
        """A probe hangs in the chiller; a cooling whose clock starts there begins as the food comes, and not later."""
        text = self.text.replace("places:\n", """places:
  - {id: chiller, name: Chiller, probe: chiller-core, limit: {kind: none}}
""").replace("thermometers:\n", """  - {id: chiller-core, name: Chiller core, kind: food, bus: rack, unit: 1, function: 4, register: 2, type: int16,
     scale: 0.1 °C, plausible: [-40 °C, 150 °C], every: 100 ms}
thermometers:
""").replace("begins_on: [pot-core]", "begins_on: [chiller-core]").replace(
    "          from: 57 °C\n", "          from: 57 °C\n          clock: step\n").replace("at_least: 70 °C, for: 1 s", "at_least: 70 °C")
        self.peer.set(1, 2, 20)
        self.begin_watching(text)
        self.assertEqual(self.kitchen.trivet("begin", "soup", "--who", "AB").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("take", "75", "-b", "1", "-t", "red-pen", "-w", "AB").code, rig.DONE)
        self.kitchen.await_decision(decision="limit-met")
        self.peer.set(1, 2, 700)
        clock = self.kitchen.await_decision(decision="clock-started")
        self.assertEqual((clock["batch"], clock["reason"]), (1, "by-itself"))
        self.assertEqual(self.kitchen.records("move")[-1]["data"], {"batch": 1, "place": "chiller", "probe": "chiller-core",
                                                                    "probes": ["chiller-core"], "step": "cool"})
        self.assertEqual(self.kitchen.records("begin")[1:], [])
        number = self.kitchen.records("plan")[-1]["data"]["probes"]["chiller-core"]
        cold = self.kitchen.query("SELECT max(at_ms) FROM reading WHERE temp_mC < 3000 AND probe = ?", number)[0][0]
        self.assertEqual(clock["since_ms"], cold)
        await_that(lambda: self.kitchen.trivet("now", "--json").json["batches"][0]["place"], "the batch's place")
        self.assertIn("E242", self.kitchen.trivet("why", clock["seq"]).out)
        # Earlier holds at once; the old record stays.
        door = rig.Socket(self.kitchen.socket)
        self.addCleanup(door.close)
        door.ask(do="correct", who="AB", refers=self.kitchen.records("move")[-1]["seq"], reason="the probe came later",
                 given_ms=cold - 5)
        self.assertEqual(self.kitchen.await_decision(decision="step-corrected")["since_ms"], cold - 5)
        self.kitchen.stop(signal.SIGKILL)
        self.kitchen.start()
        batch = await_that(lambda: self.kitchen.trivet("now", "--json").json["batches"], "the batch after the kill")[0]
        self.assertEqual(batch["step"], "cool")
        self.replays_alike()

    def test_two_products_on_one_probe_are_a_question(self):
        second = self.text[self.text.index("  - id: soup\n"):self.text.index("tolerances:")]
        second = second.replace("id: soup", "id: stock").replace("Leek soup", "Stock")
        self.begin_watching(self.text.replace("tolerances:", second + "tolerances:"))
        self.peer.set(1, 1, 800)
        self.kitchen.await_decision(decision="asked")
        waiting = self.await_waiting(1)["undecided"]
        self.assertEqual([(one["what"], one["probe"]) for one in waiting], [("asked", "pot-core")])
        shown = " ".join(self.kitchen.trivet("now").out.split())
        self.assertIn("Pot core shows hot food and is in no batch", shown)
        answer = self.kitchen.trivet("decide", "--probe", "pot-core", "--accept", "reject", "--reason", "washing up",
                                     "--who", "AB")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.await_waiting(0)
        self.assertEqual(self.kitchen.records("begin"), [])
        self.replays_alike()

    def test_correction_in_the_foods_favour_takes_two_people(self):
        self.begin_watching(self.text.replace("within: 2 h", "within: 3 s"))
        self.cook()
        self.peer.set(1, 1, 560)
        self.kitchen.await_decision(decision="deviation-opened", reason="too-late")
        seq = self.kitchen.records("move")[-1]["seq"]
        await_that(lambda: self.kitchen.trivet("now", "--json").json["batches"][0]["by_itself"] == seq, "its record")

        def correct(*words):
            return self.kitchen.trivet("correct", str(seq), *words, "--reason", "it was still on the stove", "--who", "AB")

        answer = correct("--withdraw")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn("another person has to confirm", " ".join(answer.out.split()))
        self.assertIn(f"correct, record {seq}, withdrawn, reason it was still on the stove, by AB.", " ".join(answer.out.split()))
        waiting = self.await_waiting(1)["undecided"]
        self.assertEqual([(one["what"], one["who"], one["batch"]) for one in waiting], [("correction-waits", "AB", 1)])
        self.assertIn("trivet confirm 1 accept", self.kitchen.trivet("now").out)
        page = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(page, timeout=rig.PATIENCE_S) as shown:
            self.assertIn("another person confirms or declines", shown.read().decode())
        answer = self.kitchen.trivet("confirm", "1", "accept", "--who", "AB")
        self.assertEqual(answer.code, rig.REFUSED, answer)
        self.assertIn("another person has to", answer.err)
        self.assertEqual(self.kitchen.decisions(decision="deviation-withdrawn"), [])
        self.kitchen.stop(signal.SIGKILL)
        self.kitchen.start()
        self.await_waiting(1)
        answer = self.kitchen.trivet("confirm", "1", "accept", "--who", "JO")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn("Deviation 1 is withdrawn", " ".join(answer.out.split()))
        now = self.await_waiting(0)
        self.assertEqual((now["undecided"], now["deviations"], now["batches"][0]["step"]), ([], [], "cook"))
        rows = self.kitchen.trivet("export", "deviations").rows
        self.assertEqual([(row["deviation"], row["status"]) for row in rows], [("1", "withdrawn")])
        rows = self.kitchen.trivet("export", "entries").rows
        self.assertEqual([(row["by"], row["outcome"], row["corrects"]) for row in rows if row["kind"] in ("correct", "confirm")],
                         [("AB", "withdrawn", str(seq)), ("JO", "confirmed", "")])
        self.assertEqual(len(self.kitchen.records("move")), 1)  # the old one stays
        self.replays_alike()

    def test_second_person_gives_a_pin_where_the_plan_asks(self):
        self.begin_watching(self.text + "duties: {pins: [supervisor]}\n")
        self.cook()
        self.peer.set(1, 1, 560)
        self.kitchen.await_decision(decision="clock-started")
        seq = self.kitchen.records("move")[-1]["seq"]
        door = rig.Socket(self.kitchen.socket)
        self.addCleanup(door.close)
        door.ask(do="correct", who="AB", refers=seq, reason="it was still on the stove", withdraw=True)
        with self.assertRaisesRegex(rig.Refused, "PIN"):
            door.ask(do="confirm", who="JO", batch=1, accept=True)
        self.assertEqual(self.kitchen.decisions(decision="step-withdrawn"), [])

    def test_earlier_time_holds_at_once(self):
        self.begin_watching()
        self.cook()
        self.peer.set(1, 1, 560)
        clock = self.kitchen.await_decision(decision="clock-started")
        seq = self.kitchen.records("move")[-1]["seq"]
        door = rig.Socket(self.kitchen.socket)
        self.addCleanup(door.close)
        door.ask(do="correct", who="AB", refers=seq, reason="taken off earlier", given_ms=clock["since_ms"] - 500)
        corrected = self.kitchen.await_decision(decision="step-corrected")
        self.assertEqual((corrected["reason"], corrected["since_ms"]), ("entered", clock["since_ms"] - 500))
        self.assertEqual(self.kitchen.trivet("now", "--json").json["undecided"], [])
        self.replays_alike()

    def test_person_cannot_begin_in_the_name_of_a_probe(self):
        self.begin_watching()
        door = rig.Socket(self.kitchen.socket)
        self.addCleanup(door.close)
        for extra, told in (({}, "nobody is named"), ({"who": "AB", "probe": "pot-core"}, "begin by themselves")):
            with self.assertRaisesRegex(rig.Refused, told):
                door.ask(do="begin", product="soup", **extra)


TRACED = """\
site: {{name: Harbour Lane Kitchen, time_zone: Europe/London, demo: yes}}
{people}
buses:
  - {{id: lesson, driver: trace, file: trace.csv, speed: 60}}
probes:
  - {{id: pot-core, name: Pot core, kind: food, bus: lesson, column: core, plausible: [-40 °C, 150 °C], every: 100 ms}}
  - {{id: larder-air, name: Larder air, kind: air, bus: lesson, column: air, plausible: [-40 °C, 60 °C], every: 100 ms}}
places:
  - {{id: larder, name: Larder, probe: larder-air, limit: {{kind: none}}}}
products:
  - id: soup
    name: Leek soup
    steps:
      - id: cool
        name: Cooling
        place: larder
        begins: by_itself
        begins_on: [pot-core]
        limit: {{kind: cool, applies_to: food, from: 57 °C, stages: [{{to: 21 °C, within: 2 h}}]}}
tolerances: {{largest_spacing: 5, silent_for: 30 s, food_rate: 200 °C/min, food_jump: 20 °C, settle_for: 1 s,
  pulled_within: 2 s}}
web: {{enabled: no}}
records: {{directory: records, commit_within: 50 ms, seal_every: 1 s}}
"""


class Traced(unittest.TestCase):
    """A recording played by the bus `trace`: nobody presses anything."""

    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)

    def core(self, s):
        """A minute of it in a second of ours. The food falls from 66 °C by 3 °C a minute; the larder has 15 °C."""
        food = min(66.0, 66.0 - (s - 420) / 20)
        if s < 180:
            return 20.0  # the probe lies in its drawer
        if 780 <= s < 870:
            return 15.0 + (food - 15.0) * 0.5 ** ((s - 780) / 12)  # pulled out for a minute and a half
        return food

    def test_from_hot_food_to_a_probe_pulled_and_put_back(self):
        rows = "".join(f"{s},{self.core(s):.2f},15.0,\n" for s in range(0, 2400, 3))
        (self.kitchen.directory / "trace.csv").write_text("time_s,core_degC,air_degC,event\n" + rows)
        self.kitchen.write_plan(TRACED.format(people=rig.PEOPLE))
        self.kitchen.start()
        begun = self.kitchen.await_decision(decision="step-begun", reason="by-itself")
        self.assertEqual(self.kitchen.records("begin")[0]["data"],
                         {"batch": 1, "probe": "pot-core", "probes": ["pot-core"], "product": "soup", "step": "cool"})
        clock = self.kitchen.await_decision(decision="clock-started")
        self.assertLess(begun["at_ms"], clock["at_ms"])
        above = self.kitchen.query("SELECT max(at_ms) FROM reading WHERE temp_mC > 57000 AND at_ms <= ?", clock["at_ms"])
        self.assertEqual(clock["since_ms"], above[0][0])
        self.kitchen.await_decision(decision="suspect-begun", patience_s=30)
        ended = self.kitchen.await_decision(decision="suspect-ended", patience_s=30)
        out = self.kitchen.query("SELECT max(temp_mC), count(*) FROM reading WHERE quality = 104")[0]
        self.assertLess(out[0], 26000)  # in the air, and marked so
        self.assertGreater(out[1], 3)
        self.assertGreater(ended["temp_mC"], 30000)
        self.assertEqual(self.kitchen.decisions(decision="limit-met"), [])  # the air of 15 °C is not the food's 21 °C
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)


if __name__ == "__main__":
    unittest.main(verbosity=1)
