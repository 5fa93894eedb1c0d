"""Quiet hours of a place over a living daemon: said, shown, ended, bounded, and kept over a kill."""
import datetime
import signal
import unittest
import urllib.request
import zoneinfo

import rig
from rig import await_that


class Quiet(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200)  # 3.0 °C in the fridge, 20.0 °C in the pot
        self.text = rig.small_plan(self.port, web="{port: 0}")
        self.kitchen.write_plan(self.text)
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def place(self):
        return self.kitchen.trivet("now", "--json").json["places"][0]

    def warm_readings(self, temp_mC, count):
        sql = "SELECT count(*) FROM reading WHERE temp_mC = ?"
        seen = self.kitchen.query(sql, temp_mC)[0][0]
        await_that(lambda: self.kitchen.query(sql, temp_mC)[0][0] >= seen + count, f"{count} readings of {temp_mC} mC")

    def replays_alike(self):
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def say(self, *words):
        return self.kitchen.trivet("quiet", "walk-in", *words, "--who", "AB")

    def test_said_shown_over_a_kill_and_ended(self):
        answer = self.say("--for", "30min", "--why", "defrosting")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn("suspended for 30 min (defrosting)", " ".join(answer.out.split()))
        self.peer.set(1, 0, 120)
        self.warm_readings(12000, 20)  # two seconds, and one is tolerated
        self.assertEqual(self.kitchen.decisions(decision="deviation-opened"), [])
        place = self.place()
        self.assertEqual((place["quiet"], place["quiet_why"], place["concern"]), (True, "defrosting", "watch"))
        self.assertIn("its limit is suspended", " ".join(self.kitchen.trivet("now").out.split()))
        page = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(page, timeout=rig.PATIENCE_S) as shown:
            self.assertIn("its limit is suspended", shown.read().decode())
        self.kitchen.stop(signal.SIGKILL)
        self.kitchen.start()
        self.warm_readings(12000, 20)
        self.assertEqual(self.place()["quiet_until"], place["quiet_until"])
        self.assertEqual(self.kitchen.decisions(decision="deviation-opened"), [])
        self.assertEqual(self.say("--end").code, rig.DONE)
        opened = self.kitchen.await_decision(decision="deviation-opened")
        ended = self.kitchen.decisions(decision="quiet-ended")[-1]
        self.assertGreaterEqual(opened["since_ms"], ended["at_ms"])
        kinds = [row["kind"] for row in self.kitchen.trivet("export", "records").rows]
        self.assertEqual(kinds.count("quiet"), 2)
        self.replays_alike()

    def test_refusals_say_what_to_do(self):
        for words, told in ((("--for", "5h", "--why", "off"), "at most 240 min"),
                            (("--end",), "is not quiet")):
            answer = self.say(*words)
            self.assertEqual(answer.code, rig.REFUSED, answer)
            self.assertIn(told, answer.err)
        for words, told in ((("--why", "off"), "--for is missing"), (("--for", "soon", "--why", "off"), "30min"),
                            (("--for", "1h"), "--why is missing")):
            answer = self.say(*words)
            self.assertEqual(answer.code, rig.USAGE, answer)
            self.assertIn(told, answer.err)
        answer = self.kitchen.trivet("quiet", "stove", "--for", "1h", "--why", "off", "--who", "AB")
        self.assertEqual(answer.code, rig.REFUSED, answer)
        self.assertIn("has no limit", answer.err)

    def test_scheduled_hours_of_the_plan_begin_by_the_sites_clock(self):
        """The plan's time is the next minute of the site's clock: the one wait here that is a minute long."""
        zone = zoneinfo.ZoneInfo("Europe/London")
        now = datetime.datetime.now(zone)
        at = now + datetime.timedelta(minutes=1 if now.second < 50 else 2)
        scheduled = self.text.replace("tolerance: 1 s, back_for: 1 s}",
                                      f"tolerance: 1 s, back_for: 1 s}}\n"
                                      f"    quiet: [{{at: \"{at:%H:%M}\", lasts: 1 min, why: cleaning}}]")
        self.kitchen.write_plan(f"approved: {{by: JO, on: {now.date()}}}\n" + scheduled)
        answer = self.kitchen.trivet("plan", "--reload")
        self.assertEqual(answer.code, rig.DONE, answer)
        begun = self.kitchen.await_decision(patience_s=130, decision="quiet-begun")
        self.assertEqual(begun["reason"], "scheduled")
        self.assertNotIn("who", self.kitchen.records("quiet")[-1]["data"])
        shown = datetime.datetime.fromtimestamp(begun["at_ms"] / 1000, zone)
        self.assertEqual((shown.hour, shown.minute), (at.hour, at.minute))
        self.assertLess(shown.second, 3)
        self.replays_alike()


if __name__ == "__main__":
    unittest.main(verbosity=1)
