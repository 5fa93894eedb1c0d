"""`trivet judge` against the published figures for cooling: each stage just inside, exactly at and just outside.

The figures stand here, copied from the documents that are named beside them; none is read from config/profiles/.
"""
import unittest

from judging import by, judge, path


# rule, from °C, to °C, seconds, whether not verified, source: one stage.
ONE_STAGE = [
    ("fsis-appendix-b-1999/option-2", 48.889, 12.778, 21600, False, "USDA FSIS Appendix B (June 1999), item 2: 120 to 55 °F in 6 h"),
    ("codex-39-1993/cooling", 60, 10, 7200, True, "Codex CXC 39-1993, from memory"),
    ("din-10506-2023/cooling", 65, 10, 10800, True, "DIN 10506, from memory"),
    ("england-wales-ni/cooling-advice-8c", 63, 8, 5400, True, "common UK trade advice, no official text found"),
]


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

    def test_preparation_at_room_temperature_counts_from_its_start(self):
        """4 h from the preparation (FDA Food Code 2022, 3-501.14(B)), also of food that warms a little before it is cooled."""
        for reached_s, warmest, word in ((14400, 20.4, "met"), (14401, 20.4, "not met"), (14401, 22.0, "not met")):
            rows = path([(0, 20.0), (600, warmest), (reached_s - 60, 5.1), (reached_s, 5.0), (reached_s + 60, 4.9)])
            with self.subTest(reached_s=reached_s, warmest=warmest):
                self.assertEqual(by("food-code-2022/cooling-ambient", [(*rows[0], "start")] + rows[1:]), word)

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

    def test_cook_chill_of_food_that_rises_after_it_was_moved(self):
        """A core rises on for some minutes after it left the heat: the 90 min count from when it was moved all the same."""
        rule = "uk-cook-chill/chilling"
        for reached_s, word in ((5400, "inconclusive"), (5401, "not met")):  # nobody said when cooking ended
            rows = path([(0, 74), (300, 76), (900, 68), (reached_s - 60, 3.2), (reached_s, 3.0), (reached_s + 60, 2.9)])
            for event in ("moved", "start"):
                with self.subTest(reached_s=reached_s, event=event):
                    self.assertEqual(by(rule, [(*rows[0], event)] + rows[1:]), word)
        # the start of the cooking, in one trace with it, is no start of chilling
        rows = [(-3600, 5.0, "start")] + path([(-3540, 5.0), (-900, 72)]) + path([(0, 76), (900, 68), (5800, 3.0), (5860, 2.9)])
        self.assertEqual(by(rule, rows), "inconclusive")

    def test_cook_chill_without_events(self):
        rule = "uk-cook-chill/chilling"
        rows = path([(0, 76), (600, 70.1), (660, 69.5), (600 + 5400 - 60, 3.2), (600 + 5400, 3.0)])
        self.assertEqual(by(rule, rows), "inconclusive")  # nobody said when cooking ended
        rows[0] = (0, 76, "end-of-cooking")
        self.assertEqual(by(rule, rows), "met")
        late = path([(0, 76), (600, 70.1), (660, 69.5), (600 + 5400, 3.2), (600 + 5500, 3.0)])
        self.assertEqual(by(rule, late), "not met")  # whenever it ended


if __name__ == "__main__":
    unittest.main(verbosity=1)
