"""Lines that go away and come back: an adapter pulled out of its socket, a device whose connection drops.

Meanwhile readings are bad with their cause, never a value that was not served; afterwards the daemon reads on by itself.
"""
import unittest
from decimal import Decimal

import rig

SERIAL_PLAN = ("driver: modbus-rtu, device: {device}, baud: 19200, parity: none, timeout: 300 ms, longest_delay: 50 ms")


class Lines(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)

    def start(self, peer):
        peer.set(1, 0, 30, 200)
        peer.ramp(1, 1, 1400, 60.0)  # never the same value for long: an old reply could not pass for a new one
        self.kitchen.start()
        self.kitchen.await_readings(20)

    def newest(self):
        return self.kitchen.query("SELECT max(at_ms) FROM reading WHERE quality = 0")[0][0]

    def bus(self):
        return self.kitchen.trivet("--json", "now").json["buses"][0]

    def await_trouble(self):
        return rig.await_that(lambda: next((bus for bus in [self.bus()] if not bus["up"]), None), "the line to be called down")

    def await_recovery(self):
        since_ms = self.newest()
        rig.await_that(lambda: self.bus()["up"], "the line to be called up", 40)
        rig.await_that(lambda: self.newest() > since_ms + 500, "good readings", 40)

    def check_readings(self, *peers):
        """Each good reading is one that was served, in that order; what is not good has a cause and no temperature."""
        self.assertEqual(self.kitchen.stop(), 0)
        served = [answer for peer in peers for answer in peer.served()]  # only now has the last one been asked for
        rows = self.kitchen.trivet("export", "readings", "--from", "yesterday", "--to", "today").rows
        values = iter(values[1 - address] for _, _, function, address, values in served
                      if function == 4 and address <= 1 < address + len(values))
        for row in rows:
            if row["probe"] != "pot-core":
                continue
            if row["quality"] == "good":
                self.assertTrue(any(Decimal(value) / 10 == Decimal(row["temp_degC"]) for value in values),
                                f"not served, or not in this order: {row}")
            else:
                self.assertEqual(row["temp_degC"], "", row)
                self.assertIn(row["quality"], ("link", "timeout", "frame", "crc"), row)
        causes = {row["quality"] for row in rows}
        self.assertIn("link", causes)
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)

    def test_adapter_pulled_out_and_put_back(self):
        device, peer = self.kitchen.serial_peer([1])
        line = self.kitchen.parts[0]
        plan = rig.small_plan(1).replace("driver: modbus-tcp, host: 127.0.0.1, port: 1, timeout: 500 ms, longest_delay: 100 ms",
                                         SERIAL_PLAN.format(device=device))
        self.assertIn(device, plan)
        self.kitchen.write_plan(plan)
        self.start(peer)
        line.unplug()
        peer.close()
        self.kitchen.parts.clear()
        self.assertTrue(self.await_trouble()["trouble"])
        line = rig.PtyPair(self.kitchen.directory)
        self.kitchen.parts.append(line)
        again = rig.Peer(self.kitchen.directory / "served-again.log", [1], device=line.theirs)
        self.kitchen.parts.append(again)
        again.set(1, 0, 30, 321)
        again.ramp(1, 1, 1450, 60.0)
        self.await_recovery()
        self.check_readings(peer, again)

    def test_connection_dropped_and_device_back(self):
        port, peer = self.kitchen.tcp_peer([1])
        self.kitchen.write_plan(rig.small_plan(port))
        self.start(peer)
        peer.close()
        self.kitchen.parts.clear()
        trouble = self.await_trouble()
        self.assertRegex(trouble["trouble"], rf"127\.0\.0\.1|{port}|connection|refused")
        again = rig.Peer(self.kitchen.directory / "served-again.log", [1], port=port)
        self.kitchen.parts.append(again)
        again.set(1, 0, 30, 321)
        again.ramp(1, 1, 1450, 60.0)
        self.await_recovery()
        self.check_readings(peer, again)


if __name__ == "__main__":
    unittest.main(verbosity=1)
