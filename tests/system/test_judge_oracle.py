"""`trivet judge` against a second judge: what the published words and the rules of docs/engine.md ask of a trace, worked out
here once more, simply and with the whole trace at hand, and compared on random traces: same verdict, same deciding time.

The second judge knows nothing of the engine: no state, no due times, one loop over the readings for each kind of limit. The
traces wander around the limits, stand exactly at them and a thousandth of a degree beside, miss readings, and have gaps of
exactly the largest spacing and a millisecond more. They change no faster than food can, so that every reading is believed
(E40). The limits are short ones of a profile made here, so that a trace meets many boundaries, and published ones, whose
figures stand below with their sources.

The seed is shown when a trace is judged differently (TRIVET_SEED). TRIVET_ROUNDS lengthens the campaign.
"""
import collections
import fractions
import os
import pathlib
import random
import tempfile
import unittest

from judging import judge

SEED = int(os.environ.get("TRIVET_SEED", "20261130"))
ROUNDS = int(os.environ.get("TRIVET_ROUNDS", "30"))  # traces of each kind of limit
SILENT_MS = 300000  # silent_for of docs/plan.md
REST_MS = 300000    # the 5 minutes of E146
MINUTE = 60000
HOUR = 60 * MINUTE
MET, NOT_MET, UNKNOWN = "met", "not met", "inconclusive"

# Limits made for the test: name, as a profile writes it.
SHORT = {
    "cook": "kind: cook, applies_to: food, at_least: 63 °C, for: 100 s",
    "cook-f": "kind: cook, applies_to: food, at_least: 155 °F, for: 60 s",
    "table": "kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 5 min}, {at_least: 61 °C, for: 2 min}, "
             "{at_least: 62 °C, for: 30 s}, {at_least: 64 °C, for: 0 s}]",
    "come-up": "kind: cook, applies_to: food, at_least: 64 °C, for: 30 s, come_up_from: 60 °C, come_up_to: 62 °C, come_up_within: 5 min",
    "reheat": "kind: reheat, applies_to: food, at_least: 74 °C, for: 60 s, within: 10 min",
    "reheat-from": "kind: reheat, applies_to: food, at_least: 57 °C, for: 30 s, within: 10 min, rise_from: 55 °C",
    "reheat-stand": "kind: reheat, applies_to: food, at_least: 57 °C, for: 0 s, within: 10 min, rise_from: 55 °C, stand: 2 min",
    "cool": "kind: cool, applies_to: food, from: 57 °C, stages: [{to: 55 °C, within: 10 min}, {to: 53 °C, within: 20 min}]",
    "cool-own": "kind: cool, applies_to: food, from: 57 °C, stages: [{to: 55 °C, within: 10 min}, "
                "{to: 53 °C, within: 14 min}, {to: 52 °C, within: 6 min, counts_from: stage_before}]",
    "chill": "kind: cool, applies_to: food, clock: step, from: 57 °C, start_within: 4 min, stages: [{to: 55 °C, within: 10 min}, "
             "{to: 53 °C, within: 8 min, counts_from: stage_before}]",
    "hot": "kind: hold_hot, applies_to: food, at_least: 57 °C",
    "hot-above": "kind: hold_hot, applies_to: food, at_least: 63 °C, strict: yes, tolerance: 5 min, back_for: 1 min",
    "cold": "kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 4 min, back_for: 90 s",
    "frozen": "kind: hold_cold, applies_to: food, at_most: -18 °C, tolerance: 4 min, back_for: 2 min, never_above: -15 °C",
    "once-cold": "kind: hold_cold, applies_to: food, at_most: 8 °C, one_period: 6 min, time_strict: yes, back_for: 90 s",
    "once-hot": "kind: hold_hot, applies_to: food, at_least: 60 °C, one_period: 6 min, back_for: 90 s",
    "time": "kind: time_control, applies_to: food, left_at_most: 5 °C, within: 20 min, never_above: 6 °C",
    "time-hot": "kind: time_control, applies_to: food, left_at_least: 57 °C, within: 20 min, time_strict: yes",
    "between": "kind: danger_zone, applies_to: food, cold_at_most: 25 °C, hot_at_least: 40 °C, within: 10 min",
    "between-both": "kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: 10 min, strict: yes",
    "between-less": "kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 60 °C, within: 10 min, time_strict: yes",
}

# °C, s: FDA Food Code 2022, 3-401.11(B)(1).
ROAST = ((54.4, 6720), (55.0, 5340), (57.2, 2160), (57.8, 1680), (60.0, 720), (61.1, 480), (62.2, 300), (62.8, 240), (65.0, 85),
         (66.1, 54), (68.3, 22), (69.4, 14), (70.0, 0))

# rule, from, its stages (to, within, whether it counts from the stage before), source; in thousandths and milliseconds.
COOLINGS = (
    ("food-code-2022/cooling", 57000, ((21000, 2 * HOUR, False), (5000, 6 * HOUR, False)), "FDA Food Code 2022, 3-501.14(A)"),
    ("australia-3.2.2/cooling", 60000, ((21000, 2 * HOUR, False), (5000, 4 * HOUR, True)), "FSANZ Standard 3.2.2 clause 7(3)"),
    ("canada-2016/cooling", 60000, ((20000, 2 * HOUR, False), (4000, 4 * HOUR, True)), "Food Retail and Food Services Code 2016"),
    ("fsis-appendix-b-1999/option-1", 54444, ((26667, 90 * MINUTE, False), (4444, 5 * HOUR, True)),
     "USDA FSIS Appendix B (June 1999), item 1: 130 to 80 °F in 90 min, on to 40 °F in 5 h"),
)


# ---- a trace: (ms, thousandths of a degree Celsius or None) ----

def spacing(rows):
    """Three times the median distance of the lines, of two middle ones the shorter (docs/limits.md)."""
    apart = sorted(b[0] - a[0] for a, b in zip(rows, rows[1:]))
    return 3 * apart[(len(apart) - 1) // 2]


def good(rows):
    return [(t, c) for t, c in rows if c is not None]


def is_silent(rows):
    """Missing for too long to say that a limit was held: in between, at the beginning or at the end (E55)."""
    times = [rows[0][0]] + [t for t, _ in good(rows)]
    return any(b - a > SILENT_MS for a, b in zip(times, times[1:])) or rows[-1][0] - times[-1] >= SILENT_MS


# ---- heat ----

def held_at(rows, at, hold, apart):
    """When it had been at least at a temperature for the time, unbroken; None."""
    since = before = None
    for t, c in good(rows):
        if before is None or t - before > apart or c < at:
            since = None
        if c >= at:
            since = t if since is None else since
            if t - since >= hold:
                return t
        before = t
    return None


def any_row(rows, table):
    """Any one row, unbroken; no interpolation, no adding up (E17)."""
    if not good(rows):
        return UNKNOWN, None
    times = [t for t in (held_at(rows, at, hold, spacing(rows)) for at, hold in table) if t is not None]
    return (MET, min(times)) if times else (NOT_MET, rows[-1][0])


def reheated(rows, at, hold, within, rise_from=None, stand=0):
    """The time to rise counts from the last reading at or below rise_from before it rises, else from the beginning."""
    begun = rows[0][0]
    for t, c in good(rows) if rise_from is not None else ():
        if c > rise_from:
            break
        begun = t
    else:
        if rise_from is not None and good(rows):
            return UNKNOWN, None  # it did not rise yet
    hot = held_at(rows, at, hold, spacing(rows))
    if hot is not None and hot <= begun + within:
        return (MET, hot + stand) if hot + stand <= rows[-1][0] else (UNKNOWN, None)
    return (NOT_MET, begun + within) if rows[-1][0] >= begun + within else (UNKNOWN, None)


def come_up(rows, at, hold, cold, hot, within):
    """The limit itself, and the time between the two temperatures until it is met."""
    apart, done = spacing(rows), held_at(rows, at, hold, spacing(rows))
    verdict = between([row for row in rows if done is None or row[0] <= done], cold, hot, within, apart=apart)
    if verdict[0] == NOT_MET:
        return verdict
    if done is None:
        return (NOT_MET, rows[-1][0]) if good(rows) else (UNKNOWN, None)
    return verdict


def added_up(rows, table):
    """Each stretch counts for the hottest row that its colder end reaches; a row of no time counts as all (E167, E168)."""
    total, before, apart = fractions.Fraction(0), None, spacing(rows)
    for t, c in good(rows):
        if any(hold == 0 and c >= at for at, hold in table):
            return MET, t
        if before is not None and t - before[0] <= apart:
            holds = [hold for at, hold in table if min(c, before[1]) >= at]
            total += fractions.Fraction(t - before[0], holds[-1]) if holds else 0
        if total >= 1:
            return MET, t
        before = t, c
    return (NOT_MET, rows[-1][0]) if good(rows) else (UNKNOWN, None)


def roasted(rows, airs, table, oven, out_at=None):
    """The oven at its temperature as the food goes in, with the first line, and until the table is met or the food is out of
    it; unseen for no longer than the spacing (E218 to E223)."""
    apart, end = spacing(rows), rows[-1][0]
    times = [t for t in (held_at(rows, at, hold, apart) for at, hold in table) if t is not None]
    done = min(times, default=None)
    until = min(t for t in (done, out_at, end) if t is not None)
    seen = [(t, c) for t, c in airs if c is not None and (t < until or t == until == end != done)]
    cold = next((t for t, c in seen if c < oven), None)
    if cold is not None:
        return NOT_MET, cold
    if done is None:
        return NOT_MET, end
    times = [rows[0][0], *[t for t, _ in seen], until]
    return (UNKNOWN, None) if any(b - a > apart for a, b in zip(times, times[1:])) else (MET, done)


# ---- cooling ----

def stages_from(begun, readings, stages, apart, end):
    """Each stage's deadline against the first reading that shows its temperature. Of a temperature first seen after a silence
    nobody knows since when: the next stage's own time counts from before it (E91), and is told when the food is seen again."""
    late, reached, counted, told = [], None, begun, 0
    for to, within, own in stages:
        if own and counted is None:
            return late, None
        due = (counted if own else begun) + within
        above, reached = begun, None
        for t, c in readings:
            if c <= to:
                reached = t
                break
            above = t
        if (reached is None and end >= due) or (reached is not None and reached > due):
            late.append(max(due, told))
        counted = None if reached is None else reached if reached - above <= apart else above
        told = reached or 0
    return late, reached


def cooled(rows, start, stages):
    """The clock starts with the last reading above the start before the first at or below it (E30, E31)."""
    end, begun, late = rows[-1][0], None, []
    for t, c in good(rows):
        if begun is not None and t - begun > SILENT_MS and t > begun + stages[0][1]:
            late.append(max(begun + stages[0][1], begun + SILENT_MS))  # seen hot and then dark: E33
        if c > start:
            begun = t
        elif begun is not None:
            break
    else:
        if begun is not None and end - begun >= max(SILENT_MS, stages[0][1]):
            late.append(max(begun + stages[0][1], begun + SILENT_MS))
        return (NOT_MET, min(late)) if late else (UNKNOWN, None)
    more, reached = stages_from(begun, [row for row in good(rows) if row[0] > begun], stages, spacing(rows), end)
    late += more
    if late:
        return NOT_MET, min(late)
    return (UNKNOWN, None) if reached is None else (MET, reached)


def cooled_since(rows, cooked, stages):
    """By the end of cooking that is told, of food that no reading shows hot; said with the first reading since (E36)."""
    since = [row for row in good(rows) if row[0] >= cooked]
    late, reached = stages_from(cooked, since, stages, spacing(rows), rows[-1][0])
    if late:
        return NOT_MET, max(min(late), since[0][0] if since else rows[-1][0])
    return (UNKNOWN, None) if reached is None else (MET, reached)


def chilled(rows, begun, cooked, start_within, stages):
    """From where the trace says that it begins, and begun soon enough after cooking (E92, E93)."""
    since = [row for row in good(rows) if row[0] >= begun]
    late, reached = stages_from(begun, since, stages, spacing(rows), rows[-1][0])
    if cooked is not None and begun - cooked > start_within:
        late.append(since[0][0] if since else rows[-1][0])
    if late:
        return NOT_MET, min(late)
    return (UNKNOWN, None) if reached is None or cooked is None else (MET, reached)


# ---- holding ----

def inside_run(since, before, t, apart):
    """Since when it is inside without a break."""
    return t if since is None or t - before > apart else since


def kept(rows, is_out, tolerance=0, back_for=300000, is_over=lambda c: False):
    """Time outside, from the first reading outside to the next inside, added up until it was inside for back_for (E20 to E24)."""
    counted, out_since, in_since, before = None, None, None, None
    for t, c in [*good(rows), (rows[-1][0], None)]:
        if out_since is not None and (out_since + tolerance - counted < t or (c is None and out_since + tolerance - counted <= t)):
            return NOT_MET, out_since + tolerance - counted
        if c is None:
            break
        if is_over(c):
            return NOT_MET, t
        if is_out(c):
            counted = counted or 0
            out_since, in_since = t if out_since is None else out_since, None
            if out_since + tolerance - counted <= t:
                return NOT_MET, out_since + tolerance - counted
        else:
            counted = counted if out_since is None else counted + t - out_since
            out_since, in_since = None, inside_run(in_since, before, t, spacing(rows))
            if counted is not None and t - in_since >= back_for:
                counted = None
        before = t
    return (UNKNOWN, None) if not good(rows) or is_silent(rows) or out_since is not None else (MET, None)


def out_once(rows, is_out, period, is_less_than, back_for):
    """One stretch, from when it was last seen inside; over after back_for inside, and none after it (E140 to E144)."""
    begun = last_in = in_since = before = None
    is_over, outside = False, False
    for t, c in good(rows):
        if outside and begun + period < t:
            return NOT_MET, begun + period
        if is_out(c):
            if is_over:
                return NOT_MET, t
            begun = begun if begun is not None else last_in if last_in is not None else rows[0][0]
            outside, in_since = True, None
            if t >= begun + period:
                return NOT_MET, t
        else:
            if outside and is_less_than and t == begun + period:
                return NOT_MET, t
            outside, last_in, in_since = False, t, inside_run(in_since, before, t, spacing(rows))
            is_over = is_over or (begun is not None and t - in_since >= back_for)
        before = t
    if outside and begun + period <= rows[-1][0]:
        return NOT_MET, begun + period
    return (UNKNOWN, None) if not good(rows) or is_silent(rows) or outside else (MET, None)


def uncontrolled(rows, is_well, within, is_less_than=False, is_over=None):
    """Left as it should, shown while the probe has its 5 minutes or by the first reading of a later one; gone in time."""
    begun, end, readings, late = rows[0][0], rows[-1][0], good(rows), []
    shown = any(is_well(c) and t <= begun + REST_MS for t, c in readings)
    if readings and readings[0][0] > begun + REST_MS:
        shown = is_well(readings[0][1])
    elif readings and not shown and end > begun + REST_MS and readings[0][0] - begun <= spacing(rows):
        late.append(begun + REST_MS)
    late += [t for t, c in readings if is_over and is_over(c)][:1]
    if end > begun + within or (is_less_than and end == begun + within):
        late.append(begun + within)
    if late:
        return NOT_MET, min(late)
    return (UNKNOWN, None) if not shown or (is_over and is_silent(rows)) else (MET, None)


def between(rows, cold, hot, within, *, both=False, is_less_than=False, apart=None):
    """Time from when it was last seen outside to when it is seen there again; dark after a reading in between counts as in
    between, other silence is counted apart and makes a question (E155 to E162)."""
    def side(c):
        return -1 if c < cold + (not both) else 1 if c > hot - (not both) else 0

    def is_too_long(time, where):
        return time > within or (time == within and (where == 0 or is_less_than))

    apart = apart or spacing(rows)
    certain, unseen, asked, at, last = 0, 0, False, rows[0][0], None
    for t, c in good(rows):
        now, passed = side(c), t - at
        if last == 0:
            if is_too_long(certain + passed, now):
                return NOT_MET, at + within - certain
            certain += passed
        elif passed > apart:
            unseen += passed
        elif now != last and not (last is None and now != 0):
            certain += passed
            if is_too_long(certain, now):
                return NOT_MET, t
        asked, at, last = asked or is_too_long(certain + unseen, now), t, now
    passed = rows[-1][0] - at
    if last == 0 and certain + passed >= within:
        return NOT_MET, at + within - certain
    certain, unseen = certain + passed * (last == 0), unseen + passed * (last != 0 and passed > apart)
    return (UNKNOWN, None) if not good(rows) or asked or is_too_long(certain + unseen, last) else (MET, None)


def earned_min(rows, reference, z):
    """Bigelow, trapezoidal rule between readings that are near enough (E100 to E102)."""
    readings, apart = good(rows), spacing(rows)
    return sum((b[0] - a[0]) * (10 ** ((a[1] / 1000 - reference) / z) + 10 ** ((b[1] / 1000 - reference) / z)) / 2
               for a, b in zip(readings, readings[1:]) if b[0] - a[0] <= apart) / 60000


# ---- random traces ----

def beside(random_, milli, edges, reach):
    """Often exactly at a limit that is near, or a thousandth beside it."""
    near = [edge for edge in edges if abs(edge - milli) < reach]
    return random_.choice(near) + random_.choice((-1, 0, 0, 1)) if near and random_.random() < 0.6 else round(milli)


def wander(random_, low, high, edges, lines=60, periods=(5000, 10000, 20000, 30000), step=300):
    """Back and forth between two temperatures."""
    period, t, rows = random_.choice(periods), 0, []
    step = min(step, period / 20)  # slower than 15 °C/min and smaller than 4 °C: food can do it
    core, drift = random_.uniform(low, high), random_.uniform(-step, step) / 2
    for _ in range(random_.randint(2, lines)):
        core = min(high, max(low, core + drift + random_.uniform(-step, step)))
        drift = -drift if random_.random() < 0.03 else drift
        rows.append((t, None if random_.random() < 0.08 else beside(random_, core, edges, 1.5 * step)))
        t += gap(random_, period)
    return rows


def gap(random_, period):
    """Mostly the period; exactly the largest spacing, a millisecond more, or much more."""
    chance = random_.random()
    if chance < 0.04:
        return period * random_.choice((2, 4, 5, 9, 12))
    return random_.choice((period // 2, 3 * period - 1, 3 * period, 3 * period + 1)) if chance < 0.1 else period


def fall(random_, start, stages, total_ms, periods):
    """From above the start down to the last stage, in about its time."""
    edges, low, period = (start, *[stage[0] for stage in stages]), stages[-1][0], random_.choice(periods)
    t, rows, core, usual = 0, [], start + random_.uniform(-300, 2500), (start - low) / total_ms
    rate = usual * random_.uniform(0.7, 1.6)
    while len(rows) < 3 or (core > low - 500 and len(rows) < 400 and random_.random() > 0.002):
        milli = beside(random_, core, edges, rate * period * 1.2) + (random_.choice((-800, 800)) if random_.random() < 0.02 else 0)
        rows.append((t, None if random_.random() < 0.05 else milli))
        passed = gap(random_, period)
        t, core = t + passed, core - rate * passed * random_.uniform(0, 2)
        rate = usual * random_.uniform(0.4, 3) if random_.random() < 0.03 else rate
    return rows


class Oracle(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.directory = tempfile.TemporaryDirectory(prefix="trivet-oracle-")
        for profile, unit in (("short", "°C"), ("short-f", "°F")):
            rules = "".join(f"  - {{id: {name}, name: {name}, scope: all, section: none, source: none, confidence: verified, "
                            f"limit: {{{limit}}}}}\n" for name, limit in SHORT.items() if unit in limit)
            pathlib.Path(cls.directory.name, f"{profile}.yaml").write_text(
                f"id: {profile}\nname: Short\nauthority: nobody\njurisdiction: nowhere\nedition: none\nforce: guidance\n"
                f"caution: Local codes and the authority prevail.\nrules:\n{rules}", encoding="utf-8")

    @classmethod
    def tearDownClass(cls):
        cls.directory.cleanup()

    def setUp(self):
        self.random = random.Random(f"{SEED} {self.id()}")
        self.seen = collections.Counter()

    def compare(self, how, rows, expected, events=(), airs=()):
        verdict, at = expected
        events, airs = dict(events), {t: f"{c / 1000:.3f}" for t, c in airs if c is not None}
        said = judge([(t / 1000, None if c is None else c / 1000, events.get(t, ""), airs.get(t, "")) for t, c in rows], *how)
        found = said["verdict"], None if at is None else round(said["time_s"] * 1000)
        self.assertEqual(found, (verdict, at), f"seed {SEED}, trace {sum(self.seen.values())}, {how}: {rows} {events}")
        self.seen[verdict] += 1
        return said

    def short(self, name, rows, expected, events=()):
        profile = "short" if "°C" in SHORT[name] else "short-f"
        return self.compare(("--profiles", self.directory.name, "--limit", f"{profile}/{name}"), rows, expected, events)

    def wandering(self, name, low, high, edges, expected, **how):
        for _ in range(ROUNDS):
            rows = wander(self.random, low, high, edges, **how)
            self.short(name, rows, expected(rows))

    def seen_all(self, *verdicts):
        """No campaign in which a verdict never comes up."""
        for verdict in verdicts:
            self.assertGreaterEqual(self.seen[verdict], max(1, ROUNDS // 20), f"{verdict}: {dict(self.seen)}, seed {SEED}")

    # ---- heat ----

    def test_cooking(self):
        self.wandering("cook", 62000, 64500, (63000,), lambda rows: any_row(rows, ((63000, 100000),)))
        self.wandering("cook-f", 67900, 68900, (68333,), lambda rows: any_row(rows, ((68333, 60000),)), step=100)
        self.seen_all(MET, NOT_MET)

    def test_cooking_from_a_start(self):
        for _ in range(ROUNDS):
            rows = wander(self.random, 62000, 64500, (63000,), periods=(5000, 10000, 20000))
            start = self.random.choice(rows[:-1])[0]
            judged = [row for row in rows if row[0] >= start]
            done = held_at(judged, 63000, 100000, spacing(rows))
            none = (NOT_MET, rows[-1][0]) if good(judged) else (UNKNOWN, None)
            self.short("cook", rows, none if done is None else (MET, done), {start: "start"})
        self.seen_all(MET, NOT_MET)

    def test_tables(self):
        table = ((60000, 5 * MINUTE), (61000, 2 * MINUTE), (62000, 30000), (64000, 0))
        self.wandering("table", 59500, 63500, (60000, 61000, 62000), lambda rows: any_row(rows, table), lines=90)
        published = [(round(at * 1000), hold * 1000) for at, hold in ROAST]
        for _ in range(ROUNDS):
            rows = wander(self.random, 54000, 63500, [at for at, _ in published], lines=300, periods=(10000, 20000), step=500)
            self.compare(("--limit", "food-code-2022/roast"), rows, any_row(rows, published))
        self.seen_all(MET, NOT_MET)

    def test_a_table_added_up(self):
        published = [(round(at * 1000), hold * 1000) for at, hold in ROAST]
        for _ in range(2 * ROUNDS):
            rows = wander(self.random, 57000, 70100, [at for at, _ in published], lines=150, step=500)
            self.compare(("--limit", "food-code-2022/roast", "--added-up"), rows, added_up(rows, published))
        self.seen_all(MET, NOT_MET)

    def test_roasts_and_their_oven(self):
        """163 °C in a convection oven under 4.5 kg (FDA Food Code 2022, 3-401.11(B)(2))."""
        published = [(round(at * 1000), hold * 1000) for at, hold in ROAST]
        for _ in range(2 * ROUNDS):
            rows = [(t, c or 66000) for t, c in wander(self.random, 66000, 69900, (), periods=(10000, 20000, 30000))]
            missing, dips = self.random.choice((0, 0, 0.05)), self.random.choice((0, 0, 0.03))
            airs = [(t, None if t and self.random.random() < missing else 162999 if self.random.random() < dips else
                     163000 + self.random.choice((0, self.random.randrange(2000)))) for t, _ in rows]
            out_at = self.random.choice((None, None, self.random.choice(rows[1:])[0]))
            expected = roasted(rows, airs, published, 163000, out_at)
            self.compare(("--limit", "food-code-2022/roast", "--oven", "convection", "--mass", "3kg"), rows, expected,
                         {} if out_at is None else {out_at: "end-of-cooking"}, airs)
        self.seen_all(MET, NOT_MET, UNKNOWN)

    def test_reheating(self):
        self.wandering("reheat", 72000, 75000, (74000,), lambda rows: reheated(rows, 74000, 60000, 10 * MINUTE))
        self.wandering("reheat-from", 54000, 58000, (55000, 57000), lambda rows: reheated(rows, 57000, 30000, 10 * MINUTE, 55000))
        self.wandering("reheat-stand", 54000, 58000, (55000, 57000),
                       lambda rows: reheated(rows, 57000, 0, 10 * MINUTE, 55000, 2 * MINUTE))
        self.seen_all(MET, NOT_MET, UNKNOWN)

    def test_coming_up(self):
        self.wandering("come-up", 59000, 65500, (60000, 62000, 64000),
                       lambda rows: come_up(rows, 64000, 30000, 60000, 62000, 5 * MINUTE), lines=100)
        self.seen_all(MET, NOT_MET)

    def test_equivalent_time(self):
        for _ in range(ROUNDS):
            rows = wander(self.random, 55000, 75000, (), lines=120, periods=(1000, 5000, 10000), step=900)
            reference, z, target = self.random.choice(((70, 7.5, 2), (70, 10, 5), (60, 5.5, 12), (65.5, 6.1, 3)))
            earned = earned_min(rows, reference, z)
            said = judge([(t / 1000, None if c is None else c / 1000) for t, c in rows], "--lethality", f"{reference}C,{z},{target}min")
            self.assertAlmostEqual(said["earned_min"], earned, delta=0.0002 + earned / 1000, msg=f"seed {SEED}: {rows}")
            if abs(earned - target) > target / 1000 and good(rows):
                self.assertEqual(said["verdict"], MET if earned > target else NOT_MET, f"seed {SEED}: {rows}")
            self.seen[said["verdict"]] += 1
        self.seen_all(MET, NOT_MET)

    # ---- cooling ----

    def test_cooling_in_stages(self):
        for name, stages in (("cool", ((55000, 10 * MINUTE, False), (53000, 20 * MINUTE, False))),
                             ("cool-own", ((55000, 10 * MINUTE, False), (53000, 14 * MINUTE, False), (52000, 6 * MINUTE, True)))):
            for _ in range(ROUNDS):
                rows = fall(self.random, 57000, stages, 20 * MINUTE, (10000, 20000, 30000, 60000))
                self.short(name, rows, cooled(rows, 57000, stages))
        self.seen_all(MET, NOT_MET, UNKNOWN)

    def test_published_coolings(self):
        for rule, start, stages, _ in COOLINGS:
            for _ in range(ROUNDS // 2):
                rows = fall(self.random, start, stages, 5 * HOUR, (60000, 120000))
                self.compare(("--limit", rule), rows, cooled(rows, start, stages))
        self.seen_all(MET, NOT_MET, UNKNOWN)

    def test_cooling_since_the_end_of_cooking(self):
        stages = ((55000, 10 * MINUTE, False), (53000, 20 * MINUTE, False))
        for _ in range(ROUNDS):
            rows = fall(self.random, 57000, stages, 20 * MINUTE, (10000, 20000, 30000, 60000))
            rows = [(t, None if c is not None and c > 57000 else c) for t, c in rows]
            cooked = self.random.choice(rows[:1 + len(rows) // 3])[0]
            self.short("cool", rows, cooled_since(rows, cooked, stages), {cooked: "end-of-cooking"})
        self.seen_all(MET, NOT_MET)

    def test_chilling(self):
        stages = ((55000, 10 * MINUTE, False), (53000, 8 * MINUTE, True))
        for _ in range(ROUNDS):
            rows = fall(self.random, 57000, stages, 20 * MINUTE, (10000, 20000, 30000, 60000))
            i = self.random.randrange(1 + len(rows) // 3)
            begun = rows[min(len(rows) - 1, i + self.random.choice((0, 1, 4, 12)))][0]
            events = {rows[i][0]: "end-of-cooking", begun: self.random.choice(("moved", "start"))}
            cooked = rows[i][0] if events[rows[i][0]] == "end-of-cooking" else None
            self.short("chill", rows, chilled(rows, begun, cooked, 4 * MINUTE, stages), events)
        self.seen_all(MET, NOT_MET, UNKNOWN)

    # ---- holding ----

    def test_holding(self):
        self.wandering("hot", 56990, 58500, (), lambda rows: kept(rows, lambda c: c < 57000), lines=30)
        self.seen_all(MET, NOT_MET)
        self.wandering("hot-above", 62000, 64500, (63000,), lambda rows: kept(rows, lambda c: c <= 63000, 5 * MINUTE, MINUTE), lines=80)
        self.wandering("cold", 3500, 6000, (5000,), lambda rows: kept(rows, lambda c: c > 5000, 4 * MINUTE, 90000), lines=80)
        self.wandering("frozen", -20000, -14995, (-18000, -15000),
                       lambda rows: kept(rows, lambda c: c > -18000, 4 * MINUTE, 2 * MINUTE, lambda c: c > -15000), lines=80)
        self.seen_all(MET, NOT_MET, UNKNOWN)

    def test_once_outside(self):
        self.wandering("once-cold", 6500, 9500, (8000,), lambda rows: out_once(rows, lambda c: c > 8000, 6 * MINUTE, True, 90000), lines=80)
        self.wandering("once-hot", 58500, 61500, (60000,), lambda rows: out_once(rows, lambda c: c < 60000, 6 * MINUTE, False, 90000),
                       lines=80)
        self.seen_all(MET, NOT_MET, UNKNOWN)

    def test_without_temperature_control(self):
        self.wandering("time", 4000, 6005, (5000, 6000),
                       lambda rows: uncontrolled(rows, lambda c: c <= 5000, 20 * MINUTE, is_over=lambda c: c > 6000))
        self.wandering("time-hot", 56000, 58000, (57000,),
                       lambda rows: uncontrolled(rows, lambda c: c >= 57000, 20 * MINUTE, is_less_than=True))
        self.seen_all(MET, NOT_MET, UNKNOWN)

    def test_between_cold_and_hot(self):
        self.wandering("between", 39000, 41500, (40000,), lambda rows: between(rows, 25000, 40000, 10 * MINUTE), lines=100)
        self.wandering("between-both", 59000, 61500, (60000,), lambda rows: between(rows, 5000, 60000, 10 * MINUTE, both=True), lines=100)
        self.wandering("between-less", 4000, 6000, (5000,), lambda rows: between(rows, 5000, 60000, 10 * MINUTE, is_less_than=True),
                       lines=100)
        self.seen_all(MET, NOT_MET, UNKNOWN)


if __name__ == "__main__":
    unittest.main(verbosity=1)
