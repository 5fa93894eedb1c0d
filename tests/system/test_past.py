"""The demo's past: what the simulated weeks put on record stands up to the same checks as a real store, is the same for
the same end and seed, and the daemon goes on in it.
"""
import hashlib
import html
import os
import re
import subprocess
import time
import unittest
import urllib.request

import rig

END_MS = 1741204800000  # 2025-03-05T20:00:00Z, a Wednesday; Europe/London shows the same
DAY_MS = 24 * 3600 * 1000
WEEKS = int(os.environ.get("TRIVET_WEEKS", "1"))
WEEKS_A_STORE = 50  # the past is made for a year at most


class Past(unittest.TestCase):
    def kitchen(self):
        kitchen = rig.Kitchen()
        self.addCleanup(kitchen.close)
        kitchen.port = rig.free_port()
        plan = (rig.ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8")
        kitchen.write_plan(plan.replace("port: 8470", f"port: {kitchen.port}"))
        return kitchen

    def live(self, kitchen, *options, timeout_s=120):
        return subprocess.run([rig.PAST, *map(str, options), str(kitchen.plan)], stdin=subprocess.DEVNULL,
                              stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=timeout_s)

    def filled(self, *options):
        kitchen = self.kitchen()
        done = self.live(kitchen, *options)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        self.assertIn("Demo data", done.stdout)
        return kitchen

    def test_chain_and_replay_hold_and_every_trouble_is_on_record(self):
        kitchen = self.filled("--end", END_MS, "--hours", 240)
        self.assertEqual(kitchen.trivet("chain").code, rig.DONE)
        self.assertEqual(kitchen.trivet("replay").code, rig.DONE)
        rows = kitchen.trivet("export", "deviations", "--from", "2025-02-01", "--to", "2025-03-06").rows
        told = [(row["reason"], row["place"], row["disposition"], row["verified_by"]) for row in rows]
        self.assertEqual(told, [("no-good-reading", "counter-fridge", "no-food", "JO"),
                                ("out-too-long", "walk-in", "use", "JO"),
                                ("too-late", "chiller", "discard", "RS"),
                                ("out-too-long", "walk-in", "use", "")])
        self.assertEqual((rows[2]["product"], rows[2]["stage"]), ("lentil-filling", "2"))
        # Every roast's oven was as the plan asks, every steak was measured on both sides, every filling has its date.
        said = [body["data"] for body in kitchen.records("decision")]
        begun = {product: {body["data"]["batch"] for body in kitchen.records("begin") if body["data"]["product"] == product}
                 for product in ("pork-loin", "beef-steak", "lentil-filling")}
        for product, decision, limit in (("pork-loin", "limit-met", "moist_oven"), ("beef-steak", "limit-met", "cook"),
                                         ("lentil-filling", "date-marked", "date_mark")):
            found = {one["batch"] for one in said if (one["decision"], one.get("limit")) == (decision, limit)}
            self.assertTrue(begun[product])
            self.assertLessEqual(begun[product], found, product)
        # The plan names published limits; what reads it back from the record must not need the profiles' files.
        people = kitchen.trivet("export", "people").rows
        self.assertEqual([row["initials"] for row in people], ["AB", "LM", "JO", "RS"])
        reviewed = kitchen.trivet("review", "2025-03-04")
        self.assertEqual(reviewed.code, rig.DONE)
        self.assertRegex(" ".join(reviewed.out.split()), r" Dated, step cool \(a person entered it\), batch \d+, chiller, last day 2025-03-10 ")
        kinds = {body["kind"] for body in kitchen.records()}
        self.assertLessEqual({"begin", "move", "end", "hand", "note", "action", "verify", "seal", "stop"}, kinds)
        begun, ended = kitchen.records("begin"), kitchen.records("end")
        self.assertEqual([body["data"]["batch"] for body in begun], sorted({body["data"]["batch"] for body in ended}))
        first_ms, last_ms, count = kitchen.query("SELECT min(at_ms), max(at_ms), count(*) FROM reading")[0]
        self.assertLess(last_ms, END_MS + 1)
        self.assertLess(first_ms, END_MS - 240 * 3600 * 1000 + 20000)
        # Two probes every 5 s and seven every 10 s make eleven readings in ten seconds.
        self.assertEqual(count, 240 * 3600 * 11 // 10)

    def test_it_tells_the_same_story_whenever_the_demo_begins(self):
        for seed, hour in enumerate((0.35, 9.7, 18.6, 23.3), 20):
            end_ms = END_MS + int((hour - 20) * 3600 * 1000)
            kitchen = self.filled("--end", end_ms, "--seed", seed, "--hours", 150, "--running", 50)
            rows = kitchen.trivet("export", "deviations", "--from", "2025-02-01", "--to", "2025-03-06").rows
            open_rows = [(row["reason"], row["place"]) for row in rows if not row["verified_by"]]
            self.assertEqual(open_rows, [("out-too-long", "walk-in")], hour)
            roasts = {row["reason"] for row in rows if row["product"] == "pork-loin"}
            self.assertEqual(roasts, set(), hour)

    def test_weeks_replay_as_they_were_recorded(self):
        for seed, begun in enumerate(range(0, WEEKS, WEEKS_A_STORE), 11):
            weeks = min(WEEKS_A_STORE, WEEKS - begun)
            kitchen = self.kitchen()
            done = self.live(kitchen, "--end", END_MS, "--hours", weeks * 168, "--seed", seed, timeout_s=60 + 60 * weeks)
            self.assertEqual((done.returncode, done.stderr), (0, ""))
            self.assertEqual(kitchen.query("SELECT count(*) FROM reading")[0][0], weeks * 168 * 3600 * 11 // 10)
            self.assertEqual(kitchen.trivet("replay").code, rig.DONE)

    def test_why_tells_a_deviation_from_the_records_alone(self):
        kitchen = self.filled("--end", END_MS, "--hours", 240)  # no daemon runs
        told = kitchen.trivet("why", "d2")
        self.assertEqual(told.code, rig.DONE, told.err)
        self.assertTrue(all(len(line) <= 80 for line in told.out.splitlines()), told.out)
        self.assertRegex(told.out, r"rule +E22: ")
        self.assertRegex(told.out, r"source +Kitchen's own, to keep food at FDA Food Code 2022 3-501\.16\(A\)\(2\)")
        self.assertRegex(told.out, r"told +nobody but the page: the plan has no alarm command")
        self.assertIn("DEMO DATA", told.err)
        explained = kitchen.trivet("--json", "why", "d2").json
        rows = kitchen.trivet("export", "deviations", "--from", "2025-02-01", "--to", "2025-03-06").rows
        row = next(row for row in rows if row["deviation"] == "2")
        opened = explained[0]
        self.assertEqual((opened["rule"], opened["control_point"], opened["source"]),
                         (row["rule"], row["critical_control_point"], row["limit_source"]))
        for text in (opened["rule_says"], opened["required"], opened["found"], opened["uncertainty"]):
            self.assertIn(text, row["explained"])
        # The readings are those of the store, around both instants; 20 min is the plan's tolerance.
        at_ms, since_ms = opened["at_ms"], opened["decision"]["since_ms"]
        self.assertEqual(at_ms - since_ms, 20 * 60 * 1000)
        stored = dict(kitchen.query("SELECT at_ms, temp_mC FROM reading WHERE probe = ?", opened["decision"]["probe"]))
        told = {reading["at_ms"]: reading["temp_mC"] for reading in opened["readings"]}
        self.assertLessEqual(told.items(), stored.items())
        self.assertTrue(at_ms in told and since_ms in told)
        self.assertGreater(told[since_ms], 5000)
        before = max(instant for instant in told if instant < since_ms)
        self.assertLessEqual(told[before], 5000)
        self.assertEqual([entry["kind"] for entry in opened["entries"]], ["action", "verify"])
        action = next(one["data"] for one in kitchen.records("action") if one["data"]["deviation"] == 2)
        said = f"found: {action['found'].rstrip('.')}; done: {action['done'].rstrip('.')}; the food: batch "
        self.assertIn(said, opened["entries"][0]["said"])
        self.assertIn(said, " ".join(kitchen.trivet("why", "d2").out.split()))
        # Its end says the last reading outside, which is among the readings told; the first one inside comes after it.
        ended = next(one for one in explained if one["decision"]["decision"] == "deviation-ended")
        last_ms = ended["decision"]["last_ms"]
        told = {reading["at_ms"]: reading["temp_mC"] for reading in ended["readings"]}
        self.assertGreater(told[last_ms], 5000)
        self.assertLessEqual(told[min(instant for instant in told if instant > last_ms)], 5000)
        self.assertIn("last one outside", kitchen.trivet("why", "d2").out)
        self.assertEqual(row["last_breach_utc"], time.strftime("%Y-%m-%dT%H:%M:%S.", time.gmtime(last_ms // 1000)) + f"{last_ms % 1000:03d}Z")
        self.assertEqual(float(row["total_s"]) * 1000, ended["decision"]["found_ms"])

    def test_why_a_batch_and_its_records_and_what_is_not_there(self):
        kitchen = self.filled("--end", END_MS, "--hours", 48)
        batch = kitchen.records("begin")[0]
        listed = kitchen.trivet("--json", "why", f"b{batch['data']['batch']}").json
        stored = [body for body in kitchen.records("decision") if body["data"].get("batch") == batch["data"]["batch"]]
        self.assertEqual([one["record"] for one in listed], [body["seq"] for body in stored])
        self.assertEqual([one["decision"] for one in listed], [body["data"] for body in stored])
        rows = kitchen.trivet("export", "decisions", "--from", "2025-02-01", "--to", "2025-03-06").rows
        self.assertEqual([int(row["seq"]) for row in rows], [body["seq"] for body in kitchen.records("decision")])
        entry = kitchen.trivet("--json", "why", str(batch["seq"])).json[0]
        self.assertEqual(entry["led_to"], [listed[0]["record"]])
        seal = kitchen.records("seal")[0]["seq"]  # decides nothing: perhaps a deviation or batch was meant
        self.assertIn(f"deviation {seal} is d{seal}, batch {seal} is b{seal}", kitchen.trivet("why", seal).out)
        for wrong in ("d99", "b99", "99999999"):
            self.assertEqual(kitchen.trivet("why", wrong).code, rig.NO)
        for wrong in ("", "3d", "0", "deviation"):
            self.assertEqual(kitchen.trivet("why", wrong).code, rig.USAGE)

    def content(self, kitchen):
        records = [(body["at_ms"], body["kind"], body["data"]) for body in kitchen.records()
                   if body["kind"] not in ("start", "plan")]  # the process and the directory are others
        return records, kitchen.query("SELECT * FROM reading ORDER BY at_ms, probe")

    def test_same_end_and_seed_give_the_same_past_and_another_seed_another(self):
        first = self.content(self.filled("--end", END_MS, "--hours", 30))
        self.assertEqual(first, self.content(self.filled("--end", END_MS, "--hours", 30)))
        self.assertNotEqual(first[1], self.content(self.filled("--end", END_MS, "--hours", 30, "--seed", 2))[1])

    def test_daemon_goes_on_in_it_and_the_pages_show_it(self):
        kitchen = self.filled("--hours", 72)
        before = kitchen.records()[-1]
        kitchen.start()
        start = rig.await_that(lambda: kitchen.records("start", after=before["seq"]), "the daemon's start on record")[0]
        self.assertEqual(start["data"]["since_ms"], before["at_ms"])
        self.assertEqual(kitchen.records("plan", after=before["seq"]), [], "the plan is the same")
        late = kitchen.decisions(decision="deviation-opened", reason="too-late")[0]
        for page, shown in (("deviations", "Set it right and threw the filling away."), ("place/walk-in", "<svg"),
                            ("", "Demo data"), (f"batch/{late['batch']}", ">left out</td>"), (f"batch/{late['batch']}", "This batch is discarded, since "),
                            (f"why/d{late['deviation']}", '<tr class="gap"')):
            with urllib.request.urlopen(f"http://127.0.0.1:{kitchen.port}/{page}", timeout=rig.PATIENCE_S) as answer:
                told = answer.read().decode()
            self.assertIn(shown, told, page)
            self.assertNotIn("the rest: thrown away", told, "the batch is all there was of it")
        self.assertEqual(kitchen.stop(), 0)
        self.assertEqual(kitchen.trivet("chain").code, rig.DONE)
        self.assertEqual(kitchen.trivet("replay").code, rig.DONE)

    def test_labels_of_what_is_in_store_and_what_is_frozen(self):
        kitchen = self.filled("--hours", 120, "--running", 50)
        kitchen.start()
        labels = kitchen.trivet("label")
        self.assertEqual(labels.code, rig.DONE, labels.err)
        each = labels.out.strip().split("\n\n")
        self.assertTrue(all(label.startswith("Braised lentil filling\n") for label in each), labels.out)
        frozen = [label for label in each if "FROZEN after day 1 of 7; thawed today, use by the end of 20" in label]
        self.assertEqual(len(frozen), 1, labels.out)
        self.assertIn("USE BY THE END OF 20", each[0])  # what cools now
        batches = {one["product"]: one for one in kitchen.trivet("--json", "now").json["batches"]}
        self.assertIn("121.0", batches["pork-loin"]["oven"]["limit"])
        self.assertEqual(batches["pork-loin"]["oven"]["verdict"], "open")
        self.assertEqual(kitchen.stop(), 0)

    def digest(self, kitchen, lesson):
        """As docs/storage.md has it: the readings of the batch's probes and of the air around it."""
        begin = next(one["data"] for one in kitchen.records("begin") if one["data"]["batch"] == lesson["batch"])
        numbers = kitchen.records("plan")[-1]["data"]["probes"]
        air = {("pork-loin", "heating"): ["oven-air"], ("lentil-filling", "heating"): []}.get(
            (lesson["product"], lesson["kind"]), ["chiller-air"])
        probes = ",".join(str(numbers[name]) for name in begin["probes"] + air)
        rows = kitchen.query(f"SELECT at_ms, probe, temp_mC, quality FROM reading WHERE probe IN ({probes}) AND "
                             f"at_ms >= {lesson['put_in_ms']} AND at_ms <= {lesson['until_ms']} ORDER BY at_ms, probe")
        lines = "".join(f"{at},{probe},{'' if temp is None else temp},{quality}\n" for at, probe, temp, quality in rows)
        return hashlib.sha256(lines.encode()).hexdigest(), len(rows)

    def test_what_is_left_running_is_forecast_as_soon_as_the_daemon_starts(self):
        kitchen = self.kitchen()
        done = self.live(kitchen, "--hours", 30, "--running", 50)
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        roast, filling = map(int, re.search(r"Batch (\d+) is in the oven, batch (\d+) in the chiller", done.stdout).groups())
        kitchen.start()

        def forecast():
            batches = {one["number"]: one["forecast"] for one in kitchen.trivet("--json", "now").json["batches"]}
            return batches if all(batches.get(number) for number in (roast, filling)) else None

        batches = rig.await_that(forecast, "a forecast of both batches")
        for number in (roast, filling):
            self.assertEqual(batches[number]["refusal"], "", batches[number])
            reach = batches[number]["reaches"][0]
            self.assertLess(reach["early"], reach["likely"])
        self.assertIsNotNone(batches[roast]["take_out"])
        self.assertGreater(batches[roast]["peak"]["likely_mC"], 5000)
        with urllib.request.urlopen(f"http://127.0.0.1:{kitchen.port}/batch/{roast}", timeout=rig.PATIENCE_S) as answer:
            page = answer.read().decode()
        self.assertIn("Taken out now, the core would peak at", page)
        shown = kitchen.trivet("now").out
        self.assertTrue(all(len(line) <= 80 for line in shown.splitlines()), shown)
        for text in ("Taken out now, the core would peak at", "with the oven 20 °C cooler (about "):
            self.assertIn(text, " ".join(shown.split()))
            self.assertIn(text, " ".join(html.unescape(page).split()))
        peak = next(row for row in kitchen.trivet("compare", "pork-loin", "--as", "csv").rows if row["batch"] == str(roast))["peak_degC"]
        self.assertEqual(peak, "", "it is still in the oven")
        self.assertIn("forecast: about", page)
        lesson = rig.await_that(lambda: kitchen.records("lesson"), "a lesson of an earlier batch")[0]["data"]
        self.assertEqual((lesson["digest"], lesson["readings"]), self.digest(kitchen, lesson))
        self.assertGreater(batches[roast]["earlier_batches"] + batches[filling]["earlier_batches"], 0)
        self.assertEqual(kitchen.stop(), 0)
        self.assertEqual(kitchen.trivet("replay").code, rig.DONE)

    def test_store_that_holds_records_is_left_alone(self):
        kitchen = self.filled("--end", END_MS, "--hours", 1)
        before = kitchen.records()
        done = self.live(kitchen, "--hours", 1)
        self.assertEqual(done.returncode, 1)
        self.assertIn("empty store only", done.stderr)
        self.assertEqual(kitchen.records(), before)

    def test_end_in_the_future_and_other_nonsense_is_refused(self):
        kitchen = self.kitchen()
        for options in (("--end", 4102444800000), ("--hours", 0), ("--hours", "two"), ("--seed", -1), ("--what",)):
            self.assertEqual(self.live(kitchen, *options).returncode, 2, options)
        self.assertFalse(kitchen.store.exists())


if __name__ == "__main__":
    unittest.main(verbosity=1)
