"""The daemon under a service manager: it says when it watches, proves that its recorder lives, and says when it stops.

The manager is a datagram socket that reads what sd_notify(3) describes. The recorder's thread, and nothing else, is
stopped by ptrace(2), as a debugger would; only its own silence may then be heard.
"""
import contextlib
import ctypes
import os
import pathlib
import signal
import socket
import unittest

import rig

WATCHDOG_S = 5.0
PTRACE_DETACH, PTRACE_SEIZE, PTRACE_INTERRUPT = 17, 0x4206, 0x4207  # linux/ptrace.h
WALL = 0x40000000  # __WALL of linux/wait.h: threads are waited for too

PLAN = """\
site: {name: Harbour Lane Kitchen}
people:
  - {initials: AB, name: Ana Brandt, role: cook}
  - {initials: JO, name: Jun Okada, role: supervisor}
web: {enabled: no}
records: {directory: records}
"""


class Manager:
    """What is at the other end of NOTIFY_SOCKET."""

    def __init__(self, path):
        self.path = str(path)
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(self.path)

    def hear(self, patience_s=rig.PATIENCE_S):
        """The fields of the next message; None when none comes in time."""
        self.socket.settimeout(patience_s)
        try:
            lines = self.socket.recv(4096).decode().split("\n")
        except TimeoutError:
            return None
        return dict(line.split("=", 1) for line in lines)

    def close(self):
        self.socket.close()


@contextlib.contextmanager
def stopped_thread(tid):
    """One thread of another process stands still; the rest of it runs."""
    libc = ctypes.CDLL(None, use_errno=True)
    libc.ptrace.argtypes = [ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p]
    libc.ptrace.restype = ctypes.c_long
    if libc.ptrace(PTRACE_SEIZE, tid, None, None) != 0:
        raise unittest.SkipTest(f"this machine forbids ptrace: {os.strerror(ctypes.get_errno())}")
    if libc.ptrace(PTRACE_INTERRUPT, tid, None, None) != 0:
        raise OSError(ctypes.get_errno(), "PTRACE_INTERRUPT")
    os.waitpid(tid, WALL)
    try:
        yield
    finally:
        libc.ptrace(PTRACE_DETACH, tid, None, None)


class Service(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.manager = Manager(self.kitchen.directory / "notify")
        self.addCleanup(self.manager.close)

    def start(self, plan=PLAN, watchdog_s=WATCHDOG_S):
        self.kitchen.write_plan(plan)
        self.kitchen.start(wait=False, NOTIFY_SOCKET=self.manager.path, WATCHDOG_USEC=str(int(watchdog_s * 1e6)))

    def recorder_thread(self):
        """The last one that is started."""
        tasks = pathlib.Path(f"/proc/{self.kitchen.daemon.pid}/task")
        return max(int(task.name) for task in tasks.iterdir())

    def test_ready_comes_when_it_listens_and_stopping_when_asked_to_end(self):
        self.start()
        ready = self.manager.hear()
        self.assertEqual(ready["READY"], "1", self.kitchen.log_text())
        self.assertIn("Harbour Lane Kitchen", ready["STATUS"])
        rig.Socket(self.kitchen.socket).close()  # no waiting: ready means ready
        self.kitchen.daemon.send_signal(signal.SIGTERM)
        heard = self.manager.hear()
        while heard.get("WATCHDOG") == "1":
            heard = self.manager.hear()
        self.assertEqual(heard["STOPPING"], "1")
        self.assertEqual(self.kitchen.stop(), 0)

    def test_plan_with_a_fault_is_never_ready(self):
        self.start(PLAN.replace("role: cook", "role: chef"))
        self.assertEqual(self.kitchen.daemon.wait(timeout=rig.PATIENCE_S), 1)
        self.assertIsNone(self.manager.hear(patience_s=0.01))

    def test_address_in_use_is_never_ready(self):
        with socket.socket() as taken:
            taken.bind(("127.0.0.1", 0))
            taken.listen()
            self.start(PLAN.replace("{enabled: no}", f"{{port: {taken.getsockname()[1]}}}"))
            self.assertEqual(self.kitchen.daemon.wait(timeout=rig.PATIENCE_S), 3)
        self.assertIsNone(self.manager.hear(patience_s=0.01))

    def test_life_is_told_at_least_every_half_of_the_watchdogs_time(self):
        self.start()
        self.assertEqual(self.manager.hear()["READY"], "1")
        for _ in range(2):
            self.assertEqual(self.manager.hear(WATCHDOG_S / 2), {"WATCHDOG": "1"})

    def test_recorder_that_stands_still_is_heard_as_silence(self):
        self.start()
        self.assertEqual(self.manager.hear()["READY"], "1")
        self.assertEqual(self.manager.hear()["WATCHDOG"], "1")
        with stopped_thread(self.recorder_thread()):
            self.manager.hear(WATCHDOG_S / 2)  # what it did before it stood still
            self.assertIsNone(self.manager.hear(WATCHDOG_S), "a ping without a living recorder")
            rig.await_that(lambda: "recorder stands still" in self.kitchen.log_text(), "the log to say so")
        self.assertEqual(self.manager.hear(), {"WATCHDOG": "1"})
        self.assertEqual(self.kitchen.stop(), 0)

    def bus_thread(self, bus):
        """It bears the name of its bus."""
        tasks = pathlib.Path(f"/proc/{self.kitchen.daemon.pid}/task")
        (tid,) = [int(task.name) for task in tasks.iterdir() if (task / "comm").read_text().strip() == bus]
        return tid

    def test_thread_of_a_bus_that_stands_still_is_a_gap_of_its_probes_and_of_no_others(self):
        port, peer = self.kitchen.tcp_peer([1])
        peer.set(1, 0, 30, 210)
        plan = rig.small_plan(port).replace("silent_for: 30 s", "silent_for: 2 s")
        plan = plan.replace("probes:\n", f"  - {{id: stove-line, driver: modbus-tcp, host: localhost, port: {port}}}\nprobes:\n", 1)
        plan = plan.replace("kind: food, bus: rack", "kind: food, bus: stove-line")
        self.start(plan, watchdog_s=60)
        self.assertEqual(self.manager.hear()["READY"], "1", self.kitchen.log_text())
        numbers = self.kitchen.records("plan")[0]["data"]["probes"]
        self.kitchen.await_readings(6)
        with stopped_thread(self.bus_thread("rack")):
            opened = self.kitchen.await_decision(decision="gap-opened", probe=numbers["walk-in-air"])
            other = "SELECT count(*) FROM reading WHERE probe = ? AND at_ms > ? AND quality = 0"
            rig.await_that(lambda: self.kitchen.query(other, numbers["pot-core"], opened["at_ms"])[0][0] >= 10,
                           "readings of the other bus")
            self.assertEqual(self.kitchen.query(other, numbers["walk-in-air"], opened["at_ms"])[0][0], 0)
            said = rig.Socket(self.kitchen.socket)
            said.ask(do="note", who="AB", text="the fridge does not show")
            said.close()
        self.kitchen.await_decision(decision="gap-ended", probe=numbers["walk-in-air"])
        self.assertEqual([gap["probe"] for gap in self.kitchen.decisions(decision="gap-opened")], [numbers["walk-in-air"]])
        self.assertEqual(self.kitchen.stop(), 0)
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)


if __name__ == "__main__":
    unittest.main(verbosity=1)
