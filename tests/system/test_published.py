"""A plan that names published limits: shown with their origin, kept with the plan, never read again for what is on record."""
import pathlib
import subprocess
import unittest
import urllib.request

import rig
from rig import await_that

PROFILE = """\
id: harbour-1
name: Harbour rules
authority: Port of Saltmere
jurisdiction: Saltmere
edition: first
force: bylaw
caution: Local codes and the authority prevail.
rules:
  - id: stew
    name: Stew
    section: '4'
    source: Harbour rules, 4
    confidence: memory
    limit: {kind: cook, applies_to: food, at_least: 70 °C, for: 1 s}
"""
SPELLED = "{kind: cook, applies_to: food, at_least: 70 °C, for: 1 s}"
NAMED = "{profile: harbour-1/stew}"


class Published(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200)
        self.profiles = self.kitchen.directory / "profiles"
        self.profiles.mkdir()
        self.write_profile(PROFILE)
        text = rig.small_plan(self.port, web="{port: 0}")
        self.assertIn(SPELLED, text)
        self.text = "accept_unverified: true\n" + text.replace(SPELLED, NAMED)
        self.kitchen.write_plan(self.text)

    def write_profile(self, text):
        (self.profiles / "harbour-1.yaml").write_text(text, encoding="utf-8")

    def start(self, profiles=None):
        self.kitchen.start(TRIVET_PROFILES=str(profiles or self.profiles))
        self.kitchen.await_readings(4)

    def page(self):
        address = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(address, timeout=rig.PATIENCE_S) as answer:
            return answer.read().decode()

    def cook(self):
        begun = self.kitchen.trivet("begin", "soup", "--probes", "pot-core", "--who", "AB")
        self.assertEqual(begun.code, rig.DONE, begun)
        self.peer.set(1, 1, 700)
        return self.kitchen.await_decision(decision="limit-met")

    def test_unverified_figures_are_marked_on_page_command_and_decision(self):
        self.start()
        met = self.cook()
        self.assertEqual((met["required_milli"], met["accept_unverified"]), (70000, True))
        self.assertNotIn("accept_unverified", [key for data in self.kitchen.decisions() if data["decision"].startswith("deviation")
                                               for key in data])
        shown = self.kitchen.trivet("plan")
        for words in ("accept_unverified: true", "harbour-1/stew: Harbour rules, 4 (NOT VERIFIED,", "memory"):
            self.assertIn(words, shown.out)
        told = self.kitchen.trivet("plan", "--json").json
        self.assertEqual(told["published"], [{"rule": "harbour-1/stew", "authority": "Port of Saltmere", "edition": "first",
                                              "section": "4", "source": "Harbour rules, 4", "confidence": "memory"}])
        self.assertIs(told["accept_unverified"], True)
        self.assertIn("UNVERIFIED LIMITS", self.kitchen.trivet("now").out)
        self.assertIn('id="banner-unverified"><strong>Unverified limits', self.page())

    def test_without_the_plans_word_unverified_figures_are_refused(self):
        self.kitchen.write_plan(self.text.replace("accept_unverified: true\n", ""))
        done = subprocess.run([rig.TRIVETD, "--profiles", str(self.profiles), "--check", str(self.kitchen.plan)],
                              stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        self.assertEqual(done.returncode, 1, done.stdout)
        self.assertIn("was not checked against the published text (memory)", done.stdout)

    def test_record_is_judged_alike_with_other_profiles_and_with_none(self):
        self.start()
        self.cook()
        before = [data for data in self.kitchen.decisions()]
        self.kitchen.stop()
        self.write_profile(PROFILE.replace("70 °C", "95 °C"))
        for profiles in (self.profiles, self.kitchen.directory / "nowhere"):
            answer = self.kitchen.trivet("replay", TRIVET_PROFILES=str(profiles))
            self.assertEqual(answer.code, rig.DONE, answer)
        # The same file read with newer profiles is a change of a limit, which nobody has approved.
        self.start()
        refused = await_that(lambda: self.kitchen.trivet("now", "--json").json["plan_refused"], "the refusal")
        self.assertIn("product soup, step cook: at least 70.0 °C for 1 s (food), not verified -> at least 95.0 °C", refused)
        self.assertEqual(len(self.kitchen.records("plan")), 1)
        self.assertEqual(self.kitchen.decisions()[:len(before)], before)


class Places(unittest.TestCase):
    def test_programs_find_the_shipped_profiles_without_being_told(self):
        text = pathlib.Path(rig.ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8")
        self.assertIn("profile: food-code-2022/cooling", text)
        with rig.Kitchen() as kitchen:
            kitchen.write_plan(text)
            done = subprocess.run([rig.TRIVETD, "--check", str(kitchen.plan)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                                  text=True)
            self.assertEqual(done.returncode, 0, done.stdout)


if __name__ == "__main__":
    unittest.main(verbosity=1)
