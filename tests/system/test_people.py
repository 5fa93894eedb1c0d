"""What people have to do about a deviation, over a living daemon: the food it concerns, actions that the plan has ready,
every element of a corrective action, and how all of it is shown, exported and replayed."""
import datetime
import os
import pty
import subprocess
import unittest
import urllib.request
import zoneinfo

import rig

PREPARED = """limit:
      kind: hold_cold
      applies_to: air
      at_most: 5 °C
      tolerance: 1 s
      back_for: 1 s
      prepared:
        - {name: Door left open, found: The door was not shut., done: Shut the door., disposition: use}
        - {name: Fan stopped, done: Moved the food out., safe: Nothing had left.}"""


class People(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        self.port, self.peer = self.kitchen.tcp_peer([1])
        self.peer.set(1, 0, 30, 200)  # 3.0 °C in the fridge, 20.0 °C in the pot
        text = rig.small_plan(self.port, web="{port: 0}")
        text = text.replace("limit: {kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 1 s, back_for: 1 s}", PREPARED)
        self.kitchen.write_plan(text + "duties: {full_actions: yes, act_within: 1 h, working_days: [mon, sun]}\n")
        self.kitchen.start()
        self.kitchen.await_readings(4)

    def say(self, *words, code=rig.DONE):
        answer = self.kitchen.trivet(*words, "--json")
        self.assertEqual(answer.code, code, answer)
        return answer.json if code == rig.DONE else answer

    def page(self, path):
        root = self.kitchen.trivet("where", "--json").json["page"]
        with urllib.request.urlopen(root.rstrip("/") + path, timeout=rig.PATIENCE_S) as shown:
            return " ".join(shown.read().decode().split())

    def test_all_food_in_a_place_has_its_disposition(self):
        first, second, other = (self.say("begin", "soup", "--step", "rest", "--place", place, "--who", "AB")["batch"]
                                for place in ("walk-in", "stove", "stove"))
        self.say("end", second, "stored", "--place", "walk-in", "--who", "AB")
        self.peer.set(1, 0, 90)
        number = self.kitchen.await_decision(decision="deviation-opened", place="walk-in")["deviation"]
        shown = self.say("deviations")[0]
        self.assertEqual((shown["food"], shown["overdue"]), ([first, second], False))
        opened, due = (datetime.datetime.fromisoformat(shown[key].replace("Z", "+00:00")) for key in ("opened", "due"))
        self.assertEqual((due - opened).total_seconds(), 3600)
        self.assertEqual([one["batch"] for one in self.say("now")["stored"]], [second])

        act = ("act", number, "--prepared", "1", "--who", "AB")
        self.assertIn("--control", self.say(*act, code=rig.REFUSED).err)
        act += ("--control", "back below 5 C", "--prevent", "spring on the door", "--safe", "nothing had left")
        self.assertIn(f"did not affect batch {other}", self.say(*act, "--food", f"{other} use", code=rig.REFUSED).err)
        self.assertIn("what becomes of batch", self.say("act", number, "--found", "a", "--done", "b", "--food",
                                                        f"{first} discard", "--control", "c", "--prevent", "d", "--safe",
                                                        "e", "--who", "AB", code=rig.REFUSED).err)
        seq = self.say(*act, "--food", f"{first} discard 4 kg")["seq"]
        data = self.kitchen.records("action")[-1]["data"]
        self.assertEqual(data["food"], [{"batch": first, "disposition": "discard", "quantity": "4 kg"},
                                        {"batch": second, "disposition": "use"}])
        self.assertEqual((data["found"], data["done"]), ("The door was not shut.", "Shut the door."))
        # Its verification falls due at the end of the seventh working day; this kitchen works two days a week.
        shown = self.say("deviations")[0]
        due = datetime.datetime.fromisoformat(shown["due"].replace("Z", "+00:00"))
        self.assertGreater(due - opened, datetime.timedelta(days=20))
        self.assertLess(due - opened, datetime.timedelta(days=30))

        row = self.kitchen.trivet("export", "deviations").rows[-1]
        self.assertEqual(row["food"], f"{first} discard 4 kg; {second} use")
        self.assertEqual((row["control"], row["safe"]), ("back below 5 C", "nothing had left"))
        self.assertEqual(self.kitchen.trivet("export", "actions").rows[-1]["food"], row["food"])
        page = self.page("/deviations")
        for text in (f"batch {first}</a>: thrown away, 4 kg", f"batch {second}</a>: used as planned", "Control restored",
                     "back below 5 C", "nothing had left"):
            self.assertIn(text, page)

        self.assertIn("in store, moved to stove", self.say("next", second, "--place", "stove", "--who", "AB")["say"])
        self.assertIn("taken out", self.say("end", second, "served", "--who", "AB")["say"])
        self.assertEqual(self.say("now")["stored"], [])
        self.say("verify", number, "--who", "RS")
        self.assertGreater(seq, 0)
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def test_food_to_be_thrown_away_is_not_served(self):
        running, kept, held = (self.say("begin", "soup", "--step", "rest", "--place", "walk-in", "--who", "AB")["batch"] for _ in range(3))
        for batch in (kept, held):
            self.say("end", batch, "stored", "--place", "walk-in", "--who", "AB")
        self.peer.set(1, 0, 90)
        number = self.kitchen.await_decision(decision="deviation-opened", place="walk-in")["deviation"]
        elements = ("--control", "c", "--prevent", "p", "--safe", "s", "--who", "AB")
        self.say("act", number, "--prepared", "1", "--food", f"{running} discard, {kept} discard, {held} hold 2 kg", *elements)
        for batch, says in ((running, "thrown away"), (kept, "thrown away"), (held, f"on hold, says the corrective action on deviation {number}")):
            self.assertIn(says, self.say("end", batch, "served", "--who", "AB", code=rig.REFUSED).err)
        self.assertIn("end it as discarded", self.say("end", running, "stored", "--who", "AB", code=rig.REFUSED).err)
        now = self.say("now")
        batch = now["batches"][0]
        self.assertEqual((batch["disposition"], batch["concern"]), ("discard", "act"))
        self.assertIn("To be thrown away", batch["sentence"])
        self.assertEqual([(one["batch"], one["disposition"]) for one in now["stored"]], [(kept, "discard"), (held, "hold")])
        shown = " ".join(self.kitchen.trivet("now").out.split())
        for text in ("to be thrown away, says a corrective action", "on hold, says a corrective action: not to be served"):
            self.assertIn(text, shown)
        self.say("act", number, "--prepared", "1", "--food", f"{running} discard, {kept} discard, {held} use", *elements)
        self.say("end", held, "served", "--who", "AB")
        for batch in (running, kept):
            self.say("end", batch, "discarded", "--who", "AB")
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def test_a_business_day_is_shown_and_signed_off(self):
        zone = zoneinfo.ZoneInfo("Europe/London")
        today = datetime.datetime.now(zone).date()
        yesterday = str(today - datetime.timedelta(days=1))
        seq = self.say("note", "door sticks", "--who", "AB")["seq"]
        shown = self.kitchen.trivet("review", today)
        self.assertEqual(shown.code, rig.DONE, shown)
        self.assertRegex(shown.out, rf"{seq} \d\d:\d\d AB note, door sticks")
        self.assertRegex(shown.out, r"Walk-in air: 3\.0 to 3\.0 °C, \d+ good")
        self.assertEqual(self.kitchen.records("review"), [])
        for words, code, told in (((today, "--who", "JO"), rig.REFUSED, "not over yet"),
                                  ((yesterday, "--who", "AB"), rig.REFUSED, "AB is a cook"),
                                  (("2026-02-30", "--who", "JO"), rig.USAGE, "2026-03-01"),
                                  (("some day",), rig.USAGE, "today or yesterday")):
            answer = self.kitchen.trivet("review", *words)
            self.assertEqual(answer.code, code, answer)
            self.assertIn(told, answer.err)
        # By name; a business day may end after midnight, but not this plan's.
        self.assertEqual(self.kitchen.trivet("review", "today").out.splitlines()[0], shown.out.splitlines()[0])
        self.assertEqual(shown.out.splitlines()[-1], "Not signed off yet.")
        answer = self.kitchen.trivet("review", yesterday, "--who", "JO", "--text", "all seen")
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn(f"The records of {yesterday} reviewed by Jun Okada.", answer.out)
        data = self.kitchen.records("review")[-1]["data"]
        self.assertEqual((data["day"], data["who"], data["text"]), (yesterday, "JO", "all seen"))
        seen = self.kitchen.trivet("review", "yesterday")
        self.assertIn(f", {yesterday}: ", seen.out.splitlines()[0])
        self.assertEqual(seen.out.splitlines()[-1], f"Signed off by JO, record {self.kitchen.records('review')[-1]['seq']}.")
        self.assertIn("reviewed already", self.kitchen.trivet("review", yesterday, "--who", "RS").err)
        row = [row for row in self.kitchen.trivet("export", "entries").rows if row["kind"] == "review"][0]
        self.assertEqual((row["by"], row["reason"], row["text"]), ("JO", yesterday, "all seen"))
        people = [(row["initials"], row["name"], row["role"]) for row in self.kitchen.trivet("export", "people").rows]
        self.assertEqual(people, [("AB", "Ana Brandt", "cook"), ("LM", "Luis Marchetti", "cook"),
                                  ("JO", "Jun Okada", "supervisor"), ("RS", "Ruth Sandoval", "verifier")])
        self.kitchen.stop()
        for verb in ("chain", "replay"):
            answer = self.kitchen.trivet(verb)
            self.assertEqual(answer.code, rig.DONE, answer)

    def with_pin(self, *words, lines=()):
        """Runs `trivet` with PINs in lines on a descriptor."""
        read, write = os.pipe()
        os.write(write, "".join(line + "\n" for line in lines).encode())
        os.close(write)
        done = subprocess.run([rig.TRIVET, "--socket", str(self.kitchen.socket), *map(str, words), "--pin-fd", str(read)],
                              stdin=subprocess.DEVNULL, capture_output=True, text=True, pass_fds=[read], timeout=60)
        os.close(read)
        return rig.Answer(done)

    def test_entries_of_the_plans_roles_need_their_pin(self):
        text = self.kitchen.plan.read_text()
        today = datetime.datetime.now(zoneinfo.ZoneInfo("Europe/London")).date()
        self.kitchen.write_plan(text.replace("duties: {", "duties: {pins: [supervisor, verifier], "))
        self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE, today)
        self.say("note", "a cook needs none", "--who", "AB")
        note = ("note", "signed", "--who", "JO")
        self.assertIn("none is set", self.say(*note, code=rig.REFUSED).err)
        answer = self.with_pin("pin", "JO", lines=("", "24681357"))
        self.assertEqual(answer.code, rig.DONE, answer)
        self.assertIn("The PIN of Jun Okada is set.", answer.out)
        before = len(self.kitchen.records("note"))
        self.assertIn("asks for the PIN of JO", self.say(*note, code=rig.REFUSED).err)
        self.assertIn("not the PIN of JO", self.with_pin(*note, lines=("11112222",)).err)
        self.assertEqual(len(self.kitchen.records("note")), before)
        self.assertEqual(self.with_pin(*note, lines=("24681357",)).code, rig.DONE)
        self.assertNotIn("pin", self.kitchen.records("note")[-1]["data"])
        # Later people's first PIN: beside a supervisor who has one.
        self.assertIn("set beside a supervisor", self.with_pin("pin", "RS", lines=("", "11335577")).err)
        self.assertIn("not the PIN of JO", self.with_pin("pin", "RS", "--by", "JO", lines=("11335577", "11112222")).err)
        self.assertEqual(len(self.kitchen.records("pin")), 1)
        self.assertEqual(self.with_pin("pin", "RS", "--by", "JO", lines=("11335577", "24681357")).code, rig.DONE)
        self.assertEqual(self.with_pin("note", "seen", "--who", "RS", lines=("11335577",)).code, rig.DONE)
        self.assertEqual([(one["data"]["who"], one["data"].get("by")) for one in self.kitchen.records("pin")],
                         [("JO", None), ("RS", "JO")])
        rows = [row for row in self.kitchen.trivet("export", "entries").rows if row["kind"] == "pin"]
        self.assertEqual([(row["by"], row["reason"]) for row in rows], [("JO", ""), ("RS", "JO")])
        self.assertRegex(self.kitchen.trivet("review", today).out, r"RS pin, beside JO")
        self.assertIn("not the PIN", self.with_pin("pin", "JO", lines=("11112222", "33334444")).err)
        self.assertIn("nobody with these initials", self.with_pin("pin", "ZZ", lines=("", "33334444")).err)
        # Hashed, for the daemon alone, and nowhere else.
        pins = self.kitchen.store / "pins"
        self.assertEqual(pins.stat().st_mode & 0o777, 0o600)
        self.assertTrue(pins.read_text().startswith("JO $argon2id$"))
        exported = self.kitchen.trivet("export", "records").out + self.kitchen.trivet("export", "entries").out
        self.kitchen.stop()
        for held in (self.kitchen.log_text(), exported, *(file.read_bytes().decode("latin-1")
                                                          for file in self.kitchen.store.iterdir() if file.is_file())):
            for secret in ("24681357", "11112222", "11335577"):
                self.assertNotIn(secret, held)
        self.assertNotIn("argon2", exported)
        self.assertEqual(self.kitchen.trivet("replay").code, rig.DONE)

    def test_a_person_is_asked_for_the_pin_without_an_echo(self):
        self.kitchen.write_plan(self.kitchen.plan.read_text().replace("duties: {", "duties: {pins: [supervisor], "))
        self.assertEqual(self.kitchen.trivet("plan", "--reload").code, rig.DONE)
        self.assertEqual(self.with_pin("pin", "JO", lines=("", "24681357")).code, rig.DONE)
        master, slave = pty.openpty()
        process = subprocess.Popen([rig.TRIVET, "--socket", str(self.kitchen.socket), "note", "signed", "--who", "JO"],
                                   stdin=slave, stdout=slave, stderr=slave, start_new_session=True)
        seen = ""
        while "Your PIN:" not in seen:
            seen += os.read(master, 4096).decode()
        os.write(master, b"24681357\n")
        self.assertEqual(process.wait(timeout=rig.PATIENCE_S), rig.DONE)
        os.close(slave)
        try:
            seen += os.read(master, 4096).decode()
        except OSError:
            pass
        os.close(master)
        self.assertIn("On record", seen)
        self.assertNotIn("24681357", seen)


if __name__ == "__main__":
    unittest.main(verbosity=1)
