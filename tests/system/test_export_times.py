"""The local times of exports against Python's zoneinfo, a reader of the system's zone files that is none of ours: around
every change of the clocks of zones that change in odd ways, and at odd instants between them."""
import datetime
import json
import random
import sqlite3
import unittest
import zoneinfo

import rig

# London changes at 1:00 UTC; St John's half an hour off; Lord Howe changes by half an hour; Casablanca has its summer
# time in winter; Nuuk changed its whole zone in 2023; Kathmandu never changes; Troll by two hours.
ZONES = ("Europe/London", "America/St_Johns", "Australia/Lord_Howe", "Africa/Casablanca", "America/Nuuk", "Asia/Kathmandu",
         "Antarctica/Troll", "America/New_York")
FROM = datetime.datetime(2015, 1, 1, tzinfo=datetime.timezone.utc)
DAYS = 16 * 365
RANDOM_SEED = 20260329


def changes_ms(zone):
    """The instants at which the zone's distance from UTC changes, to the millisecond, found by halving."""
    def offset(ms):
        return datetime.datetime.fromtimestamp(ms / 1000, zone).utcoffset()
    found, step = [], 86400000
    start = int(FROM.timestamp() * 1000)
    for low in range(start, start + DAYS * step, step):
        high = low + step
        if offset(low) == offset(high):
            continue
        while high - low > 1:
            middle = (low + high) // 2
            if offset(middle) == offset(low):
                low = middle
            else:
                high = middle
        found.append(high)
    return found


class ExportTimes(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)
        port, peer = self.kitchen.tcp_peer([1])
        peer.set(1, 0, 30, 200)
        self.kitchen.write_plan(rig.small_plan(port))
        self.kitchen.start()
        self.kitchen.await_readings(4)
        for words in (("begin", "soup", "--step", "cool"), ("cooked", "1", "2 min ago"), ("next", "1"), ("note", "seen", "--batch", "1"),
                      ("end", "1", "served")):
            answer = self.kitchen.trivet(*words, "--who", "AB")
            self.assertEqual(answer.code, rig.DONE, answer)
        self.kitchen.stop()
        self.kitchen.daemon = None  # the records are read as they lie

    def rewrite(self, zone, instants):
        """Puts the site elsewhere and readings of its past in. An export does not verify: that is `trivet chain`."""
        base = sqlite3.connect(self.kitchen.store / "trivet.db")
        with base:
            base.execute("DELETE FROM reading")
            base.executemany("INSERT INTO reading VALUES (1, ?, 3000, 0)", [(ms,) for ms in instants])
            (seq, body), = base.execute("SELECT seq, body FROM record WHERE kind = 'plan'").fetchall()
            body = json.loads(body)
            text = body["data"]["text"]
            body["data"]["text"] = text.replace(text.split("time_zone: ")[1].split("}")[0], zone)
            base.execute("UPDATE record SET body = ? WHERE seq = ?",
                         (json.dumps(body, separators=(",", ":"), sort_keys=True, ensure_ascii=False), seq))
        base.close()

    def test_local_times_are_those_of_an_independent_reader_of_zones(self):
        chance = random.Random(RANDOM_SEED)
        start = int(FROM.timestamp() * 1000)
        for name in ZONES:
            zone = zoneinfo.ZoneInfo(name)
            changes = changes_ms(zone)
            self.assertTrue(changes or name == "Asia/Kathmandu", name)
            instants = {ms + around for ms in changes for around in (-3600000, -1, 0, 1, 1799999, 1800000, 3599999, 3600000)}
            instants |= {start + chance.randrange(DAYS * 86400000) for _ in range(500)}
            self.rewrite(name, sorted(instants))
            answer = self.kitchen.trivet("export", "readings", "--from", "2014-12-01", "--to", "2031-12-31")
            self.assertEqual(answer.code, rig.DONE, answer)
            rows = [row for row in answer.rows if int(row["at_ms"]) in instants]
            self.assertEqual([int(row["at_ms"]) for row in rows], sorted(instants))
            for row in rows:
                utc = FROM + datetime.timedelta(milliseconds=int(row["at_ms"]) - start)
                self.assertEqual(row["time_utc"], utc.isoformat(timespec="milliseconds").replace("+00:00", "Z"))
                self.assertEqual(row["time_local"], utc.astimezone(zone).isoformat(timespec="milliseconds"), name)

    def test_every_table_has_a_local_twin_for_each_time(self):
        zone = zoneinfo.ZoneInfo("Europe/London")
        for what in ("readings", "batches", "deviations", "actions", "entries", "decisions", "people", "calibrations",
                     "switches", "records"):
            answer = self.kitchen.trivet("export", what)
            self.assertEqual(answer.code, rig.DONE, answer)
            names = answer.out.splitlines()[0].split(",")
            times = [name[:-len("_utc")] for name in names if name.endswith("_utc")]
            self.assertTrue(times, what)
            self.assertEqual(names[-len(times):], [name + "_local" for name in times], what)
            for row in answer.rows:
                for name in times:
                    utc = row[name + "_utc"]
                    local = utc and datetime.datetime.fromisoformat(utc).astimezone(zone).isoformat(timespec="milliseconds")
                    self.assertEqual(row[name + "_local"], local, what)
        seq = self.kitchen.records("plan")[0]["seq"]
        why = self.kitchen.trivet("why", seq, "--json").json[0]
        self.assertEqual(datetime.datetime.fromisoformat(why["time_utc"]).astimezone(zone).isoformat(timespec="milliseconds"),
                         why["time_local"])


if __name__ == "__main__":
    unittest.main(verbosity=1)
