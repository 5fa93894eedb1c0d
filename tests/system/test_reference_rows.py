"""Every row of the published figures that Trivet was written after has a test, or is said to be a gap.

published/rows.csv lists the rows by the names that comments of the tests call them by, file by file, with what exercises
each: a rule that is in one of the lists of test_judge.py and test_judge_cooling.py, a row of published/cook_tables.csv, a test by its name; or why
nothing does. docs/limits.md, of thermometers docs/calibration.md, says the gaps to people.
"""
import collections
import csv
import inspect
import pathlib
import unittest

import judging
import test_judge
import test_judge_command
import test_judge_cooling
import test_judge_sums

JUDGES = (test_judge, test_judge_cooling, test_judge_sums, test_judge_command)
HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent

# How many rows each file of figures has.
FILES = {"cook_instant": 30, "cook_roast_hold": 13, "cook_roast_oven": 6, "cooling": 23, "date_marking": 15, "fsis_lethality": 605,
         "fsis_process_conditions": 10, "holding": 56, "pasteurisation_equivalents": 51, "receiving": 15, "reheat": 18,
         "thermometer_accuracy": 42}


def listed():
    with open(HERE / "published/rows.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def exercised_rules():
    lists = (test_judge.COOKS, test_judge.HOLDS, test_judge.REHEATS, test_judge.TIMES, test_judge.UNVERIFIED, test_judge_cooling.COOLINGS,
             test_judge.AIRS, test_judge_cooling.ONE_STAGE)
    return {row[0] for rows in lists for row in rows}


class Rows(unittest.TestCase):
    def test_every_row_is_listed_once(self):
        rows = listed()
        self.assertEqual(collections.Counter(row["file"] for row in rows), FILES)
        self.assertEqual(len({row["row"] for row in rows}), len(rows))

    def test_every_row_has_an_exercise_that_there_is(self):
        rules, tables = exercised_rules(), collections.defaultdict(set)
        with open(judging.TABLES, encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                tables[row["rule"]].add((float(row["temp"]), row["unit"], float(row["hold_s"])))
        for row in listed():
            kind, _, rest = row["exercise"].partition(":")
            with self.subTest(row=row["row"]):
                if kind == "rule":
                    self.assertIn(rest, rules)
                elif kind == "table":
                    rule, temp, unit, hold_s = rest.split(":")
                    self.assertIn((float(temp), unit, float(hold_s)), tables[rule])
                elif kind == "test":
                    group, name = rest.split(".")
                    self.assertTrue(any(inspect.isfunction(getattr(getattr(module, group, None), name, None)) for module in JUDGES))
                elif kind == "unit":
                    file, name = rest.split(":")
                    self.assertIn(f"cmocka_unit_test({name})", (ROOT / "tests/unit" / file).read_text(encoding="utf-8"))
                elif kind == "system":
                    file, name = rest.split(":")
                    self.assertIn(f"    def {name}(self):", (HERE / file).read_text(encoding="utf-8"))
                else:
                    self.assertEqual(kind, "gap")
                    self.assertGreater(len(rest), 20)

    def test_gaps_are_said(self):
        for row in listed():
            if row["exercise"].startswith("gap:"):
                page = "docs/calibration.md" if row["file"] == "thermometer_accuracy" else "docs/limits.md"
                with self.subTest(row=row["row"]):
                    self.assertIn(f"`{row['row']}`", (ROOT / page).read_text(encoding="utf-8"))


if __name__ == "__main__":
    unittest.main()
