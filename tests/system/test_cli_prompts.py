"""`trivet` as a cook meets it: at a terminal, in scripts, and when something is wrong.

The terminal is a real one (a pseudo-terminal pair), the daemon the real daemon with one Modbus device; only the daemons that
misbehave are played.
"""
import codecs
import json
import os
import pty
import re
import select
import signal
import socket
import subprocess
import tempfile
import termios
import threading
import time
import unittest

import rig


class Terminal:
    """A run of `trivet` at a terminal of its own; a person that reads before typing."""

    def __init__(self, *words, socket_path, **environment):
        self.seen = ""
        self.decoder = codecs.getincrementaldecoder("utf-8")()  # a read can end in half a character
        self.read_to = 0
        self.master, slave = pty.openpty()
        settings = termios.tcgetattr(slave)
        settings[3] &= ~termios.ECHO
        termios.tcsetattr(slave, termios.TCSANOW, settings)
        env = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "TRIVET_WHO")}
        self.process = subprocess.Popen([rig.TRIVET, "--socket", str(socket_path), *words], stdin=slave, stdout=slave,
                                        stderr=slave, env=dict(env, **environment), start_new_session=True,
                                        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL))
        os.close(slave)

    def read_some(self, until_s):
        ready, _, _ = select.select([self.master], [], [], max(0.0, until_s - time.monotonic()))
        if not ready:
            raise AssertionError(f"nothing more came; seen so far:\n{self.seen}")
        try:
            got = os.read(self.master, 65536)
        except OSError:  # the other end is closed
            return False
        self.seen += self.decoder.decode(got).replace("\r", "")
        return bool(got)

    def expect(self, text):
        """Waits for a text after the last one waited for."""
        until_s = time.monotonic() + rig.PATIENCE_S
        while text not in self.seen[self.read_to:]:
            if not self.read_some(until_s):
                raise AssertionError(f"ended without saying {text!r}:\n{self.seen}")
        self.read_to = self.seen.index(text, self.read_to) + len(text)

    def answer(self, question, reply):
        self.expect(question)
        self.expect("> ")
        os.write(self.master, (reply + "\n").encode())

    def end(self):
        """Reads to the end; the exit code."""
        until_s = time.monotonic() + rig.PATIENCE_S
        while self.read_some(until_s):
            pass
        return self.process.wait(timeout=rig.PATIENCE_S)

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.master)


class KitchenCase(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.kitchen = rig.Kitchen()
        cls.addClassCleanup(cls.kitchen.close)
        port, peer = cls.kitchen.tcp_peer([1])
        cls.kitchen.write_plan(rig.small_plan(port))
        peer.set(1, 0, 35, 550)  # 3.5 °C in the walk-in; a pot too cool for its cooling clock to start by itself
        cls.kitchen.start()
        cls.kitchen.await_readings(4)

    def at_terminal(self, *words, **environment):
        terminal = Terminal(*words, socket_path=self.kitchen.socket, **environment)
        self.addCleanup(terminal.close)
        return terminal

    def last(self, kind):
        return self.kitchen.records(kind)[-1]["data"]

    def begin(self):
        answer = self.kitchen.trivet("--json", "begin", "soup", "--who", "AB")
        self.assertEqual(answer.code, rig.DONE, answer)
        return answer.json["batch"]


class AtATerminal(KitchenCase):
    def test_a_batch_from_its_beginning_to_its_end(self):
        t = self.at_terminal("begin")
        t.answer("Which product?", "soupp")
        t.expect("'soupp' is none of these: soup")
        t.answer("", "1")
        t.answer("Which probes", "1")
        t.answer("How heavy", "4,5 kg")
        t.expect("please write a point")
        t.answer("How heavy", "4.5 kg")
        t.answer("How thick", "")
        t.answer("Who are you?", "ab")
        t.expect("On record as number")
        t.expect("product soup, probe pot-core, 4500 g, by AB")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        begun = self.last("begin")
        number = begun["batch"]
        self.assertEqual((begun["product"], begun["probes"], begun["mass_g"], begun["who"]), ("soup", ["pot-core"], 4500, "AB"))
        self.assertEqual(begun["peer_uid"], os.getuid())

        t = self.at_terminal("take")
        t.answer("What does it read?", "200")
        t.expect("200C or 200F")
        t.answer("What does it read?", "163.4F")
        t.answer("Which thermometer?", "")
        t.answer("Of which batch?", str(number))
        t.answer("Who are you?", "1")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        hand = self.last("hand")
        self.assertEqual((hand["temp_mC"], hand["thermometer"], hand["batch"]), (73000, "red-pen", number))

        t = self.at_terminal("next", str(number))
        t.expect("eeds at least 70.0 °C for 1 s.")  # how it stands, before it is moved on
        t.expect("[cool] > ")
        os.write(t.master, b"\n")
        t.answer("Who are you?", "Ana Brandt")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        self.assertEqual(self.last("move")["step"], "cool")

        t = self.at_terminal("cooked", str(number), "--who", "AB")
        t.answer("When did cooking end?", "in a moment")
        t.expect("no time understood")
        t.answer("When did cooking end?", "2 min ago")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        record = self.kitchen.records("cooked")[-1]
        self.assertAlmostEqual(record["at_ms"] - record["data"]["given_ms"], 120000, delta=rig.PATIENCE_S * 1000)

        t = self.at_terminal("end", str(number))
        t.answer("What became of it?", "discarded")
        t.answer("Why is it discarded?", "fell on the floor")
        t.answer("Who are you?", "LM")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        self.assertEqual(self.last("end"), dict(self.last("end"), outcome="discarded", text="fell on the floor", who="LM"))

    def test_without_a_free_probe_it_says_so_and_goes_on(self):
        first = self.kitchen.trivet("--json", "begin", "soup", "--probes", "pot-core", "--who", "AB").json["batch"]
        t = self.at_terminal("begin")
        t.answer("Which product?", "1")
        t.expect("No probe is free: readings have to be taken by hand.")
        t.answer("How heavy", "")
        t.answer("How thick", "")
        t.answer("Who are you?", "AB")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        for number in (first, self.last("begin")["batch"]):
            self.kitchen.trivet("end", number, "discarded", "--text", "a test", "--who", "AB")

    def test_a_complete_command_asks_nothing(self):
        t = self.at_terminal("note", "pan lids are short", "--who", "AB")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        self.assertNotIn("> ", t.seen)

    def test_correction_shows_the_last_entries_first(self):
        seq = self.kitchen.trivet("--json", "take", "3.4", "-t", "red-pen", "-l", "walk-in", "-w", "AB").json["seq"]
        t = self.at_terminal("correct")
        t.expect("The last entries:")
        t.answer("Which record?", str(seq))
        self.assertRegex(t.seen, rf"(?m)^  {seq} \d\d:\d\d AB take, 3\.4 °C, walk-in$")
        t.answer("What temperature should it read?", "4.3")
        t.answer("Why is it corrected?", "figures swapped")
        t.answer("Who are you?", "AB")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        corrected = self.last("correct")
        self.assertEqual((corrected["refers"], corrected["temp_mC"]), (seq, 4300))

    def test_what_has_to_be_said_is_not_left_out(self):
        t = self.at_terminal("note")
        t.answer("What should be noted?", "")
        t.expect("this cannot be left out; Ctrl-D leaves, and nothing is recorded")
        t.answer("What should be noted?", "pan lids are short")
        t.answer("Who are you?", "AB")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        self.assertEqual(self.last("note")["text"], "pan lids are short")

    def test_whoever_verifies_an_action_reads_it_first(self):
        number = self.begin()
        self.kitchen.trivet("next", number, "rest", "--who", "AB")  # left early: a deviation
        deviation = self.kitchen.await_decision(decision="deviation-opened", batch=number)["deviation"]
        words = ("--found", "taken for the other pot", "--done", "heated on", "--disposition", "cook-on", "--who", "AB")
        self.assertEqual(self.kitchen.trivet("act", deviation, *words).code, rig.DONE)
        t = self.at_terminal("verify", str(deviation))
        t.expect("Action by AB: found: taken for the other pot; done: heated on; the food: batch")
        t.answer("Anything to add?", "")
        t.answer("Who are you?", "JO")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        self.kitchen.trivet("end", number, "discarded", "--text", "a test", "--who", "AB")

    def test_end_of_input_records_nothing(self):
        before = len(self.kitchen.records("note"))
        t = self.at_terminal("note")
        t.expect("What should be noted?")
        t.expect("> ")
        os.write(t.master, b"\x04")  # Ctrl-D
        self.assertEqual(t.end(), rig.USAGE, t.seen)
        self.assertIn("nothing was recorded", t.seen)
        self.assertEqual(len(self.kitchen.records("note")), before)

    def test_interrupt_records_nothing(self):
        before = len(self.kitchen.records("note"))
        t = self.at_terminal("note")
        t.answer("What should be noted?", "never mind")
        t.expect("Who are you?")
        t.process.send_signal(signal.SIGINT)
        self.assertEqual(t.end(), -signal.SIGINT, t.seen)
        self.assertEqual(len(self.kitchen.records("note")), before)

    def test_station_initials_are_offered(self):
        t = self.at_terminal("note", TRIVET_WHO="LM")
        t.answer("What should be noted?", "knives are ground")
        t.expect("[LM] > ")
        os.write(t.master, b"\n")
        self.assertEqual(t.end(), rig.DONE, t.seen)
        self.assertEqual(self.last("note")["who"], "LM")

    def test_colours_only_at_a_terminal_that_wants_them(self):
        t = self.at_terminal("now")
        self.assertEqual(t.end(), rig.DONE)
        plain = self.at_terminal("now", NO_COLOR="1")
        self.assertEqual(plain.end(), rig.DONE)
        self.assertNotIn("\x1b", plain.seen)
        self.assertNotIn("\x1b", self.kitchen.trivet("now").out)
        for line in plain.seen.splitlines():
            self.assertLessEqual(len(line), 80, line)


class InScripts(KitchenCase):
    def test_what_is_missing_is_named_with_an_example(self):
        answer = self.kitchen.trivet("begin")
        self.assertEqual(answer.code, rig.USAGE)
        self.assertRegex(answer.err, r"--product is missing .*there are soup; for example: trivet begin")
        self.assertEqual(answer.out, "")

    def test_json_is_one_object_on_one_line(self):
        for words in (["now"], ["where"], ["note", "a", "--who", "AB"], ["deviations"], ["chain"], ["replay"]):
            answer = self.kitchen.trivet("--json", *words)
            self.assertEqual(answer.code, rig.DONE, answer)
            self.assertEqual(answer.out.count("\n"), 1)
            json.loads(answer.out)
        self.assertEqual(self.kitchen.trivet("--json", "where").json["store"], str(self.kitchen.store.resolve()))

    def test_refusal_ends_with_4_and_says_why(self):
        number = self.begin()
        self.assertEqual(self.kitchen.trivet("end", number, "served", "--who", "AB").code, rig.DONE)
        answer = self.kitchen.trivet("next", number, "--who", "AB")
        self.assertEqual(answer.code, rig.REFUSED, answer)
        self.assertIn(str(number), answer.err)
        answer = self.kitchen.trivet("--json", "next", number, "--who", "AB")
        self.assertEqual(answer.code, rig.REFUSED)
        self.assertGreaterEqual(answer.json["code"], 400)

    def test_negative_temperature_needs_no_tricks(self):
        for words in (["take", "-18.5"], ["take", "--temp", "-18.5"], ["take", "-T-18.5"], ["take", "--temp=-18.5C"]):
            answer = self.kitchen.trivet(*words, "-t", "red-pen", "--place", "walk-in", "-w", "AB")
            self.assertEqual(answer.code, rig.DONE, answer)
            self.assertEqual(self.last("hand")["temp_mC"], -18500)

    def test_deviations_quiet_answers_by_its_exit_code(self):
        number = self.begin()
        self.assertEqual(self.kitchen.trivet("next", number, "--who", "AB").code, rig.DONE)  # cooking never proven
        answer = self.kitchen.trivet("deviations", "--quiet")
        self.assertEqual((answer.code, answer.out), (rig.NO, ""))
        for deviation in self.kitchen.trivet("--json", "deviations").json:
            n = deviation["number"]
            self.assertEqual(self.kitchen.trivet("act", n, "--found", "forgot it", "--done", "cooked on", "--disposition",
                                                 "cook-on", "--who", "AB").code, rig.DONE)
            self.assertEqual(self.kitchen.trivet("verify", n, "--who", "AB").code, rig.REFUSED)
            self.assertEqual(self.kitchen.trivet("verify", n, "--who", "JO").code, rig.DONE)
        self.assertEqual(self.kitchen.trivet("deviations", "--quiet").code, rig.DONE)

    def test_correction_keeps_the_old_entry(self):
        seq = self.kitchen.trivet("--json", "note", "ten portions", "--who", "AB").json["seq"]
        answer = self.kitchen.trivet("correct", seq, "--text", "twelve portions", "--reason", "miscounted", "--who", "AB")
        self.assertRegex(answer.out, rf"On record as number \d+: correct, record {seq}, text twelve portions, reason miscounted, by AB\.\n$")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertEqual(self.last("correct")["refers"], seq)
        self.assertEqual([r["data"]["text"] for r in self.kitchen.records("note") if r["seq"] == seq], ["ten portions"])

    def test_exported_file_appears_whole(self):
        out = self.kitchen.directory / "readings.csv"
        answer = self.kitchen.trivet("export", "readings", "--from", "yesterday", "--out", out)
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn(str(out), answer.out)
        self.assertGreater(len(out.read_text().splitlines()), 1)
        self.assertEqual([p.name for p in self.kitchen.directory.glob("readings.csv*")], ["readings.csv"])
        answer = self.kitchen.trivet("export", "readings", "--out", self.kitchen.directory / "no" / "such.csv")
        self.assertEqual(answer.code, rig.NO)
        self.assertIn("such.csv", answer.err)
        answer = self.kitchen.trivet("export", "readings", "--from", "today", "--to", "yesterday")
        self.assertEqual(answer.code, rig.USAGE)

    def test_output_that_gets_lost_is_not_called_done(self):
        with open("/dev/full", "w") as full:
            done = subprocess.run([rig.TRIVET, "--socket", str(self.kitchen.socket), "now"], stdout=full,
                                  stderr=subprocess.PIPE, text=True)
        self.assertEqual(done.returncode, rig.NO)
        self.assertIn("could not be written", done.stderr)

    def test_help_names_every_verb_and_an_unknown_one_its_neighbour(self):
        overview = self.kitchen.trivet("help")
        self.assertEqual(overview.code, rig.DONE)
        self.assertEqual([line for line in overview.out.splitlines() if len(line) > 80], [])
        verbs = re.findall(r"^  ([a-z][a-z-]*) {2,}", overview.out, re.M)
        self.assertGreaterEqual(len(verbs), 19)
        for verb in verbs:
            answer = self.kitchen.trivet("help", verb)
            self.assertEqual(answer.code, rig.DONE, answer)
            self.assertIn(verb, answer.out)
            self.assertTrue(all(len(line) <= 80 for line in answer.out.splitlines()), answer.out)
        answer = self.kitchen.trivet("nwo")
        self.assertEqual(answer.code, rig.USAGE)
        self.assertIn("did you mean `now`?", answer.err)


class PlayedDaemon:
    """Listens where a daemon would and says what it is told to, one text per connection; None closes at once."""

    def __init__(self, *texts):
        self.directory = tempfile.TemporaryDirectory(prefix="trivet-")
        self.path = os.path.join(self.directory.name, "control")
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(self.path)
        self.listener.listen(4)
        self.texts = texts
        self.thread = threading.Thread(target=self.run)
        self.thread.start()

    def run(self):
        for greeting, answer in self.texts:
            with self.listener.accept()[0] as connection:
                connection.sendall(greeting)
                if answer is not None and connection.recv(65536):
                    connection.sendall(answer)

    def close(self):
        self.listener.close()
        self.thread.join()
        self.directory.cleanup()


GREETING = b'{"code":200,"say":"Trivet listens","protocol":1,"version":"0"}\n'


class WhenSomethingIsWrong(unittest.TestCase):
    def ask(self, path, *words):
        return rig.Answer(subprocess.run([rig.TRIVET, "--socket", path, *words], stdin=subprocess.DEVNULL,
                                         stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, timeout=60))

    def played(self, *texts):
        played = PlayedDaemon(*texts)
        self.addCleanup(played.close)
        return self.ask(played.path, "now")

    def test_nobody_there(self):
        answer = self.ask("/nonexistent/control", "now")
        self.assertEqual(answer.code, rig.UNREACHABLE)
        self.assertIn("is trivetd running?", answer.err)

    def test_busy(self):
        answer = self.played((b'{"code":503,"say":"busy: too many"}\n', None))
        self.assertEqual(answer.code, rig.UNREACHABLE)
        self.assertIn("busy: too many", answer.err)

    def test_something_else_listens(self):
        answer = self.played((b"220 mail.example ESMTP\r\n", None))
        self.assertEqual(answer.code, rig.UNREACHABLE)
        self.assertIn("does not greet as trivetd", answer.err)

    def test_another_protocol(self):
        answer = self.played((b'{"code":200,"say":"x","protocol":2}\n', None))
        self.assertEqual(answer.code, rig.UNREACHABLE)
        self.assertIn("same version", answer.err)

    def test_no_answer(self):
        answer = self.played((GREETING, b""))
        self.assertEqual(answer.code, rig.UNREACHABLE)
        self.assertIn("has not answered", answer.err)

    def test_answer_cut_off(self):
        answer = self.played((GREETING, b'{"code":200,"say":"the kit'))
        self.assertEqual(answer.code, rig.UNREACHABLE)

    def test_not_known_whether_recorded(self):
        answer = self.played((GREETING, b'{"code":504,"say":"it is not known whether this was recorded"}\n'))
        self.assertEqual(answer.code, rig.UNREACHABLE)
        self.assertIn("not known whether", answer.err)

    def test_terminal_tricks_in_an_answer_are_defused(self):
        answer = self.played((GREETING, b'{"code":409,"say":"no \\u001b[2J way"}\n'))
        self.assertEqual(answer.code, rig.REFUSED)
        self.assertNotIn("\x1b", answer.err)

    def test_usage(self):
        for words in (["now", "--bogus"], ["now", "then"], ["--bogus", "now"], ["note", "a", "b"], ["take", "--temp"],
                      ["note", "a", "--text", "b"], ["now", "-x"], [], ["export"], ["export", "soup"]):
            answer = self.ask("/nonexistent/control", *words)
            self.assertEqual(answer.code, rig.USAGE, f"{words}: {answer}")
        self.assertEqual(self.ask("/nonexistent/control", "--version").code, rig.USAGE)  # alone, please
        self.assertEqual(self.ask("/nonexistent/control", "bgin").err, "trivet: there is no verb 'bgin'; did you mean `begin`?\n")


if __name__ == "__main__":
    unittest.main()
