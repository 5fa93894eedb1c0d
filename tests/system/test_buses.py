"""Buses on which something is wrong, on a living daemon: one dead unit leaves its neighbours their time and is noticed
when it is back; an adapter that hangs takes nothing but its own bus with it.

Intervals are compressed by the plan; that recovery is noticed within a minute at any period and after any absence is
shown on a virtual clock by tests/unit/test_poll_schedule.c.
"""
import signal
import unittest

import rig

EVERY_MS = 250
TIMEOUT_MS, QUIET_MS = 200, 100

PLAN = """\
site: {{name: Harbour Lane Kitchen, time_zone: Europe/London}}
{people}
buses:
  - {{id: oven-line, driver: modbus-rtu, device: {device}, baud: 19200, parity: none, timeout: {timeout} ms,
     longest_delay: {quiet} ms}}
  - {{id: cold-rack, driver: modbus-tcp, host: 127.0.0.1, port: {port}, timeout: {timeout} ms, longest_delay: {quiet} ms}}
probes:
  - {{id: first, name: First, kind: air, bus: oven-line, unit: 1, function: 4, register: 0, type: int16, scale: 0.1 °C,
     plausible: [-40 °C, 60 °C], every: {every} ms}}
  - {{id: second, name: Second, kind: air, bus: oven-line, unit: 2, function: 4, register: 0, type: int16, scale: 0.1 °C,
     plausible: [-40 °C, 60 °C], every: {every} ms}}
  - {{id: third, name: Third, kind: air, bus: cold-rack, unit: 1, function: 4, register: 0, type: int16, scale: 0.1 °C,
     plausible: [-40 °C, 60 °C], every: {every} ms}}
  - {{id: fourth, name: Fourth, kind: air, bus: cold-rack, unit: 2, function: 4, register: 0, type: int16, scale: 0.1 °C,
     plausible: [-40 °C, 60 °C], every: {every} ms}}
tolerances: {{largest_spacing: 3, silent_for: 30 s}}
web: {{enabled: no}}
records: {{directory: records, commit_within: 50 ms, seal_every: 1 s}}
"""


class Buses(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        device, self.line = self.kitchen.serial_peer([1, 2])
        self.adapter = self.kitchen.parts[0].socat
        port, self.rack = self.kitchen.tcp_peer([1, 2])
        for peer in (self.line, self.rack):
            peer.set(1, 0, 30)
            peer.set(2, 0, 31)
        self.kitchen.write_plan(PLAN.format(people=rig.PEOPLE, device=device, port=port, every=EVERY_MS,
                                            timeout=TIMEOUT_MS, quiet=QUIET_MS))
        self.kitchen.start()
        self.numbers = self.kitchen.records("plan")[0]["data"]["probes"]
        self.await_good("first", "second", "third", "fourth")

    def newest_ms(self):
        return self.kitchen.query("SELECT max(at_ms) FROM reading")[0][0]

    def readings(self, probe, after_ms):
        return self.kitchen.query("SELECT at_ms, quality, temp_mC FROM reading WHERE probe = ? AND at_ms > ? ORDER BY at_ms",
                                  self.numbers[probe], after_ms)

    def await_good(self, *probes, after_ms=0, patience_s=rig.PATIENCE_S):
        for probe in probes:
            rig.await_that(lambda probe=probe: [row for row in self.readings(probe, after_ms) if row[1] == 0],
                           f"a good reading of {probe}", patience_s)

    def await_bad(self, probe, count, after_ms):
        rig.await_that(lambda: len([row for row in self.readings(probe, after_ms) if row[1] >= 200]) >= count,
                       f"{count} bad readings of {probe}")

    def check_not_starved(self, probe, after_ms):
        """Four fifths of what the schedule asks at least are good."""
        rows = self.readings(probe, after_ms)
        self.assertGreater(len(rows), 10)
        asked = (rows[-1][0] - rows[0][0]) / EVERY_MS
        self.assertGreaterEqual(sum(quality == 0 for _, quality, _ in rows), asked * 0.8, probe)

    def check_sound(self):
        self.assertEqual(self.kitchen.stop(), 0)
        self.assertEqual(self.kitchen.trivet("chain").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)

    def dead_unit(self, peer, neighbour, dead):
        died_ms = peer.die(2)
        self.await_bad(dead, 20, died_ms)
        self.check_not_starved(neighbour, died_ms)
        for _, quality, temp_mC in self.readings(dead, died_ms + 1000):
            self.assertEqual(temp_mC, None)
            self.assertIn(quality, (200, 202), "a timeout, or a gateway's exception")
        lives_ms = peer.live(2)
        # Doubling waits since it died: by now the next try is no further away than it was dead.
        self.await_good(dead, after_ms=lives_ms, patience_s=60)
        self.check_not_starved(neighbour, died_ms)
        self.check_sound()

    def test_dead_unit_on_a_serial_line_starves_no_neighbour_and_is_noticed_when_back(self):
        self.dead_unit(self.line, "first", "second")

    def test_dead_unit_behind_a_gateway_starves_no_neighbour_and_is_noticed_when_back(self):
        self.dead_unit(self.rack, "third", "fourth")

    def test_adapter_that_hangs_takes_only_its_own_bus_and_is_noticed_when_it_goes_on(self):
        self.adapter.send_signal(signal.SIGSTOP)  # the terminal stays, nobody reads it: requests pile up in it
        try:
            hung_ms = self.newest_ms()
            self.await_bad("first", 20, hung_ms)
            self.check_not_starved("third", hung_ms)
            self.check_not_starved("fourth", hung_ms)
            # Whoever asks meanwhile is answered.
            self.assertEqual(self.kitchen.trivet("--json", "now").code, rig.DONE)
            # What the old requests will be answered with, all at once, is not what is there now.
            self.line.set(1, 0, 47)
            self.line.set(2, 0, 48)
        finally:
            self.adapter.send_signal(signal.SIGCONT)
        goes_ms = self.newest_ms()
        self.await_good("first", "second", after_ms=goes_ms, patience_s=60)
        after = self.newest_ms()
        self.await_good("first", "second", after_ms=after + 1000, patience_s=60)
        for probe, temp_mC in (("first", 4700), ("second", 4800)):
            good = {row[2] for row in self.readings(probe, goes_ms) if row[1] == 0}
            self.assertEqual(good, {temp_mC}, f"{probe}: only what its own unit serves now")
        self.check_sound()

    def test_daemon_with_a_hung_adapter_ends_when_asked(self):
        self.adapter.send_signal(signal.SIGSTOP)
        try:
            self.await_bad("first", 5, self.newest_ms())
            self.check_sound()
        finally:
            self.adapter.send_signal(signal.SIGCONT)


if __name__ == "__main__":
    unittest.main(verbosity=1)
