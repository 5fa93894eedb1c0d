"""mbpoll, a Modbus master that nobody here wrote (Debian package), reads the simulated kitchen of the demo, over TCP and on a
serial line. What each register holds is in config/harbour-lane.yaml; that the temperatures are those of a kitchen, common
practice, no source.
"""
import os
import pathlib
import re
import subprocess
import tempfile
import time
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
KITCHEN = os.environ.get("TRIVET_KITCHEN", str(ROOT / "build/debug/trivet-kitchen"))


class Mbpoll(unittest.TestCase):
    def setUp(self):
        place = tempfile.TemporaryDirectory(prefix="trivet-mbpoll-")
        self.addCleanup(place.cleanup)
        self.line = os.path.join(place.name, "line")
        self.kitchen = subprocess.Popen([KITCHEN, "--rtu-link", self.line, "--tcp-port", "0"], stdin=subprocess.DEVNULL,
                                        stdout=subprocess.PIPE, text=True)
        self.addCleanup(self.kitchen.stdout.close)
        self.addCleanup(self.kitchen.wait)
        self.addCleanup(self.kitchen.terminate)
        self.port = re.search(r"tcp=[^ ]*:(\d+)", self.kitchen.stdout.readline())[1]

    def poll(self, way, unit, table, register, count, *more):
        where = ["-m", "tcp", "-p", self.port, "127.0.0.1"] if way == "tcp" else [
            "-m", "rtu", "-b", "19200", "-P", "none", self.line]
        return subprocess.run(["mbpoll", "-1", "-0", "-a", str(unit), "-t", table, "-r", str(register), "-c", str(count), *more,
                               *where], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                              text=True, timeout=30)

    def values(self, *asked):
        done = self.poll(*asked)
        self.assertEqual(done.returncode, 0, done.stdout)
        return [float(value) for value in re.findall(r"^\[\d+\]:\s+(-?[\d.]+)", done.stdout, re.M)]

    def test_input_registers_over_tcp_are_the_temperatures_of_a_kitchen(self):
        walk_in, filling, chiller = (tenths / 10 for tenths in self.values("tcp", 1, "3", 0, 3))
        self.assertTrue(-5 < walk_in < 15, walk_in)
        self.assertTrue(-5 < filling < 100, filling)
        self.assertTrue(-30 < chiller < 30, chiller)

    def test_holding_register_with_an_offset_over_tcp(self):
        fridge = self.values("tcp", 2, "4", 100, 1)[0] / 100 - 40
        self.assertTrue(-5 < fridge < 15, fridge)

    def test_input_registers_on_the_serial_line(self):
        core_a, _, oven = (tenths / 10 for tenths in self.values("rtu", 11, "3", 0, 3))
        self.assertTrue(0 < core_a < 100, core_a)
        self.assertTrue(10 < oven < 250, oven)

    def test_ohms_of_a_platinum_probe_on_the_serial_line(self):
        core_b = self.values("rtu", 12, "3", 0, 1)[0] / 100
        self.assertTrue(100 < core_b < 138.51, core_b)  # IEC 60751: 0 °C to 100 °C

    def test_float_of_two_registers_on_the_serial_line(self):
        cupboard = self.values("rtu", 12, "4:float", 0, 1, "-B")[0]
        self.assertTrue(10 < cupboard < 100, cupboard)

    def test_a_register_that_is_not_there_is_refused_and_an_absent_unit_is_silent(self):
        self.assertIn("Illegal data address", self.poll("tcp", 1, "3", 3, 1).stdout)
        began_s = time.monotonic()
        self.assertIn("timed out", self.poll("rtu", 13, "3", 0, 1, "-o", "0.2").stdout)
        self.assertLess(time.monotonic() - began_s, 10)


if __name__ == "__main__":
    unittest.main(verbosity=1)
