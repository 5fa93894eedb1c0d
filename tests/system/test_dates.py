"""Dated food, a roast in its oven and a steak's two sides over a living daemon: from the plan to page, command, export and replay."""
import datetime
import json
import re
import unittest
import urllib.request

import rig
from rig import await_that

COOK = "limit: {kind: cook, applies_to: food, at_least: 70 °C, for: 1 s}"
# FDA Food Code 2022: 3-501.17(A), 3-401.11(B)(2) for a convection oven, 3-401.11(C).
MARK = "    date_mark: {kind: date_mark, applies_to: food, days: 7}\n"
OVEN = ("limit: {kind: cook, applies_to: food, at_least: 70 °C, for: 1 s, oven: convection, oven_rows: "
        "[{oven: convection, under_g: 4500, at_least: 163 °C}, {oven: convection, from_g: 4500, at_least: 121 °C}]}")
STEAK = "limit: {kind: cook, applies_to: surface, at_least: 63 °C}"
OVEN_AIR = ("  - {id: oven-air, name: Oven air, kind: air, bus: rack, unit: 1, function: 4, register: 2, type: int16,\n"
            "     scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 100 ms}\nthermometers:\n")


def noon_zone():
    """Where it is about noon now, so that no day begins meanwhile. Etc/GMT-3 is three hours ahead (tz database)."""
    ahead = 12 - datetime.datetime.now(datetime.timezone.utc).hour
    return f"Etc/GMT{-ahead:+d}" if ahead else "UTC"


class Dated(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200, 1800)

    def start(self, *changes):
        text = rig.small_plan(self.port, web="{port: 0}").replace("Europe/London", noon_zone())
        for before, after in changes:
            self.assertIn(before, text)
            text = text.replace(before, after, 1)
        self.kitchen.write_plan(text)
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def say(self, *words, code=rig.DONE):
        answer = self.kitchen.trivet(*words, "--who", "AB")
        self.assertEqual(answer.code, code, answer)
        return " ".join((answer.out + answer.err).split())

    def now(self):
        return self.kitchen.trivet("now", "--json").json

    def replays_alike(self):
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def test_last_day_is_said_labelled_exported_and_kept_in_store(self):
        self.start(("    name: Leek soup\n", "    name: Leek soup\n" + MARK),
                   ("  - {id: stove,", "  - {id: freezer, name: Freezer, freezer: yes, limit: {kind: none}}\n  - {id: stove,"))
        await_that(lambda: self.kitchen.records("day"), "the day")
        today = datetime.date.fromisoformat(self.kitchen.records("day")[-1]["data"]["day"])
        self.assertLessEqual(abs(today - datetime.datetime.now(datetime.timezone.utc).date()), datetime.timedelta(1))
        last = str(today + datetime.timedelta(6))
        self.assertIn(f"Use it by the end of {last}, or throw it away.", self.say("begin", "soup"))
        batch = self.now()["batches"][0]
        self.assertEqual((batch["date_mark"]["last_day"], batch["date_mark"]["used"], batch["date_mark"]["days"]), (last, 1, 7))
        self.assertIn(f"Day 1 of 7: use it by the end of {last}", batch["sentence"])
        label = self.kitchen.trivet("label", "1")
        self.assertEqual((label.code, label.out),
                         (rig.DONE, f"Leek soup\nUSE BY THE END OF {last} or throw away\nBatch 1, Harbour Lane Kitchen\n"))
        address = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(address, timeout=rig.PATIENCE_S) as page:
            self.assertIn(f"use it by the end of {last}", rig.in_words(page.read().decode()))
        self.say("end", "1", "stored", "--place", "freezer")
        self.assertTrue(self.now()["stored"][0]["date_mark"]["frozen"])
        self.assertIn("FROZEN after day 1 of 7", self.kitchen.trivet("label").out)
        self.assertIn("Kept", self.kitchen.trivet("now").out)
        with urllib.request.urlopen(address, timeout=rig.PATIENCE_S) as page:
            shown = page.read().decode()
        self.assertIn(f'data-kept="1/freezer/{last}/1/0"', shown)
        self.assertIn(f"Leek soup in freezer: frozen; thawed today, its last day is {last}", rig.in_words(shown))
        self.assertRegex(self.kitchen.trivet("export", "batches").rows[0]["steps"], rf", dated \S+Z \(last day {last}\)")
        marked = self.kitchen.decisions(decision="date-marked")[0]
        self.assertEqual((marked["day"], marked["limit"]), (last, "date_mark"))
        # What is made with food of an earlier day keeps its date; food of a week ago is over.
        self.say("begin", "soup", "--made", str(today - datetime.timedelta(2)), "--until", str(today + datetime.timedelta(1)))
        self.assertEqual(self.now()["batches"][0]["date_mark"]["last_day"], str(today + datetime.timedelta(1)))
        self.assertIn("Deviation 2: the last day", self.say("begin", "soup", "--made", str(today - datetime.timedelta(7))))
        self.assertIn("is still to come", self.say("begin", "soup", "--made", str(today + datetime.timedelta(2)), code=rig.REFUSED))
        why = " ".join(self.kitchen.trivet("why", "d2").out.split())
        self.assertIn("E228", why)
        self.assertIn("kept for at most 7 days", why)
        self.assertEqual(self.kitchen.trivet("label", "99").code, rig.NO)
        self.replays_alike()

    def kept_shown_and_known(self):
        """What the page's list says of dated food in store, and the same from the events that the script compares it with: when
        they differ it fetches the page anew. In the order in which the script joins them."""
        script = " ".join((rig.ROOT / "web/assets/page.js").read_text(encoding="utf-8").split())
        self.assertIn('if ($("kept") && keysOf("#kept [data-kept]", "kept") !== dated.map((s) => [s.batch, s.place, '
                      's.date_mark.last_day, Number(s.date_mark.frozen), Number(s.date_mark.passed)].join("/")).join()) return true;', script)
        self.assertIn("if (structureChanged(now)) refreshMain();", script)
        address = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(address, timeout=rig.PATIENCE_S) as page:
            shown = re.findall(r'data-kept="([^"]*)"', page.read().decode())
        with urllib.request.urlopen(address + "now.json", timeout=rig.PATIENCE_S) as answer:
            stored = json.load(answer)["stored"]
        marks = [(one, one["date_mark"]) for one in stored if one.get("date_mark")]
        return shown, [f"{one['batch']}/{one['place']}/{mark['last_day']}/{int(mark['frozen'])}/{int(mark['passed'])}"
                       for one, mark in marks]

    def test_open_page_is_fetched_anew_when_dated_food_changes_and_not_otherwise(self):
        self.start(("    name: Leek soup\n", "    name: Leek soup\n" + MARK),
                   ("  - {id: stove,", "  - {id: freezer, name: Freezer, freezer: yes, limit: {kind: none}}\n  - {id: stove,"))
        await_that(lambda: self.kitchen.records("day"), "the day")
        seen = [self.kept_shown_and_known()]
        for words in (("begin", "soup"), ("end", "1", "stored", "--place", "walk-in"), ("next", "1", "--place", "freezer"),
                      ("begin", "soup"), ("end", "2", "stored", "--place", "walk-in"), ("end", "1", "served")):
            self.say(*words)
            seen.append(self.kept_shown_and_known())
        for shown, known in seen:
            self.assertEqual(shown, known)
        kept = [shown for shown, _ in seen]
        self.assertEqual([len(shown) for shown in kept], [0, 0, 1, 1, 1, 2, 1])
        self.assertNotEqual(kept[2], kept[3])  # frozen now, and elsewhere
        self.assertEqual(kept[3], kept[4])     # an open batch is no food in store
        self.replays_alike()

    def test_oven_of_a_roast(self):
        self.start((COOK, OVEN), ("thermometers:\n", OVEN_AIR), ("  - {id: stove, name: Stove,", "  - {id: stove, name: Stove, probe: oven-air,"))
        self.say("begin", "soup", "--probes", "pot-core", "--mass", "3kg")
        oven = self.now()["batches"][0]["oven"]
        self.assertEqual((oven["limit"], oven["watched"], oven["verdict"]), ("the oven at least 163.0 °C (air)", True, "open"))
        self.peer.set(1, 1, 710)
        held = self.kitchen.await_decision(decision="limit-met", limit="oven")
        self.assertEqual((held["temp_mC"], held["required_milli"]), (180000, 163000))
        self.peer.set(1, 2, 1629)
        self.peer.set(1, 1, 200)
        self.say("next", "1", "--step", "cook")
        opened = self.kitchen.await_decision(decision="deviation-opened", limit="oven")
        self.assertIn(opened["reason"], ("not-preheated", "out-too-long"))
        self.replays_alike()

    def test_oven_that_nothing_measures_is_asked_about(self):
        self.start((COOK, OVEN))
        self.say("begin", "soup", "--probes", "pot-core")
        self.assertIn("Oven: not measured", self.now()["batches"][0]["sentence"])
        self.peer.set(1, 1, 710)
        self.kitchen.await_decision(decision="inconclusive", reason="not-measured")
        self.say("decide", "1", "accept", "--reason", "Its dial showed 180 °C throughout.")
        await_that(lambda: self.now()["batches"][0]["verdict"] == "met", "the verdict")
        self.replays_alike()

    def test_both_sides_of_a_steak(self):
        self.start((COOK, STEAK))
        self.say("begin", "soup")
        self.assertIn("top or bottom", self.say("take", "64C", "--thermometer", "red-pen", "--batch", "1", code=rig.REFUSED))
        self.say("take", "64C", "--thermometer", "red-pen", "--batch", "1", "--side", "top")
        self.assertIn("top shown, bottom not shown", self.now()["batches"][0]["sentence"])
        self.say("take", "63C", "--thermometer", "red-pen", "--batch", "1", "--side", "bottom")
        met = self.kitchen.await_decision(decision="limit-met")
        self.assertEqual((met["subject"], met["temp_mC"]), ("surface", 63000))
        self.replays_alike()


class OnOneLine(unittest.TestCase):
    def test_page_script_keeps_together_what_the_program_does(self):
        """The same units, weekdays and months; and no look-behind, which older tablets cannot read: the script would not run."""
        program = (rig.ROOT / "daemon/base/together.c").read_text(encoding="utf-8")
        script = (rig.ROOT / "web/assets/page.js").read_text(encoding="utf-8")
        tables = {name: set(re.findall(r'"([^"]+)"', words))
                  for name, words in re.findall(r"static const char \*const (\w+)\[\] = \{([^}]*)\};", program)}
        months = re.search(r'const MONTHS = "([^"]*)"', script)[1]
        units, percent = re.search(r'\(\?=\(\?:([^"]*)\|" \+ MONTHS \+ "\)\\\\b\|(%)\)', script).groups()
        weekdays = re.search(r"\\b\(((?:[A-Z][a-z]{2}\|){7})", script)[1].rstrip("|")
        self.assertEqual({"units": set(units.split("|")) | {percent}, "weekdays": set(weekdays.split("|")),
                          "months": set(months.split("|"))}, tables)
        self.assertNotIn("(?<", script)


if __name__ == "__main__":
    unittest.main()
