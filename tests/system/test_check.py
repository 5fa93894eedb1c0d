"""`trivet check`: what it says of a kitchen that is well, of one that is not, and of one without a daemon.

Whether this machine's clock has a time source is asked of the kernel here too, with adjtimex(2): both answers are right, if
the command gives the same.
"""
import ctypes
import os
import sqlite3
import unittest

import rig

STA_UNSYNC = 0x0040  # linux/timex.h
STATUS_AT = 40  # offset of `status` in struct timex of a 64-bit machine
KERNEL_TIMEX_BYTES = 208


def clock_has_source():
    timex = ctypes.create_string_buffer(KERNEL_TIMEX_BYTES)  # modes 0: only asks
    state = ctypes.CDLL(None).adjtimex(timex)
    status = int.from_bytes(timex.raw[STATUS_AT:STATUS_AT + 4], "little")
    return state >= 0 and not status & STA_UNSYNC


class CheckCase(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)

    def start(self, port):
        self.kitchen.write_plan(rig.small_plan(port, every="1 s"))
        self.kitchen.start()

    def start_well(self):
        self.start(self.kitchen.tcp_peer([1])[0])
        self.kitchen.await_readings(4)
        rig.await_that(lambda: self.wrong_but_time_source() == [], lambda: f"all to be well: {self.check()}")

    def check(self, *words):
        answer = self.kitchen.trivet("check", "--json", *words)
        self.assertEqual(answer.out.count("\n"), 1, answer)
        return answer

    def lines(self, *words):
        return [(line["check"], line["ok"], line["say"]) for line in self.check(*words).json["checks"]]

    def wrong_but_time_source(self):
        return [line for line in self.lines() if not line[1] and line[0] != "time source"]


class Well(CheckCase):
    def test_all_is_well(self):
        self.start_well()
        found = {name: ok for name, ok, _ in self.lines()}
        self.assertEqual(len(found), len(self.lines()))
        expected = ["daemon", "plan", "buses", "probes", "calibration", "recording", "clock", "time source", "socket", "disk", "permissions",
                    "chain", "seals", "deviations", "decisions"]
        self.assertEqual(list(found), expected)
        self.assertEqual(found["time source"], clock_has_source())
        answer = self.kitchen.trivet("check")
        self.assertEqual(answer.code, rig.DONE if clock_has_source() else rig.NO, answer)
        self.assertEqual([line for line in answer.out.splitlines() if len(line) > 80], [])
        for name in expected:
            self.assertRegex(answer.out, rf"(?m)^(ok|!!)  {name} ")
        quiet = self.kitchen.trivet("check", "--quiet")
        self.assertEqual((quiet.code, quiet.out), (answer.code, ""))

    def test_disk_is_told_as_the_file_system_says(self):
        self.start_well()
        disk = os.statvfs(self.kitchen.store)
        say = next(say for name, _, say in self.lines() if name == "disk")
        mb = disk.f_bavail * disk.f_frsize / 1e6
        self.assertAlmostEqual(float(say.split()[0]), mb, delta=max(200.0, mb / 20))  # others write too
        days = float(say.split(" for some ")[1].split()[0])
        self.assertAlmostEqual(days, mb * 1e6 / (2 * 86400 * 25), delta=max(100.0, days / 20))  # two probes, one a second

    def test_words_after_it_are_refused(self):
        self.assertEqual(self.kitchen.trivet("check", "everything").code, rig.USAGE)


class NotWell(CheckCase):
    def one_wrong(self, name, *parts):
        answer = self.kitchen.trivet("check")
        self.assertEqual(answer.code, rig.NO, answer)
        self.assertEqual([line for line in answer.out.splitlines() if len(line) > 80], [])
        said = [say for what, ok, say in self.lines() if what == name and not ok]
        self.assertTrue(said, answer)
        for part in parts:
            self.assertIn(part, " ".join(said))

    def test_bus_that_is_down_and_its_probes_are_named(self):
        self.start(rig.free_port())
        rig.await_that(lambda: any(name == "bus" for name, _, _ in self.lines()), "the bus to be down")
        self.one_wrong("bus", "rack is down")
        self.one_wrong("probe", "(walk-in-air)", "(pot-core)")

    def test_plan_file_changed_after_the_start_is_told_until_it_is_in_force(self):
        self.start_well()
        text = self.kitchen.plan.read_text()
        self.kitchen.write_plan(text + "# a remark\n")
        self.one_wrong("plan", "trivet plan --reload")
        self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE)
        rig.await_that(lambda: self.wrong_but_time_source() == [], lambda: f"all to be well: {self.check()}")
        self.kitchen.write_plan(text + "bogus: 1\n")
        self.one_wrong("plan file", "bogus", "trivetd --check")
        self.kitchen.plan.unlink()
        self.one_wrong("plan file", "cannot be read")

    def test_socket_open_to_everybody_is_told(self):
        self.start_well()
        self.kitchen.socket.chmod(0o666)
        self.one_wrong("socket", "chmod 660")

    def test_open_deviation_is_counted(self):
        self.start_well()
        number = self.kitchen.trivet("--json", "begin", "soup", "--probes", "pot-core", "--who", "AB").json["batch"]
        self.assertEqual(self.kitchen.trivet("next", number, "--who", "AB").code, rig.DONE)  # cooking never proven
        self.one_wrong("deviations", "1 open", "trivet deviations")


class NoDaemon(CheckCase):
    def stop_after_readings(self):
        self.start_well()
        self.kitchen.stop()

    def test_store_is_looked_at_all_the_same(self):
        self.stop_after_readings()
        answer = self.check("--socket", self.kitchen.socket)
        self.assertEqual(answer.code, rig.UNREACHABLE, answer)
        found = {line["check"]: line["ok"] for line in answer.json["checks"]}
        self.assertEqual(found, {"daemon": False, "disk": True, "permissions": True, "chain": True, "seals": True})
        self.assertIn("is trivetd running", answer.json["checks"][0]["say"])

    def test_altered_record_is_found(self):
        self.stop_after_readings()
        store = sqlite3.connect(self.kitchen.store / "trivet.db")
        change = store.execute("UPDATE record SET body = replace(body, 'Harbour', 'Harbor') WHERE body LIKE '%Harbour%'")
        self.assertGreater(change.rowcount, 0)
        store.commit()
        store.close()
        answer = self.check("--socket", self.kitchen.socket)
        self.assertEqual(answer.code, rig.UNREACHABLE, answer)
        chain = next(line for line in answer.json["checks"] if line["check"] == "chain")
        self.assertFalse(chain["ok"])
        self.assertIn("ALTERED", chain["say"])

    def test_without_store_it_says_what_to_add(self):
        program = [rig.TRIVET, "--socket", str(self.kitchen.socket), "check"]
        answer = rig.Answer(rig.subprocess.run(program, capture_output=True, text=True, timeout=rig.PATIENCE_S))
        self.assertEqual(answer.code, rig.UNREACHABLE, answer)
        self.assertIn("--store DIR", " ".join(answer.out.split()))
        self.assertEqual([line for line in answer.out.splitlines() if len(line) > 80], [])


if __name__ == "__main__":
    unittest.main(verbosity=1)
