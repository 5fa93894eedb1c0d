"""`trivet limits` and `trivet judge` as commands: what they list, what they refuse, which traces and profiles they read.
"""
import gzip
import json
import pathlib
import subprocess
import tempfile
import unittest

import rig
from judging import by, HEADER, judge, path, run, TRACE, WORK, write


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
        wavers = [(s, core, event, f"{20.0 + s * 7919 % 601 / 1000:.3f}") for s, core, event, _ in self.pulled("")]
        for rows in (self.pulled("20.0"), wavers):
            write(rows)
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

    def test_lines_for_a_plan_say_all_that_the_profile_says(self):
        """Put into a profile of their own, they are the same limit."""
        def profile(rules):
            file.write_text("id: copied\nname: Copied\nauthority: none\njurisdiction: none\nedition: none\nforce: none\n"
                            "caution: Local codes prevail.\nrules:\n" + "".join(
                                f"  - id: r{i}\n    name: R\n    section: none\n    source: none\n    confidence: verified\n{limit}"
                                for i, limit in enumerate(rules)), encoding="utf-8")
            done = run("limits", "--json", "--profiles", place)
            self.assertEqual(done.returncode, 0, done.stderr)
            return json.loads(done.stdout)["profiles"][0]["rules"]

        def lines(rule, *where):
            said = run("limits", "--for-plan", "--accept-unverified", rule["rule"], *where).stdout
            return "".join(f"    {line}\n" for line in said.replace("date_mark:", "limit:").splitlines())

        rules = [rule for known in json.loads(run("limits", "--json").stdout)["profiles"] for rule in known["rules"]]
        shown = [(rule["limit"], lines(rule)) for rule in rules if rule["limit"]["kind"] != "lethality"]
        with tempfile.TemporaryDirectory(prefix="trivet-profiles-") as place:
            file = pathlib.Path(place) / "copied.yaml"
            for rare in ("{kind: reheat, applies_to: food, at_least: 70.25 °C, for: 90 s, within: 1 h 1 min 1 s, rise_from: 4.125 °C, "
                         "stand: 61 s, strict: yes, once: yes}",
                         "{kind: cool, applies_to: food, from: 135.5 °F, stages: [{to: 70 °F, within: 2 h}], clock: step, "
                         "start_within: 90 s, once: yes}"):
                rule = profile([f"    limit: {rare}\n"])[0]
                shown.append((rule["limit"], lines(rule, "--profiles", place)))
            for unit in ("F", "C"):  # a profile is in one
                of_unit = [one for one in shown if ('_unit": "F"' in json.dumps(one[0])) == (unit == "F")]
                self.assertGreater(len(of_unit), 20)
                for first in range(0, len(of_unit), 50):
                    part = of_unit[first:first + 50]
                    for (limit, text), copy in zip(part, profile([text for _, text in part]), strict=True):
                        self.assertEqual(copy["limit"], limit, text)

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


if __name__ == "__main__":
    unittest.main(verbosity=1)
