"""`trivet boiling-point` against an independent implementation of IAPWS-IF97, Debian's python3-iapws.

The program is named by TRIVET, or is build/debug/trivet.
"""
import json
import math
import os
import subprocess
import unittest

from iapws.iapws97 import _PSat_T, _TSat_P

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
TRIVET = os.environ.get("TRIVET", os.path.join(ROOT, "build", "debug", "trivet"))
ZERO_C_IN_K = 273.15

# Four decimals are printed, of the pressure too.
HALF_DIGIT = 0.5e-4 + 1e-9


def boiling_point(*words):
    done = subprocess.run([TRIVET, "boiling-point", "--json", *words], stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, timeout=60, check=False)
    if done.returncode != 0:
        raise AssertionError(f"{words}: exit {done.returncode}, {done.stderr.decode()}")
    return json.loads(done.stdout)


def peer_boiling_C(pressure_kPa):
    return _TSat_P(pressure_kPa / 1000.0) - ZERO_C_IN_K


class BoilingPoint(unittest.TestCase):
    def test_kitchen_pressures_agree(self):
        for tenths in range(500, 1101, 5):
            pressure_kPa = tenths / 10.0
            got = boiling_point("--pressure-kpa", str(pressure_kPa))
            self.assertAlmostEqual(got["boiling_C"], peer_boiling_C(pressure_kPa),
                                   delta=HALF_DIGIT, msg=f"{pressure_kPa} kPa")

    def test_whole_saturation_line_agrees(self):
        steps = 60
        low, high = math.log(0.62), math.log(22060.0)
        for i in range(steps + 1):
            pressure_kPa = round(math.exp(low + (high - low) * i / steps), 6)
            got = boiling_point("--pressure-kpa", f"{pressure_kPa:.6f}")
            self.assertAlmostEqual(got["boiling_C"], peer_boiling_C(pressure_kPa),
                                   delta=HALF_DIGIT, msg=f"{pressure_kPa} kPa")

    def test_pressure_of_a_boiling_point_gives_it_back(self):
        for temp_C in range(5, 371, 5):
            pressure_kPa = _PSat_T(temp_C + ZERO_C_IN_K) * 1000.0
            got = boiling_point(f"--pressure-kpa={pressure_kPa:.9f}")
            self.assertAlmostEqual(got["boiling_C"], temp_C, delta=HALF_DIGIT)

    def test_altitude_agrees_with_its_own_pressure(self):
        # ISO 2533:1975, surveyed heights; pressures as published, in Pa.
        published = {0: 101325.0, 500: 95461.3, 1000: 89876.3, 1500: 84559.7, 3000: 70121.2,
                     3500: 65780.4, 4000: 61660.4}
        for height_m, pressure_Pa in published.items():
            got = boiling_point("--altitude-m", str(height_m))
            self.assertAlmostEqual(got["pressure_kPa"] * 1000.0, pressure_Pa, delta=0.11)
            self.assertAlmostEqual(got["boiling_C"], peer_boiling_C(pressure_Pa / 1000.0),
                                   delta=1.2e-4)
            swing = (peer_boiling_C(pressure_Pa / 1000.0 + 3.0)
                     - peer_boiling_C(pressure_Pa / 1000.0 - 3.0)) / 2.0
            self.assertAlmostEqual(got["weather_C"], swing, delta=0.006)


if __name__ == "__main__":
    unittest.main()
