"""`trivet find`, from a bus to lines that `trivetd --check` takes: devices of several layouts on TCP and on a serial line,
in one run, in two runs and at a terminal; how gently it asks; and a bus that somebody else has.

The devices are pymodbus (peer.py), except where every byte on the line is to be seen: that one is spoken here by hand.
"""
import fcntl
import json
import os
import re
import select
import socket
import socketserver
import struct
import subprocess
import termios
import threading
import time
import unittest

import rig
from test_cli_prompts import Terminal

HAND_C, ICE_C, ROOM_C = 33.2, 0.4, 21.6
FAST = ["--pause", "20ms", "--timeout", "500ms", "--longest-delay", "50ms", "--hand-for", "500ms", "--ice-for", "500ms"]


def whole(scale, offset=0.0):
    return lambda temp: [round((temp - offset) / scale) & 0xFFFF]


def real(order, fahrenheit=False):
    """IEEE 754 by Python's struct; order of the bytes on the wire, A the most significant."""
    def words(temp):
        value = temp * 9 / 5 + 32 if fahrenheit else temp
        packed = struct.pack(">f", value)
        wire = bytes(packed["ABCD".index(letter)] for letter in order)
        return list(struct.unpack(">HH", wire))
    return words


def long_milli(temp):
    return list(struct.unpack(">HH", struct.pack(">i", round(temp * 1000))))


def platinum_hundredths(temp):
    """A Pt100's hundredths of an ohm from 0 °C up: IEC 60751:2022, 5.2."""
    return [round(100 * (1 + 3.9083e-3 * temp - 5.775e-7 * temp ** 2) * 100)]


# What the device is, the registers of a temperature, the register, and what the plan has to say.
LAYOUTS = [
    ("tenths", whole(0.1), 3, {"type": "int16", "scale": "0.1 °C"}),
    ("hundredths", whole(0.01), 0, {"type": "int16", "scale": "0.01 °C"}),
    ("from -40", whole(0.1, -40), 5, {"scale": "0.1 °C", "offset": "-40 °C"}),
    ("tenths of Fahrenheit", lambda temp: [round((temp * 9 / 5 + 32) * 10)], 2, {"type": "int16", "scale": "0.1 °F"}),
    ("float, small part first", real("CDAB"), 4, {"type": "float32", "byte_order": "CDAB", "scale": "1 °C"}),
    ("float Fahrenheit", real("ABCD", fahrenheit=True), 6, {"type": "float32", "byte_order": "ABCD", "scale": "1 °F"}),
    ("double", lambda temp: list(struct.unpack(">HHHH", struct.pack(">d", temp))), 8,
     {"type": "float64", "byte_order": "ABCD", "scale": "1 °C"}),
    ("thousandths, two registers", long_milli, 8, {"type": "int32", "byte_order": "ABCD", "scale": "0.001 °C"}),
    ("hundredths of an ohm", platinum_hundredths, 4, {"sensor": "pt100", "scale": "0.01 ohm"}),
]


def plan_with(lines):
    """The smallest plan around the lines that were found."""
    probe = probe_of(lines)
    return f"""\
site: {{name: Harbour Lane Kitchen, time_zone: Europe/London}}
{rig.PEOPLE}
{lines}
places:
  - id: walk-in
    name: Walk-in fridge
    probe: {probe['id']}
    limit: {{kind: hold_cold, applies_to: {probe['kind']}, at_most: 5 °C, tolerance: 30 min}}
products:
  - id: soup
    name: Leek soup
    steps: [{{id: cook, name: Cooking, limit: {{kind: cook, applies_to: food, at_least: 70 °C, for: 2 min}}}}]
records: {{directory: records}}
"""


def probe_of(lines):
    """{key: value} of the found probe."""
    return dict(re.findall(r"^ {2}[ -] (\w+): (.*)$", lines[lines.index("probes:"):], re.M))


class Search:
    """A run of `trivet find` in the background, whose progress can be awaited."""

    def __init__(self, *words):
        self.process = subprocess.Popen([rig.TRIVET, "find", *map(str, words)], stdin=subprocess.DEVNULL,
                                        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.err = ""

    def await_words(self, words):
        for line in self.process.stderr:
            self.err += line
            if words in line:
                return
        raise AssertionError(f"ended without saying {words!r}:\n{self.err}")

    def answer(self):
        out, err = self.process.communicate(timeout=60)
        return rig.Answer(subprocess.CompletedProcess([], self.process.returncode, out, self.err + err))


class Case(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)

    def find(self, *words, code=rig.DONE):
        answer = Search(*words).answer()
        self.assertEqual(answer.code, code, answer)
        return answer

    def check(self, lines):
        """trivetd takes them."""
        self.kitchen.write_plan(plan_with(lines))
        done = subprocess.run([rig.TRIVETD, "--check", str(self.kitchen.plan)], stdout=subprocess.PIPE,
                              stderr=subprocess.STDOUT, text=True, timeout=30)
        self.assertEqual(done.returncode, 0, done.stdout + lines)


class OnTheNetwork(Case):
    def test_every_layout_becomes_plan_lines(self):
        """Nine devices behind one address, searched at the same time, each by its unit."""
        units = list(range(1, len(LAYOUTS) + 1))
        port, peer = self.kitchen.tcp_peer(units)
        for unit, (_, words, register, _) in zip(units, LAYOUTS):
            for at in range(register % len(words(ROOM_C)), 12, len(words(ROOM_C))):
                peer.set(unit, at, *words(ROOM_C + at / 10))
            peer.set(unit, register, *words(HAND_C))
        searches = [Search("--host", "127.0.0.1", "--port", port, "--units", unit, "--registers", "0-15", "--functions", "4",
                           "--move-for", "1s", "--name", "Roast core \"A\"", *FAST) for unit in units]
        for search, unit, (_, words, register, _) in zip(searches, units, LAYOUTS):
            search.await_words("into the ice water")
            peer.set(unit, register, *words(ICE_C))
        for search, unit, (name, _, register, expected) in zip(searches, units, LAYOUTS):
            with self.subTest(layout=name):
                answer = search.answer()
                self.assertEqual(answer.code, rig.DONE, answer)
                expected = dict(expected, unit=str(unit), function="4", register=str(register), id="roast-core-a",
                                name='"Roast core \\"A\\""', kind="food")
                found = probe_of(answer.out)
                self.assertEqual({key: found.get(key) for key in expected}, expected, answer)
                self.assertRegex(answer.out, r"In the hand 33\.\d+ °C, in ice water 0\.\d+ °C")
                self.check(answer.out)

    def test_json_says_what_else_fits(self):
        port, peer = self.kitchen.tcp_peer([1])
        peer.set(1, 1, 332)
        peer.set(1, 1, 332, table="hr")  # the same by the other function
        search = Search("--host", "127.0.0.1", "--port", port, "--units", "1", "--registers", "0-3", "--move-for", "1s",
                        "--id", "pot-core", "--kind", "air", "--bus", "rack", "--json", *FAST)
        search.await_words("into the ice water")
        peer.set(1, 1, 4)
        peer.set(1, 1, 4, table="hr")
        answer = search.answer()
        self.assertEqual((answer.code, answer.out.count("\n")), (rig.DONE, 1), answer)
        found = answer.json
        self.assertTrue(found["found"] and found["sure"], answer)
        self.assertEqual((found["line"], found["probe"]["register"], found["probe"]["function"]),
                         ({"driver": "modbus-tcp", "host": "127.0.0.1", "port": port}, 1, 4))
        self.assertEqual((found["probe"]["hand_mC"], found["probe"]["ice_mC"]), (33200, 400))
        self.assertEqual({other["tie"] for other in found["others"]}, {"sign", "wide", "function"})
        self.assertEqual([move["register"] for move in found["moved"]], [1, 1])
        self.assertIn("  - id: rack\n", found["plan"])
        self.assertEqual((probe_of(found["plan"])["id"], probe_of(found["plan"])["kind"]), ("pot-core", "air"))

    def test_nothing_that_moves_ends_with_1(self):
        port, peer = self.kitchen.tcp_peer([1])
        peer.set(1, 0, 400)
        words = ["--host", "127.0.0.1", "--port", port, "--units", "1", "--registers", "0-3", "--functions", "4",
                 "--move-for", "500ms", *FAST]
        answer = self.find(*words, code=rig.NO)
        self.assertEqual(answer.out, "")
        self.assertIn("nothing moved at all", answer.err)
        search = Search(*words)
        search.await_words("into the ice water")
        peer.set(1, 0, 900)  # rises as it gets colder: the counts of a bare sensor
        answer = search.answer()
        self.assertEqual(answer.code, rig.NO, answer)
        self.assertIn("moved: unit 1, function 4, register 0, from 400 to 900", answer.err)

    def test_device_that_answers_to_every_unit_is_one(self):
        device = AnswersToAll()
        self.addCleanup(device.close)
        search = Search("--host", "127.0.0.1", "--port", device.port, "--units", "3-6", "--registers", "0-3", "--functions", "4",
                        "--move-for", "1s", *FAST)
        search.await_words("into the ice water")
        device.temp = ICE_C
        answer = search.answer()
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn("so it is one device; taking 3", answer.err)
        self.assertEqual((probe_of(answer.out)["unit"], probe_of(answer.out)["register"]), ("3", "1"))
        self.assertNotIn("NOT SURE", answer.out)
        self.assertEqual(set(device.asked[:5]), {3, 4, 5, 6, 247})
        self.assertEqual(set(device.asked[5:]), {3})

    def test_nobody_at_the_address(self):
        answer = self.find("--host", "127.0.0.1", "--port", rig.free_port(), "--move-for", "1s", code=rig.UNREACHABLE)
        self.assertIn("refuses the connection", answer.err)


class Served:
    """A device on TCP: requests of one length, each answered by a function."""

    def __init__(self, length, answer):
        class Handler(socketserver.BaseRequestHandler):
            def handle(self):
                while request := self.request.recv(length, socket.MSG_WAITALL):
                    self.request.sendall(answer(request))

        self.server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]
        self.thread = threading.Thread(target=self.server.serve_forever)
        self.thread.start()

    def close(self):
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()


class AnswersToAll(Served):
    """It does not care by which unit number it is called; MODBUS Messaging on TCP/IP V1.0b."""

    def __init__(self):
        self.temp, self.asked = HAND_C, []
        super().__init__(12, self.answer)

    def answer(self, request):
        transaction, _, _, unit, function, first, count = struct.unpack(">HHHBBHH", request)
        self.asked.append(unit)
        words = [round(self.temp * 10) if register == 1 else 700 for register in range(first, first + count)]
        body = struct.pack(f">BBB{count}H", unit, function, 2 * count, *words)
        return struct.pack(">HHH", transaction, 0, len(body)) + body


class SpokenByHand:
    """A serial device that answers only at one speed, has registers 0 to 9 of function 3, and keeps every byte it was sent."""

    def __init__(self, baud, unit, temp=ROOM_C, words=whole(0.1), register=7):
        self.baud, self.unit, self.temp, self.words, self.register = baud, unit, temp, words, register
        self.asked = []  # (monotonic instant, baud, request)
        self.master, self.slave = os.openpty()
        self.device = os.ttyname(self.slave)
        settings = termios.tcgetattr(self.slave)
        settings[0] = settings[1] = settings[3] = 0
        termios.tcsetattr(self.slave, termios.TCSANOW, settings)
        self.stop = os.pipe()
        self.thread = threading.Thread(target=self.run)
        self.thread.start()

    @staticmethod
    def checked(frame):
        """CRC of MODBUS over Serial Line V1.02, 6.2.2, low byte first."""
        crc = 0xFFFF
        for byte in frame:
            crc ^= byte
            for _ in range(8):
                crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
        return frame + struct.pack("<H", crc)

    def reply(self, request):
        unit, function, first, count = struct.unpack(">BBHH", request[:6])
        if unit != self.unit:
            return b""
        if function != 3:
            return self.checked(bytes([unit, function | 0x80, 1]))  # MODBUS Application Protocol, section 7: no such function
        if first + count > 10:
            return self.checked(bytes([unit, function | 0x80, 2]))  # no such register
        registers = [round(ROOM_C * 10) + n for n in range(10)]
        value = self.words(self.temp)
        registers[self.register:self.register + len(value)] = value
        return self.checked(struct.pack(f">BBB{count}H", unit, function, 2 * count, *registers[first:first + count]))

    def run(self):
        pending = b""
        while self.stop[0] not in select.select([self.master, self.stop[0]], [], [])[0]:
            pending += os.read(self.master, 256)
            while len(pending) >= 8:
                request, pending = pending[:8], pending[8:]
                baud = termios.tcgetattr(self.master)[4]
                self.asked.append((time.monotonic(), baud, request))
                if baud == self.baud and self.checked(request[:6]) == request:
                    os.write(self.master, self.reply(request))

    def close(self):
        os.write(self.stop[1], b"x")
        self.thread.join()
        for descriptor in (self.master, self.slave, *self.stop):
            os.close(descriptor)


class OnASerialLine(Case):
    def by_hand(self, baud=termios.B9600, unit=5, **more):
        device = SpokenByHand(baud, unit, **more)
        self.addCleanup(device.close)
        return device

    def test_two_runs_find_speed_unit_and_register_gently(self):
        device = self.by_hand(temp=HAND_C)
        kept = self.kitchen.directory / "hand.json"
        line = ["--device", device.device, "--units", "4-5", "--bauds", "19200,9600", "--parities", "none", "--registers", "0-15",
                "--timeout", "50ms", "--longest-delay", "20ms", "--pause", "50ms", "--hand-for", "500ms"]
        answer = self.find(*line, "--phase", "hand", "--keep", kept)
        self.assertIn("Only questions that read are sent", " ".join(answer.err.split()))
        self.assertIn("  unit 5 answers", answer.err)
        self.assertIn("unit 5, function 3: 10 registers", answer.err)
        self.assertIn(f"--phase ice --keep {kept}", answer.out)
        device.temp = ICE_C
        answer = self.find("--phase", "ice", "--keep", kept, "--ice-for", "500ms")
        found = probe_of(answer.out)
        self.assertEqual((found["unit"], found["function"], found["register"], found["scale"]), ("5", "3", "7", "0.1 °C"))
        self.assertRegex(answer.out, r"(?m)^    baud: 9600\n    parity: none$")
        self.check(answer.out)
        # Nothing but the functions that read, and never faster than asked for: 50 ms apart, less the clock's grain.
        self.assertEqual({request[1] for _, _, request in device.asked}, {3, 4})
        self.assertGreater(len(device.asked), 30)
        at_s = [instant for instant, _, _ in device.asked]
        # As this process heard them, which may itself have been held up by as much as half a second.
        quickest = min(later - earlier for earlier, later in zip(at_s, at_s[20:]))
        self.assertGreater(quickest, 20 * 0.050 - 0.5)

    def test_value_across_the_border_of_two_blocks(self):
        """The device refuses registers 1 to 16 at once, so 1 to 8 and 9 are asked for; the float has 8 and 9."""
        device = self.by_hand(temp=HAND_C, words=real("ABCD"), register=8)
        search = Search("--device", device.device, "--units", "5", "--bauds", "9600", "--parities", "none", "--registers", "1-16",
                        "--functions", "3", "--move-for", "1s", *FAST)
        search.await_words("into the ice water")
        device.temp = ICE_C
        answer = search.answer()
        self.assertEqual(answer.code, rig.DONE, answer)
        found = probe_of(answer.out)
        self.assertEqual((found["register"], found["type"], found["byte_order"]), ("8", "float32", "ABCD"))

    def test_plain_serial_gateway(self):
        device = self.by_hand(temp=HAND_C)
        gateway = Served(8, device.reply)  # passes the bytes on as they are
        self.addCleanup(gateway.close)
        where = ["--host", "127.0.0.1", "--port", gateway.port, "--units", "5", "--registers", "0-9", "--functions", "3", *FAST]
        kept = self.kitchen.directory / "hand.json"
        self.find(*where, "--framing", "rtu", "--phase", "hand", "--keep", kept)
        device.temp = ICE_C
        answer = self.find("--phase", "ice", "--keep", kept, "--ice-for", "500ms", "--bus", "gateway")
        self.assertIn("  - id: gateway\n    driver: modbus-rtu-tcp\n", answer.out)
        self.assertEqual(probe_of(answer.out)["register"], "7")
        self.check(answer.out)

    def test_wrong_speed_is_nobody(self):
        device = self.by_hand()
        answer = self.find("--device", device.device, "--units", "5", "--bauds", "4800", "--timeout", "50ms", "--longest-delay", "20ms",
                           "--move-for", "1s", code=rig.NO)
        self.assertIn("nobody answers", answer.err)
        self.assertIn("swap the two data wires", answer.err)

    def test_a_locked_line_is_left_alone(self):
        device = self.by_hand()
        fcntl.flock(device.slave, fcntl.LOCK_EX)
        answer = self.find("--device", device.device, "--move-for", "1s", code=rig.REFUSED)
        self.assertIn("in use by another program", answer.err)
        self.assertIn("Nothing was asked", answer.err)
        answer = self.find("--device", device.device, "--move-for", "1s", "--json", "--quiet", code=rig.REFUSED)
        self.assertEqual((answer.json["found"], answer.err), (False, ""))
        self.assertIn("in use by another program", answer.json["say"])
        self.assertEqual(device.asked, [])

    def test_unplugged_adapter_ends_the_search(self):
        line = rig.PtyPair(self.kitchen.directory)
        search = Search("--device", line.ours, "--units", "1-247", "--move-for", "1s")
        search.await_words("Asking 247 unit numbers")
        line.unplug()
        answer = search.answer()
        self.assertEqual(answer.code, rig.UNREACHABLE, answer)
        self.assertIn("was the adapter unplugged?", answer.err)

    def test_pymodbus_on_a_serial_line(self):
        line, peer = self.kitchen.serial_peer([3])
        peer.set(3, 10, *real("ABCD")(HAND_C))
        search = Search("--device", line, "--units", "3", "--bauds", "19200", "--parities", "even", "--registers", "8-15",
                        "--functions", "4", "--move-for", "1s", *FAST)
        search.await_words("into the ice water")
        peer.set(3, 10, *real("ABCD")(ICE_C))
        answer = search.answer()
        self.assertEqual(answer.code, rig.DONE, answer)
        found = probe_of(answer.out)
        self.assertEqual((found["register"], found["type"], found["byte_order"]), ("10", "float32", "ABCD"))
        self.check(answer.out)


class AtATerminal(Case):
    def test_a_person_is_led_through(self):
        port, peer = self.kitchen.tcp_peer([1])
        peer.set(1, 2, 324)
        terminal = Terminal("find", "--units", "1", "--registers", "0-7", "--functions", "4", *FAST,
                            socket_path=self.kitchen.socket)
        self.addCleanup(terminal.close)
        terminal.answer("Where is the probe's device?", "the blue box")
        terminal.expect("is neither a host name nor an address")
        terminal.answer("", f"127.0.0.1:{port}")
        terminal.expect("nothing is changed")
        terminal.answer("Begin?", "")
        terminal.answer("Press Enter when that is so.", "")
        terminal.expect("Watching the probe in the hand")
        terminal.answer("Press Enter when that is so.", "")  # too early: it is not in the ice yet
        terminal.answer("Watch the ice water again?", "yes")
        peer.set(1, 2, 2)
        terminal.answer("Press Enter when that is so.", "")
        terminal.answer("What do people call this probe?", "Soup pot")
        terminal.answer("Is it put into food", "soup")
        terminal.expect("food or air, please")
        terminal.answer("", "air")
        self.assertEqual(terminal.end(), rig.DONE, terminal.seen)
        lines = terminal.seen[terminal.seen.index("# Found"):]
        found = probe_of(lines)
        self.assertEqual((found["id"], found["name"], found["register"], found["kind"]), ("soup-pot", '"Soup pot"', "2", "air"))
        self.check(lines)

    def test_leaving_asks_the_bus_nothing(self):
        port, peer = self.kitchen.tcp_peer([1])
        terminal = Terminal("find", "--host", "127.0.0.1", "--port", str(port), socket_path=self.kitchen.socket)
        self.addCleanup(terminal.close)
        terminal.answer("Begin?", "no")
        self.assertEqual(terminal.end(), rig.USAGE, terminal.seen)
        self.assertIn("nothing was changed", terminal.seen)
        self.assertEqual(peer.served(), [])


class BesideTheDaemon(Case):
    def test_what_the_daemon_watches_is_refused(self):
        line, rtu = self.kitchen.serial_peer([1])
        port, tcp = self.kitchen.tcp_peer([1])
        serial = f"  - {{id: cold-line, driver: modbus-rtu, device: {line}, baud: 19200, parity: even, longest_delay: 100 ms}}\nprobes:\n" \
                 "  - {id: hot-cupboard, name: Hot cupboard, kind: air, bus: cold-line, unit: 1, function: 4, register: 0, type: int16,\n" \
                 "     scale: 0.1 °C, plausible: [-40 °C, 150 °C], every: 200 ms}\n"
        self.kitchen.write_plan(rig.small_plan(port).replace("probes:\n", serial))
        self.kitchen.start()
        rig.await_that(lambda: rtu.served() and tcp.served(), "both buses to be read")
        for where, bus in ((["--host", "localhost", "--port", port], "rack"), (["--device", line], "cold-line")):
            with self.subTest(bus=bus):
                answer = self.kitchen.trivet("find", *where, "--units", "9", "--move-for", "1s")
                self.assertEqual(answer.code, rig.REFUSED, answer)
                self.assertIn(f"it is bus '{bus}' of its plan", answer.err)
        answer = self.find("--device", line, "--move-for", "1s", code=rig.REFUSED)  # knows no daemon; the lock holds
        self.assertIn("in use by another program", answer.err)
        for peer in (rtu, tcp):
            self.assertEqual({unit for _, unit, _, _, _ in peer.served()}, {1})


class Refusals(Case):
    def test_what_cannot_be_understood_names_the_option_and_the_remedy(self):
        line = ["--device", "/dev/null", "--move-for", "1s"]
        for words, says in (
                (["--move-for", "1s"], "say where to search"),
                (["--device", "/dev/null"], "nobody can be asked here"),
                (["--device", "ttyUSB0", "--move-for", "1s"], "--device: 'ttyUSB0' is no device"),
                ([*line, "--host", "127.0.0.1"], "give one of the two"),
                ([*line, "--units", "1-300"], "--units: '1-300'"),
                ([*line, "--units", "0"], "--units: '0' does not do: units on a serial line are 1 to 247"),
                ([*line, "--units", "1,"], "--units:"),
                ([*line, "--bauds", "9601"], "--bauds:"),
                ([*line, "--parities", "even,off"], "--parities:"),
                ([*line, "--stop-bits", "3"], "--stop-bits:"),
                ([*line, "--direction", "up"], "write adapter or kernel"),
                ([*line, "--framing", "rtu"], "a serial line has only one framing"),
                (["--host", "::1", "--framing", "udp", "--move-for", "1s"], "--framing: 'udp' is no framing"),
                ([*line, "--registers", "9-3"], "--registers:"),
                ([*line, "--registers", "0-2000"], "too many registers"),
                ([*line, "--functions", "4,6"], "the functions that read"),
                ([*line, "--pause", "1ms"], "--pause:"),
                ([*line, "--timeout", "soon"], "--timeout: 'soon'"),
                ([*line, "--hand-for", "3h"], "--hand-for:"),
                ([*line, "--id", "Soup Pot"], "--id: write at most 31"),
                ([*line, "--kind", "soup"], "write food or air"),
                ([*line, "--phase", "hand"], "go together"),
                (["--phase", "warm", "--keep", "x"], "write hand or ice"),
                (["--phase", "ice", "--keep", "x", "--units", "1"], "the file of the first one knows"),
                ([*line, "soup"], "nothing to say without an option")):
            with self.subTest(words=words):
                answer = self.find(*words, code=rig.USAGE)
                self.assertIn(says, " ".join(answer.err.split()))
        self.assertIn("not a serial line", self.find(*line, code=rig.UNREACHABLE).err)

    def test_a_file_of_another_kind_is_refused(self):
        kept = self.kitchen.directory / "hand.json"
        for text in ("", "{}", "[1]", '{"trivet_find":2}', '{"trivet_find":1,"pause_ms":100,"line":{"id":"a","timeout_ms":300,'
                     '"longest_delay_ms":0,"host":"127.0.0.1","port":1},"blocks":[{"unit":1,"function":6,"first":0,"count":1,"hand":[]}]}'):
            with self.subTest(text=text):
                kept.write_text(text)
                answer = self.find("--phase", "ice", "--keep", kept, code=rig.USAGE)
                self.assertIn("--phase hand --keep FILE", answer.err)
        answer = self.find("--phase", "ice", "--keep", self.kitchen.directory / "none.json", code=rig.USAGE)
        self.assertIn("none.json cannot be read", answer.err)


if __name__ == "__main__":
    unittest.main(verbosity=1)
