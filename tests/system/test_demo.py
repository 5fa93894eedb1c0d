"""The demo: it starts, what it prints to try can be typed as it stands, and it ends without leaving anything behind."""
import os
import pathlib
import re
import signal
import socket
import subprocess
import tempfile
import unittest
import urllib.request

import rig

DEMO = [str(rig.ROOT / "tests/kitchen/demo")]


def interruptible():
    rig.end_with_us()
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # a shell's background job, as the tests may be one, ignores it


class OneDemo(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory(prefix="trivet-demo-")
        self.addCleanup(scratch.cleanup)
        self.place = pathlib.Path(scratch.name) / "demo"
        self.env = dict(os.environ, DEMO_DIR=str(self.place), DEMO_PORT=str(self.port), BIN="build/debug")
        self.env.pop("TRIVET_SOCKET", None)
        self.demo = subprocess.Popen(DEMO, env=self.env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                                     preexec_fn=interruptible)
        self.addCleanup(self.demo.stdout.close)
        self.addCleanup(self.stop)
        self.told = ""
        for line in self.demo.stdout:
            self.told += line
            if "ends all of it" in line:
                break
        else:
            self.fail(f"the demo did not start:\n{self.told}")
        self.pids = [int((self.place / f"{name}.pid").read_text()) for name in ("trivetd", "kitchen")]

    def stop(self):
        return subprocess.run(DEMO + ["stop"], env=self.env, stdout=subprocess.PIPE, text=True, timeout=30, check=True).stdout

    def check_all_ended(self):
        self.assertEqual(self.demo.wait(timeout=30), 0)
        for pid in self.pids:
            self.assertFalse(os.path.exists(f"/proc/{pid}"), f"still there: {pid}")

    def page(self):
        address = re.search(r"http://127\.0\.0\.1:(\d+)/", self.told)
        with urllib.request.urlopen(address.group(), timeout=10) as answer:
            self.assertIn("Demo data", answer.read().decode())
        return int(address[1])


class Demo(OneDemo):
    def setUp(self):
        self.port = rig.free_port()
        super().setUp()

    def test_commands_it_prints_work_as_printed_and_interrupt_ends_it(self):
        commands = re.findall(r"^  (export TRIVET_SOCKET=.*|\S*/trivet .*)$", self.told, re.M)
        self.assertGreaterEqual(len(commands), 4, self.told)
        for command in commands[1:]:
            done = subprocess.run(["sh", "-c", f"{commands[0]}\n{command}"], cwd=rig.ROOT, env=self.env, stdin=subprocess.DEVNULL,
                                  stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=30, check=False)
            self.assertEqual(done.returncode, rig.DONE, f"{command}: {done}")
            self.assertTrue(done.stdout, command)
            self.assertEqual("export" in command, "DEMO DATA" in done.stderr, f"{command}: {done}")
        self.assertEqual(self.page(), self.port)
        self.demo.send_signal(signal.SIGINT)
        self.check_all_ended()


class DemoWhosePortIsTaken(OneDemo):
    """By one that does not answer yet, as another demo that starts at the same time."""

    def setUp(self):
        taken = socket.socket()
        self.addCleanup(taken.close)
        taken.bind(("127.0.0.1", 0))
        self.port = taken.getsockname()[1]
        super().setUp()

    def test_page_is_elsewhere_and_stop_ends_it_and_says_so(self):
        self.assertNotEqual(self.page(), self.port)
        self.assertIn("The demo is stopped.", self.stop())
        self.check_all_ended()
        self.assertIn("The demo is stopped.", self.stop())


if __name__ == "__main__":
    unittest.main(verbosity=1)
