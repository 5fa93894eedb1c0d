"""The daemon reads a Modbus device that nobody here wrote: modbus-serial of npm, over TCP and on a serial line.

Runs where npm is installed and its registry can be reached, and is skipped elsewhere: Debian 12's npm comes with more than four
hundred packages, too many to install for one test. The package and what it needs are named with their check sums in
npm/package-lock.json (25 packages, 4 MB).
"""
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/system"))
import rig  # noqa: E402

PLAN = """\
site: {{name: Harbour Lane Kitchen, time_zone: Europe/London}}
{people}
buses:
  - {{id: oven-line, driver: modbus-rtu, device: {device}, baud: 19200, parity: none, longest_delay: 100 ms}}
  - {{id: cold-rack, driver: modbus-tcp, host: 127.0.0.1, port: {port}}}
probes:
{probes}
web: {{enabled: no}}
records: {{directory: records, commit_within: 50 ms}}
"""
PROBE = ("  - {{id: {id}, name: {id}, kind: food, bus: {bus}, unit: {unit}, function: 4, register: {register}, type: int16,"
         " scale: 0.01 °C, plausible: [-40 °C, 300 °C], every: 500 ms}}")
# Two neighbours that are one request, one that lies apart, one of another unit.
PROBES = [(bus, unit, register) for bus in ("oven-line", "cold-rack") for unit, register in ((1, 0), (1, 1), (1, 40), (7, 3))]


class Device:
    def __init__(self, installed, port, device):
        self.process = subprocess.Popen(["node", "serve.js", str(port), device], cwd=installed, stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, text=True)
        if self.process.stdout.readline().strip() != "ready":
            raise AssertionError("the device did not start")

    def close(self):
        self.process.stdin.close()
        self.process.wait(timeout=10)
        self.process.stdout.close()


@unittest.skipUnless(shutil.which("npm") and shutil.which("node"), "npm is not installed")
class NpmServer(unittest.TestCase):
    def setUp(self):
        place = tempfile.TemporaryDirectory(prefix="trivet-npm-")
        self.addCleanup(place.cleanup)
        self.installed = pathlib.Path(place.name)
        for file in (ROOT / "tests/peers/npm").iterdir():
            shutil.copy(file, self.installed)
        done = subprocess.run(["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=self.installed,
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=300)
        if done.returncode != 0:
            self.skipTest("npm could not fetch the package: " + done.stderr.strip().splitlines()[-1])
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)

    def test_every_register_is_read_as_the_device_holds_it(self):
        line, port = rig.PtyPair(self.kitchen.directory), rig.free_port()
        self.kitchen.parts.append(line)
        self.kitchen.parts.append(Device(self.installed, port, line.theirs))
        names = [f"{bus}-{unit}-{register}" for bus, unit, register in PROBES]
        self.kitchen.write_plan(PLAN.format(people=rig.PEOPLE, device=line.ours, port=port, probes="\n".join(
            PROBE.format(id=name, bus=bus, unit=unit, register=register)
            for name, (bus, unit, register) in zip(names, PROBES))))
        self.kitchen.start()
        numbers = self.kitchen.records("plan")[0]["data"]["probes"]
        for name, (_, unit, register) in zip(names, PROBES):
            def good(name=name):
                return self.kitchen.query("SELECT temp_mC FROM reading WHERE probe = ? AND quality = 0", numbers[name])
            rows = rig.await_that(lambda: good() if len(good()) >= 5 else None, f"five good readings of {name}", 60)
            self.assertEqual({temp_mC for temp_mC, in rows}, {(1000 * unit + register) * 10}, name)


if __name__ == "__main__":
    unittest.main(verbosity=1)
