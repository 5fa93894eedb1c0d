"""`trivet timing` on the demo's simulated days, against readings taken from the database here."""
import json
import re
import statistics
import unittest

import days
import rig


class Timing(days.Days):
    def timing(self, *words):
        return self.kitchen.trivet("--json", "--store", self.kitchen.plan.parent / "records", "timing", *words)

    def test_plans_what_the_batches_took(self):
        took, air = [], []
        for put_in, out in self.roasts().values():
            reached = next(at for at, temp in self.core(put_in, out) if temp >= days.LIMIT_MC)
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
