"""A door switch and a push button over a living daemon: recorded, shown beside their place, told, exported, replayed, and
never judged by. The device is pymodbus (peer.py)."""
import json
import signal
import unittest
import urllib.request

import rig
from rig import await_that

DOOR, BUTTON = 3, 4  # discrete inputs of unit 1
SWITCHES = """\
switches:
  - {id: walk-in-door, name: Walk-in door, kind: door, place: walk-in, bus: rack, unit: 1, function: 2, address: 3,
     active: 0, every: 100 ms, open_at_most: 5 s}
  - {id: stove-button, name: Stove button, kind: button, place: stove, bus: rack, unit: 1, function: 2, address: 4,
     every: 100 ms}
"""


class Switches(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200)  # 3.0 °C in the fridge, 20.0 °C in the pot
        self.set(DOOR, 1)  # closed: the contact opens with the door
        hook = self.kitchen.directory / "hook.sh"
        hook.write_text('#!/bin/sh\n{ cat; echo; } >> "$1"\n')
        hook.chmod(0o755)
        self.told = self.kitchen.directory / "told"
        alarm = f"alarm: {{command: [{hook}, {self.told}]}}"
        self.kitchen.write_plan(SWITCHES + rig.small_plan(self.port, web="{port: 0}", alarm=alarm))
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def set(self, address, value):
        self.peer.set(1, address, value, table="di")

    def states(self, switch):
        return [body["data"]["state"] for body in self.kitchen.records("switch") if body["data"]["switch"] == switch]

    def await_states(self, switch, *states):
        await_that(lambda: self.states(switch) == list(states), lambda: f"{states}, there are {self.states(switch)}")

    def now(self):
        return self.kitchen.trivet("now", "--json").json

    def replays_alike(self):
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def test_door_is_recorded_shown_told_and_exported(self):
        self.await_states("walk-in-door", "closed")
        self.set(DOOR, 0)
        self.await_states("walk-in-door", "closed", "open")
        opened = self.kitchen.records("switch")[-1]
        self.assertEqual(opened["data"], {"switch": "walk-in-door", "kind": "door", "place": "walk-in", "state": "open"})
        shown = await_that(lambda: [one for one in self.now()["switches"] if one["state"] == "open"], "the open door")[0]
        self.assertEqual((shown["id"], shown["place"], shown["left_open"]), ("walk-in-door", "walk-in", False))
        self.assertIn("Walk-in door: open since", " ".join(self.kitchen.trivet("now").out.split()))
        left = self.kitchen.await_decision(decision="door-left-open")
        self.assertEqual((left["switch"], left["place"], left["since_ms"], left["required_ms"]),
                         ("walk-in-door", "walk-in", opened["at_ms"], 5000))
        self.assertGreater(left["at_ms"], opened["at_ms"] + 5000)
        place = await_that(lambda: [one for one in self.now()["places"] if one["concern"] == "watch"], "a concern")[0]
        self.assertIn("longer than 5 s", place["sentence"])
        page = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(page, timeout=rig.PATIENCE_S) as answer:
            self.assertIn("Walk-in door: open since", answer.read().decode())
        why = self.kitchen.trivet("why", left["seq"])
        self.assertEqual(why.code, rig.DONE, why)
        self.assertIn("E211", why.out)
        self.set(DOOR, 1)
        over = self.kitchen.await_decision(decision="door-over")
        self.assertEqual((over["reason"], over["since_ms"]), ("door-closed", opened["at_ms"]))
        await_that(lambda: self.told.exists() and len(self.told.read_text().splitlines()) == 2, "two notices")
        notices = [json.loads(line) for line in self.told.read_text().splitlines()]
        self.assertEqual([notice["event"] for notice in notices], ["door-open", "door-over"])
        self.assertIn("Walk-in door", notices[0]["words"])
        rows = self.kitchen.trivet("export", "switches").rows
        self.assertEqual([(row["switch"], row["kind"], row["place"], row["state"], row["cause"]) for row in rows
                          if row["switch"] == "walk-in-door"],
                         [("walk-in-door", "door", "walk-in", state, "") for state in ("closed", "open", "closed")])
        self.assertEqual(self.kitchen.decisions(decision="deviation-opened"), [])
        self.assertEqual(self.now()["deviations"], [])
        self.replays_alike()

    def test_why_of_a_deviation_names_the_doors_that_were_open(self):
        self.await_states("walk-in-door", "closed")
        self.peer.set(1, 0, 90)
        number = self.kitchen.await_decision(decision="deviation-opened")["deviation"]
        shut = self.kitchen.trivet("why", f"d{number}")
        # It has been watched for less than the ten minutes before: nobody knows of the time before that.
        self.assertNotIn("door ", shut.out)
        self.peer.set(1, 0, 30)
        self.kitchen.await_decision(decision="deviation-ended")
        self.set(DOOR, 0)
        self.await_states("walk-in-door", "closed", "open")
        opened = self.kitchen.records("switch")[-1]
        self.set(DOOR, 1)
        self.await_states("walk-in-door", "closed", "open", "closed")
        self.set(DOOR, 0)
        self.await_states("walk-in-door", "closed", "open", "closed", "open")
        again = self.kitchen.records("switch")[-1]
        self.peer.set(1, 0, 90)
        await_that(lambda: len(self.kitchen.decisions(decision="deviation-opened")) == 2, "the second deviation")
        second = self.kitchen.decisions(decision="deviation-opened")[-1]
        doors = self.kitchen.trivet("why", second["seq"], "--json").json[0]["doors"]
        self.assertEqual([(door["switch"], door["name"], door["when"], door["record"], "closed_utc" in door) for door in doors],
                         [("walk-in-door", "Walk-in door", "before", opened["seq"], True),
                          ("walk-in-door", "Walk-in door", "while", again["seq"], False)])
        self.assertEqual(rig.utc_ms(doors[0]["time_utc"]), opened["at_ms"])
        told = " ".join(self.kitchen.trivet("why", second["seq"]).out.split())
        self.assertIn("before it began", told)
        self.assertIn("Walk-in door open, while it went on, since", told)
        page = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(page + f"why/{second['seq']}", timeout=rig.PATIENCE_S) as answer:
            self.assertIn("Walk-in door open, while it went on", answer.read().decode())
        self.replays_alike()

    def test_button_marks_the_batch_at_its_place_and_decides_nothing(self):
        self.await_states("stove-button", "released")
        begun = self.kitchen.trivet("begin", "soup", "--probes", "pot-core", "--who", "AB")
        self.assertEqual(begun.code, rig.DONE, begun)
        self.set(BUTTON, 1)
        mark = self.kitchen.await_decision(decision="marked")
        self.assertEqual((mark["switch"], mark["place"], mark["batch"], mark["step"], mark["reason"]),
                         ("stove-button", "stove", 1, "cook", "pressed"))
        self.set(BUTTON, 0)
        self.await_states("stove-button", "released", "pressed", "released")
        self.assertEqual(len(self.kitchen.decisions(decision="marked")), 1)
        self.assertEqual(self.now()["batches"][0]["verdict"], "open")
        page = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(page + "batch/1", timeout=rig.PATIENCE_S) as answer:
            self.assertIn("Marked", answer.read().decode())
        self.replays_alike()

    def test_silent_device_and_a_kill_leave_a_state_that_nobody_knows(self):
        self.await_states("walk-in-door", "closed")
        self.peer.die(1)
        self.await_states("walk-in-door", "closed", "unknown")
        self.assertEqual(self.kitchen.records("switch")[-1]["data"]["cause"], "timeout")
        place = await_that(lambda: [one for one in self.now()["places"] if "has said nothing" in one["sentence"]], "that")[0]
        self.assertEqual(place["concern"], "watch")
        self.peer.live(1)
        self.await_states("walk-in-door", "closed", "unknown", "closed")
        self.kitchen.stop(signal.SIGKILL)
        self.set(DOOR, 0)
        self.kitchen.start()
        self.await_states("walk-in-door", "closed", "unknown", "closed", "open")
        self.kitchen.await_decision(decision="door-left-open")
        self.replays_alike()


if __name__ == "__main__":
    unittest.main(verbosity=1)
