"""A plan read again by a living daemon: by SIGHUP, by `trivet plan --reload`, and at a start with another file."""
import contextlib
import datetime
import re
import signal
import time
import unittest
import zoneinfo

import rig
from rig import await_that

COLD = "at_most: 5 °C, tolerance: 1 s"
WARM = "at_most: 8 °C, tolerance: 1 s"
# As the page of a batch shows them: who, what, and the step.
OLD_NAMES = ("Ana Brandt", "Leek soup", "Cooking")


def today():
    """As the site's clock shows it: the plan is in Europe/London."""
    return datetime.datetime.now(zoneinfo.ZoneInfo("Europe/London")).date()


def approved(by="JO", days=0):
    return f"approved: {{by: {by}, on: {today() + datetime.timedelta(days=days)}}}\n"


class Reload(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200)  # 3.0 °C in the fridge, 20.0 °C in the pot
        self.text = rig.small_plan(self.port, web="{port: 0}")
        self.kitchen.write_plan(self.text)
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def now(self):
        return self.kitchen.trivet("now", "--json").json

    def hangup(self):
        self.kitchen.daemon.send_signal(signal.SIGHUP)

    def plans(self):
        return self.kitchen.records("plan")

    def replays_alike(self):
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def test_hangup_takes_an_approved_plan_and_places_follow_it(self):
        before = len(self.plans())
        self.kitchen.write_plan(approved() + self.text.replace(COLD, WARM))
        self.hangup()
        await_that(lambda: len(self.plans()) > before, "the plan's record")
        data = self.plans()[-1]["data"]
        self.assertEqual(list(data), ["approved", "changes", "digest", "file", "probes", "text"])
        self.assertEqual((data["approved"]["by"], data["approved"]["role"]), ("JO", "supervisor"))
        self.assertEqual([change["what"] for change in data["changes"]], ["place walk-in"])
        self.peer.set(1, 0, 70)
        seen = self.kitchen.query("SELECT count(*) FROM reading WHERE temp_mC = 7000")[0][0]
        await_that(lambda: self.kitchen.query("SELECT count(*) FROM reading WHERE temp_mC = 7000")[0][0] >= seen + 20,
                   "two seconds at 7 °C")
        self.assertEqual(self.kitchen.decisions(decision="deviation-opened"), [])
        self.peer.set(1, 0, 90)
        self.assertEqual(self.kitchen.await_decision(decision="deviation-opened")["required_milli"], 8000)
        shown = self.kitchen.trivet("plan")
        self.assertEqual(shown.code, rig.DONE, shown)
        for words in ("by JO (Jun Okada, supervisor) on", "place walk-in", "at most 5.0 °C", "at most 8.0 °C"):
            self.assertIn(words, shown.out)
        self.replays_alike()

    def test_hangup_with_a_faulty_plan_is_told_by_log_page_and_command(self):
        self.kitchen.write_plan(self.text.replace("at_most: 5 °C", "at_most: 5"))
        self.hangup()
        told = await_that(lambda: self.now()["plan_refused"], "the refusal")
        line = self.text[:self.text.index("at_most: 5 °C")].count("\n") + 1
        self.assertRegex(told, rf"plan\.yaml:{line}:\d+: .*at_most")
        self.assertIn(f"plan.yaml:{line}:", self.kitchen.log_text())
        self.assertIn("PLAN NOT TAKEN", self.kitchen.trivet("now").out)
        self.assertIn(f"plan.yaml:{line}:", self.kitchen.trivet("plan").out)
        page = self.kitchen.trivet("where", "--json").json["page"]
        self.assertRegex(self.fetch(page), r'id="banner-plan"><strong>The plan file was not taken')
        # The watch has not stopped: the old limit holds.
        self.peer.set(1, 0, 90)
        self.assertEqual(self.kitchen.await_decision(decision="deviation-opened")["required_milli"], 5000)
        self.kitchen.write_plan(self.text)
        self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE)
        self.assertEqual(self.now()["plan_refused"], "")
        self.replays_alike()

    def fetch(self, address):
        import urllib.request
        with urllib.request.urlopen(address, timeout=rig.PATIENCE_S) as answer:
            return answer.read().decode()

    def test_unapproved_change_is_refused_and_a_draft_is_shown_as_one(self):
        changed = self.text.replace(COLD, WARM)
        self.kitchen.write_plan(changed)
        answer = self.kitchen.trivet("plan", "--reload")
        self.assertEqual(answer.code, rig.REFUSED, answer)
        self.assertIn("nobody has approved it", answer.err)
        self.assertIn("place walk-in: at most 5.0 °C", self.now()["plan_refused"])
        self.assertEqual(len(self.plans()), 1)
        for stale in (approved(days=-1), approved(days=1)):
            self.kitchen.write_plan(stale + changed)
            self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.REFUSED)
        self.kitchen.write_plan(approved(by="AB") + changed)  # a cook
        self.assertIn("is a cook", self.kitchen.trivet("plan", "--reload").err)
        self.kitchen.write_plan("draft: yes\n" + changed)
        answer = self.kitchen.trivet("plan", "--reload")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn("DRAFT PLAN", self.kitchen.trivet("now").out)
        page = self.kitchen.trivet("where", "--json").json["page"]
        self.assertRegex(self.fetch(page), r'id="banner-draft"><strong>Draft plan')
        self.kitchen.write_plan(changed)
        self.assertIn("is a draft", self.kitchen.trivet("plan", "--reload").err)
        self.kitchen.write_plan(approved() + changed)
        self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE)
        self.replays_alike()

    def test_what_is_in_use_stays_and_a_running_batch_keeps_its_plan(self):
        self.peer.set(1, 1, 200)
        begun = self.kitchen.trivet("begin", "soup", "--probes", "pot-core", "--who", "AB")
        self.assertEqual(begun.code, rig.DONE, begun)
        without = re.sub(r"  - \{id: pot-core.*?\}\n", "", self.text, flags=re.S)
        self.kitchen.write_plan(without)
        answer = self.kitchen.trivet("plan", "--reload")
        self.assertEqual(answer.code, rig.REFUSED, answer)
        self.assertIn("probe 'pot-core' is in batch 1", answer.err)
        # A batch goes on by the limits it began under.
        self.kitchen.write_plan(approved() + self.text.replace("at_least: 70 °C", "at_least: 90 °C"))
        self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE)
        self.peer.ramp(1, 1, 750, 3.0)
        self.assertEqual(self.kitchen.await_decision(decision="limit-met")["required_milli"], 70000)
        self.replays_alike()

    def test_ended_batch_is_shown_by_the_plan_that_judged_it(self):
        begun = self.kitchen.trivet("begin", "soup", "--probes", "pot-core", "--who", "AB")
        self.assertEqual(begun.code, rig.DONE, begun)
        self.peer.set(1, 1, 750)
        met = self.kitchen.await_decision(decision="limit-met")
        self.assertEqual(self.kitchen.trivet("end", "1", "served", "--who", "AB").code, rig.DONE)
        page = self.kitchen.trivet("where", "--json").json["page"] + "batch/1"
        before = self.fetch(page)
        self.assertIn("at least 70.0 °C", before)
        self.assertNotIn("another one is in force now", before)
        # Another limit, its probe has left the kitchen, and its names now stand for others.
        changed = re.sub(r"  - \{id: pot-core.*?\}\n", "", self.text, flags=re.S).replace("at_least: 70 °C", "at_least: 90 °C")
        for name in OLD_NAMES:
            self.assertIn(name, changed)
            self.assertIn(name, before)
            changed = changed.replace(name, "Changed " + name[::-1])
        self.kitchen.write_plan(approved() + changed)
        answer = self.kitchen.trivet("plan", "--reload")
        self.assertEqual(answer.code, rig.DONE, answer)
        after = self.fetch(page)
        self.assertIn("at least 70.0 °C", after)
        self.assertNotIn("90.0 °C", after)
        self.assertNotIn("Changed ", after)
        for name in OLD_NAMES:
            self.assertEqual(after.count(name), before.count(name))
        self.assertIn("Judged by the plan of record", after)
        self.assertIn('class="line line0"', after)  # the readings of a probe that is gone
        why = self.kitchen.trivet("why", met["seq"]).out
        self.assertIn("70.0 °C", why)
        self.assertNotIn("90.0 °C", why)
        rows = [row for row in self.kitchen.trivet("export", "decisions").rows if row["decision"] == "limit-met"]
        self.assertEqual(met["required_milli"], 70000)
        self.assertIn("70.0 °C", rows[0]["explained"])
        self.replays_alike()

    def test_start_with_an_unapproved_plan_watches_by_the_one_on_record(self):
        self.kitchen.stop()
        self.kitchen.write_plan(self.text.replace(COLD, WARM))
        self.kitchen.start()
        self.assertIn("nobody has approved it", self.now()["plan_refused"])
        self.peer.set(1, 0, 70)
        self.assertEqual(self.kitchen.await_decision(decision="deviation-opened")["required_milli"], 5000)
        self.replays_alike()

    def test_readings_go_on_over_a_reload(self):
        """Reloading ten times at 100 ms a reading: no probe waits longer than two more periods, beyond what the machine
        did to a witness as well."""
        with contextlib.closing(rig.Witness(self.port)) as witness:
            for i in range(10):
                self.kitchen.write_plan(self.text.replace("Leek soup", f"Leek soup {i}"))
                self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE)
            last = self.kitchen.query("SELECT count(*) FROM reading")[0][0]
            self.kitchen.await_readings(last + 10)
        plans = [body["at_ms"] for body in self.plans()]
        self.assertEqual(len(plans), 11)
        times = [at for (at,) in self.kitchen.query("SELECT at_ms FROM reading WHERE probe = 1 AND quality = 0 ORDER BY at_ms")]
        around = [later - earlier - witness.most_ms(earlier, later) for earlier, later in zip(times, times[1:])
                  if any(earlier - 100 <= at <= later + 100 for at in plans[1:])]
        print(f"longest wait of a reading around ten reloads: {max(around)} ms at a period of 100 ms")
        self.assertLess(max(around), 300)
        self.replays_alike()

    def test_new_lines_are_polled_at_once(self):
        port, peer = self.kitchen.tcp_peer([1])
        peer.set(1, 0, 40, 210)
        self.kitchen.write_plan(self.text.replace(f"port: {self.port}", f"port: {port}"))
        self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE)
        await_that(lambda: self.kitchen.query("SELECT count(*) FROM reading WHERE temp_mC = 4000")[0][0] > 2,
                   "readings of the new device")

    def test_what_needs_a_start_is_said(self):
        self.kitchen.write_plan(self.text.replace("web: {port: 0}", "web: {port: 0, names: [kitchen.example]}"))
        answer = self.kitchen.trivet("plan", "--reload")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn("takes effect at the next start", " ".join(answer.out.split()))


if __name__ == "__main__":
    unittest.main(verbosity=1)
