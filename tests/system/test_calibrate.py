"""Thermometers checked by people: `trivet calibrate` with the real daemon, one Modbus device and python3-iapws beside it.

The arithmetic of corrections is done again here with exact fractions, that of boiling water by IAPWS-IF97 as python3-iapws has it.
"""
import fractions
import html
import os
import random
import re
import threading
import unittest
import urllib.request

import iapws

import rig
from test_cli_prompts import Terminal

SETTLE = ("--settle-for", "2s")
REFERENCES = """\
references:
  - {id: lab-stick, name: Laboratory stick, certificate: no. 7 of Saltmere Calibration, uncertainty: 0.1 °C, due: 2099-12-31}
  - {id: old-stick, name: Old stick, certificate: no. 3 of Saltmere Calibration, uncertainty: 0.1 °C, due: 2020-12-31}
calibration: {check_every: 90 d, altitude_m: 0}
"""


def halves_away(value):
    """The nearest whole number to a fraction, halves away from zero."""
    sign = -1 if value < 0 else 1
    return sign * int(abs(value) + fractions.Fraction(1, 2))


def corrected(points, raw):
    """Rule E122 of docs/engine.md, with fractions. points: (raw, reference) in thousandths."""
    points = sorted(points)
    if raw <= points[0][0]:
        return raw + points[0][1] - points[0][0]
    for (low, low_ref), (high, high_ref) in zip(points, points[1:]):
        if raw <= high:
            below, above = low_ref - low, high_ref - high
            return raw + below + halves_away(fractions.Fraction((above - below) * (raw - low), high - low))
    return raw + points[-1][1] - points[-1][0]


class KitchenCase(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.kitchen.write_plan(self.plan())
        self.peer.set(1, 0, 35, 4)  # 3.5 °C in the walk-in, the pot's probe at 0.4 °C
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def plan(self):
        return rig.small_plan(self.port) + REFERENCES

    def calibrate(self, *words, code=rig.DONE):
        answer = self.kitchen.trivet("--json", "calibrate", *words, "--who", "AB")
        self.assertEqual(answer.code, code, (answer.out, answer.err))
        return answer

    def probe(self, name):
        now = self.kitchen.trivet("--json", "now").json
        return next(probe for probe in now["probes"] if probe["id"] == name)

    def await_raw(self, raw_mc, from_ms):
        """The pot's probe once it shows that, by a reading of that instant or later."""
        def look():
            probe = self.probe("pot-core")
            return probe if probe["raw_mC"] == raw_mc and probe["last_good_ms"] >= from_ms else None
        return rig.await_that(look, f"a raw {raw_mc}")

    def thermometer(self, name):
        now = self.kitchen.trivet("--json", "now").json
        return next(one for one in now["thermometers"] if one["id"] == name)


class Checks(KitchenCase):
    def test_a_probe_is_watched_until_it_has_settled(self):
        self.calibrate("pot-core", "ice", *SETTLE)
        data = self.kitchen.records("calibrate")[-1]["data"]
        self.assertEqual(data["points"], [{"found_mC": 400, "method": "ice", "reference_mC": 0, "uncertainty_mK": 100}])
        self.assertEqual((data["probe"], data["correction"], data["who"]), ("pot-core", "keep", "AB"))
        self.assertEqual(self.thermometer("pot-core")["state"], "good")
        self.assertEqual(self.thermometer("walk-in-air")["state"], "never")
        self.assertEqual(self.kitchen.decisions(decision="deviation-opened"), [])

    def test_a_probe_that_does_not_settle_is_not_recorded(self):
        stop = threading.Event()

        def stir():
            values = random.Random(4)
            while not stop.wait(0.05):
                self.peer.set(1, 1, values.randrange(40))

        stirring = threading.Thread(target=stir)
        stirring.start()
        self.addCleanup(stirring.join)
        self.addCleanup(stop.set)
        answer = self.calibrate("pot-core", "ice", *SETTLE, "--wait-for", "6s", code=rig.NO)
        self.assertIn("has not settled; nothing was recorded", answer.err)
        self.assertEqual(self.kitchen.records("calibrate"), [])

    def test_boiling_water_by_another_library(self):
        for pressure_hpa in (850, 1008, 1040):
            boiling_mc = round((iapws.iapws97._TSat_P(pressure_hpa / 10000) - 273.15) * 1000)
            self.calibrate("pot-core", "boiling=99.9C", "-p", f"{pressure_hpa}hPa", "--correction", "keep")
            point = self.kitchen.records("calibrate")[-1]["data"]["points"][0]
            self.assertLessEqual(abs(point["reference_mC"] - boiling_mc), 1)
            self.assertEqual(point["uncertainty_mK"], 200)

    def test_a_reference_that_no_water_boils_at_is_refused(self):
        with self.assertRaisesRegex(rig.Refused, "water boils at 99.8"):
            door = rig.Socket(self.kitchen.socket)
            self.addCleanup(door.close)
            door.ask(do="calibrate", who="AB", probe="pot-core", correction="keep", pressure_Pa=100800,
                     points=[{"found_mC": 99900, "method": "boiling", "reference_mC": 100000, "uncertainty_mK": 200}])

    def test_altitude_alone_is_less_sure(self):
        """ISO 2533 at sea level: 101.325 kPa, at which water boils at 99.974 °C (IAPWS)."""
        self.calibrate("pot-core", "boiling=99.0C")
        data = self.kitchen.records("calibrate")[-1]["data"]
        self.assertEqual((data["pressure_Pa"], data["points"][0]["reference_mC"]), (101325, 99974))
        self.assertIn("altitude 0 m", data["basis"])
        self.assertTrue(800 < data["points"][0]["uncertainty_mK"] < 900)
        answer = self.calibrate("pot-core", "boiling=93.3C", "-a", "2000", code=rig.REFUSED)
        self.assertIn("proves nothing", answer.json["say"])
        answer = self.calibrate("pot-core", "boiling=99.0C", "-c", "adopt", code=rig.REFUSED)
        self.assertIn("half the tolerance", answer.json["say"])

    def test_an_overdue_certificate_is_refused(self):
        answer = self.calibrate("pot-core", "20.0C=20.1C", "-r", "old-stick", code=rig.REFUSED)
        self.assertIn("held until 2020-12-31", answer.json["say"])
        self.calibrate("pot-core", "20.0C=20.1C", "-r", "lab-stick")
        self.assertEqual(len(self.kitchen.records("calibrate")), 1)

    def test_one_to_five_points_are_a_check(self):
        points = [f"{at}.0C={at}.1C" for at in (0, 15, 30, 45, 60)]
        self.calibrate("pot-core", *points, "-r", "lab-stick")
        recorded = self.kitchen.records("calibrate")[-1]["data"]["points"]
        self.assertEqual([point["reference_mC"] for point in recorded], [0, 15000, 30000, 45000, 60000])
        answer = self.calibrate("pot-core", *points, "75.0C=75.1C", "-r", "lab-stick", code=rig.USAGE)
        self.assertIn("at most 5 points", answer.err + answer.out)
        self.assertEqual(len(self.kitchen.records("calibrate")), 1)

    def test_a_failed_check_is_a_deviation_until_it_is_good(self):
        self.calibrate("red-pen", "ice=0.4C")
        answer = self.calibrate("red-pen", "ice=1.4C").json
        self.assertEqual(answer["deviation"], 1)
        self.assertIn("outside its tolerance", answer["say"])
        opened = self.kitchen.await_decision(decision="deviation-opened", reason="failed-check")
        self.assertEqual((opened["thermometer"], opened["temp_mC"], opened["reference_mC"]), ("red-pen", 1400, 0))
        first = self.kitchen.records("calibrate")[0]
        self.assertEqual(opened["since_ms"], first["at_ms"])
        said = self.kitchen.trivet("deviations")
        self.assertIn("showed 1.4", said.out)
        self.assertEqual(self.thermometer("red-pen")["state"], "failed")
        self.calibrate("red-pen", "ice=1.4C", "--left", "ice=0.0C")
        self.kitchen.await_decision(decision="deviation-ended", reason="good-check")
        self.assertEqual(self.thermometer("red-pen")["state"], "good")
        self.assertEqual(self.kitchen.trivet("act", "1", "--found", "dropped", "--done", "adjusted", "--disposition", "use",
                                             "--who", "AB").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("verify", "1", "--who", "JO").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("deviations", "--quiet").code, rig.DONE)

    def test_a_probe_left_outside_is_not_believed_until_it_is_found_right(self):
        self.calibrate("pot-core", "ice=0.4C")
        answer = self.calibrate("pot-core", "ice=1.4C").json
        self.assertIn("meet no limit", answer["say"])
        record = self.kitchen.records("calibrate")[-1]
        self.peer.set(1, 1, 900)  # 90.0 °C: hot enough for anything
        begun = self.kitchen.trivet("--json", "begin", "soup", "--who", "AB", "--probes", "pot-core").json["batch"]
        sql = "SELECT count(*) FROM reading WHERE probe = 2 AND temp_mC = 90000 AND quality = 105"
        rig.await_that(lambda: self.kitchen.query(sql)[0][0] > 30, "suspect readings")  # three times what the limit asks
        self.assertEqual(self.kitchen.query("SELECT count(*) FROM reading WHERE probe = 2 AND at_ms >= ? AND quality = 0",
                                            record["at_ms"])[0][0], 0)
        self.assertEqual(self.kitchen.decisions(decision="limit-met"), [])
        self.assertEqual(self.probe("pot-core")["quality"], "failed-check")
        self.assertIn("its last check left the probe outside", " ".join(self.kitchen.trivet("now").out.split()))
        why = self.kitchen.trivet("why", self.kitchen.decisions(decision="suspect-begun")[-1]["seq"])
        self.assertIn("E216", why.out)
        self.assertEqual(self.kitchen.trivet("end", begun, "discarded", "--who", "AB").code, rig.DONE)
        self.peer.set(1, 1, 4)
        self.calibrate("pot-core", "ice", *SETTLE)  # it is watched all the same
        self.kitchen.await_decision(decision="suspect-ended", reason="good-check")
        rig.await_that(lambda: self.probe("pot-core")["quality"] == "good", "good readings")
        self.kitchen.stop()
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)

    def test_a_correction_holds_from_its_record_on_and_is_exact(self):
        self.calibrate("pot-core", "ice=0.4C", "boiling=99.1C", "-p", "1000hPa", "-c", "adopt")
        record = self.kitchen.records("calibrate")[-1]
        points = [(point["found_mC"], point["reference_mC"]) for point in record["data"]["points"]]
        seen = set()
        for raw in (4, 103, 497, 991, 1200):
            self.peer.set(1, 1, raw)
            probe = self.await_raw(raw * 100, record["at_ms"])
            self.assertEqual(probe["temp_mC"], corrected(points, raw * 100))
            self.assertTrue(probe["corrected"])
            seen.add(probe["temp_mC"] - probe["raw_mC"])
        self.assertGreater(len(seen), 3)
        stored = {row[0] for row in self.kitchen.query("SELECT DISTINCT temp_mC FROM reading WHERE probe = 2 AND at_ms >= ?",
                                                       record["at_ms"])}
        self.assertTrue({400, 10300, 49700, 99100, 120000} <= stored, "readings are stored raw")
        self.kitchen.stop()
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("chain").code, rig.DONE)
        self.kitchen.start()
        probe = self.await_raw(120000, self.kitchen.records("start")[-1]["at_ms"])
        self.assertEqual(probe["temp_mC"], corrected(points, 120000))


class Told(KitchenCase):
    def test_history_due_dates_and_doubt(self):
        begun = self.kitchen.trivet("--json", "begin", "soup", "--who", "AB", "--probes", "pot-core").json["batch"]
        self.assertEqual(self.kitchen.trivet("end", begun, "served", "--who", "AB").code, rig.DONE)
        self.calibrate("pot-core", "ice=0.3C", "boiling=99.3C", "-p", "1013hPa")
        self.assertEqual(self.kitchen.trivet("--json", "calibrations", "red-pen").json, [])
        second = self.kitchen.trivet("--json", "begin", "soup", "--who", "AB", "--probes", "pot-core").json["batch"]
        before = self.kitchen.query("SELECT count(*) FROM reading")[0][0]
        self.kitchen.await_readings(before + 10)
        self.assertIn("in batch", self.calibrate("pot-core", "ice=1.3C", code=rig.REFUSED).err)
        self.assertEqual(self.kitchen.trivet("end", second, "served", "--who", "AB").code, rig.DONE)
        self.calibrate("pot-core", "ice=1.3C")
        looks = self.kitchen.trivet("--json", "calibrations", "pot-core").json
        boiling_mc = round((iapws.iapws97._TSat_P(0.1013) - 273.15) * 1000)
        self.assertEqual([(look["look"], look["within"], [point["error_mK"] for point in look["points"]]) for look in looks],
                         [("as found", True, [300, 99300 - boiling_mc]), ("as found", False, [1300])])
        listed = self.kitchen.trivet("calibrations").out
        self.assertIn("1.3 where 0.0 was right, off by 1.3", listed)
        self.assertIn("FAILS, tolerance 1.0", listed)
        doubt = next(one["in_doubt"] for one in self.kitchen.trivet("--json", "deviations").json if one["reason"] == "failed-check")
        self.assertEqual(doubt["batches"], [{"number": second, "product": "soup"}], "the first ended before the good check")
        self.assertGreaterEqual(doubt["readings"], 5)
        self.assertIn(f"batches: {second} soup", " ".join(self.kitchen.trivet("deviations").out.split()))
        row = next(one for one in self.kitchen.trivet("export", "deviations").rows if one["reason"] == "failed-check")
        self.assertEqual((row["doubted_batches"], row["doubted_readings"]), (str(second), str(doubt["readings"])))
        said = " ".join(self.kitchen.trivet("now").out.split())
        self.assertIn("Pot core: Found outside its tolerance; last found right on", said)
        self.assertIn("Walk-in air: Never checked, and the plan asks for it: trivet calibrate walk-in-air", said)
        self.assertIn("Old stick: its certificate holds until 2020-12-31; nothing can be checked against it", said)
        checked = {(line["check"], line["ok"]) for line in self.kitchen.trivet("--json", "check").json["checks"]}
        self.assertIn(("calibration", False), checked)

    def test_export_of_readings_by_fractions(self):
        """Every reading of an export, corrected again from the points of its record."""
        self.calibrate("walk-in-air", "ice=-1.234C", "boiling=99.111C", "-p", "1013hPa", "-c", "adopt")
        record = self.kitchen.records("calibrate")[-1]
        points = [(point["found_mC"], point["reference_mC"]) for point in record["data"]["points"]]
        for raw in (-100, -13, 0, 7, 40, 333):
            self.peer.set(1, 0, raw)
            self.kitchen.await_readings(self.kitchen.query("SELECT count(*) FROM reading")[0][0] + 6)
        rows = [row for row in self.kitchen.trivet("export", "readings").rows if row["probe"] == "walk-in-air"]
        after = [row for row in rows if int(row["at_ms"]) >= record["at_ms"]]
        before = [row for row in rows if int(row["at_ms"]) < record["at_ms"]]
        self.assertTrue(len(before) > 0 and len({row["raw_degC"] for row in after}) >= 6)
        milli = lambda text: int(fractions.Fraction(text) * 1000)
        for row in before:
            self.assertEqual(row["temp_degC"], row["raw_degC"])
        for row in after:
            self.assertEqual(milli(row["temp_degC"]), corrected(points, milli(row["raw_degC"])), row)


class OnThePage(KitchenCase):
    def setUp(self):
        self.page_port = rig.free_port()
        super().setUp()

    def plan(self):
        return rig.small_plan(self.port, web=f"{{port: {self.page_port}}}") + REFERENCES

    def page(self, path):
        with urllib.request.urlopen(f"http://127.0.0.1:{self.page_port}{path}", timeout=rig.PATIENCE_S) as answer:
            return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", rig.in_words(answer.read().decode()))).split())

    def test_what_a_failed_check_puts_in_doubt_is_told_by_command_and_page(self):
        """The readings since the probe was last found right, and the batch they were of; counted here from the store."""
        self.calibrate("pot-core", "ice=0.4C")
        right_ms = self.kitchen.records("calibrate")[0]["at_ms"]
        self.assertEqual(self.kitchen.trivet("begin", "soup", "--probes", "pot-core", "--who", "AB").code, rig.DONE)
        count = self.kitchen.query("SELECT count(*) FROM reading")[0][0]
        self.kitchen.await_readings(count + 6)
        self.assertEqual(self.kitchen.trivet("end", "1", "discarded", "--who", "AB").code, rig.DONE)
        self.calibrate("pot-core", "ice=1.4C")
        number = next(record["data"]["probes"]["pot-core"] for record in self.kitchen.records("plan"))
        failed_ms = self.kitchen.await_decision(decision="deviation-opened", reason="failed-check")["at_ms"]
        readings = self.kitchen.query("SELECT count(*) FROM reading WHERE probe = ? AND temp_mC IS NOT NULL AND at_ms > ? AND "
                                      "at_ms <= ?", number, right_ms, failed_ms)[0][0]
        self.assertGreater(readings, 2)
        said = " ".join(self.kitchen.trivet("deviations").out.split())
        self.assertRegex(said, rf"In doubt: {readings} readings from \S+Z to \S+Z; batches: 1 soup")
        self.assertRegex(self.page("/deviations"), rf"In doubt: {readings} readings from .* to .*, and of batches 1 soup\.")

    def test_due_dates_history_correction_and_doubt(self):
        begun = self.kitchen.trivet("--json", "begin", "soup", "--who", "AB", "--probes", "pot-core").json["batch"]
        self.assertEqual(self.kitchen.trivet("end", begun, "served", "--who", "AB").code, rig.DONE)
        self.calibrate("pot-core", "ice=1.3C", "-c", "adopt")
        self.await_raw(400, self.kitchen.records("calibrate")[-1]["at_ms"])
        said = self.page("/records")
        self.assertRegex(said, r"Pot core Found right on \d{4}-\d\d-\d\d; due again on \d{4}-\d\d-\d\d\. "
                               r"Reads -0\.9 °C, corrected; raw 0\.4 °C\. "
                               r"Correction in force: -1\.3 at a raw 1\.3, the same everywhere\.")
        self.assertIn("pot-core as found, 1.3 where 0.0 was right: fails", said)
        self.assertIn("pot-core as left, 0.0 where 0.0 was right (raw 1.3): passes", said)
        now = self.page("/")
        self.assertIn("Walk-in air Never checked, and the plan asks for it", now)
        self.assertIn("Old stick certificate until 2020-12-31: nothing can be checked against it now", now)
        self.assertRegex(self.page("/deviations"), rf"In doubt: \d+ readings from .* to .*, and of batches {begun} soup")
        self.assertIn("0.0 °C, within 1.0 °C", self.page("/why/d2") + self.page("/why/d1"))


class AtATerminal(KitchenCase):
    def test_a_cook_with_wet_hands(self):
        terminal = Terminal("calibrate", *SETTLE, socket_path=self.kitchen.socket)
        self.addCleanup(terminal.close)
        terminal.answer("Which thermometer is checked?", "pot-core")
        terminal.answer("Checked in what?", "ice")
        terminal.answer("Is it in?", "")
        terminal.expect("settled")
        terminal.answer("Another point?", "")
        terminal.answer("If you adjust it now", "")
        terminal.answer("What becomes of its correction?", "adopt")
        terminal.answer("Who are you?", "ab")
        terminal.expect("within its tolerance")
        terminal.expect("From now on its readings are corrected")
        self.assertEqual(terminal.end(), rig.DONE, terminal.seen)
        self.assertEqual(self.kitchen.records("calibrate")[-1]["data"]["correction"], "adopt")

    def test_a_hand_held_one_is_typed_and_can_be_adjusted(self):
        terminal = Terminal("calibrate", "red-pen", socket_path=self.kitchen.socket)
        self.addCleanup(terminal.close)
        terminal.answer("Checked in what?", "boiling")
        terminal.answer("What does a barometer", "1o08")
        terminal.answer("What does a barometer", "1008hPa")
        terminal.answer("What does it show?", "98,2")
        terminal.answer("What does it show?", "98.2")
        terminal.answer("Another point?", "")
        terminal.answer("If you adjust it now", "yes")
        terminal.answer("What does it show?", "99.8")
        terminal.answer("Who are you?", "ab")
        terminal.expect("As found it showed 98.2")
        self.assertEqual(terminal.end(), rig.DONE, terminal.seen)
        data = self.kitchen.records("calibrate")[-1]["data"]
        self.assertEqual((data["points"][0]["found_mC"], data["left"][0]["found_mC"]), (98200, 99800))
        self.kitchen.await_decision(decision="deviation-ended", reason="good-check")

    def test_leaving_in_the_middle_records_nothing(self):
        terminal = Terminal("calibrate", "red-pen", socket_path=self.kitchen.socket)
        self.addCleanup(terminal.close)
        terminal.expect("Checked in what?")
        terminal.expect("> ")
        os.write(terminal.master, b"\x04")
        self.assertEqual(terminal.end(), rig.USAGE)
        self.assertIn("nothing was recorded", terminal.seen)
        self.assertEqual(self.kitchen.records("calibrate"), [])


if __name__ == "__main__":
    unittest.main(verbosity=1)
