"""`trivet judge` against the published figures for heating and holding: each row just inside, exactly at and just outside.

The figures stand here and in published/cook_tables.csv, copied from the documents that are named beside them; none is read
from config/profiles/. What a table means is worked out here a second time, from its words: any one row, unbroken.
"""
import csv
import unittest

from judging import by, judge, milli_c, path, run, steady, TABLES, TRACE, write


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

    def test_an_oven_that_wavers_is_measured(self):
        """As a real one does, from one reading to the next; hot enough all the time, and for one reading not."""
        for air, word, time_s in ((163.4, "met", 3060), (162.9, "not met", 1200)):
            rows = [(t, self.core(t), "start" if t == 60 else "", f"{air if t == 1200 else 163.0 + (t // 60 % 7) / 2:.3f}")
                    for t in range(0, 3001, 60)] + [(3060, 70.0, "", "163.7")]
            verdict = judge(rows, "--limit", "food-code-2022/roast", "--oven", "convection", "--mass", "3kg")
            self.assertEqual((verdict["verdict"], verdict["time_s"]), (word, time_s))

    def test_mass_that_nobody_says_takes_the_strictest(self):
        self.assertEqual(self.roast("still_dry", None, 177.0)["verdict"], "met")
        self.assertEqual(self.roast("still_dry", None, 176.999)["verdict"], "not met")

    def test_oven_that_nobody_measured_is_a_question(self):
        rows = [(t, self.core(t), "start" if t == 60 else "") for t in range(0, 3001, 60)] + [(3060, 70.0)]
        verdict = judge(rows, "--limit", "food-code-2022/roast", "--oven", "convection")
        self.assertEqual((verdict["verdict"], verdict["reason"]), ("inconclusive", "not-measured"))

    def test_a_question_about_the_oven_does_not_hide_a_roast_that_was_not_done(self):
        rows = [(t, self.core(t), "start" if t == 60 else "end-of-cooking" if t == 3000 else "") for t in range(0, 3001, 60)]
        verdict = judge(rows + [(3060, 61.0)], "--limit", "food-code-2022/roast", "--oven", "convection")
        self.assertEqual((verdict["verdict"], verdict["time_s"], verdict["reason"]), ("not met", 3060, "left-early"))

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

    def test_air_that_wavers_is_measured(self):
        """At most 7 °C in the air (FDA Food Code 2022, 3-501.16(B))."""
        for warmest, word, time_s in ((7.0, "met", 1800), (7.1, "not met", 540)):
            rows = [(t, None, "", f"{warmest if t == 540 else 4.0 + t * 7919 % 1009 / 1000:.3f}") for t in range(0, 1801, 60)]
            verdict = judge(rows, "--limit", "food-code-2022/shell-eggs")
            self.assertEqual((verdict["verdict"], verdict["time_s"]), (word, time_s))

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

    def test_a_question_about_the_come_up_time_does_not_hide_a_core_that_never_got_there(self):
        """Nobody saw it for 7 h; that is a question where the core was hot enough, and none where it was not (p. 23-24, Table 2)."""
        rule = "fsis-appendix-a-2021/meat-6.5-log"
        for last, word, reason in ((72.0, "inconclusive", "no-good-reading"), (54.0, "not met", "left-early")):
            rows = [(60 * i, 5 + i / 20) for i in range(60)]
            rows += [(28800 + 60 * i, last) for i in range(5)]
            with self.subTest(last=last):
                verdict = judge(rows, "--limit", rule)
                self.assertEqual((verdict["verdict"], verdict["reason"]), (word, reason))

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


if __name__ == "__main__":
    unittest.main(verbosity=1)
