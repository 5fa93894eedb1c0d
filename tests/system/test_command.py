"""Two minutes with `trivet` and `trivetd`: every verb once on a live daemon, what is refused and how, starts and ends.

The dialogue at a terminal and daemons that misbehave are test_cli_prompts.py's.
"""
import os
import re
import signal
import stat
import subprocess
import unittest

import rig

HARBOUR_LANE = rig.ROOT / "config/harbour-lane.yaml"


def trivetd(*words):
    return rig.Answer(subprocess.run([rig.TRIVETD, *map(str, words)], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                     stderr=subprocess.PIPE, text=True, timeout=30))


class Living(unittest.TestCase):
    """A fresh kitchen with its daemon for each test."""

    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.kitchen.write_plan(rig.small_plan(self.port))
        self.peer.set(1, 0, 30, 200)
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def say(self, *words):
        answer = self.kitchen.trivet("--json", *words)
        self.assertEqual(answer.code, rig.DONE, (words, answer))
        self.assertEqual(answer.out.count("\n"), 1, "one object on one line")
        return answer.json

    def refused(self, *words, code=rig.REFUSED, says):
        answer = self.kitchen.trivet(*words)
        self.assertEqual(answer.code, code, (words, answer))
        self.assertEqual(answer.out, "")
        self.assertRegex(answer.err, says)
        return answer


class EveryVerb(Living):
    def record(self, seq):
        return next(body for body in self.kitchen.records(after=seq - 1))

    def test_each_verb_once(self):
        now = self.say("now")
        self.assertEqual((now["site"], now["batches"], now["deviations"]), ("Harbour Lane Kitchen", [], []))
        self.assertEqual([place["id"] for place in now["places"]], ["walk-in", "stove"])
        where = self.say("where")
        self.assertEqual((where["store"], where["socket"]), (str(self.kitchen.store), str(self.kitchen.socket)))

        begun = self.say("begin", "soup", "--probes", "pot-core", "--mass", "1.8kg", "--thickness", "6cm", "--who", "AB")
        self.assertEqual(begun["batch"], 1)
        data = self.record(begun["seq"])["data"]
        self.assertEqual((data["product"], data["mass_g"], data["thickness_mm"], data["who"]), ("soup", 1800, 60, "AB"))

        taken = self.say("take", "145F", "--thermometer", "red-pen", "--batch", "1", "--who", "LM")
        self.assertEqual(self.record(taken["seq"])["data"]["temp_mC"], 62778)  # (145 - 32) * 5 / 9 = 62.7777...
        corrected = self.say("correct", taken["seq"], "--temp", "72.5", "--reason", "misread the dial", "--who", "LM")
        self.assertEqual(self.record(corrected["seq"])["data"]["refers"], taken["seq"])
        self.assertEqual(self.record(taken["seq"])["data"]["temp_mC"], 62778)  # the old one stays
        noted = self.say("note", "second tray", "--batch", "1", "--who", "AB")
        self.assertEqual(self.record(noted["seq"])["data"]["text"], "second tray")

        self.say("next", "1", "--who", "AB")
        early = self.kitchen.await_decision(decision="deviation-opened", reason="left-early")
        asked = self.kitchen.await_decision(decision="inconclusive", reason="probe-late", batch=1)
        self.assertEqual(asked["step"], "cool")
        self.say("cooked", "1", "--at", "10 min ago", "--who", "AB")
        clock = self.kitchen.await_decision(decision="clock-started", reason="cooked-at", batch=1)
        self.assertAlmostEqual(clock["since_ms"], clock["at_ms"] - 600_000, delta=5000)

        second = self.say("begin", "soup", "--step", "cool", "--who", "LM")["batch"]
        self.say("end", second, "discarded", "--text", "fell down", "--who", "LM")

        deviations = self.say("deviations")
        self.assertEqual([deviation["number"] for deviation in deviations], [early["deviation"]])
        self.say("act", early["deviation"], "--found", "moved by mistake", "--done", "put back", "--disposition", "cook-on",
                 "--who", "AB")
        self.say("verify", early["deviation"], "--who", "RS")
        self.assertEqual(self.say("deviations"), [])

        self.say("end", "1", "stored", "--place", "walk-in", "--who", "AB")
        self.assertEqual(self.say("now")["batches"], [])
        for table in ("readings", "batches", "deviations", "actions", "entries", "records"):
            exported = self.kitchen.trivet("export", table, "--from", "yesterday", "--to", "today")
            self.assertEqual(exported.code, rig.DONE, exported)
            self.assertTrue(exported.rows, table)
        self.assertIs(self.say("chain")["ok"], True)
        self.assertIs(self.say("replay")["same"], True)

    def test_a_person_decides_what_the_readings_cannot(self):
        batch = self.say("begin", "soup", "--step", "cool", "--probes", "pot-core", "--who", "AB")["batch"]
        self.kitchen.await_decision(decision="inconclusive", batch=batch)
        self.refused("decide", batch, "accept", "--reason", "it was cooled elsewhere", "--who", "JO", says="does not show 5.0 °C yet")
        self.say("decide", batch, "reject", "--reason", "nobody saw when it was cooked", "--who", "JO")
        resolved = self.kitchen.await_decision(decision="resolved", batch=batch)
        self.assertIs(resolved["accepted"], False)
        self.refused("decide", batch, "reject", "--reason", "again", "--who", "JO", says="decision")

    def test_plain_output_is_for_people(self):
        self.say("begin", "soup", "--probes", "pot-core", "--who", "AB")
        now = self.kitchen.trivet("now")
        self.assertEqual(now.code, rig.DONE)
        self.assertIn("Harbour Lane Kitchen", now.out)
        self.assertIn("Leek soup", now.out)
        self.assertRegex(now.out, r"Walk-in fridge: 3\.0 °C, \d+ s ago")
        self.assertNotIn("{", now.out)
        self.assertRegex(self.kitchen.trivet("chain").out, r"^Nothing was altered\b")
        self.assertRegex(self.kitchen.trivet("replay").out, r"every decision is the same")


class Refusals(Living):
    def test_unknown_batch_says_which_are_open(self):
        batch = self.say("begin", "soup", "--probes", "pot-core", "--who", "AB")["batch"]
        answer = self.kitchen.trivet("end", "99", "served", "--who", "AB")
        self.assertIn(answer.code, (rig.USAGE, rig.REFUSED), answer)
        self.assertRegex(answer.err, rf"99.*\b{batch}\b")

    def test_decimal_comma_is_told_how_to_be_written(self):
        self.refused("take", "63,4", "--thermometer", "red-pen", "--place", "walk-in", "--who", "AB", code=rig.USAGE,
                     says=r"63\.4|point")

    def test_probe_in_another_batch_is_named_with_it(self):
        batch = self.say("begin", "soup", "--probes", "pot-core", "--who", "AB")["batch"]
        self.refused("begin", "soup", "--probes", "pot-core", "--who", "LM", says=rf"pot-core.*batch {batch}")

    def test_nobody_verifies_what_they_did_themselves(self):
        self.peer.set(1, 0, 90)
        number = self.kitchen.await_decision(decision="deviation-opened")["deviation"]
        self.refused("verify", number, "--who", "RS", says="no corrective action")
        self.say("act", number, "--found", "door open", "--done", "closed", "--disposition", "use", "--who", "JO")
        self.refused("verify", number, "--who", "JO", says="JO recorded this action.*another person")
        self.refused("verify", number, "--who", "LM", says="LM is a cook.*JO, RS")
        self.say("verify", number, "--who", "RS")

    def test_time_to_come_and_unknown_words_are_told_what_to_write(self):
        batch = self.say("begin", "soup", "--step", "cool", "--probes", "pot-core", "--who", "AB")["batch"]
        self.refused("cooked", batch, "--at", "soon", "--who", "AB", code=rig.USAGE, says="10 min ago")
        self.refused("begin", "stew", "--who", "AB", code=rig.USAGE, says="soup")
        self.refused("note", "hello", "--who", "ZZ", code=rig.USAGE, says="AB.*LM.*JO.*RS")
        self.refused("end", batch, "eaten", "--who", "AB", code=rig.USAGE, says="served.*stored.*discarded")
        self.refused("endd", code=rig.USAGE, says="end")

    def test_nothing_that_was_refused_is_on_record(self):
        before = self.kitchen.query("SELECT count(*) FROM record WHERE kind NOT IN ('seal', 'decision')")
        self.kitchen.trivet("take", "63,4", "--thermometer", "red-pen", "--place", "walk-in", "--who", "AB")
        self.kitchen.trivet("end", "7", "served", "--who", "AB")
        self.kitchen.trivet("verify", "1", "--who", "RS")
        self.assertEqual(self.kitchen.query("SELECT count(*) FROM record WHERE kind NOT IN ('seal', 'decision')"), before)


class StartsAndEnds(Living):
    def test_asked_to_end_it_seals_and_says_stop(self):
        for number, how in enumerate((signal.SIGTERM, signal.SIGINT), 1):
            self.assertEqual(self.kitchen.stop(how), 0)
            records = self.kitchen.records()
            stops = [body for body in records if body["kind"] == "stop"]
            self.assertEqual(len(stops), number)
            self.assertLessEqual({body["kind"] for body in records if body["seq"] > stops[-1]["seq"]}, {"seal"})
            self.assertEqual(self.kitchen.trivet("--json", "chain").json["unsealed"], 0)
            self.assertFalse(self.kitchen.socket.exists())
            last_ms = self.kitchen.query("SELECT max(at_ms) FROM record")[0][0]
            self.kitchen.start()
            self.assertEqual(self.kitchen.records("start")[-1]["data"]["since_ms"], last_ms)

    def test_second_daemon_on_the_same_store_is_refused(self):
        second = trivetd(self.kitchen.plan)
        self.assertEqual(second.code, 3, second)
        self.assertRegex(second.err, r"another (daemon|trivetd)|already|in use|holds")
        self.assertIn(str(self.kitchen.store), second.err)
        self.say("note", "the first goes on", "--who", "AB")

    def test_socket_is_for_its_group_only(self):
        self.assertEqual(stat.S_IMODE(os.stat(self.kitchen.socket).st_mode), 0o660)

    def test_without_a_daemon_the_command_says_so(self):
        self.kitchen.stop()
        answer = rig.Answer(subprocess.run([rig.TRIVET, "--socket", str(self.kitchen.socket), "now"], stdin=subprocess.DEVNULL,
                                           stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=30))
        self.assertEqual(answer.code, rig.UNREACHABLE, answer)
        self.assertRegex(answer.err, "trivetd running")

    def test_killed_daemon_leaves_no_socket_in_the_way(self):
        self.assertEqual(self.kitchen.stop(signal.SIGKILL), -signal.SIGKILL)
        self.assertTrue(self.kitchen.socket.exists())
        self.kitchen.start()
        self.say("note", "back again", "--who", "AB")

    def test_changed_plan_becomes_a_record_and_the_same_one_does_not(self):
        self.kitchen.stop()
        self.kitchen.start()
        self.assertEqual(len(self.kitchen.records("plan")), 1)
        self.kitchen.stop()
        self.kitchen.write_plan(rig.small_plan(self.port) + "# a remark\n")
        self.kitchen.start()
        plans = self.kitchen.records("plan")
        self.assertEqual(len(plans), 2)
        self.assertTrue(plans[1]["data"]["text"].endswith("# a remark\n"))
        self.assertEqual(plans[1]["data"]["probes"], plans[0]["data"]["probes"])


BROKEN = """\
site: {name: Harbour Lane Kitchen}
people:
  - {initials: AB, name: Ana Brandt, role: chef}
  - {initials: RS, name: Ruth Sandoval, role: verifier}
products:
  - id: soup
    name: Leek soup
    steps:
      - id: cook
        name: Cooking
        limit: {kind: cook, applies_to: food, at_least: 63}
      - id: hold
        name: Holding
        limti: {kind: none}
"""


class Plans(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)

    def test_demo_plan_is_in_order(self):
        checked = trivetd("--check", HARBOUR_LANE)
        self.assertEqual((checked.code, checked.err), (0, ""), checked)
        self.assertIn("in order", checked.out)

    def test_every_fault_of_a_broken_plan_is_told_with_its_place(self):
        self.kitchen.write_plan(BROKEN)
        for words in (("--check", self.kitchen.plan), (self.kitchen.plan,)):
            checked = trivetd(*words)
            self.assertEqual(checked.code, 1, checked)
            told = re.findall(rf"^{re.escape(str(self.kitchen.plan))}:(\d+):(\d+): (.+)$", checked.err, re.M)
            places = [(int(line), int(column)) for line, column, _ in told]
            self.assertIn((3, 44), places, checked)   # role: chef
            self.assertIn((11, 57), places, checked)  # at_least: 63
            self.assertIn(14, [line for line, _ in places], checked)  # limti
            self.assertEqual(places, sorted(places))
            self.assertRegex(dict(((int(line), int(column)), text) for line, column, text in told)[3, 44], "cook")
            self.assertFalse(self.kitchen.store.exists(), "nothing was started")

    def test_plan_that_is_not_there_or_no_yaml_is_told(self):
        missing = trivetd("--check", self.kitchen.directory / "nowhere.yaml")
        self.assertEqual(missing.code, 1, missing)
        self.assertIn("nowhere.yaml", missing.err)
        self.kitchen.write_plan("site: {name: x\n  people: [\n")
        self.assertRegex(trivetd("--check", self.kitchen.plan).err, r"plan\.yaml:\d+:\d+: ")

    def test_wrong_usage_is_told_how(self):
        for words in ((), ("--nonsense",), ("a", "b")):
            answer = trivetd(*words)
            self.assertEqual(answer.code, 2, (words, answer))
            self.assertIn("usage: trivetd", answer.err)
        self.assertEqual(trivetd("--help").code, 0)
        self.assertRegex(trivetd("--version").out, r"^trivetd \d+\.\d+\.\d+\n$")

    def test_directory_that_cannot_be_made_is_told(self):
        self.kitchen.write_plan(rig.small_plan(502).replace("directory: records", "directory: no/such/place"))
        answer = trivetd(self.kitchen.plan)
        self.assertEqual(answer.code, 3, answer)
        self.assertIn("no/such/place", answer.err)


if __name__ == "__main__":
    unittest.main(verbosity=1)
