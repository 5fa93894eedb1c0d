"""`trivet timing` on the demo's simulated days, against readings taken from the database here."""
import json
import math
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

    def clocks(self, line):
        """Seconds since midnight of "18:24 (18:16 to 18:32)"."""
        return [3600 * int(hour) + 60 * int(minute) for hour, minute in re.findall(r"(\d\d):(\d\d)", line)]

    def test_put_in_take_out_rest_and_serving_times_are_told_with_their_ranges(self):
        words = ("timing", "pork-loin,2.4kg", "--oven", "150C", "--serve", "19:00")
        done = self.kitchen.trivet("--store", self.kitchen.store, *words)
        plan, = json.loads(self.timing(*words[1:]).out)
        told = {label: line for label, line in re.findall(r"(?m)^  (put in|take out|rest|serve) +(\S.*)$", done.out)}
        self.assertEqual(list(told), ["put in", "take out", "rest", "serve"], done.out)
        cook, rest = plan["take_out_s"], plan["rest_s"]
        put_in, latest = self.clocks(told["put in"])
        # Early enough for the slow end, and the latest if all goes as usual; minutes are cut, not rounded.
        self.assertAlmostEqual(put_in, 19 * 3600 - rest["p50"] - cook["p95"], delta=61)
        self.assertAlmostEqual(latest, 19 * 3600 - rest["p50"] - cook["p50"], delta=61)
        middle, early, late = self.clocks(told["take out"])
        for clock, share in ((middle, "p50"), (early, "p05"), (late, "p95")):
            self.assertAlmostEqual(clock, put_in + cook[share], delta=121)
        self.assertTrue(early < middle < late)
        self.assertIn("core at 63.0 °C", told["take out"])  # the step's limit, though the plan aims at 66 °C
        middle, early, late = self.clocks(told["serve"])
        self.assertAlmostEqual(middle, put_in + cook["p50"] + rest["p50"], delta=121)
        # Two independent waits: their spreads add up by squares (of normal errors).
        self.assertAlmostEqual(late - middle, math.hypot(cook["p95"] - cook["p50"], rest["p95"] - rest["p50"]), delta=121)
        self.assertTrue(early < middle < late and early < 19 * 3600 - 60 < late + 60)
        minutes = [int(one) for one in re.findall(r"(\d+) min", told["rest"])]
        for minute, share in zip(minutes, ("p50", "p05", "p95")):
            self.assertAlmostEqual(60 * minute, rest[share], delta=31)
        self.assertRegex(told["rest"], r"core climbs to \d+\.\d °C \(\d+\.\d to \d+\.\d\)")
        # Resting carries it past what the kitchen aims at, and that is said.
        self.assertGreater(plan["take_out_C"] + plan["rise_K"]["p50"], 66.5)
        self.assertIn("The limit comes first: it will probably end above 66.0 °C.", done.out)
        self.assertNotIn("The limit comes first", self.kitchen.trivet("--store", self.kitchen.store, "timing", "pork-loin,2.4kg,to 90C",
                                                                      "--oven", "150C").out)

    def test_from_a_start_on(self):
        done = self.kitchen.trivet("--store", self.kitchen.store, "timing", "pork-loin,2.4kg", "--oven", "150C", "--at", "15:00")
        plan, = json.loads(self.timing("pork-loin,2.4kg", "--oven", "150C").out)
        put_in, = self.clocks(re.search(r"(?m)^  put in +(.*)$", done.out)[1])
        middle = self.clocks(re.search(r"(?m)^  take out +(.*)$", done.out)[1])[0]
        self.assertEqual(put_in, 15 * 3600)
        self.assertAlmostEqual(middle, put_in + plan["take_out_s"]["p50"], delta=61)

    def test_order_of_work_is_by_the_clock_and_tells_the_dishes_apart(self):
        for more in ((), ("--apart",)):
            words = ("timing", "pork-loin,2.4kg", "pork-loin,1.2kg", "--oven", "150C", "--serve", "19:00", *more)
            done = self.kitchen.trivet("--store", self.kitchen.store, *words)
            jobs = re.findall(r"(?m)^  (?:\w+ )?(\d\d:\d\d)  (put in|look at|take out) +Rolled pork loin, (\S+ kg)(.*)$", done.out)
            self.assertEqual(sorted((what, size) for _, what, size, _ in jobs),
                             sorted((what, size) for what in ("put in", "look at", "take out") for size in ("2.4 kg", "1.2 kg")))
            at = {(what, size): self.clocks(clock)[0] for clock, what, size, _ in jobs}
            self.assertEqual([self.clocks(clock)[0] for clock, *_ in jobs], sorted(at.values()))
            for size in ("2.4 kg", "1.2 kg"):
                self.assertTrue(at["put in", size] < at["look at", size] < at["take out", size] < 19 * 3600)
            self.assertTrue(all("core at 63.0 °C" in rest for _, what, _, rest in jobs if what == "take out"))
            # One at a time, or both in the oven at once.
            together = at["put in", "1.2 kg"] < at["take out", "2.4 kg"]
            self.assertEqual(together, not more)

    def test_filet_in_dough_takes_what_is_common_practice(self):
        """No source: half a kilogram to two thirds, started cold, at about 220 °C, medium-rare to medium in roughly 35 to 45 minutes.
        docs/learning.md names two of these figures."""
        told = {}
        for grams in (500, 580, 600, 667):
            for target in (54, 55, 57, 58, 60):
                plan, = json.loads(self.timing(f"filet,{grams}g,long,dough,from 5C,to {target}C", "--oven", "220C", "--without-records").out)
                told[grams, target] = plan["take_out_s"]["p50"] / 60
                self.assertTrue(plan["take_out_s"]["p05"] < 45 * 60 and plan["take_out_s"]["p95"] > 35 * 60, plan)
        self.assertTrue(all(30 < minutes < 48 for minutes in told.values()), told)  # "roughly": five minutes to either side
        self.assertTrue(35 <= told[667, 57] <= 45 and 34 <= told[580, 57] <= 45, told)
        self.assertEqual((round(told[600, 55]), round(told[600, 58])), (34, 36))

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
