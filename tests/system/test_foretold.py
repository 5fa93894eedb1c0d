"""A cooling that will be late: the alarm command hears of it as a forecast while there is still time, and nothing is judged by it."""
import html
import json
import re
import subprocess
import unittest
import urllib.request

import rig

RUNNING_MIN = 50  # the demo's filling is then near 31 °C, and has cooled from 57 °C for some 23 minutes
STAGES = "[{to: 21 °C, within: 30 min}, {to: 5 °C, within: 6 h}]"  # too short for it: 37 minutes are needed


class Foretold(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port = rig.free_port()
        self.told = self.kitchen.directory / "told"
        hook = self.kitchen.directory / "hook.sh"
        hook.write_text('#!/bin/sh\n{ cat; echo; } >> "$1"\n')
        hook.chmod(0o755)
        plan = (rig.ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8").replace("port: 8470", f"port: {self.port}")
        published = "          profile: food-code-2022/cooling\n"
        self.assertEqual(plan.count(published), 1)
        own = ["kind: cool", "applies_to: food", "from: 57 °C", f"stages: {STAGES}", "source: Kitchen's own"]
        plan = plan.replace(published, "".join(f"          {line}\n" for line in own))
        self.kitchen.write_plan(plan + f"\nalarm: {{command: [{hook}, {self.told}]}}\n")
        done = subprocess.run([rig.PAST, "--hours", "6", "--running", str(RUNNING_MIN), str(self.kitchen.plan)],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        self.batch = int(re.search(r"batch (\d+) in the chiller", done.stdout)[1])

    def notices(self):
        text = self.told.read_text(encoding="utf-8") if self.told.exists() else ""
        return [json.loads(line) for line in text.splitlines()]

    def test_miss_is_told_as_a_forecast_before_the_deadline(self):
        self.kitchen.start()
        notice = rig.await_that(lambda: [one for one in self.notices() if one["event"] == "forecast-miss"],
                                "the alarm command to hear of the forecast")[0]
        record, = self.kitchen.records("forecast")
        self.assertEqual((notice["forecast"], notice["seq"], notice["recorded"]), (record["data"], record["seq"], True))
        self.assertEqual(notice["id"], f"forecast-{self.batch}-{record['seq']}")
        self.assertNotIn("decision", notice)
        self.assertRegex(notice["words"], rf"^Forecast: batch {self.batch} will probably miss its limit by .*\d\d:\d\d; look at what helps$")
        said = notice["forecast"]
        # The clock of the regulation begins with the last reading above 57 °C: 30 minutes from there, and those are not over yet.
        number = self.kitchen.records("plan")[-1]["data"]["probes"]["filling-core"]
        begun = next(one["at_ms"] for one in self.kitchen.records("decision")
                     if (one["data"]["decision"], one["data"].get("batch")) == ("step-begun", self.batch))
        (clock_ms,), = self.kitchen.query("SELECT max(at_ms) FROM reading WHERE probe = ? AND at_ms >= ? AND temp_mC > 57000",
                                          number, begun)
        self.assertEqual(said["deadline_ms"], clock_ms + 30 * 60 * 1000)
        self.assertLess(record["at_ms"], said["deadline_ms"])
        self.assertGreater(said["expected_ms"], said["deadline_ms"])
        self.assertGreater(said["miss_permille"], 500)
        self.assertEqual((said["likely"], said["stage"], said["step"]), (True, 1, "cool"))
        self.check_what_is_shown()

    def check_what_is_shown(self):
        """Marked as a forecast wherever it stands, with what helps; and no deviation, for nothing was measured yet."""
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/batch/{self.batch}", timeout=rig.PATIENCE_S) as answer:
            page = html.unescape(answer.read().decode())
        for shown in (self.kitchen.trivet("now").out, page):
            told = " ".join(shown.split())
            told = told[max(told.find(f"{self.batch} Braised lentil filling"), 0):]  # the command shows the roast before it
            self.assertRegex(told, r"Forecast, (fairly sure|rough|a first guess): 21\.0 °C about ")
            self.assertRegex(told, r"Chance of missing 21\.0 °C by [^.]*\d\d:\d\d: ")
            self.assertRegex(told, r"What helps most: [^.]+ \(about [^)]*\d\d:\d\d\)")
        self.assertEqual(self.kitchen.decisions(decision="deviation-opened", batch=self.batch), [])
        seq = self.kitchen.records("forecast")[0]["seq"]
        told = rig.await_that(lambda: [one for one in self.kitchen.records("told") if one["data"]["refers"] == seq], "the telling on record")
        self.assertTrue(told[0]["data"]["done"])
        self.check_why(seq)
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)

    def check_why(self, seq):
        """What was said is told from the records, as advice; in the command, for machines and on the page."""
        record = self.kitchen.records("forecast")[0]["data"]
        words = f"Forecast: stage 1 of step cool of batch {self.batch} will probably be missed"
        text = self.kitchen.trivet("why", seq).out
        self.assertTrue(all(len(line) <= 80 for line in text.splitlines()), text)
        explained = self.kitchen.trivet("--json", "why", seq).json[0]["forecast"]
        self.assertEqual(explained["words"], words)
        for key in ("batch", "step", "stage", "likely", "deadline_ms", "expected_ms", "miss_permille"):
            self.assertEqual(explained[key], record[key])
        self.assertEqual([one["done"] for one in explained["told"]], [True])
        with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/why/{seq}", timeout=rig.PATIENCE_S) as answer:
            page = re.sub(r"<[^>]+>", " ", html.unescape(answer.read().decode()))
        chance = f"{(record['miss_permille'] + 5) // 10} % of a miss"
        for shown in (text, page):
            told = " ".join(shown.split())
            for wanted in (words, chance, "the plan's alarm command took it", "only measurements decide"):
                self.assertIn(wanted, told)


if __name__ == "__main__":
    unittest.main(verbosity=1)
