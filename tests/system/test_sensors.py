"""An input module that gives millivolts and ohms: what is on record is what the published tables make of them.

The module is played by an implementation of Modbus that nobody here wrote. Its numbers are of NIST SRD 60 (ITS-90 thermocouple
tables, type K) and IEC 60751 (Pt100), copied here; the type K voltages between two temperatures are differences of two rows.
"""
import unittest

import rig

# NIST SRD 60, type K, in mV: the reference function at these temperatures (75 and 23.5 evaluated by another program from the
# same coefficients, the others rows of the table).
TYPE_K_MV = {23.5: 0.939507, 24.0: 0.959743, 75.0: 0.939507 + 2.119410, 100.0: 4.096230}
PT100_OHM = {-20.0: 92.16, 4.0: 101.56, 20.0: 107.79}  # IEC 60751, printed to 0.01 ohm, which is 0.026 °C
OPEN_WIRE = 0x7FFFFFFF

PLAN = """\
  - {{id: roast-core, name: Roast core, kind: food, bus: rack, unit: 1, function: 4, register: 0, type: int32, sensor: tc-k,
     scale: 0.00001 mV, cold_junction: terminals, plausible: [-40 °C, 300 °C], every: 100 ms}}
  - {{id: terminals, name: Terminals, kind: air, bus: rack, unit: 1, function: 4, register: 2, type: int16, scale: 0.1 °C,
     fault_values: [32767], plausible: [0 °C, 70 °C], every: 100 ms}}
  - {{id: walk-in-air, name: Walk-in air, kind: air, bus: rack, unit: 1, function: 4, register: 3, type: uint16, sensor: pt100,
     scale: 0.01 ohm, plausible: [-40 °C, 120 °C], every: 100 ms}}
"""


def plan(port):
    """The small plan with other probes."""
    text = rig.small_plan(port)
    before, after = text.index("probes:\n") + len("probes:\n"), text.index("thermometers:\n")
    # Steps that the tests make are smaller than what the small plan calls a jump.
    return (text[:before] + PLAN.format() + text[after:]).replace("food_jump: 50 °C", "food_jump: 50 °C, air_jump: 50 °C")


class Sensors(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.module = self.kitchen.tcp_peer([1])
        self.kitchen.write_plan(plan(self.port))

    def give(self, hot, cold, pt100_ohm, tip=None):
        """Sets all registers at once: one reply never has a part of two states in it."""
        tens_nV = round((TYPE_K_MV[hot] - TYPE_K_MV[cold]) * 1e5) if tip is None else tip
        self.module.set(1, 0, tens_nV >> 16 & 0xFFFF, tens_nV & 0xFFFF, round(cold * 10), round(pt100_ohm * 100))

    def number(self, probe):
        return self.kitchen.records("plan")[-1]["data"]["probes"][probe]

    def last(self, probe):
        rows = self.kitchen.query("SELECT temp_mC, quality FROM reading WHERE probe = ? ORDER BY at_ms DESC LIMIT 1", self.number(probe))
        return rows[0] if rows else None

    def expect(self, probe, temp_mC, quality=0):
        return rig.await_that(lambda: self.last(probe) == (temp_mC, quality),
                              lambda: f"{probe} to be {(temp_mC, quality)}, it is {self.last(probe)}")

    def test_record_has_what_the_tables_make_of_the_signal(self):
        self.give(75.0, 23.5, PT100_OHM[4.0])
        self.kitchen.start()
        self.expect("roast-core", 75000)
        self.expect("terminals", 23500)
        self.expect("walk-in-air", rig.await_that(lambda: self.last("walk-in-air"), "a reading")[0])
        self.assertAlmostEqual(self.last("walk-in-air")[0], 4000, delta=13)  # half of 0.01 ohm
        # Warmer terminals, the same tip; then a hotter tip.
        for hot, cold, temp_C in ((75.0, 24.0, 4.0), (100.0, 24.0, -20.0), (100.0, 23.5, 20.0)):
            self.give(hot, cold, PT100_OHM[temp_C])
            self.expect("terminals", round(cold * 1000))
            self.expect("roast-core", round(hot * 1000))
            rig.await_that(lambda: abs(self.last("walk-in-air")[0] - temp_C * 1000) <= 13, "the Pt100")
        # No reading between them was anything else: tip and terminals come in one reply.
        temps = {temp for (temp,) in self.kitchen.query(
            "SELECT DISTINCT temp_mC FROM reading WHERE probe = ? AND quality = 0", self.number("roast-core"))}
        self.assertEqual(temps, {75000, 100000})
        # What the module gave can be told from what is on record.
        said = self.kitchen.trivet("convert", "tc-k", "75.000C", "--cold-junction", "23.5")
        self.assertAlmostEqual(float(said.out.split()[0]), 2.119410, delta=20e-6)
        ok = next(line for line in self.kitchen.trivet("--json", "check").json["checks"] if line["check"] == "probes")
        self.assertRegex(ok["say"], "2 computed from the mV or ohm of their sensors")
        self.assertEqual(self.kitchen.stop(), 0)
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("chain").code, rig.DONE)

    def test_fault_is_on_record_with_its_cause_and_no_temperature(self):
        self.give(75.0, 23.5, PT100_OHM[4.0])
        self.kitchen.start()
        self.expect("roast-core", 75000)
        self.give(75.0, 23.5, 0.0)  # a short
        self.expect("walk-in-air", None, 210)
        self.give(75.0, 23.5, 600.0, tip=OPEN_WIRE)
        self.expect("walk-in-air", None, 210)
        self.expect("roast-core", None, 210)
        self.give(75.0, 23.5, PT100_OHM[4.0])
        self.expect("roast-core", 75000)
        self.module.set(1, 2, 32767)  # the sensor at the terminals is broken
        self.expect("terminals", None, 206)
        self.expect("roast-core", None, 209)
        self.give(100.0, 24.0, PT100_OHM[4.0])
        self.expect("roast-core", 100000)
        self.assertEqual(self.kitchen.stop(), 0)
        rows = [row for row in self.kitchen.trivet("export", "readings", "--from", "yesterday", "--to", "today").rows
                if row["probe"] == "roast-core"]
        self.assertEqual({row["quality"] for row in rows}, {"good", "signal", "cold-junction"})
        for row in rows:
            self.assertEqual(row["temp_degC"] == "", row["quality"] != "good", row)
            self.assertEqual(row["raw_degC"], row["temp_degC"])
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)

    def test_what_is_made_with_suspect_terminals_is_suspect(self):
        self.kitchen.write_plan(plan(self.port).replace("air_jump: 50 °C", "air_jump: 20 °C"))
        self.give(75.0, 24.0, PT100_OHM[4.0])
        self.kitchen.start()
        self.expect("roast-core", 75000)
        self.module.set(1, 2, 650)  # 41 °C more at once: a jump that nothing confirms, yet
        self.expect("terminals", 65000)
        self.assertEqual(self.kitchen.stop(), 0)
        core = self.kitchen.query("SELECT temp_mC, quality FROM reading WHERE probe = ? ORDER BY at_ms", self.number("roast-core"))
        terminals = self.kitchen.query("SELECT quality FROM reading WHERE probe = ? ORDER BY at_ms", self.number("terminals"))
        # 106 is always that of the very reply whose terminals jumped (103), the next one confirms them.
        self.assertEqual([quality for _, quality in core],
                         [of if of >= 200 else 106 if of == 103 else 0 for (of,) in terminals])
        self.assertEqual(sum(quality == 106 for _, quality in core), 1)
        self.assertEqual({temp for temp, quality in core if quality == 0 and temp < 80000}, {75000})
        told = [(one["data"]["decision"], one["data"]["reason"]) for one in self.kitchen.records("decision")
                if one["data"].get("probe") == self.number("roast-core")]
        self.assertEqual(told, [("suspect-begun", "doubted-junction"), ("suspect-ended", "good-again")])
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)


if __name__ == "__main__":
    unittest.main(verbosity=1)
