"""Whatever is changed in a stored record or reading, verification fails and names the record, or the run of readings.

Works on copies of a store that a daemon has written, with nothing but SQLite, as somebody would who has the machine.
"""
import contextlib
import json
import shutil
import sqlite3
import unittest

import rig


def flip_each_byte(text):
    """Every text that differs from this one in one byte; kept to bytes SQLite takes as text."""
    for i, byte in enumerate(text):
        yield text[:i] + bytes([byte ^ 0x01]) + text[i + 1:]


class Tamper(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.kitchen = kitchen = rig.Kitchen()
        cls.addClassCleanup(kitchen.close)
        port, peer = kitchen.tcp_peer([1])
        kitchen.write_plan(rig.small_plan(port))
        peer.set(1, 0, 30, 200)
        kitchen.start()
        kitchen.await_readings(4)
        line = rig.Socket(kitchen.socket)
        line.ask(do="begin", product="soup", probes=["pot-core"], who="AB")
        line.ask(do="note", who="LM", text="a note with a name in it: Müller")
        peer.set(1, 0, 80)
        peer.ramp(1, 1, 720, 2.0)
        opened = kitchen.await_decision(decision="deviation-opened")
        peer.set(1, 0, 30)
        kitchen.await_decision(decision="deviation-ended")
        line.ask(do="action", deviation=opened["deviation"], who="AB", found="door", done="closed", disposition="no-food")
        line.ask(do="verify", deviation=opened["deviation"], who="RS")
        line.close()
        rig.await_that(lambda: len(kitchen.records("seal")) >= 3, "three seals")
        assert kitchen.stop() == 0
        cls.clean = kitchen.directory / "clean"
        shutil.copytree(kitchen.store, cls.clean)
        with contextlib.closing(sqlite3.connect(cls.clean / "trivet.db")) as store:  # its -wal and -shm leave with it
            store.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            cls.records = store.execute("SELECT seq, at_ms, kind, body, hash FROM record ORDER BY seq").fetchall()
            cls.readings = store.execute("SELECT probe, at_ms, temp_mC, quality FROM reading ORDER BY at_ms, probe").fetchall()
        cls.seals = [(seq, json.loads(body)["data"]) for seq, _, kind, body, _ in cls.records if kind == "seal"]

    # ---- tools ----

    def changed(self, *statements):
        """The verdict on a copy after some SQL."""
        copy = self.kitchen.directory / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(self.clean, copy)
        with contextlib.closing(sqlite3.connect(copy / "trivet.db")) as store:
            for sql, *values in statements:
                touched = store.execute(sql, values).rowcount
                self.assertNotEqual(touched, 0, f"changed nothing: {sql} {values}")
            store.commit()
        return self.kitchen.trivet("--store", copy, "--json", "chain")

    def assert_names_record(self, seq, verdict, also=()):
        self.assertEqual(verdict.code, rig.NO, verdict)
        self.assertIs(verdict.json["ok"], False)
        self.assertIn(verdict.json["bad_seq"], (seq, *also), verdict.json["say"])
        self.assertRegex(verdict.json["say"], r"record|seal|reading")

    def seal_over(self, at_ms):
        return next(seq for seq, data in self.seals if data["from_ms"] < at_ms <= data["to_ms"])

    def assert_names_run(self, at_ms, verdict):
        self.assertEqual(verdict.code, rig.NO, verdict)
        found = verdict.json
        self.assertEqual(found["bad_seq"], self.seal_over(at_ms), found["say"])
        self.assertLess(found["bad_from_ms"], at_ms)
        self.assertGreaterEqual(found["bad_to_ms"], at_ms)

    def sample(self):
        """Every kind of record once."""
        return list({kind: (seq, at_ms, kind, body, digest) for seq, at_ms, kind, body, digest in self.records}.values())

    # ---- the store as it is ----

    def test_untouched_copy_verifies(self):
        verdict = self.changed()
        self.assertEqual((verdict.code, verdict.json["ok"]), (rig.DONE, True), verdict)
        self.assertEqual((verdict.json["records"], verdict.json["readings"], verdict.json["unsealed"]),
                         (len(self.records), len(self.readings), 0))
        self.assertEqual({kind for _, _, kind, _, _ in self.records},
                         {"start", "clock", "plan", "begin", "note", "decision", "seal", "action", "verify", "stop"})

    def test_readings_after_the_last_seal_are_said_to_be_unsealed(self):
        last, data = self.seals[-1]
        verdict = self.changed(("DELETE FROM record WHERE seq >= ?", last))
        self.assertEqual((verdict.code, verdict.json["ok"]), (rig.DONE, True), verdict)
        self.assertEqual(verdict.json["unsealed"], data["count"])
        plain = self.kitchen.trivet("--store", self.kitchen.directory / "copy", "chain")
        self.assertRegex(plain.out, rf"\b{data['count']}\b.* after the last seal")

    # ---- records ----

    def test_any_byte_of_a_body_changed_is_found(self):
        for seq, _, kind, body, _ in self.sample():
            raw = body.encode()
            step = max(1, len(raw) // 25)  # a plan's body is its whole text
            for i, other in enumerate(flip_each_byte(raw)):
                if i % step == 0:
                    with self.subTest(kind=kind, byte=i):
                        verdict = self.changed(("UPDATE record SET body = CAST(? AS TEXT) WHERE seq = ?", other, seq))
                        self.assert_names_record(seq, verdict)

    def test_any_byte_of_a_hash_changed_is_found(self):
        for seq, _, kind, _, digest in self.sample():
            for i in (0, 15, 31):
                with self.subTest(kind=kind, byte=i):
                    other = digest[:i] + bytes([digest[i] ^ 0x80]) + digest[i + 1:]
                    self.assert_names_record(seq, self.changed(("UPDATE record SET hash = ? WHERE seq = ?", other, seq)))

    def test_any_bit_of_an_instant_or_number_changed_is_found(self):
        for seq, at_ms, kind, _, _ in self.sample():
            for bit in (0, 1, 7, 20, 40, 62):
                with self.subTest(kind=kind, bit=bit):
                    verdict = self.changed(("UPDATE record SET at_ms = ? WHERE seq = ?", at_ms ^ (1 << bit), seq))
                    self.assert_names_record(seq, verdict)
            with self.subTest(kind=kind, column="seq"):
                away = len(self.records) + 5
                verdict = self.changed(("UPDATE record SET seq = ? WHERE seq = ?", away, seq))
                self.assert_names_record(seq, verdict, also=(away,))

    def test_a_kind_changed_is_found(self):
        for seq, _, kind, _, _ in self.sample():
            for i in range(len(kind)):
                other = kind[:i] + chr(ord(kind[i]) ^ 1) + kind[i + 1:]
                with self.subTest(kind=kind, other=other):
                    self.assert_names_record(seq, self.changed(("UPDATE record SET kind = ? WHERE seq = ?", other, seq)))

    def test_columns_of_another_type_are_found(self):
        seq = self.sample()[0][0]
        for column, value in (("body", b"{}"), ("body", 1), ("body", None), ("hash", "text"), ("hash", None), ("kind", None),
                              ("kind", b"start"), ("at_ms", "soon"), ("at_ms", None), ("at_ms", 1.5)):
            with self.subTest(column=column, value=value):
                try:
                    verdict = self.changed((f"UPDATE record SET {column} = ? WHERE seq = ?", value, seq))
                except sqlite3.IntegrityError:
                    continue  # the schema does not let it in
                self.assert_names_record(seq, verdict)

    def test_a_record_removed_or_put_in_is_found(self):
        for seq, at_ms, kind, body, digest in self.sample():
            if seq == len(self.records):
                continue
            with self.subTest(kind=kind):
                self.assert_names_record(seq, self.changed(("DELETE FROM record WHERE seq = ?", seq)), also=(seq + 1,))
        last = len(self.records)
        verdict = self.changed(("INSERT INTO record SELECT seq + 1, at_ms, kind, body, hash FROM record WHERE seq = ?", last))
        self.assert_names_record(last + 1, verdict)

    def test_two_records_exchanged_are_found(self):
        a, b = (seq for seq, _, kind, _, _ in self.records[3:5])
        verdict = self.changed(("UPDATE record SET seq = -1 WHERE seq = ?", a), ("UPDATE record SET seq = ? WHERE seq = ?", a, b),
                               ("UPDATE record SET seq = ? WHERE seq = -1", b))
        self.assert_names_record(a, verdict)

    # ---- readings ----

    def some_readings(self):
        return [self.readings[i] for i in (0, 1, len(self.readings) // 2, len(self.readings) - 1)]

    def test_any_bit_of_a_temperature_changed_is_found(self):
        for probe, at_ms, temp_mC, _ in self.some_readings():
            for bit in (0, 3, 8, 16, 31, 40):
                with self.subTest(probe=probe, at_ms=at_ms, bit=bit):
                    verdict = self.changed(("UPDATE reading SET temp_mC = ? WHERE probe = ? AND at_ms = ?", temp_mC ^ (1 << bit),
                                            probe, at_ms))
                    self.assert_names_run(at_ms, verdict)

    def test_any_bit_of_a_quality_changed_is_found(self):
        for probe, at_ms, _, quality in self.some_readings():
            for bit in (0, 3, 6, 7, 12, 33):
                with self.subTest(probe=probe, at_ms=at_ms, bit=bit):
                    verdict = self.changed(("UPDATE reading SET quality = ? WHERE probe = ? AND at_ms = ?", quality ^ (1 << bit),
                                            probe, at_ms))
                    self.assert_names_run(at_ms, verdict)

    def test_a_reading_of_another_type_is_found(self):
        probe, at_ms, _, _ = self.readings[len(self.readings) // 2]
        for column, value in (("temp_mC", None), ("temp_mC", "warm"), ("temp_mC", 2.5), ("temp_mC", b"1"), ("quality", None),
                              ("quality", "good"), ("quality", 0.5)):
            with self.subTest(column=column, value=value):
                try:
                    verdict = self.changed((f"UPDATE reading SET {column} = ? WHERE probe = ? AND at_ms = ?", value, probe, at_ms))
                except sqlite3.IntegrityError:
                    continue
                self.assert_names_run(at_ms, verdict)

    def test_a_reading_moved_to_another_instant_or_probe_is_found(self):
        for probe, at_ms, _, _ in self.some_readings():
            for other in (at_ms + 1, at_ms - 1):
                with self.subTest(probe=probe, at_ms=at_ms, to=other):
                    verdict = self.changed(("UPDATE reading SET at_ms = ? WHERE probe = ? AND at_ms = ?", other, probe, at_ms))
                    self.assertEqual(verdict.code, rig.NO, verdict)
                    self.assertTrue(verdict.json["bad_from_ms"] <= at_ms <= verdict.json["bad_to_ms"] + 1, verdict.json)
            with self.subTest(probe=probe, at_ms=at_ms, to="another probe"):
                verdict = self.changed(("UPDATE reading SET probe = 9 WHERE probe = ? AND at_ms = ?", probe, at_ms))
                self.assert_names_run(at_ms, verdict)

    def test_a_reading_removed_or_added_is_found(self):
        for probe, at_ms, _, _ in self.some_readings():
            with self.subTest(probe=probe, at_ms=at_ms):
                self.assert_names_run(at_ms, self.changed(("DELETE FROM reading WHERE probe = ? AND at_ms = ?", probe, at_ms)))
        _, data = self.seals[1]
        added = data["to_ms"] - 1
        self.assertNotIn(added, [at_ms for probe, at_ms, _, _ in self.readings if probe == 1])
        verdict = self.changed(("INSERT INTO reading VALUES (1, ?, 3000, 0)", added))
        self.assert_names_run(added, verdict)
        self.assertIn("probe 1", verdict.json["say"])
        self.assert_names_run_ends(added, verdict)

    def assert_names_run_ends(self, at_ms, verdict):
        """One too many is named itself, not only its run."""
        self.assertEqual((verdict.json["bad_from_ms"], verdict.json["bad_to_ms"]), (at_ms - 1, at_ms))

    # ---- the file ----

    def test_bytes_of_the_file_changed_never_pass_as_other_evidence(self):
        """Any byte of the file: either it is found, or what is evidence reads as before (free space, caches)."""
        clean = (self.clean / "trivet.db").read_bytes()
        copy = self.kitchen.directory / "copy"
        found = 0
        for i in range(0, len(clean), max(1, len(clean) // 150)):
            shutil.rmtree(copy, ignore_errors=True)
            copy.mkdir()
            (copy / "trivet.db").write_bytes(clean[:i] + bytes([clean[i] ^ 0x10]) + clean[i + 1:])
            verdict = self.kitchen.trivet("--store", copy, "--json", "chain")
            self.assertIn(verdict.code, (rig.DONE, rig.NO, rig.UNREACHABLE), (i, verdict))
            if verdict.code != rig.DONE:
                found += 1
                self.assertTrue(verdict.code == rig.UNREACHABLE and verdict.err or verdict.json["say"], (i, verdict))
                continue
            with sqlite3.connect(f"file:{copy}/trivet.db?mode=ro", uri=True) as store:
                self.assertEqual(store.execute("SELECT seq, at_ms, kind, body, hash FROM record ORDER BY seq").fetchall(),
                                 self.records, i)
                self.assertEqual(store.execute("SELECT probe, at_ms, temp_mC, quality FROM reading "
                                               "ORDER BY at_ms, probe").fetchall(), self.readings, i)
        self.assertGreater(found, 10)


if __name__ == "__main__":
    unittest.main(verbosity=1)
