"""Lights and relays on Modbus coils, over a living daemon and a device that nobody here wrote, on TCP and on a serial line:
set, read back, written again; a coil that does not follow, a module that is away, a daemon that is gone."""
import json
import signal
import time
import unittest
import urllib.request

import rig

SIGNALS = """\
signals:
  - {{id: unheard-light, name: Light over the pass, bus: {bus}, unit: 30, coil: 0, shows: unheard, heartbeat: 1 s}}
  - {{id: siren, name: Siren, bus: {bus}, unit: 30, coil: 3, shows: alarm, coil_on: alarm, heartbeat: 1 s}}
  - {{id: pulse, name: Watchdog relay, bus: {bus}, unit: 30, coil: 5, shows: alive, toggles: yes, heartbeat: 1 s}}
"""
ON, OFF = [1], [0]


class Signals(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.told = self.kitchen.directory / "told"
        self.hook = self.kitchen.directory / "hook.sh"
        self.hook.write_text('#!/bin/sh\n{ cat; echo; } >> "$1"\n')
        self.hook.chmod(0o755)
        self.port, self.probes = self.kitchen.tcp_peer([1, 30])
        self.probes.set(1, 0, 30, 200)  # 3.0 °C in the fridge, 20.0 °C in the pot
        self.lights = self.probes

    def begin(self, bus="rack", line=""):
        text = rig.small_plan(self.port, web="{port: 0}", alarm=f"alarm: {{command: [{self.hook}, {self.told}]}}")
        text = text.replace("probes:\n", line + "probes:\n", 1)
        self.kitchen.write_plan(text + SIGNALS.format(bus=bus))
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def written(self, coil, since_ms=0):
        """What was written to the coil, in order: [values]."""
        return [values for at_ms, unit, function, address, values in self.lights.served()
                if (unit, function, address) == (30, 5, coil) and at_ms > since_ms]

    def await_coil(self, coil, values):
        rig.await_that(lambda: self.written(coil)[-1:] == [values], lambda: f"coil {coil} to be {values}: {self.lights.served()[-9:]}")

    def say(self, *words):
        answer = self.kitchen.trivet(*words, "--json")
        self.assertEqual(answer.code, rig.DONE, answer)
        return answer.json

    def shown(self, name):
        return next(one for one in self.say("now")["signals"] if one["id"] == name)

    def follow_an_alarm(self):
        """Well, an alarm, heard, acted on and over: what the coils do."""
        self.await_coil(0, ON)
        self.await_coil(3, OFF)
        self.assertIs(self.shown("unheard-light")["signals"], False)
        self.probes.set(1, 0, 90)
        self.await_coil(0, OFF)
        self.await_coil(3, ON)
        self.say("heard", 1, "--who", "AB")
        self.await_coil(0, ON)
        self.assertEqual(self.written(3)[-1], ON)  # heard is not acted on
        self.say("act", 1, "--found", "door", "--done", "shut", "--disposition", "no-food", "--who", "AB")
        self.probes.set(1, 0, 30)
        self.await_coil(3, OFF)
        # Each write was read back, by function 1.
        served = [(function, address) for _, unit, function, address, _ in self.lights.served() if unit == 30]
        self.assertLessEqual(served.count((5, 0)), served.count((1, 0)))
        # Nothing is written anywhere else, and by no other function.
        self.assertEqual({address for function, address in served if function == 5}, {0, 3, 5})
        self.assertEqual({function for _, unit, function, _, _ in self.probes.served() if unit == 1}, {4})

    def test_coils_follow_the_alarm_over_tcp(self):
        self.begin()
        self.follow_an_alarm()

    def test_coils_follow_the_alarm_on_a_serial_line(self):
        device, self.lights = self.kitchen.serial_peer([30])
        self.begin("panel", f"  - {{id: panel, driver: modbus-rtu, device: {device}, baud: 19200, parity: none, stop_bits: 1,\n"
                            "     timeout: 500 ms, longest_delay: 100 ms}\n")
        self.follow_an_alarm()

    def test_heartbeat_goes_on_and_ends_with_the_daemon(self):
        self.begin()
        self.await_coil(0, ON)
        beats = len(self.written(0))
        rig.await_that(lambda: len(self.written(0)) >= beats + 3, "three more beats")
        pulses = self.written(5)
        rig.await_that(lambda: len(self.written(5)) >= len(pulses) + 3, "three more pulses")
        turned = self.written(5)
        self.assertTrue(all(a != b for a, b in zip(turned, turned[1:])), turned)
        self.assertEqual(self.kitchen.stop(signal.SIGKILL), -signal.SIGKILL)
        killed_ms = round(time.time() * 1000)
        # Another master reads the module meanwhile: it lives, and hears from nobody else.
        self.await_witness(killed_ms)
        self.assertEqual((self.written(0, killed_ms), self.written(5, killed_ms)), ([], []))

    def await_witness(self, since_ms):
        """Two heartbeats go by, by the log of a device that somebody else asks."""
        witness = rig.Kitchen()
        self.addCleanup(witness.close)
        witness.write_plan(rig.small_plan(self.port))
        witness.start()
        rig.await_that(lambda: any(at_ms > since_ms + 2500 for at_ms, *_ in self.lights.served()), "two heartbeats to go by")
        witness.stop()

    def test_clean_stop_leaves_the_light_telling(self):
        self.begin()
        self.await_coil(0, ON)
        self.await_coil(3, OFF)
        self.assertEqual(self.kitchen.stop(), 0)
        self.assertEqual((self.written(0)[-1], self.written(3)[-1]), (OFF, ON))

    def test_coil_that_does_not_follow_is_told_and_so_is_its_return(self):
        self.begin()
        self.await_coil(0, ON)
        self.lights.stick(30, 0)
        self.probes.set(1, 0, 90)
        faulty = rig.await_that(lambda: [body["data"] for body in self.kitchen.records("signal")], "a record of the fault")[-1]
        self.assertEqual((faulty["signal"], faulty["state"]), ("unheard-light", "faulty"))
        self.assertIn("set off, it reads back on", faulty["why"])
        self.assertIn("set off, it reads back on", self.shown("unheard-light")["trouble"])
        self.assertIn("Light over the pass cannot be relied on", self.kitchen.trivet("now").out.replace("\n", " "))
        root = self.say("where")["page"]
        with urllib.request.urlopen(root, timeout=rig.PATIENCE_S) as page:
            self.assertIn("cannot be relied on: bus", page.read().decode())
        rig.await_that(lambda: any(one["event"] == "signal-faulty" for one in self.notices()), "to be told")
        self.lights.set(30, 0, 1, table="co")
        rig.await_that(lambda: self.kitchen.records("signal")[-1]["data"]["state"] == "well", "a record that it follows again")
        rig.await_that(lambda: any(one["event"] == "signal-well" for one in self.notices()), "to be told")
        replayed = self.kitchen.trivet("--json", "replay")
        self.assertEqual((replayed.code, replayed.json["same"]), (rig.DONE, True), replayed)

    def test_module_that_is_away_is_told(self):
        self.begin()
        self.await_coil(0, ON)
        self.lights.die(30)
        rig.await_that(lambda: {body["data"]["signal"] for body in self.kitchen.records("signal")} ==
                       {"unheard-light", "siren", "pulse"}, "records of all three", 30)
        self.assertIn("no reply", self.shown("siren")["trouble"])
        checked = self.kitchen.trivet("check")
        self.assertEqual(checked.code, rig.NO)
        self.assertIn("siren", checked.out)

    def notices(self):
        return [json.loads(line) for line in self.told.read_text().splitlines()] if self.told.exists() else []


if __name__ == "__main__":
    unittest.main(verbosity=1)
