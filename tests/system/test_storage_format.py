"""The stored format, read by other hands: a store of the C test is checked following docs/storage.md alone, once with
Python's sqlite3 and hashlib, and once by running the page's own shell lines. Nothing of Trivet's code reads it."""
import hashlib
import json
import os
import pathlib
import re
import shutil
import sqlite3
import stat
import subprocess
import tempfile
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "storage.md"
# The writer of the store; the suite has built it by now. TRIVET_BUILD names another build directory.
BUILD = pathlib.Path(os.environ.get("TRIVET_BUILD", ROOT / "build" / "asan"))
WRITER = BUILD / "tests" / "unit" / "test_store_verify"


def shell_lines():
    return re.findall(r"^```sh\n(.*?)^```", PAGE.read_text(), re.M | re.S)


class StorageFormat(unittest.TestCase):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.store = pathlib.Path(self.directory.name)
        self.assertTrue(WRITER.exists(), f"{WRITER} is not built: make {WRITER.relative_to(ROOT)}")
        subprocess.run([WRITER], check=True, env=dict(os.environ, TRIVET_LEAVE_STORE=str(self.store)))
        self.base = sqlite3.connect(f"file:{self.store}/trivet.db?mode=ro", uri=True)

    def tearDown(self):
        self.base.close()
        self.directory.cleanup()

    def seals(self):
        return [json.loads(body)["data"] for body, in
                self.base.execute("SELECT body FROM record WHERE kind = 'seal' ORDER BY seq")]

    def test_s1_s2_file_is_what_the_page_says(self):
        text = PAGE.read_text()
        application, = self.base.execute("PRAGMA application_id").fetchone()
        version, = self.base.execute("PRAGMA user_version").fetchone()
        self.assertIn(f"is {application} (", text)
        self.assertEqual(version, 1)
        parts = self.base.execute("SELECT type, name FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' "
                                  "ORDER BY name").fetchall()
        self.assertEqual(parts, [("table", "cache"), ("table", "reading"), ("table", "record"),
                                 ("index", "record_kind")])
        for table in ("reading", "record", "cache"):
            columns = [row[1] for row in self.base.execute(f"PRAGMA table_info({table})")]
            named = re.search(rf"^    {table}\((.*?)\)( WITHOUT ROWID)?( +--.*)?$", text, re.M).group(1)
            self.assertEqual(columns, [part.split()[0] for part in named.split(", ")][:len(columns)])

    def test_s3_s4_s6_records_chain(self):
        before, last_ms, count = bytes(32), None, 0
        for seq, at_ms, kind, body, stored in self.base.execute(
                "SELECT seq, at_ms, kind, body, hash FROM record ORDER BY seq"):
            count += 1
            self.assertEqual(seq, count)
            self.assertTrue(last_ms is None or at_ms >= last_ms)
            said = json.loads(body)
            self.assertEqual((said["seq"], said["at_ms"], said["kind"]), (seq, at_ms, kind))
            # RFC 8785 for what records hold: ASCII keys, integers.
            self.assertEqual(json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False), body)
            self.assertEqual(hashlib.sha256(before + body.encode()).digest(), stored)
            before, last_ms = stored, at_ms
        self.assertGreaterEqual(count, 6)

    def test_s5_readings_are_valid(self):
        for probe, at_ms, temp_mC, quality in self.base.execute("SELECT * FROM reading"):
            self.assertTrue(1 <= probe <= 65535 and abs(at_ms) < 2 ** 53 and 0 <= quality <= 299)
            self.assertEqual(temp_mC is None, quality >= 200)

    def test_s7_s8_seals_fix_every_reading_once(self):
        seals = self.seals()
        self.assertGreaterEqual(len(seals), 2)
        first, = self.base.execute("SELECT min(at_ms) FROM reading").fetchone()
        expected_from = first - 1
        for seal in seals:
            self.assertEqual(seal["from_ms"], expected_from)
            rows = self.base.execute("SELECT at_ms, probe, temp_mC, quality FROM reading WHERE at_ms > ? AND "
                                     "at_ms <= ? ORDER BY at_ms, probe", (seal["from_ms"], seal["to_ms"])).fetchall()
            lines = "".join(f"{at_ms},{probe},{'' if temp is None else temp},{quality}\n"
                            for at_ms, probe, temp, quality in rows)
            self.assertEqual(seal["count"], len(rows))
            self.assertEqual(seal["digest"], hashlib.sha256(lines.encode()).hexdigest())
            expected_from = seal["to_ms"]

    def test_s16_modes_and_files_after_a_clean_end(self):
        for name in ("trivet.db", "trivet.db-wal", "trivet.db-shm", "lock"):
            self.assertEqual(stat.S_IMODE((self.store / name).stat().st_mode), 0o640, name)

    def run_page(self):
        self.base.close()
        shutil.rmtree(self.store / "copy", ignore_errors=True)
        done = subprocess.run(["sh", "-eu", "-c", "\n".join(shell_lines())], cwd=self.store, check=True,
                              stdout=subprocess.PIPE, text=True)
        return done.stdout.splitlines()

    def test_the_pages_shell_lines_find_chain_and_seals_whole(self):
        head, = self.base.execute("SELECT hex(hash) FROM record ORDER BY seq DESC LIMIT 1").fetchone()
        seals = len(self.seals())
        self.assertEqual(self.run_page(), [f"head {head.lower()}", f"seals {seals}"])

    def test_the_pages_shell_lines_find_a_change(self):
        head, = self.base.execute("SELECT hex(hash) FROM record ORDER BY seq DESC LIMIT 1").fetchone()
        self.base.close()
        change = sqlite3.connect(self.store / "trivet.db")
        change.execute("UPDATE reading SET temp_mC = 1 WHERE at_ms = 13000 AND probe = 1")
        change.execute("UPDATE record SET body = replace(body, 'planned', 'Planned') WHERE seq = 3")
        change.commit()
        change.close()
        self.assertEqual(self.run_page(), ["record 3 does not follow", f"head {head.lower()}",
                                           "seal 4 does not fit", "seals 2"])


if __name__ == "__main__":
    unittest.main()
