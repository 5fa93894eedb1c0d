"""Alarms over a living daemon: told once, heard, shelved, told on to the next; shown, exported, explained and replayed."""
import contextlib
import json
import unittest
import urllib.request

import rig

# A level each for nobody who has heard it, and for nobody who has acted; the second rings a bell of its own.
LEVELS = """\
escalation:
  - {{after: 2 s, without: hearing, tell: supervisor}}
  - {{after: 4 s, tell: RS, command: [{hook}, {bell}]}}
"""


class Heard(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200)  # 3.0 °C in the fridge, 20.0 °C in the pot
        self.told, self.bell = self.kitchen.directory / "told", self.kitchen.directory / "bell"
        self.hook = self.kitchen.directory / "hook.sh"
        self.hook.write_text('#!/bin/sh\n{ cat; echo; } >> "$1"\n')
        self.hook.chmod(0o755)

    def begin(self, more="", silent_for="30 s"):
        text = rig.small_plan(self.port, web="{port: 0}", alarm=f"alarm: {{command: [{self.hook}, {self.told}]}}")
        self.kitchen.write_plan(text.replace("silent_for: 30 s", f"silent_for: {silent_for}") + more)
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def warm(self):
        """The fridge breaks its limit; the deviation's number."""
        self.peer.set(1, 0, 90)
        return self.kitchen.await_decision(decision="deviation-opened", place="walk-in")["deviation"]

    def say(self, *words, code=rig.DONE):
        answer = self.kitchen.trivet(*words, "--json")
        self.assertEqual(answer.code, code, answer)
        return answer.json if code == rig.DONE else answer

    def page(self, path):
        root = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(root.rstrip("/") + path, timeout=rig.PATIENCE_S) as shown:
            return " ".join(shown.read().decode().split())

    @staticmethod
    def lines(path):
        return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []

    def await_told(self, path, **wanted):
        return rig.await_that(lambda: [one for one in self.lines(path) if all(one[key] == wanted[key] for key in wanted)],
                              lambda: f"to be told {wanted}; told was {self.lines(path)}")[-1]

    def check_replay(self):
        replayed = self.kitchen.trivet("--json", "replay")
        self.assertEqual((replayed.code, replayed.json["same"]), (rig.DONE, True), replayed)

    def test_heard_is_on_record_and_shown_everywhere_and_the_deviation_stays_open(self):
        self.begin()
        number = self.warm()
        self.await_told(self.told, id=f"{number}-opened")
        alarm, = self.say("now")["alarms"]
        self.assertEqual((alarm["number"], alarm["state"], alarm["cause"], alarm["deviations"]),
                         (number, "sounds", number, [number]))
        self.assertIn("Nobody has said yet that it was heard.", self.kitchen.trivet("now").out.replace("\n      ", " "))

        self.say("heard", number, "--who", "LM")
        entry, = self.kitchen.records("heard")
        self.assertEqual({key: entry["data"][key] for key in ("deviation", "who")}, {"deviation": number, "who": "LM"})
        alarm, = self.say("now")["alarms"]
        self.assertEqual((alarm["state"], alarm["heard_by"], alarm["goes_on"], alarm["acted"]), ("heard", "LM", True, False))
        shown = self.say("deviations")[0]
        self.assertIsNone(shown["ended"])
        self.assertEqual(shown["action_seq"], 0)
        self.assertIn("Heard by LM at ", shown["alarm_sentence"])
        for path in ("/", "/deviations"):
            self.assertIn("Heard by LM at ", self.page(path))
        self.assertIn("has heard the alarm of deviation 1", self.page("/deviations"))
        self.assertRegex(self.kitchen.trivet("why", f"d{number}").out, r"heard by LM")
        row, = self.kitchen.trivet("export", "deviations").rows
        self.assertEqual((row["status"], row["alarm"]), ("open", str(number)))
        self.assertTrue(row["heard"].endswith("Z LM"), row["heard"])
        row, = (row for row in self.kitchen.trivet("export", "actions").rows if row["kind"] == "heard")
        self.assertEqual((row["deviation"], row["by"]), (str(number), "LM"))
        self.assertIn("LM has said already", self.say("heard", number, "--who", "AB", code=rig.REFUSED).err)
        self.check_replay()

    def test_shelved_alarm_is_shown_ends_by_itself_and_is_told_again(self):
        self.begin("duties: {shelve_at_most: 10 min}\n")
        number = self.warm()
        self.assertIn("at most 10 min", self.say("shelve", number, "--for", "11min", "--reason", "x", "--who", "AB",
                                                 code=rig.REFUSED).err)
        self.assertIn("--reason is missing", self.say("shelve", number, "--for", "3min", "--who", "AB", code=rig.USAGE).err)
        self.assertEqual(self.kitchen.records("shelve"), [])

        with contextlib.closing(rig.Socket(self.kitchen.socket)) as socket:  # the command knows no seconds
            answer = socket.ask(do="shelve", deviation=number, for_ms=3000, reason="engineer is here", who="AB")
        self.assertEqual(answer["code"], 200, answer)
        shown = self.say("deviations")[0]["alarm_sentence"]
        self.assertRegex(shown, r"Its alarm is shelved until .* by AB \(engineer is here\)\.")
        self.assertIn("engineer is here", self.page("/"))
        self.await_told(self.told, event="again")
        raised = self.kitchen.await_decision(decision="alarm-raised")
        self.assertEqual((raised["deviation"], raised["reason"]), (number, "time-up"))
        self.assertEqual(self.say("now")["alarms"][0]["state"], "sounds")
        row, = self.kitchen.trivet("export", "deviations").rows
        self.assertTrue(row["shelved"].endswith("AB for 3 s: engineer is here"), row["shelved"])
        self.check_replay()

    def test_shelved_place_keeps_judging_and_tells_nobody_until_its_time_is_up(self):
        self.begin()
        self.say("shelve", "--place", "walk-in", "--for", "10min", "--reason", "loading", "--who", "AB")
        place, = (place for place in self.say("now")["places"] if place["id"] == "walk-in")
        self.assertEqual((place["shelved_by"], place["shelved_reason"]), ("AB", "loading"))
        self.assertIn("judging goes on", place["sentence"])
        number = self.warm()
        opened, = self.kitchen.decisions(decision="deviation-opened")
        self.assertIs(opened["silent"], True)
        self.assertEqual(self.say("now")["alarms"][0]["state"], "shelved")
        self.assertEqual(self.lines(self.told), [])
        self.say("shelve", "--place", "walk-in", "--end", "--who", "AB")
        self.await_told(self.told, event="again")
        self.assertEqual([one["event"] for one in self.lines(self.told)], ["again"])
        self.assertEqual(self.lines(self.told)[0]["decision"]["deviation"], number)
        self.check_replay()

    def test_next_ones_are_told_until_somebody_acts(self):
        self.begin(LEVELS.format(hook=self.hook, bell=self.bell))
        number = self.warm()
        first = self.await_told(self.told, event="escalated")
        self.assertEqual((first["tell"], first["to"], first["decision"]["level"], first["decision"]["reason"]),
                         ("supervisor", ["JO"], 1, "not-heard"))
        second = self.await_told(self.bell, event="escalated")
        self.assertEqual((second["tell"], second["to"], second["decision"]["level"], second["decision"]["reason"]),
                         ("RS", ["RS"], 2, "no-action"))
        self.assertEqual([one["event"] for one in self.lines(self.told)], ["opened", "escalated"])
        self.assertIn("Told on to RS at ", self.say("deviations")[0]["alarm_sentence"])
        told = self.kitchen.decisions(decision="escalated")
        self.assertIn("told next: supervisor", self.kitchen.trivet("why", told[0]["seq"]).out.replace("\n             ", " "))
        row, = self.kitchen.trivet("export", "deviations").rows
        self.assertIn("level 1 (not-heard)", row["escalated"])
        self.assertIn("level 2 (no-action)", row["escalated"])
        self.say("act", number, "--found", "door", "--done", "shut", "--disposition", "no-food", "--who", "AB")
        self.assertEqual(self.say("now")["alarms"][0]["heard_by"], "AB")
        self.check_replay()

    def test_warning_about_a_batch_is_heard_by_its_number(self):
        self.begin()
        batch = self.say("begin", "soup", "--probes", "pot-core", "--who", "AB")["batch"]
        self.say("heard", "--batch", batch, "--who", "LM")
        data = self.kitchen.records("heard")[-1]["data"]
        self.assertEqual((data["batch"], data["who"], "deviation" in data), (batch, "LM", False))
        self.assertIn("has heard the warning", self.page(f"/batch/{batch}"))
        self.check_replay()

    def test_dead_device_is_one_alarm(self):
        self.begin(silent_for="2 s")
        self.say("begin", "soup", "--probes", "pot-core", "--who", "AB")
        self.peer.die(1)
        gaps = rig.await_that(lambda: (lambda found: found if len(found) == 2 else None)(
            self.kitchen.decisions(decision="gap-opened")), "both probes to be silent")
        self.assertEqual(sorted(data.get("silent", False) for data in gaps), [False, True])
        alarm, = self.say("now")["alarms"]
        self.assertEqual(alarm["deviations"], [1, 2])
        self.await_told(self.told, id="1-opened")
        self.assertEqual(len(self.lines(self.told)), 1)
        self.assertIn("One alarm with deviation", self.say("deviations")[1]["alarm_sentence"])
        self.check_replay()


if __name__ == "__main__":
    unittest.main(verbosity=1)
