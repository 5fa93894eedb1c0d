"""`trivet timing` and `trivet compare` on the demo's simulated days, against readings taken from the database here."""
import csv
import io
import json
import re
import statistics
import unittest
import xml.etree.ElementTree

import rig

END_MS = 1741204800000  # 2025-03-05T20:00:00Z; Europe/London shows the same
LIMIT_MC = 63000  # of the demo's roast


def said_in(root):
    return [e for e in root.iter("{http://www.w3.org/2000/svg}g") if e.get("class") == "said"]


class Records(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.kitchen = rig.Kitchen()
        cls.addClassCleanup(cls.kitchen.close)
        cls.kitchen.write_plan((rig.ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8"))
        done = rig.subprocess.run([rig.PAST, "--end", str(END_MS), "--hours", "120", str(cls.kitchen.plan)],
                                  stdin=rig.subprocess.DEVNULL, capture_output=True, text=True, timeout=120)
        if done.returncode != 0:
            raise AssertionError(done.stderr)

    def roasts(self):
        """{batch: (put in, taken out)} from the decisions."""
        found = {}
        for body in self.kitchen.records("decision"):
            data = body["data"]
            if data["decision"] == "step-begun" and data.get("step") == "cook":
                found[data["batch"]] = [body["at_ms"], None]
            elif data["decision"] == "step-begun" and data.get("step") == "rest" and data["batch"] in found:
                found[data["batch"]][1] = body["at_ms"]
        return found

    def served(self, batch):
        """When it left its rest: from then on the probes tell of the hot cupboard, and the curve has ended."""
        return next(body["at_ms"] for body in self.kitchen.records("decision")
                    if body["data"]["decision"] == "step-begun" and (body["data"]["batch"], body["data"].get("step")) == (batch, "serve"))

    def numbers(self, *ids):
        probes = self.kitchen.records("plan")[-1]["data"]["probes"]
        return [probes[name] for name in ids]

    def core(self, put_in, until):
        """[(seconds, coldest core in mC)] of the instants at which both roast probes read well."""
        a, b = self.numbers("roast-core-a", "roast-core-b")
        rows = self.kitchen.query(f"SELECT at_ms, min(temp_mC), count(*) FROM reading WHERE probe IN ({a}, {b}) AND quality = 0 "
                                  f"AND at_ms >= {put_in} AND at_ms <= {until} GROUP BY at_ms / 5000 ORDER BY at_ms")
        return [((at - put_in) / 1000, temp) for at, temp, count in rows if count == 2]

    def air(self, put_in, until):
        probe, = self.numbers("oven-air")
        return [temp / 1000 for temp, in self.kitchen.query(
            f"SELECT temp_mC FROM reading WHERE probe = {probe} AND quality = 0 AND at_ms > {put_in} AND at_ms < {until}")]

    def compare(self, *words):
        done = self.kitchen.trivet("--store", self.kitchen.plan.parent / "records", "compare", "pork-loin", *words)
        self.assertEqual(done.code, rig.DONE, done.err)
        return done.out

    def timing(self, *words):
        return self.kitchen.trivet("--json", "--store", self.kitchen.plan.parent / "records", "timing", *words)

    def test_table_is_what_the_readings_say(self):
        rows = list(csv.DictReader(io.StringIO(self.compare("--as", "csv"))))
        roasts = self.roasts()
        self.assertEqual([int(row["batch"]) for row in rows], sorted(roasts)[-6:])
        for row in rows:
            put_in, out = roasts[int(row["batch"])]
            core = self.core(put_in, self.served(int(row["batch"])))
            reached = next(at for at, temp in core if temp >= LIMIT_MC)
            with self.subTest(batch=row["batch"]):
                self.assertAlmostEqual(float(row["to_limit_s"]), reached, delta=15)
                self.assertAlmostEqual(float(row["taken_out_s"]), (out - put_in) / 1000, delta=1)
                self.assertAlmostEqual(float(row["peak_degC"]), max(temp for _, temp in core) / 1000, delta=0.15)
                self.assertAlmostEqual(float(row["mean_oven_degC"]), statistics.fmean(self.air(put_in, out)), delta=1)
                self.assertAlmostEqual(float(row["below_limit_s"]), reached, delta=60)
                self.assertEqual((row["mass_g"], row["limit_degC"]), ("2400", "63.000"))
                # Half way, from nothing later: a forecast, and not far off in this simple kitchen.
                self.assertAlmostEqual(float(row["forecast_at_s"]), reached / 2, delta=60)
                self.assertAlmostEqual(float(row["forecast_p50_s"]) / reached, 1, delta=0.25)

    def test_curves_are_aligned_at_put_in(self):
        rows = list(csv.DictReader(io.StringIO(self.compare("--as", "curves", "--last", 2))))
        roasts = self.roasts()
        for batch in sorted(roasts)[-2:]:
            put_in, out = roasts[batch]
            core = dict(self.core(put_in, out))
            for at, temp in list(core.items())[::120]:
                near = min(rows, key=lambda row: abs(float(row["time_s"]) - at))
                self.assertAlmostEqual(float(near[f"core_{batch}_degC"]), temp / 1000, delta=1.0)

    def test_text_fits_a_terminal_and_cautions(self):
        text = self.compare()
        self.assertTrue(all(len(line) <= 80 for line in text.splitlines()), text)
        self.assertIn("Only measurements decide", text)
        self.assertRegex(text, r"(?m)^ after +#\d+")

    def test_image_is_whole_and_tells_lines_apart_without_colour(self):
        path = self.kitchen.plan.parent / "loins.svg"
        self.assertIn("Written", self.compare("--as", "svg", "--out", path))
        root = xml.etree.ElementTree.parse(path).getroot()
        lines = [e for e in root.iter("{http://www.w3.org/2000/svg}path") if e.get("fill") == "none"]
        self.assertGreaterEqual(len(lines), 4)
        self.assertEqual(len({e.get("stroke-dasharray") for e in lines}), len(lines))
        self.assertIsNotNone(root.find("{http://www.w3.org/2000/svg}title"))
        # What was said half way beside what happened, for each.
        self.assertEqual(len(said_in(root)), len(lines))

    def test_plans_what_the_batches_took(self):
        took, air = [], []
        for put_in, out in self.roasts().values():
            reached = next(at for at, temp in self.core(put_in, out) if temp >= LIMIT_MC)
            took.append(reached)
            air.append(statistics.median(self.air(put_in + reached * 250, put_in + reached * 1000)))
        oven = f"{statistics.median(air):.1f}C"
        same, = json.loads(self.timing("pork-loin,2.4kg,from 5C,to 63C", "--oven", oven).out)
        self.assertAlmostEqual(same["take_out_C"], 63, delta=0.1)  # never below the limit of the step
        self.assertAlmostEqual(same["take_out_s"]["p50"] / statistics.median(took), 1, delta=0.1)
        self.assertEqual(sorted(self.roasts())[-len(same["learned_from"]):], same["learned_from"])
        self.assertGreaterEqual(len(same["learned_from"]), 4)
        half, = json.loads(self.timing("Rolled pork loin,1.2kg,from 5C,to 63C", "--oven", oven).out)
        # Conduction: between the power 1/3 and 2/3 of the mass (the limits of a bad and of a perfect film).
        ratio = half["take_out_s"]["p50"] / same["take_out_s"]["p50"]
        self.assertTrue(0.5 ** (2 / 3) <= ratio <= 0.5 ** (1 / 3), ratio)
        guess, = json.loads(self.timing("pork-loin,2.4kg,to 66C", "--oven", oven, "--without-records").out)
        self.assertEqual(guess["learned_from"], [])
        width = lambda plan: plan["take_out_s"]["p95"] / plan["take_out_s"]["p05"]
        self.assertLess(width(same), width(guess))

    def coolings(self, product):
        """{batch: (begun, over, probe, air)} of a product's cooling steps, from the decisions; the past cools in the chiller."""
        begins = {one["data"]["batch"]: one["data"] for one in self.kitchen.records("begin") if one["data"]["product"] == product}
        found, open_ = {}, {}
        for body in self.kitchen.records("decision"):
            data = body["data"]
            batch = data.get("batch")
            if batch not in begins:
                continue
            if data["decision"] in ("step-begun", "batch-ended") and batch in open_:
                found[batch] = (open_.pop(batch), body["at_ms"])
            if data["decision"] == "step-begun" and data.get("step") == "cool":
                open_[batch] = body["at_ms"]
        return found

    def test_coolings_are_what_the_readings_say(self):
        for words in (("chicken-stock",), ("lentil-filling", "--cooling")):
            done = self.kitchen.trivet("--store", self.kitchen.plan.parent / "records", "compare", *words, "--as", "csv", "--last", 3)
            if not self.coolings(words[0]):
                self.assertEqual(done.code, rig.NO)
                self.assertIn("in the cold", done.err)
                continue
            rows = list(csv.DictReader(io.StringIO(done.out)))
            self.assertEqual([int(row["batch"]) for row in rows], sorted(self.coolings(words[0]))[-3:])
            for row in rows:
                begun, over = self.coolings(words[0])[int(row["batch"])]
                probe, = self.numbers("filling-core")
                core = [((at - begun) / 1000, temp / 1000) for at, temp in self.kitchen.query(
                    f"SELECT at_ms, temp_mC FROM reading WHERE probe = {probe} AND quality = 0 AND at_ms >= {begun} AND at_ms < {over}")]
                above = [at for at, temp in core if temp > 57]
                clock = max(at for at in above if at < next(at for at, temp in core if temp <= 57 and at > above[0]))
                self.assertAlmostEqual(float(row["clock_s"]), clock, delta=15)
                for stage, to in ((1, 21), (2, 5)):
                    reached = next((at for at, temp in core if at >= clock and temp <= to), None)
                    with self.subTest(batch=row["batch"], stage=stage):
                        self.assertEqual(float(row[f"stage{stage}_degC"]), to)
                        if reached is None:
                            self.assertEqual(row[f"stage{stage}_took_s"], "")
                        else:
                            self.assertAlmostEqual(float(row[f"stage{stage}_took_s"]), reached - clock, delta=20)
                self.assertAlmostEqual(float(row["start_degC"]), core[0][1], delta=0.5)
                self.assertAlmostEqual(float(row["lowest_degC"]), min(temp for _, temp in core), delta=0.15)
                took = float(row["stage1_took_s"])
                self.assertAlmostEqual(float(row["rate_K_min"]), (57 - 21) * 60 / took, delta=0.05)
                # Half way to the last stage reached, from nothing later: a forecast, and not far off in this simple kitchen.
                reached = float(row["reached_s"])
                self.assertAlmostEqual(float(row["forecast_at_s"]), clock + (reached - clock) / 2, delta=60)
                self.assertAlmostEqual(float(row["forecast_p50_s"]) / reached, 1, delta=0.3)

    def test_coolings_as_text_and_image(self):
        text = self.kitchen.trivet("--store", self.kitchen.plan.parent / "records", "compare", "lentil-filling", "--cooling")
        self.assertEqual(text.code, rig.DONE, text.err)
        self.assertTrue(all(len(line) <= 80 for line in text.out.splitlines()), text.out)
        self.assertIn("to 21.0", text.out)
        self.assertIn("said half way", text.out)
        self.assertIn("Only measurements decide", text.out)
        path = self.kitchen.plan.parent / "fillings.svg"
        done = self.kitchen.trivet("--store", self.kitchen.plan.parent / "records", "compare", "lentil-filling", "--cooling", "--as", "svg",
                                   "--out", path)
        self.assertEqual(done.code, rig.DONE, done.err)
        root = xml.etree.ElementTree.parse(path).getroot()
        self.assertGreaterEqual(len(said_in(root)), 3)
        self.assertIn("limit 21.0", path.read_text(encoding="utf-8"))

    def test_serving_time_and_order_of_work(self):
        words = ("timing", "pork-loin,2.4kg", "pork-loin,1.2kg", "--oven", "150C", "--serve", "19:00")
        done = self.kitchen.trivet("--store", self.kitchen.plan.parent / "records", *words)
        self.assertEqual(done.code, rig.DONE, done.err)
        self.assertTrue(all(len(line) <= 80 for line in done.out.splitlines()), done.out)
        order = done.out[done.out.index("Order of work"):]
        self.assertEqual(re.findall(r"\d  (put in|look at|take out)", order)[:2], ["put in", "put in"])
        self.assertEqual(order.count("take out"), 2)
        plans = json.loads(self.timing(*words[1:]).out)
        self.assertLess(plans[0]["put_in_ms"], plans[1]["put_in_ms"])  # the larger one first
        apart = json.loads(self.timing(*words[1:], "--apart").out)
        first_out = apart[0]["put_in_ms"] + 1000 * apart[0]["take_out_s"]["p95"]
        self.assertLessEqual(first_out, apart[1]["put_in_ms"] + 1000)

    def test_records_nothing(self):
        before = self.kitchen.query("SELECT count(*), max(seq) FROM record")
        self.timing("pork-loin,2.4kg", "--oven", "150C")
        self.compare()
        self.assertEqual(self.kitchen.query("SELECT count(*), max(seq) FROM record"), before)

    def test_refusals(self):
        for words, told in ((("pork-loin,2.4kg",), "--oven"), (("goulash,2kg", "--oven", "150C"), "no product 'goulash'"),
                            (("pork-loin", "--oven", "150C"), "how big"), (("pork-loin,2kg", "--oven", "60C"), "reach"),
                            (("pork-loin,2kg", "--oven", "150C", "--serve", "25:00"), "no time of day"),
                            (("pork-loin,2kg", "--oven", "150C", "--serve", "19:00", "--at", "17:00"), "exclude"),
                            ((), "name one to")):
            with self.subTest(words=words):
                done = self.timing(*words)
                self.assertEqual(done.code, rig.USAGE, done.out)
                self.assertIn(told, done.out + done.err)


if __name__ == "__main__":
    unittest.main(verbosity=1)
