"""`trivet judge` where time is added up: equivalent times at a reference temperature, and what has to hold for any trace.

The figures stand here, copied from the documents that are named beside them; none is read from config/profiles/.
"""
import math
import os
import random
import unittest

from judging import by, judge, milli_c, path, run, TRACE, write


class Lethality(unittest.TestCase):
    def earned(self, rows, how):
        return judge(rows, "--lethality", how)

    def test_time_at_the_reference_counts_fully(self):
        verdict = self.earned([(t, 70) for t in range(0, 121)], "70C,7.5,2min")
        self.assertEqual((verdict["verdict"], verdict["earned_min"], verdict["time_s"]), ("met", 2, 120))
        verdict = self.earned([(t, 70) for t in range(0, 120)], "70C,7.5,2min")
        self.assertEqual((verdict["verdict"], verdict["earned_min"]), ("not met", 1.9833))

    def test_times_equal_to_2_min_at_70_with_z_7_5(self):
        """10^((T-70)/7.5), computed: minutes that equal 2 min at 70 °C."""
        for temp, minutes in ((60, 43.09), (62, 23.32), (64, 12.62), (65, 9.283), (66, 6.829), (68, 3.696), (70, 2), (72, 1.082),
                              (74, 0.5857), (75, 0.4309), (76, 0.3170), (78, 0.1715), (80, 0.09283)):
            rows = [(minutes * 60 * i / 200, temp) for i in range(201)]
            with self.subTest(temp=temp):
                self.assertAlmostEqual(self.earned(rows, "70C,7.5,2min")["earned_min"], 2, delta=0.002)

    def test_lethal_rates_of_a_published_table(self):
        """Reichert's pasteurisation table (1977), 70 °C, z 10: rates as printed, in two decimals."""
        for temp, rate in ((55, 0.03), (58, 0.06), (60, 0.10), (62, 0.16), (63, 0.20), (65, 0.32), (67, 0.50), (68, 0.63), (69, 0.79),
                           (70, 1.00), (71, 1.26), (72, 1.58), (73, 1.99), (75, 3.16), (77, 5.01), (80, 10.00), (83, 19.95), (85, 31.62)):
            rows = [(t, temp) for t in range(0, 601, 10)]
            with self.subTest(temp=temp):
                self.assertAlmostEqual(self.earned(rows, "70C,10,60min")["earned_min"] / 10, rate, delta=0.0057)

    def test_equivalents_of_90_degrees_for_10_minutes(self):
        """UK Food Standards Agency vacuum-packing training, Module 3: minutes as printed; z about 9 below 90 °C, 10 above."""
        for temp, minutes in ((80, 129), (81, 100), (82, 77), (83, 60), (84, 46), (85, 36), (86, 28), (87, 22), (88, 17), (89, 13), (90, 10),
                              (91, 7.9), (92, 6.3), (93, 5), (94, 4), (95, 3.2), (96, 2.5), (97, 2), (98, 1.6), (99, 1.3), (100, 1)):
            rows = [(minutes * 60 * i / 100, temp) for i in range(101)]
            z = 9 if temp < 90 else 10
            with self.subTest(temp=temp):
                self.assertAlmostEqual(self.earned(rows, f"90C,{z},10min")["earned_min"], 10, delta=0.4)  # printed rounded

    def test_pasteurisation_schemes(self):
        """120 s x 10^((70-T)/7.5), as the chilled food industry tables it (CFA Best Practice Guidelines); 70 °C for 2 min (ECFF; NZ MPI
        Technical Paper 2016/05; Mackey and Bratchell 1989); 90 °C for 10 min (ECFF, from memory)."""
        seconds = ((60, 2585.3), (61, 1901.9), (62, 1399.1), (63, 1029.2), (64, 757.1), (65, 557.0), (66, 409.7), (67, 301.4), (68, 221.7),
                   (69, 163.1), (70, 120.0), (71, 88.3), (72, 64.9), (73, 47.8), (74, 35.1), (75, 25.9), (76, 19.0), (77, 14.0), (78, 10.3),
                   (79, 7.6), (80, 5.6))
        for temp, hold_s in seconds:
            for share, word in ((1.02, "met"), (0.98, "not met")):
                rows = [(share * hold_s * i / 200, temp) for i in range(201)]
                with self.subTest(temp=temp, share=share):
                    self.assertEqual(self.earned(rows, "70C,7.5,2min")["verdict"], word)
        for temp, hold_s, how in ((70, 120, "70C,7.5,2min"), (90, 600, "90C,10,10min")):
            for at, over_s, word in ((temp, 0.1, "met"), (temp, 0, "met"), (temp, -0.1, "not met"), (temp - 0.001, 0, "not met")):
                rows = [((hold_s + over_s) * i / 200, at) for i in range(201)]
                with self.subTest(temp=at, over_s=over_s):
                    self.assertEqual(self.earned(rows, how)["verdict"], word)

    def test_single_rates(self):
        """dairyscience.info: the rate at 110 °C for 121.11 °C, z 10, is 0.077; 15 min at 85 °C are 0.167 min at 102 °C, z 8.7."""
        rows = [(t, 110) for t in range(0, 60001, 60)]
        self.assertAlmostEqual(self.earned(rows, "121.11C,10,10h")["earned_min"] / 1000, 0.077, delta=0.0005)
        rows = [(t, 85) for t in range(0, 901, 10)]
        self.assertAlmostEqual(self.earned(rows, "102C,8.7,1min")["earned_min"], 0.167, delta=0.001)

    def test_a_ramp_with_a_closed_form(self):
        """50 to 65 °C in 60 min, back in 30: (z/ln 10)(1/r1 + 1/r2)(L65 - L50), here 1.818288 min for 70 °C, z 5.555."""
        z, up, down = 5.555, 15 / 60, 15 / 30
        exact = z / math.log(10) * (1 / up + 1 / down) * (10 ** ((65 - 70) / z) - 10 ** ((50 - 70) / z))
        self.assertAlmostEqual(exact, 1.818288, delta=1e-6)
        rows = path([(0, 50), (3600, 65), (5400, 50)], every=10)
        self.assertAlmostEqual(self.earned(rows, "70C,5.555,2min")["earned_min"], exact, delta=0.002)

    def test_a_worked_example_of_the_general_method(self):
        """Potato puree, can centre (Geankoplis, Transport Processes; inputs from memory): F0 2.50 min, 250 °F and z 18 °F."""
        readings = ((0, 80), (15, 165), (25, 201), (30, 212.5), (40, 225), (50, 230.5), (64, 235))
        rows = [(60 * minute, (f - 32) * 5 / 9) for minute, f in readings]
        self.assertAlmostEqual(self.earned(rows, "121.111C,10,2.5min")["earned_min"], 2.50, delta=0.01)

    def test_missing_time_earns_nothing(self):
        rows = [(t, None if 60 <= t < 120 else 70) for t in range(0, 181)]
        self.assertAlmostEqual(self.earned(rows, "70C,7.5,2min")["earned_min"], (59 + 60) / 60, delta=0.001)

    def test_what_cannot_be_read_is_refused(self):
        write([(0, 70)])
        for how in ("", "70", "70C", "70C,7.5", "70F,7.5,2min", "70C,0,2min", "70C,7.5,2", "70C,7.5,0min", "70C,7.5,2min,", "70C,x,2min",
                    "7000C,7.5,2min", "70C,7.5,-2min", "70C,1.9,2min", "70C,7.5,99h"):
            with self.subTest(how=how):
                done = run("judge", "--lethality", how, TRACE)
                self.assertEqual((done.returncode, done.stdout), (2, ""))
                self.assertIn("70C,7.5,2min", done.stderr)


class Properties(unittest.TestCase):
    """With a seed that is shown."""

    def setUp(self):
        self.seed = int(os.environ.get("TRIVET_SEED", "20261125"))
        self.random = random.Random(self.seed)
        self.table = sorted((milli_c(t, "C"), h) for t, h in (
            (54.4, 6720), (55.0, 5340), (57.2, 2160), (57.8, 1680), (60.0, 720), (61.1, 480), (62.2, 300), (62.8, 240), (65.0, 85),
            (66.1, 54), (68.3, 22), (69.4, 14)))  # FDA Food Code 2022 3-401.11(B)(1), the rows with a time

    def roast(self):
        """A core that wanders between the rows, never faster than food can."""
        core, rows = self.random.uniform(50, 64), []
        drift = self.random.uniform(-0.02, 0.05)
        for t in range(0, self.random.choice((900, 3600, 7200)), 10):
            core = min(69.9, max(45, core + drift + self.random.gauss(0, 0.15)))
            rows.append((t, None if self.random.random() < 0.03 else round(core, 3)))
        return rows

    def added_up(self, rows):
        """The sum of reciprocal times, at the colder of two neighbouring readings: what the table's own data would integrate to."""
        total, before = 0, None
        for t, core in rows:
            if core is None:
                continue
            if before and t - before[0] <= 30:
                milli = round(min(core, before[1]) * 1000)
                holds = [hold for at, hold in self.table if at <= milli]
                total += (t - before[0]) / min(holds) if holds else 0
            before = (t, core)
        return total

    def test_strict_never_passes_what_added_up_fails(self):
        met = 0
        for round_ in range(60):
            rows = self.roast()
            verdict = judge(rows, "--limit", "food-code-2022/roast")
            if verdict["verdict"] == "met":
                met += 1
                self.assertGreaterEqual(self.added_up(rows), 1 - 1e-9, f"seed {self.seed}, round {round_}")
        self.assertGreater(met, 5)

    def test_a_table_added_up(self):
        """Of 12 min at 60.0 °C 6, of 28 min at 57.8 °C 70 s, of 8 min at 61.1 °C 220 s: 1/2 + 1/24 + 11/24 = 1 (3-401.11(B)(1)).
        Strictly it is none of them."""
        def trace(end_s):
            return ([(t, 60.0) for t in range(0, 361, 10)] + [(t, 58.5) for t in range(370, 420, 10)] +
                    [(t, 61.1) for t in range(420, 641, 10)] + [(end_s, 58.5), (end_s + 10, 54.3)])
        self.assertEqual(by("food-code-2022/roast", trace(650)), "not met")
        verdict = judge(trace(650), "--limit", "food-code-2022/roast", "--added-up")
        self.assertEqual((verdict["verdict"], verdict["time_s"]), ("met", 650))
        self.assertEqual(judge(trace(649.999), "--limit", "food-code-2022/roast", "--added-up")["verdict"], "not met")
        rows = trace(650)
        write(rows)
        done = run("judge", "--limit", "food-code-2022/poultry", "--added-up", TRACE)
        self.assertEqual(done.returncode, 2)
        self.assertIn("--added-up", done.stderr)

    def test_a_missing_reading_never_turns_a_miss_into_a_pass(self):
        rules = ("food-code-2022/roast", "food-code-2022/intact-meat")
        for round_ in range(30):
            rows = [(t, c) for t, c in self.roast() if c is not None]
            fewer = [(t, None if self.random.random() < 0.2 else c) for t, c in rows]
            for rule in rules:
                if by(rule, rows) != "met":
                    self.assertNotEqual(by(rule, fewer), "met", f"seed {self.seed}, round {round_}, {rule}")

    def test_a_colder_core_never_earns_more(self):
        for round_ in range(30):
            rows = self.roast()
            colder = [(t, None if c is None else c - self.random.choice((0, 0.001, 0.5))) for t, c in rows]
            how = ("--lethality", "60C,6,12min")
            self.assertLessEqual(judge(colder, *how)["earned_min"], judge(rows, *how)["earned_min"], f"seed {self.seed}, round {round_}")


if __name__ == "__main__":
    unittest.main(verbosity=1)
