"""`trivet limits` and `trivet judge` against the published figures: each row just inside, exactly at and just outside.

The figures stand here and in published/cook_tables.csv, copied from the documents that are named beside them; none is read
from config/profiles/. What a table means is worked out here a second time, from its words: any one row, unbroken.
"""
import csv
import gzip
import json
import math
import os
import pathlib
import random
import subprocess
import tempfile
import unittest

import rig

HEADER = "time_s,core_degC,air_degC,event"
TABLES = pathlib.Path(__file__).resolve().parent / "published/cook_tables.csv"
WORK = tempfile.TemporaryDirectory(prefix="trivet-judge-")
TRACE = pathlib.Path(WORK.name) / "trace.csv"


def run(*words, profiles=None):
    environment = dict(os.environ)
    environment.pop("TRIVET_PROFILES", None)
    if profiles:
        environment["TRIVET_PROFILES"] = str(profiles)
    return subprocess.run([rig.TRIVET, *map(str, words)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=60,
                          stdin=subprocess.DEVNULL, env=environment)


def write(rows):
    """rows: (time_s, core or None[, event[, air]])."""
    lines = [HEADER]
    for time_s, core, *more in rows:
        event = more[0] if more else ""
        air = more[1] if len(more) > 1 else ""
        lines.append(f"{time_s:.10g},{'' if core is None else format(core, '.3f')},{air},{event}")
    TRACE.write_text("\n".join(lines) + "\n", encoding="ascii")


def judge(rows, *how):
    """The last line, after checking the exit code against it and every line against JSON."""
    write(rows)
    done = run("judge", *how, TRACE)
    if done.returncode not in (0, 1) or done.stderr:
        raise AssertionError(f"ended with {done.returncode}: {done.stderr}")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    for line in lines[:-1]:
        if "decision" not in line:
            raise AssertionError(line)
    if (lines[-1]["verdict"] == "met") != (done.returncode == 0):
        raise AssertionError(f"{lines[-1]} with exit code {done.returncode}")
    return lines[-1]


def by(rule, rows):
    return judge(rows, "--limit", rule)["verdict"]


def milli_c(temp, unit):
    """The thousandth of a degree Celsius nearest to a published temperature."""
    celsius = float(temp) if unit == "C" else (float(temp) - 32) * 5 / 9
    return round(celsius * 1000)


def steady(milli, hold_s):
    """Twenty readings over exactly hold_s; one when there is nothing to hold."""
    if hold_s <= 0:
        return [(0, milli / 1000)]
    return [(hold_s * i / 20, milli / 1000) for i in range(21)]


def path(points, every=60):
    """Straight lines between (time_s, core), read at a fixed period and at each point."""
    rows = []
    for (t0, c0), (t1, c1) in zip(points, points[1:]):
        t = t0
        while t < t1:
            rows.append((t, c0 + (c1 - c0) * (t - t0) / (t1 - t0)))
            t += every
    return rows + [points[-1]]


class Tables(unittest.TestCase):
    """Time and temperature tables, every row."""

    @classmethod
    def setUpClass(cls):
        cls.tables = {}
        with open(TABLES, encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                cls.tables.setdefault(row["rule"], []).append((milli_c(row["temp"], row["unit"]), float(row["hold_s"])))

    def expected(self, rule, milli, hold_s):
        """What the words say of a steady temperature: any row may satisfy."""
        return "met" if any(milli >= at and hold_s >= hold - 1e-9 for at, hold in self.tables[rule]) else "not met"

    def test_every_row_inside_at_and_outside(self):
        self.assertGreater(sum(map(len, self.tables.values())), 600)
        for rule, rows in self.tables.items():
            for milli, hold_s in rows:
                with self.subTest(rule=rule, milli=milli, hold_s=hold_s):
                    self.assertEqual(by(rule, steady(milli, hold_s)), "met")
                    self.assertEqual(by(rule, steady(milli - 1, hold_s)), self.expected(rule, milli - 1, hold_s))
                    if hold_s > 0:
                        self.assertEqual(by(rule, steady(milli, hold_s - 0.001)), self.expected(rule, milli, hold_s - 0.001))

    def test_the_coldest_row_is_the_coldest(self):
        for rule, rows in self.tables.items():
            coldest, hold_s = min(rows)
            with self.subTest(rule=rule):
                self.assertEqual(by(rule, steady(coldest - 1, 4 * hold_s)), "not met")

    def test_celsius_and_fahrenheit_are_not_mixed(self):
        """68 °C is printed beside 155 °F and is below it (FDA Food Code 2022 3-401.11; FSIS Appendix A 2021 Table 2)."""
        self.assertEqual(by("food-code-2022/non-intact-meat", steady(68000, 17)), "met")
        self.assertEqual(by("fsis-appendix-a-2021/meat-6.5-log", steady(68000, 22)), "not met")
        self.assertEqual(by("fsis-appendix-a-2021/meat-6.5-log", steady(68333, 22)), "met")

    def test_half_of_two_rows_is_no_row(self):
        """6 of 12 min at 60.0 °C and 42 of 85 s at 65.0 °C (3-401.11(B)(1))."""
        rows = path([(0, 60.0), (360, 60.0), (420, 65.0), (462, 65.0), (470, 59.9), (600, 59.9)], every=2)
        self.assertEqual(by("food-code-2022/roast", rows), "not met")

    def test_a_missing_minute_breaks_and_one_missing_reading_does_not(self):
        whole = [(t, 60.0) for t in range(0, 721, 10)]
        self.assertEqual(by("food-code-2022/roast", whole), "met")
        one = [(t, None if t == 300 else c) for t, c in whole]
        self.assertEqual(by("food-code-2022/roast", one), "met")
        minute = [(t, None if 300 <= t <= 360 else c) for t, c in whole]
        self.assertEqual(by("food-code-2022/roast", minute), "not met")
        self.assertEqual(by("food-code-2022/roast", [row for row in whole if not 300 <= row[0] <= 360]), "not met")

    def test_the_deciding_time_is_that_of_the_reading_that_decides(self):
        verdict = judge([(t, 60.0) for t in range(0, 2001, 10)], "--limit", "food-code-2022/roast")
        self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]), ("met", 720, "held"))
        verdict = judge([(t, 59.0) for t in range(0, 1001, 10)], "--limit", "food-code-2022/roast")
        self.assertEqual((verdict["verdict"], verdict["time_s"]), ("not met", 1000))


# rule, °C, hold in seconds, source: one reading where the hold is 0.
COOKS = [
    ("food-code-2022/poultry", 74, 0, "FDA Food Code 2022, 3-401.11(A)(3)"),
    ("food-code-2022/egg-to-order", 63, 15, "FDA Food Code 2022, 3-401.11(A)(1)(a)"),
    ("food-code-2022/fish", 63, 15, "FDA Food Code 2022, 3-401.11(A)(1)(b)"),
    ("food-code-2022/intact-meat", 63, 15, "FDA Food Code 2022, 3-401.11(A)(1)(b)"),
    ("food-code-2022/plant-food", 57, 0, "FDA Food Code 2022, 3-401.13"),
    ("scotland-2006/reheating", 82, 0, "Food Hygiene (Scotland) Regulations 2006, Schedule 4 para 3"),
    ("new-zealand-fcp/reheating", 75, 0, "NZ training text 2020"),
    ("ireland-gn15-2018/cooking", 75, 0, "FSAI Guidance Note 15 (2018)"),
    ("ireland-gn15-2018/reheating", 70, 0, "FSAI Guidance Note 15 (2018)"),
    ("minnesota-2019/intact-meat", 63, 15, "Minnesota Rules 4626.0340 (2019), 3-401.11(A)(1)"),
    ("minnesota-2019/poultry", 74, 15, "Minnesota Rules 4626.0340 (2019), 3-401.11(A)(3)"),
    ("us-consumer-advice/poultry", 73.889, 0, "USDA FSIS safe minimum chart: 165 °F"),
    ("us-consumer-advice/ground-meat", 71.111, 0, "USDA FSIS safe minimum chart: 160 °F"),
    ("us-consumer-advice/leftovers", 73.889, 0, "USDA FSIS: 165 °F"),
    ("fsis-appendix-a-2021/poultry-rolls", 71.111, 0, "USDA FSIS Revised Appendix A, December 2021, p. 39: 160 °F"),
    ("fsis-appendix-a-2021/poultry-rolls-cured", 68.333, 0, "USDA FSIS Revised Appendix A, December 2021, p. 39: 155 °F"),
    ("australia-3.2.2/reheating", 60, 0, "FSANZ Standard 3.2.2 clause 7(4)"),
    ("hong-kong/cooking", 75, 0, "Centre for Food Safety, Five Keys: cook thoroughly"),
]

# oven, roast in grams, °C, whether that is the highest: FDA Food Code 2022, 3-401.11(B)(2), printed 4.5 kg (10 lb).
OVENS = [
    ("OVEN-STILL-LT", "still_dry", 4499, 177, False),
    ("OVEN-STILL-GE", "still_dry", 4500, 121, False),
    ("OVEN-CONVECTION-LT", "convection", 4499, 163, False),
    ("OVEN-CONVECTION-GE", "convection", 4500, 121, False),
    ("OVEN-HIGH-LT", "high_humidity", 4499, 121, True),
    ("OVEN-HIGH-GE", "high_humidity", 4500, 121, True),
]

# rule, °C, whether hot, whether exactly at it is outside, source.
HOLDS = [
    ("food-code-2022/hot-holding", 57, True, False, "FDA Food Code 2022, 3-501.16(A)(1)"),
    ("food-code-2022/hot-holding-roast", 54, True, False, "FDA Food Code 2022, 3-501.16(A)(1)"),
    ("food-code-2022/cold-holding", 5, False, False, "FDA Food Code 2022, 3-501.16(A)(2)"),
    ("food-code-2022/thawing-refrigerated", 5, False, False, "FDA Food Code 2022, 3-501.13(A)"),
    ("food-code-2022/cold-holding-reduced-oxygen-7", 5, False, False, "FDA Food Code 2022, 3-502.12(D)(2)(e)(ii)"),
    ("food-code-2022/cold-holding-reduced-oxygen-30", 1, False, False, "FDA Food Code 2022, 3-502.12(D)(2)(e)(i)"),
    ("food-code-2022/receiving-cold", 5, False, False, "FDA Food Code 2022, 3-202.11(A)"),
    ("food-code-2022/receiving-hot", 57, True, False, "FDA Food Code 2022, 3-202.11(D)"),
    ("eu-852-2004/quick-frozen-delivery", -18, False, False, "Directive 89/108/EEC; Quick-Frozen Foodstuffs Regulations, Schedule 2"),
    ("hong-kong/receiving-cold", 4, False, False, "FEHD Food Hygiene Code, section 4.2"),
    ("hong-kong/receiving-hot", 60, True, False, "FEHD Food Hygiene Code, section 4.2"),
    ("england-wales-ni/cold-holding", 8, False, False, "Food Safety and Hygiene (England) Regulations 2013, Sch. 4 para 2"),
    ("england-wales-ni/hot-holding", 63, True, False, "Schedule 4 para 6 (Wales WSI 2006/31)"),
    ("scotland-2006/hot-holding", 63, True, True, "Food Hygiene (Scotland) Regulations 2006, Sch. 4 para 2(1)(b): above 63 °C"),
    ("eu-852-2004/quick-frozen", -18, False, False, "Directive 89/108/EEC"),
    ("australia-3.2.2/cold-holding", 5, False, False, "FSANZ Standard 3.2.2 clause 6"),
    ("australia-3.2.2/hot-holding", 60, True, False, "FSANZ Standard 3.2.2 clause 6"),
    ("canada-2016/cold-holding", 4, False, False, "Food Retail and Food Services Code; Durham Region chart 2012"),
    ("canada-2016/hot-holding", 60, True, False, "Food Retail and Food Services Code; Durham Region chart 2012"),
    ("canada-2016/frozen", -18, False, False, "Durham Region chart 2012"),
    ("hong-kong/cold-holding", 4, False, False, "FEHD Food Hygiene Code, section 4.3"),
    ("hong-kong/hot-holding", 60, True, False, "FEHD Food Hygiene Code, section 4.3"),
    ("hong-kong/frozen", -18, False, False, "FEHD Food Hygiene Code, section 4.3"),
    ("new-zealand-fcp/cold-holding", 5, False, False, "NZ training text 2020"),
    ("quebec-p29-r1/cold-holding", 4, False, False, "Regulation respecting food, P-29 r.1, s. 1.4.1"),
    ("quebec-p29-r1/hot-holding", 60, True, False, "Regulation respecting food, P-29 r.1, s. 1.4.1"),
    ("quebec-p29-r1/frozen", -18, False, False, "Regulation respecting food, P-29 r.1, s. 1.4.1"),
    ("din-10506-2023/hot-holding", 60, True, False, "DIN 10506:2023-03 as described by the DIN consumer council"),
    ("eu-852-2004/receiving-meat", 7, False, False, "Regulation (EC) 853/2004 Annex III Section I Chapter VII"),
    ("england-wales-ni/receiving-cold", 8, False, False, "Food Safety and Hygiene (England) Regulations 2013, Sch. 4 para 2"),
    ("france-2009/cold-holding-very-perishable", 4, False, False, "Arrêté du 21 décembre 2009, Annex I"),
    ("france-2009/cold-holding-perishable", 8, False, False, "Arrêté du 21 décembre 2009, Annex I"),
    ("france-2009/cold-holding-prepared", 3, False, False, "Arrêté du 21 décembre 2009, Annex I and IV(1)"),
    ("france-2009/hot-holding", 63, True, False, "Arrêté du 21 décembre 2009, Annex I"),
    ("england-wales-ni/fridge-advice", 5, False, False, "UK FSA, How to chill, freeze and defrost food safely (2017)"),
    ("us-milk-and-shellfish/milk", 7, False, False, "Grade A Pasteurized Milk Ordinance: 7 °C (45 °F)"),
    ("france-2009/frozen", -18, False, False, "Arrêté du 21 décembre 2009, Annex I"),
    ("france-2009/frozen-other", -12, False, False, "Arrêté du 21 décembre 2009, Annex I"),
]

# rule, °C of the air or water, whether hot, whether not verified, source.
AIRS = [
    ("food-code-2022/shell-eggs", 7, False, False, "FDA Food Code 2022, 3-501.16(B)"),
    ("food-code-2022/receiving-shell-eggs", 7, False, False, "FDA Food Code 2022, 3-202.11(C), of the vehicle"),
    ("food-code-2022/thawing-water-temperature", 21, False, False, "FDA Food Code 2022, 3-501.13(B)(1), of the water"),
    ("food-code-2022/vending-cold", 5, False, False, "FDA Food Code 2022, 4-204.111(B)(1)"),
    ("food-code-2022/vending-hot", 57, True, False, "FDA Food Code 2022, 4-204.111(B)(2)"),
    ("quebec-p29-r1/cold-holding-air", 4, False, False, "Regulation respecting food, P-29 r.1, s. 1.4.1: internal and surrounding"),
    ("us-milk-and-shellfish/shellstock", 7, False, True, "NSSP Model Ordinance, from memory"),
]

# rule, from °C, to °C, seconds, whether not verified, source: one stage.
ONE_STAGE = [
    ("fsis-appendix-b-1999/option-2", 48.889, 12.778, 21600, False, "USDA FSIS Appendix B (June 1999), item 2: 120 to 55 °F in 6 h"),
    ("codex-39-1993/cooling", 60, 10, 7200, True, "Codex CXC 39-1993, from memory"),
    ("din-10506-2023/cooling", 65, 10, 10800, True, "DIN 10506, from memory"),
    ("england-wales-ni/cooling-advice-8c", 63, 8, 5400, True, "common UK trade advice, no official text found"),
]

# rule, °C, hold, time to rise in seconds, from when it rises above (°C; None: the step), standing in seconds, source.
REHEATS = [
    ("food-code-2022/reheating", 74, 15, 7200, 5, 0, "FDA Food Code 2022, 3-403.11(A),(D)"),
    ("food-code-2022/reheating-microwave", 74, 0, 7200, 5, 120, "FDA Food Code 2022, 3-403.11(B),(D)"),
    ("food-code-2022/reheating-packaged", 57, 0, 7200, 5, 0, "FDA Food Code 2022, 3-403.11(C),(D)"),
    ("canada-2016/reheating", 74, 15, 7200, None, 0, "Durham Region Health Department chart 2012"),
    ("france-2009/reheating", 63, 0, 3600, 10, 0, "Arrêté du 21 décembre 2009, Annex IV(3)"),
]

# rule, °C as it leaves, whether hot, time in seconds, ceiling in °C, source.
TIMES = [
    ("food-code-2022/time-control-4h", 5, False, 14400, None, "FDA Food Code 2022, 3-501.19(B)"),
    ("food-code-2022/time-control-4h-hot", 57, True, 14400, None, "FDA Food Code 2022, 3-501.19(B)(1)"),
    ("food-code-2022/time-control-4h-produce", 21, False, 14400, 21, "FDA Food Code 2022, 3-501.19(B)(2)"),
    ("food-code-2022/time-control-6h", 5, False, 21600, 21, "FDA Food Code 2022, 3-501.19(C)"),
    ("food-code-2022/non-continuous-initial", 5, False, 3600, None, "FDA Food Code 2022, 3-401.14(A): 60 minutes"),
    ("england-wales-ni/into-fridge-2h", 63, True, 7200, None, "UK FSA, How to chill, freeze and defrost food safely (2017)"),
]


# rule, °C, hold in seconds (None: a holding), whether hot: rows of the reference data that nobody has checked.
UNVERIFIED = [
    ("food-code-2026/intact-meat", 63, 15, True),
    ("food-code-2026/poultry", 74, 0, True),
    ("food-code-2026/hot-holding", 57, None, True),
    ("food-code-2026/hot-holding-roast", 54, None, True),
    ("food-code-2026/cold-holding", 5, None, False),
    ("food-code-2026/reheating", 74, 15, True),
    ("codex-39-1993/hot-holding", 60, None, True),
    ("codex-39-1993/cold-holding", 4, None, False),
    ("codex-39-1993/reheating", 75, 0, True),
    ("australia-3.2.2/receiving-cold", 5, None, False),
    ("uk-cook-chill/storage", 3, None, False),
    ("uk-cook-chill/reheating", 70, 120, True),
]


class Patties(unittest.TestCase):
    """Fully cooked patties, 9 CFR 318.23(b)(1), from memory."""
    ROWS = [(66.111, 41), (66.667, 32), (67.222, 26), (67.778, 20), (68.333, 16), (68.889, 13), (69.444, 10)]  # 151 to 157 °F

    def test_every_row(self):
        def verdict(milli, hold_s):
            return judge(steady(milli, hold_s), "--accept-unverified", "--limit", "cfr-318-23/patties")["verdict"]
        for i, (temp, hold_s) in enumerate(self.ROWS):
            milli = round(temp * 1000)
            with self.subTest(temp=temp):
                self.assertEqual(verdict(milli, hold_s), "met")
                self.assertEqual(verdict(milli, hold_s - 0.001), "not met")
                colder = self.ROWS[i - 1][1] if i else 1000
                self.assertEqual(verdict(milli - 1, colder - 0.001), "not met")


class RoastAgain(unittest.TestCase):
    """The rest of a roast by the table again, FDA Food Code 2022, 3-403.11(E): two of its rows, and no 2 h."""

    def test_rows_and_no_deadline(self):
        rule = "food-code-2022/reheating-roast"
        for milli, hold_s in ((54400, 6720), (60000, 720), (65000, 85)):
            with self.subTest(milli=milli):
                self.assertEqual(by(rule, steady(milli, hold_s)), "met")
                self.assertEqual(by(rule, steady(milli, hold_s - 0.001)), "not met")
        self.assertEqual(by(rule, [(t, 5 + t / 400) for t in range(0, 24001, 60)] + [(24060, 70.0)]), "met")


class Ovens(unittest.TestCase):
    """The oven's own temperature beside the food's (3-401.11(B)(2)), each row just inside, at and just outside."""

    @staticmethod
    def core(t):
        """Meets no row of the table: below 54.4 °C, then too short."""
        return {2940: 60.0, 3000: 64.9}.get(t, 20 + 34.3 * t / 2880)

    def roast(self, oven, grams, air, core=70.0):
        rows = [(t, self.core(t), "start" if t == 60 else "", f"{air:.3f}") for t in range(0, 3001, 60)]
        rows.append((3060, core, "", f"{air:.3f}"))
        how = ("--mass", f"{grams}g") if grams else ()
        return judge(rows, "--limit", "food-code-2022/roast", "--oven", oven, *how)

    def test_every_row(self):
        for row, oven, grams, temp, is_highest in OVENS:
            inward = -0.001 if is_highest else 0.001
            with self.subTest(row=row):
                for air in (temp + inward, temp):
                    verdict = self.roast(oven, grams, air)
                    self.assertEqual((verdict["verdict"], verdict["time_s"]), ("met", 3060))
                verdict = self.roast(oven, grams, temp - inward)
                self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]),
                                 ("not met", 60, "out-too-long" if is_highest else "not-preheated"))
                self.assertEqual(self.roast(oven, grams, temp, 69.999)["verdict"], "not met")

    def test_mass_that_nobody_says_takes_the_strictest(self):
        self.assertEqual(self.roast("still_dry", None, 177.0)["verdict"], "met")
        self.assertEqual(self.roast("still_dry", None, 176.999)["verdict"], "not met")

    def test_oven_that_nobody_measured_is_a_question(self):
        rows = [(t, self.core(t), "start" if t == 60 else "") for t in range(0, 3001, 60)] + [(3060, 70.0)]
        verdict = judge(rows, "--limit", "food-code-2022/roast", "--oven", "convection")
        self.assertEqual((verdict["verdict"], verdict["reason"]), ("inconclusive", "not-measured"))

    def test_taken_out_before_the_table_is_met(self):
        """The holding time may include the rise after the oven (footnote of the chart)."""
        rows = [(t, self.core(t), "start" if t == 60 else "end-of-cooking" if t == 1200 else "", "163" if t <= 1200 else "20")
                for t in range(0, 3001, 60)] + [(3060, 70.0, "", "20")]
        self.assertEqual(judge(rows, "--limit", "food-code-2022/roast", "--oven", "convection", "--mass", "3kg")["verdict"], "met")

    def test_slips_are_told(self):
        write([(0, 20.0)])
        for words, says in ((("--oven", "gas"), "still_dry, convection or high_humidity"), (("--mass", "3kg"), "--mass goes with --oven")):
            done = run("judge", "--limit", "food-code-2022/roast", *words, TRACE)
            self.assertEqual(done.returncode, 2)
            self.assertIn(says, done.stderr)
        done = run("judge", "--limit", "food-code-2022/fish", "--oven", "convection", TRACE)
        self.assertIn("has no oven conditions", done.stderr)


class Single(unittest.TestCase):
    def test_cooking(self):
        for rule, temp, hold_s, source in COOKS:
            with self.subTest(rule=rule, source=source):
                self.assertEqual(by(rule, steady(round(temp * 1000), hold_s)), "met")
                self.assertEqual(by(rule, steady(round(temp * 1000) - 1, 10 * hold_s)), "not met")
                if hold_s > 0:
                    self.assertEqual(by(rule, steady(round(temp * 1000), hold_s - 0.001)), "not met")

    def test_holding(self):
        for rule, temp, hot, strict, source in HOLDS:
            inside = 0.001 if hot else -0.001
            with self.subTest(rule=rule, source=source):
                self.assertEqual(by(rule, [(t, temp + inside) for t in range(0, 601, 60)]), "met")
                self.assertEqual(by(rule, [(t, temp) for t in range(0, 601, 60)]), "not met" if strict else "met")
                outside = [(t, temp - inside if t == 300 else temp + inside) for t in range(0, 601, 60)]
                verdict = judge(outside, "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["time_s"]), ("not met", 300))

    def test_holding_of_the_air(self):
        """The core beside it is always on the other side."""
        for rule, temp, hot, unverified, source in AIRS:
            how = ("--limit", rule) + (("--accept-unverified",) if unverified else ())
            inward = 0.001 if hot else -0.001
            with self.subTest(rule=rule, source=source):
                for air, word in ((temp + inward, "met"), (temp, "met"), (temp - inward, "not met")):
                    core = temp + (5 if (word == "met") != hot else -5)
                    rows = [(t, core, "", f"{air:.3f}") for t in range(0, 601, 60)]
                    self.assertEqual(judge(rows, *how)["verdict"], word)
                self.assertEqual(judge([(t, temp + 5 * inward) for t in range(0, 601, 60)], *how)["verdict"], "inconclusive")

    def test_unverified_rows_are_judged_when_accepted(self):
        """What the reference data calls memory, unconfirmed or doubtful; it says so itself."""
        for rule, temp, hold_s, hot in UNVERIFIED:
            how = ("--accept-unverified", "--limit", rule)
            inside = 0.001 if hot else -0.001
            with self.subTest(rule=rule):
                if hold_s is None:
                    self.assertEqual(judge([(t, temp) for t in range(0, 601, 60)], *how)["verdict"], "met")
                    outside = [(t, temp - inside if t == 300 else temp + inside) for t in range(0, 601, 60)]
                    self.assertEqual(judge(outside, *how)["verdict"], "not met")
                    continue
                self.assertEqual(judge(steady(temp * 1000, hold_s), *how)["verdict"], "met")
                self.assertEqual(judge(steady(temp * 1000 - 1, hold_s), *how)["verdict"] == "met", False)
                if hold_s > 0:
                    self.assertEqual(judge(steady(temp * 1000, hold_s - 0.001), *how)["verdict"] == "met", False)

    def test_time_in_the_band_is_added_up(self):
        """Not below 5 °C and not above 60 °C for at most 4 h in all, both ends within the band (Singapore, Environmental Public
        Health (Food Hygiene) (Amendment) Regulations 2011, reg. 13A)."""
        for rule, edge, out in (("singapore-2011/catered-hot", 60.0, 0.001), ("singapore-2011/catered-cold", 5.0, -0.001)):
            with self.subTest(rule=rule):
                self.assertEqual(by(rule, [(t, edge + out) for t in range(0, 18001, 60)]), "met")
                four = [(0, edge + out)] + [(t, edge) for t in range(60, 14460, 60)]
                self.assertEqual(by(rule, four + [(t, edge + out) for t in range(14460, 15001, 60)]), "met")
                verdict = judge(four + [(t, edge) for t in range(14460, 15001, 60)], "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["time_s"]), ("not met", 14460))
                twice = [(t, edge if 60 <= t < 7260 or t >= 10860 else edge + out) for t in range(0, 20001, 60)]
                verdict = judge(twice, "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["time_s"]), ("not met", 18060))

    def test_once_outside(self):
        """Above 8 °C once for less than 4 h, below 63 °C once for less than 2 h (Schedule 4 para 5 and 7(2): NI SR 2006/3,
        England SI 2005/2059, Wales WSI 2006/31)."""
        for rule, edge, out, most_s in (("england-wales-ni/display-cold", 8.0, 0.001, 14400),
                                        ("england-wales-ni/display-hot", 63.0, -0.001, 7200)):
            with self.subTest(rule=rule):
                def trace(back_s, until_s=most_s + 1200, again_s=None):
                    times = sorted({*range(0, until_s, 60), back_s})
                    return [(t, edge + (out if 60 <= t < back_s or t == again_s else 0)) for t in times]
                # last seen inside at 0
                self.assertEqual(by(rule, trace(most_s - 1)), "met")
                for back_s in (most_s, most_s + 1):
                    verdict = judge(trace(back_s), "--limit", rule)
                    self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]),
                                     ("not met", most_s, "period-too-long"))
                verdict = judge(trace(600, again_s=1200), "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]), ("not met", 1200, "out-again"))

    def test_holding_with_too_much_missing_is_inconclusive(self):
        rows = [(t, None if 300 <= t <= 1200 else 60.0) for t in range(0, 1801, 60)]
        self.assertEqual(by("food-code-2022/hot-holding", rows), "inconclusive")

    def test_reheating(self):
        for rule, temp, hold_s, within_s, start, stand_s, source in REHEATS:
            for cold_s in (0, 1800) if start is not None else (0,):
                with self.subTest(rule=rule, source=source, cold_s=cold_s):
                    low = 5 if start is None else start
                    at = cold_s + within_s - hold_s  # cold_s more in the cold do not count
                    rise = [(t, low if t <= cold_s else low + (temp - low - 0.5) * (t - cold_s) / (at - cold_s))
                            for t in range(0, at - 5, 5)]
                    end = cold_s + within_s
                    self.assertEqual(by(rule, rise + [(t, temp) for t in range(at, end + stand_s + 1, 5)]), "met")
                    if stand_s:
                        self.assertEqual(by(rule, rise + [(t, temp) for t in range(at, end + stand_s - 4, 5)]), "inconclusive")
                    late = rise + [(at, temp - 0.001)] + [(t, temp) for t in range(at + 5, end + 300, 5)]
                    verdict = judge(late, "--limit", rule)
                    self.assertEqual((verdict["verdict"], verdict["time_s"]), ("not met", end))

    def test_time_between_cold_and_hot(self):
        """More than 4 h in all between 5 and 60 °C (FSANZ 2-hour/4-hour guide); not below 5 °C and not above 60 °C for 4 h in
        all, both ends within (Singapore, Environmental Public Health (Food Hygiene) (Amendment) Regulations 2011, reg. 13A)."""
        for rule, out, within in (("australia-3.2.2/two-hour-four-hour", 0, 0.001), ("singapore-2011/catered", 0.001, 0)):
            for edge, sign in ((5.0, -1), (60.0, 1)):
                with self.subTest(rule=rule, edge=edge):
                    outside, inside = edge + sign * out, edge - sign * within
                    self.assertEqual(by(rule, [(t, outside) for t in range(0, 18001, 60)]), "met")
                    # last seen outside at 0 and at 14460, two hours each
                    def trace(back_s):
                        rows = [(t, inside if 60 <= t < 7200 or 14460 < t < 14460 + back_s else outside)
                                for t in sorted({*range(0, 30001, 60), 14460 + back_s})]
                        return rows
                    self.assertEqual(by(rule, trace(7200)), "met")
                    verdict = judge(trace(7201), "--limit", rule)
                    self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]), ("not met", 21660, "out-too-long"))

    def test_come_up_time(self):
        """At most 6 h in all between 50 and 130 °F while heating (USDA FSIS Revised Appendix A, December 2021, p. 23-24)."""
        rule = "fsis-appendix-a-2021/meat-6.5-log"
        for slow_s, word, reason in ((21599, "met", None), (21600, "met", None), (21601, "not met", "slow-rise")):
            rows = [(t, 10.0) for t in range(0, 601, 60)] + [(t, 10.001 + 42.0 * (t - 660) / 20940) for t in range(660, 22200, 60)]
            rows += [(600 + slow_s, 54.445)] + [(t, 72.0 if t >= 23160 else 54.5 + (t - 22260) * 17.5 / 900) for t in range(22260, 24001, 60)]
            with self.subTest(slow_s=slow_s):
                verdict = judge(rows, "--limit", rule)
                self.assertEqual(verdict["verdict"], word)
                if reason:
                    self.assertEqual((verdict["reason"], verdict["time_s"]), (reason, 22200))

    def test_once_outside_at_most(self):
        """Below 60 °C for more than 2 h: throw away; up to 2 h: reheat or cool (NZ MPI food control plan 2013)."""
        rule = "new-zealand-fcp/hot-holding"
        for back_s, word in ((7199, "met"), (7200, "met"), (7201, "not met")):
            rows = [(t, 59.999 if 60 <= t < back_s else 60.0) for t in sorted({*range(0, 8401, 60), back_s})]
            with self.subTest(back_s=back_s):
                verdict = judge(rows, "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["time_s"] if word == "not met" else None),
                                 (word, 7200 if word == "not met" else None))

    def test_more_time_in_between(self):
        """40 to 140 °F for 2 h (USDA FSIS and foodsafety.gov); over 4 h at room temperature (FEHD and CFS, Get the Temperature
        Right; the band is that of the Code, 4.3); thawed parts above 5 °C for 4 h in all (FDA Food Code 2022,
        3-501.13(B)(1))."""
        for rule, inside, outside, most_s in (("us-consumer-advice/danger-zone", 4.445, 4.444, 7200),
                                              ("us-consumer-advice/danger-zone", 59.999, 60.0, 7200),
                                              ("hong-kong/room-temperature", 4.001, 4.0, 14400),
                                              ("hong-kong/room-temperature", 59.999, 60.0, 14400),
                                              ("food-code-2022/thawing-water", 5.001, 5.0, 14400)):
            for back_s, word in ((most_s, "met"), (most_s + 1, "not met")):
                rows = [(t, inside if 60 <= t < back_s else outside) for t in sorted({*range(0, most_s + 601, 60), back_s})]
                with self.subTest(rule=rule, inside=inside, back_s=back_s):
                    verdict = judge(rows, "--limit", rule)
                    self.assertEqual(verdict["verdict"], word)
                    if word == "not met":
                        self.assertEqual(verdict["time_s"], most_s)

    def test_rest_of_whole_cuts(self):
        """145 °F, then 3 minutes of rest (USDA FSIS safe minimum internal temperature chart)."""
        rows = [(t, 62.778 if t == 60 else 62.0) for t in range(0, 241, 10)]
        verdict = judge(rows, "--limit", "us-consumer-advice/whole-cuts")
        self.assertEqual((verdict["verdict"], verdict["time_s"]), ("met", 240))
        self.assertEqual(by("us-consumer-advice/whole-cuts", rows[:-1]), "inconclusive")
        self.assertEqual(by("us-consumer-advice/whole-cuts", [(t, 62.777) for t in range(0, 241, 10)]), "not met")

    def test_rows_of_an_older_edition(self):
        """Minnesota Rules 4626.0340 (2019), adopting FDA Food Code 2013 3-401.11(A)(2) and chart."""
        table = ((63, 180), (66, 60), (68, 15), (70, 0))
        for temp, hold_s in table:
            with self.subTest(temp=temp):
                self.assertEqual(by("minnesota-2019/non-intact-meat", steady(temp * 1000, hold_s)), "met")
                if hold_s:
                    self.assertEqual(by("minnesota-2019/non-intact-meat", steady(temp * 1000, hold_s - 0.001)), "not met")
                colder = [h for t, h in table if t < temp]
                if colder:
                    self.assertEqual(by("minnesota-2019/non-intact-meat", steady(temp * 1000 - 1, colder[-1] - 0.001)), "not met")

    def test_table_of_the_2026_edition(self):
        """Unconfirmed: reported as those of 2022 (FDA Food Code 2026, 3-401.11(A)(2) and chart)."""
        table = ((63, 180), (66, 60), (68, 17), (70, 0))
        how = ("--accept-unverified", "--limit", "food-code-2026/non-intact-meat")
        for i, (temp, hold_s) in enumerate(table):
            with self.subTest(temp=temp):
                self.assertEqual(judge(steady(temp * 1000, hold_s), *how)["verdict"], "met")
                if hold_s:
                    self.assertEqual(judge(steady(temp * 1000, hold_s - 0.001), *how)["verdict"], "not met")
                colder = table[i - 1][1] - 0.001 if i else 1000
                self.assertEqual(judge(steady(temp * 1000 - 1, colder), *how)["verdict"], "not met")

    def test_reheating_of_the_2026_edition(self):
        """Unconfirmed: 74 °C for 15 s within 2 h (FDA Food Code 2026, 3-403.11(A), (D))."""
        how = ("--accept-unverified", "--limit", "food-code-2026/reheating")
        for at, word in ((7184, "met"), (7185, "met"), (7186, "not met")):
            rows = [(t, 5 + 68.5 * t / at) for t in range(0, at - 5, 5)] + [(t, 74.0) for t in range(at, at + 31, 5)]
            with self.subTest(at=at):
                self.assertEqual(judge(rows, *how)["verdict"], word)

    def test_cooling_from_room_temperature(self):
        """To 5 °C within 4 h of preparation (FDA Food Code 2022, 3-501.14(B))."""
        rule = "food-code-2022/cooling-ambient"
        for at_s, word in ((14399, "met"), (14400, "met"), (14401, "not met")):
            rows = [(0, 20.0, "start")] + [(t, 20.0 - 14.9 * t / 14400) for t in range(60, 14400, 60) if t < at_s]
            rows += [(at_s, 5.0), (at_s + 60, 4.9)]
            with self.subTest(at_s=at_s):
                self.assertEqual(by(rule, rows), word)

    def test_standing(self):
        """74 °C by microwave, then covered for 2 min (FDA Food Code 2022, 3-401.12)."""
        rule = "food-code-2022/microwave"
        rows = [(t, 74.0 if t == 60 else 73.999) for t in range(0, 181, 10)]
        verdict = judge(rows, "--limit", rule)
        self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]), ("met", 180, "stood"))
        self.assertEqual(by(rule, rows[:-1]), "inconclusive")
        self.assertEqual(by(rule, [(t, 73.999) for t in range(0, 600, 10)]), "not met")

    def test_time_as_a_control(self):
        for rule, start, hot, within_s, ceiling, source in TIMES:
            with self.subTest(rule=rule, source=source):
                away = -1 if hot else 1

                def trace(first, until_s, warmest=None):
                    last = ceiling if ceiling is not None else start + 12 * away
                    times = sorted({*range(0, until_s, 60), until_s})
                    rows = [(t, first + (last - first) * t / within_s if first != last else first) for t in times]
                    return [(t, warmest if t == 3600 and warmest else c) for t, c in rows]
                self.assertEqual(by(rule, trace(start, within_s - 1)), "met")
                self.assertEqual(by(rule, trace(start, within_s)), "met")
                verdict = judge(trace(start, within_s + 1), "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]), ("not met", within_s, "time-up"))
                self.assertEqual(by(rule, trace(start - 0.001 * away, within_s)), "met")
                if ceiling != start:
                    verdict = judge(trace(start + 0.001 * away, within_s), "--limit", rule)
                    self.assertEqual((verdict["verdict"], verdict["reason"]), ("not met", "bad-start"))
                over = judge(trace(start, within_s, warmest=21.001), "--limit", rule)
                if ceiling is None:
                    continue
                self.assertEqual((over["verdict"], over["time_s"], over["reason"]), ("not met", 3600, "above-ceiling"))
                self.assertEqual(by(rule, trace(start, within_s, warmest=21.0)), "met")

    def test_reheating_cut_short_is_inconclusive(self):
        self.assertEqual(by("food-code-2022/reheating", path([(0, 5), (3600, 60)])), "inconclusive")


# rule, from, first stage to and seconds, second likewise, whether the second counts from the first, source.
COOLINGS = [
    ("food-code-2022/cooling", 57, 21, 7200, 5, 21600, False, "FDA Food Code 2022, 3-501.14(A)"),
    ("australia-3.2.2/cooling", 60, 21, 7200, 5, 14400, True, "FSANZ Standard 3.2.2 clause 7(3)"),
    ("canada-2016/cooling", 60, 20, 7200, 4, 14400, True, "Food Retail and Food Services Code 2016; territorial training text"),
]


class Cooling(unittest.TestCase):
    def curve(self, start, first, first_s, second, second_s, own, saved_s=0, over=(0, 0), late_s=(0, 0)):
        """Hot until t = 0, each stage reached exactly in time; saved_s: so much sooner the first."""
        first_at = first_s - saved_s + late_s[0]
        second_at = (first_at if own else 0) + second_s + late_s[1]
        points = [(-600, start + 8), (0, start + 0.001), (60, start - 0.5), (first_at - 60, first + 0.4), (first_at, first + over[0]),
                  (second_at - 60, second + 0.1), (second_at, second + over[1]), (second_at + 120, second - 0.1)]
        return path(points)

    def test_stages_of_appendix_b_when_accepted(self):
        """In Fahrenheit, unconfirmed: 130 to 80 in 90 min and on to 40 °F in 5 h; 120 to 80 in 1 h and on to 55 °F in 5 h."""
        for rule, *stages in (("fsis-appendix-b-2021/option-1", 54.444, 26.667, 5400, 4.444, 18000, True),
                              ("fsis-appendix-b-2021/option-2", 48.889, 26.667, 3600, 12.778, 18000, True)):
            how = ("--accept-unverified", "--limit", rule)
            with self.subTest(rule=rule):
                self.assertEqual(judge(self.curve(*stages), *how)["verdict"], "met")
                for worse in ({"over": (0.001, 0)}, {"over": (0, 0.001)}, {"late_s": (1, 0)}, {"late_s": (0, 1)}):
                    self.assertEqual(judge(self.curve(*stages, **worse), *how)["verdict"], "not met", worse)

    def test_stages_of_the_2026_edition(self):
        """Unconfirmed: 57 to 21 °C in 2 h, 5 °C in 6 h in all (FDA Food Code 2026, 3-501.14(A))."""
        how, stages = ("--accept-unverified", "--limit", "food-code-2026/cooling"), (57, 21, 7200, 5, 21600, False)
        self.assertEqual(judge(self.curve(*stages), *how)["verdict"], "met")
        for worse in ({"over": (0.001, 0)}, {"over": (0, 0.001)}, {"late_s": (1, 0)}, {"late_s": (0, 1)}):
            self.assertEqual(judge(self.curve(*stages, **worse), *how)["verdict"], "not met", worse)

    def test_appendix_b_of_1999(self):
        """130 to 80 °F in 90 min and on to 40 °F in 5 h (USDA FSIS Appendix B, January 1999, updated June 1999, item 1)."""
        rule, stages = "fsis-appendix-b-1999/option-1", (54.444, 26.667, 5400, 4.444, 18000, True)
        self.assertEqual(by(rule, self.curve(*stages)), "met")
        self.assertEqual(by(rule, self.curve(*stages, over=(-0.2, -0.05))), "met")
        for worse in ({"over": (0.001, 0)}, {"over": (0, 0.001)}, {"late_s": (1, 0)}, {"late_s": (0, 1)}):
            self.assertEqual(by(rule, self.curve(*stages, **worse)), "not met", worse)

    def test_one_stage(self):
        for rule, start, end, within_s, unverified, source in ONE_STAGE:
            how = ("--limit", rule) + (("--accept-unverified",) if unverified else ())
            for over, late_s, word in ((-0.2, 0, "met"), (0, -1, "met"), (0, 0, "met"), (0.001, 0, "not met"), (0, 1, "not met")):
                at = within_s + late_s
                points = [(-600, start + 6), (0, start + 0.001), (60, start - 0.5), (at - 60, end + 0.4), (at, end + over), (at + 120, end - 0.3)]
                with self.subTest(rule=rule, over=over, late_s=late_s, source=source):
                    self.assertEqual(judge(path(points), *how)["verdict"], word)

    def test_cook_freeze(self):
        """Begun within 30 min of cooking, centre at -5 °C within a further 90 min (UK Department of Health 1989, from memory)."""
        for begun_s, reached_s, to, word in ((1799, 5399, -5.1, "met"), (1800, 5400, -5.0, "met"), (1801, 5400, -5.0, "not met"),
                                             (1800, 5401, -5.0, "not met"), (1800, 5400, -4.999, "not met")):
            rows = path([(0, 75), (begun_s, 68), (begun_s + reached_s - 60, -4.8), (begun_s + reached_s, to), (begun_s + reached_s + 60, -5.2)])
            rows[0] = (0, 75, "end-of-cooking")
            rows = [(t, *rest, "moved") if t == begun_s else (t, *rest) for t, *rest in rows]
            with self.subTest(begun_s=begun_s, reached_s=reached_s, to=to):
                self.assertEqual(judge(rows, "--accept-unverified", "--limit", "uk-cook-chill/freezing")["verdict"], word)

    def test_three_stages(self):
        """Reduced oxygen packages for 30 days: 1 °C within 48 h of reaching 5 °C (FDA Food Code 2022, 3-502.12(D)(2)(e)(i), (iii))."""
        rule = "food-code-2022/cooling-reduced-oxygen"
        for over, late_s, expected in ((0, 0, "met"), (0.001, 0, "not met"), (0, 1, "not met")):
            end = 21600 + 172800 + late_s
            points = [(-600, 65), (0, 57.001), (60, 56.5), (7200, 21), (21540, 5.1), (21600, 5), (end - 60, 1.1), (end, 1 + over),
                      (end + 120, 0.9)]
            self.assertEqual(by(rule, path(points)), expected, (over, late_s))

    def test_each_stage_inside_at_and_outside(self):
        for rule, start, first, first_s, second, second_s, own, source in COOLINGS:
            stages = (start, first, first_s, second, second_s, own)
            with self.subTest(rule=rule, source=source):
                self.assertEqual(by(rule, self.curve(*stages)), "met")
                self.assertEqual(by(rule, self.curve(*stages, over=(-0.2, -0.05))), "met")
                self.assertEqual(by(rule, self.curve(*stages, over=(0.001, 0))), "not met")
                self.assertEqual(by(rule, self.curve(*stages, over=(0, 0.001))), "not met")
                self.assertEqual(by(rule, self.curve(*stages, late_s=(0, 1))), "not met")
                verdict = judge(self.curve(*stages, late_s=(1, 0)), "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["time_s"]), ("not met", first_s))

    def test_time_saved_in_the_first_stage(self):
        """Clock and rollover: 6 h in all for the Food Code; a further 4 h in Australia and Canada."""
        for rule, start, first, first_s, second, second_s, own, source in COOLINGS:
            total = self.curve(start, first, first_s, second, second_s + (first_s if own else 0), False, saved_s=3600)
            with self.subTest(rule=rule, source=source):
                self.assertEqual(by(rule, total), "not met" if own else "met")
                self.assertEqual(by(rule, self.curve(start, first, first_s, second, second_s, own, saved_s=3600)), "met")

    def test_never_seen_hot_is_inconclusive_until_the_end_of_cooking_is_told(self):
        cold = path([(0, 50), (3600, 20), (7200, 4)])
        self.assertEqual(by("food-code-2022/cooling", cold), "inconclusive")
        told = [(-3720, None, "end-of-cooking")] + cold  # 21 °C at 3480 s
        self.assertEqual(by("food-code-2022/cooling", told), "met")
        too_late = [(-3721, None, "end-of-cooking")] + cold
        self.assertEqual(by("food-code-2022/cooling", too_late), "not met")

    def test_end_of_cooking_gives_way_to_a_probe_that_saw_hot_food(self):
        rows = path([(0, 90), (5400, 57.5), (5460, 56.9), (5460 + 7000, 21), (5460 + 21000, 5)])
        rows[0] = (0, 90, "end-of-cooking")
        self.assertEqual(by("food-code-2022/cooling", rows), "met")

    def test_cut_short_is_inconclusive(self):
        self.assertEqual(by("food-code-2022/cooling", path([(0, 60), (600, 56), (3600, 30)])), "inconclusive")

    def test_cook_chill(self):
        """Chilling begun within 30 min of cooking, at 3 °C within a further 90 min (UK Department of Health 1989)."""
        rule = "uk-cook-chill/chilling"

        def chilled(begun_s, reached_s, to=3.0, begins="moved"):
            rows = path([(0, 75), (begun_s, 68), (begun_s + reached_s - 60, 3.2), (begun_s + reached_s, to), (begun_s + reached_s + 60, 2.9)])
            rows[0] = (0, 75, "end-of-cooking")
            return [(t, *rest, begins) if t == begun_s else (t, *rest) for t, *rest in rows]

        for begins in ("moved", "start"):
            self.assertEqual(by(rule, chilled(1800, 5400, begins=begins)), "met")
        self.assertEqual(by(rule, chilled(1200, 5399)), "met")
        self.assertEqual(by(rule, chilled(1801, 5400)), "not met")
        self.assertEqual(by(rule, chilled(1800, 5401)), "not met")
        self.assertEqual(by(rule, chilled(1800, 5400, to=3.001)), "not met")

    def test_cook_chill_without_events(self):
        rule = "uk-cook-chill/chilling"
        rows = path([(0, 76), (600, 70.1), (660, 69.5), (600 + 5400 - 60, 3.2), (600 + 5400, 3.0)])
        self.assertEqual(by(rule, rows), "inconclusive")  # nobody said when cooking ended
        rows[0] = (0, 76, "end-of-cooking")
        self.assertEqual(by(rule, rows), "met")
        late = path([(0, 76), (600, 70.1), (660, 69.5), (600 + 5400, 3.2), (600 + 5500, 3.0)])
        self.assertEqual(by(rule, late), "not met")  # whenever it ended


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


class Command(unittest.TestCase):
    FIXED = ("food-code-2022/roast", "food-code-2022/poultry", "food-code-2022/cooling", "food-code-2022/hot-holding",
             "food-code-2022/cold-holding", "food-code-2022/reheating", "fsis-appendix-a-2021/meat-6.5-log",
             "fsis-appendix-a-2021/meat-7-log", "australia-3.2.2/cooling", "uk-cook-chill/chilling", "canada-2016/cooling")

    def test_limits_lists_what_is_fixed(self):
        text = run("limits").stdout
        answer = json.loads(run("limits", "--json").stdout)
        rules = {rule["rule"]: rule for profile in answer["profiles"] for rule in profile["rules"]}
        for name in self.FIXED:
            with self.subTest(rule=name):
                self.assertIn(name, text)
                self.assertEqual(rules[name]["confidence"], "verified")
                self.assertTrue(rules[name]["section"] and rules[name]["source"] and rules[name]["edition"])
                shown = run("limits", name).stdout
                for word in ("section", "edition", "confidence", "prevail"):
                    self.assertIn(word, shown)
                self.assertEqual(json.loads(run("limits", name, "--json").stdout)["rule"], name)
        self.assertIn("prevail", text)

    def test_every_rule_says_who_prevails_and_only_verified_ones_are_available(self):
        for profile in json.loads(run("limits", "--json").stdout)["profiles"]:
            self.assertIn("prevail", profile["caution"])
            for rule in profile["rules"]:
                with self.subTest(rule=rule["rule"]):
                    self.assertEqual(rule["available"], rule["confidence"] == "verified")
                    write([(0, 3.0)])
                    done = run("judge", "--limit", rule["rule"], TRACE)
                    if rule["limit"]["kind"] == "date_mark":
                        self.assertEqual(done.returncode, 2)
                        self.assertIn("counts days of the calendar", done.stderr)
                        continue
                    if rule["limit"]["applies_to"] == "surface":
                        self.assertEqual(done.returncode, 2)
                        self.assertIn("hand readings of top and bottom", done.stderr)
                        continue
                    self.assertEqual(done.returncode == 2, not rule["available"], done.stderr)
                    if not rule["available"]:
                        self.assertIn("--accept-unverified", done.stderr)
                        done = run("judge", "--accept-unverified", "--limit", rule["rule"], TRACE)
                        self.assertIs(json.loads(done.stdout.splitlines()[-1])["accept_unverified"], True)

    def test_what_is_not_understood_ends_with_2_and_says_what_to_do(self):
        write([(0, 70)])
        missing = TRACE.with_name("missing.csv")
        for words, says in (((TRACE,), "--limit"), (("--limit", "food-code-2022/roast"), "name the trace"),
                            (("--limit", "food-code-2022", TRACE), "name one of its rules"),
                            (("--limit", "food-code-1066/roast", TRACE), "trivet limits"),
                            (("--limit", "food-code-2022/roost", TRACE), "trivet limits food-code-2022"),
                            (("--limit", "../food-code-2022/roast", TRACE), "trivet limits"),
                            (("--limit", "food-code-2022/roast", missing), "missing.csv"),
                            (("--limit", "food-code-2022/roast", "--lethality", "70C,7.5,2min", TRACE), "say by what"),
                            (("--limit", "food-code-2022/roast", TRACE, TRACE), "one trace"),
                            (("--profiles", WORK.name, "--limit", "food-code-2022/roast", TRACE), "--profiles"),
                            (("--profiles", missing, "--limit", "food-code-2022/roast", TRACE), "--profiles")):
            with self.subTest(words=words):
                done = run("judge", *words)
                self.assertEqual((done.returncode, done.stdout), (2, ""))
                self.assertIn(says, done.stderr)

    def test_faults_of_a_trace_are_told_with_their_line(self):
        for text, says in (("", ":1:"), ("time,core\n", ":1:"), (HEADER + "\n", "no reading"), (HEADER + "\n0,1\n", ":2:"),
                           (HEADER + "\n0,70,,\n0,70,,\n", ":3:"), (HEADER + "\n0,70,,explode\n", ":2:"), (HEADER + "\n0,7O,,\n", ":2:"),
                           (HEADER + "\n0,70,,\n0.0001,70,,\n", ":3:"), (HEADER + "\n1e300,70,,\n", ":2:")):
            TRACE.write_text(text, encoding="ascii")
            with self.subTest(text=text):
                done = run("judge", "--limit", "food-code-2022/roast", TRACE)
                self.assertEqual((done.returncode, done.stdout), (2, ""))
                self.assertIn(says, done.stderr)

    def test_every_event_word_is_taken(self):
        events = ("start", "removed", "moved", "setpoint", "door", "stirred", "end-of-cooking", "")
        self.assertEqual(by("food-code-2022/poultry", [(10 * i, 74.0, event) for i, event in enumerate(events)]), "met")

    def test_what_came_before_the_start_is_not_judged(self):
        rows = [(0, 50.0), (10, 52.0, "start"), (20, 54.0), (30, 57.0), (40, 58.0)]
        self.assertEqual(by("food-code-2022/hot-holding", [(0, 56.0), (10, 57.5, "start"), (20, 57.0)]), "met")
        self.assertEqual(by("food-code-2022/hot-holding", rows), "not met")
        self.assertEqual(by("food-code-2022/poultry", [(0, 74.0), (10, 73.0, "start"), (20, 73.0)]), "not met")

    def test_a_compressed_trace_is_read_as_well(self):
        packed = TRACE.with_name("trace.csv.gz")
        packed.write_bytes(gzip.compress(f"{HEADER}\n0,74.0,,\n".encode()))
        self.assertEqual(run("judge", "--limit", "food-code-2022/poultry", packed).returncode, 0)

    def test_a_probe_that_leaves_the_food_is_not_believed(self):
        rows = path([(0, 55), (600, 58)], every=10) + [(610, 90.0), (620, 90.0)]
        write(rows)
        done = run("judge", "--limit", "food-code-2022/poultry", TRACE)
        self.assertIn('"decision":"suspect-begun"', done.stdout)
        self.assertIn('"verdict":"not met"', done.stdout)

    @staticmethod
    def pulled(air):
        """Stock in a room of 20 °C: 57 °C at 20 min, 25 °C at 1 h 50 min. Then its probe is pulled out: within a minute it is at
        20.3 °C, which is below 21 °C and no jump (less than 4 °C in 10 s, and 15 °C/min is not exceeded by the sum)."""
        rows = path([(0, 70), (1200, 57), (6600, 25)], every=10)
        rows += [(6600 + 10 * i, core) for i, core in enumerate((23.5, 22.3, 21.4, 20.9, 20.6, 20.3), 1)]
        rows += [(s, 20.2) for s in range(6670, 9000, 10)]
        return [(s, core, "", air) for s, core in rows]

    def test_a_pulled_probe_meets_no_stage_where_the_air_is_known(self):
        """From 57 °C to 21 °C within 2 h (FDA Food Code 2022, 3-501.14(A)): air is not the stock."""
        blind = judge(self.pulled(""), "--limit", "food-code-2022/cooling")
        self.assertEqual((blind["verdict"], blind["reason"]), ("inconclusive", "trace-ends"))
        write(self.pulled("20.0"))
        done = run("judge", "--limit", "food-code-2022/cooling", TRACE)
        decisions = [json.loads(line) for line in done.stdout.splitlines()]
        self.assertIn(("suspect-begun", "pulled-out"), [(one.get("decision"), one.get("reason")) for one in decisions])
        self.assertEqual(decisions[-1]["verdict"], "not met")
        self.assertEqual(decisions[-1]["reason"], "too-late")
        # The clock ran from the last reading above 57 °C, at 1190 s.
        self.assertEqual(decisions[-1]["time_s"], 1190 + 7200)

    def test_air_beside_the_core_is_judged_by_nothing_else(self):
        """Where nobody pulls, air changes nothing, nor does it that half of it is missing."""
        rows = path([(0, 70), (1200, 57), (6600, 25), (8000, 20.9), (20000, 5)], every=10)
        outcomes = []
        for air in ("", "3.0"):
            write([(s, core, "", air if s % 3600 < 1800 else "") for s, core in rows])  # half of it missing
            outcomes.append(run("judge", "--limit", "food-code-2022/cooling", TRACE).stdout)
        self.assertIn('"verdict":"met"', outcomes[0])
        self.assertEqual(outcomes[0].replace('"place":"place",', ""), outcomes[1].replace('"place":"place",', ""))

    def test_rules_for_a_plan_are_lines_of_a_plan(self):
        """Every rule in one plan, which is in order."""
        steps, places, dates = [], [], []
        for profile in json.loads(run("limits", "--json").stdout)["profiles"]:
            for rule in profile["rules"]:
                done = run("limits", "--for-plan", rule["rule"])
                if not rule["available"]:
                    self.assertEqual((done.returncode, done.stdout), (2, ""))
                    self.assertIn("--accept-unverified", done.stderr)
                    done = run("limits", "--for-plan", "--accept-unverified", rule["rule"])
                    self.assertIn('source: "not verified: ', done.stdout)
                self.assertEqual(done.returncode, 0, done.stderr)
                self.assertIn("prevail", done.stdout)
                lines = done.stdout.splitlines()
                if rule["limit"]["applies_to"] == "air":
                    places.append(f"  - id: p{len(places)}\n    name: Rack\n    probe: air\n" + "".join(f"    {line}\n" for line in lines))
                elif lines[-1] and rule["limit"]["kind"] == "date_mark":
                    dates.append("".join(f"    {line}\n" for line in lines))
                else:
                    steps.append("      - id: s\n        name: Step\n" + "".join(f"        {line}\n" for line in lines))
        plan = ("site: {name: Harbour Lane Kitchen}\npeople: [{initials: AB, name: Ana Brandt, role: cook},"
                " {initials: RS, name: Ruth Sandoval, role: verifier}]\nbuses: [{id: rack, driver: modbus-tcp, host: 192.0.2.10}]\n"
                "probes: [{id: air, name: Air, kind: air, bus: rack, unit: 1, function: 4, register: 0, type: int16, plausible: [-40 °C, 60 °C]}]\nplaces:\n" +
                "".join(places) + "products:\n" +
                "".join(f"  - id: d{i}\n    name: Dish\n    steps:\n{step}" for i, step in enumerate(steps)) +
                "".join(f"  - id: k{i}\n    name: Dish\n    steps: [{{id: s, name: Step, limit: {{kind: none}}}}]\n{date}"
                        for i, date in enumerate(dates)))
        self.assertGreater(len(dates), 8)
        self.assertGreater(len(steps), 60)
        file = pathlib.Path(WORK.name) / "plan.txt"
        file.write_text(plan, encoding="utf-8")
        done = subprocess.run([rig.TRIVETD, "--check", file], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=60)
        self.assertEqual(done.returncode, 0, done.stdout)

    def test_another_profile_needs_a_file_and_nothing_else(self):
        with tempfile.TemporaryDirectory(prefix="trivet-profiles-") as place:
            text = ("id: harbour-1\nname: Harbour rules\nauthority: Port of Saltmere\njurisdiction: Saltmere\nedition: 1\nforce: bylaw\n"
                    "caution: Local codes and the authority prevail.\nrules:\n  - id: chowder\n    name: Chowder\n    section: 4\n"
                    "    source: Harbour rules, 4\n    confidence: verified\n    limit: {kind: cook, applies_to: food, at_least: 150 °F}\n")
            file = pathlib.Path(place) / "harbour-1.yaml"
            file.write_text(text, encoding="utf-8")
            write([(0, 65.556)])  # 150 °F is 65.5556 °C
            self.assertEqual(run("judge", "--profiles", place, "--limit", "harbour-1/chowder", TRACE).returncode, 0)
            write([(0, 65.555)])
            self.assertEqual(run("judge", "--limit", "harbour-1/chowder", TRACE, profiles=place).returncode, 1)
            for wrong, line in (("at_least: 150", 14), ("confidence: sure", 13), ("caution: Trust us.", 7), ("id: harbour-2", 1)):
                key = wrong.split(":")[0]
                lines = text.splitlines()
                lines[line - 1] = lines[line - 1][:lines[line - 1].index(key)] + wrong + ("}" if key == "at_least" else "")
                file.write_text("\n".join(lines) + "\n", encoding="utf-8")
                with self.subTest(wrong=wrong):
                    done = run("limits", "--profiles", place)
                    self.assertEqual((done.returncode, done.stdout), (2, ""))
                    self.assertIn(f"harbour-1.yaml:{line}:", done.stderr)


def tearDownModule():
    WORK.cleanup()


if __name__ == "__main__":
    unittest.main(verbosity=1)
