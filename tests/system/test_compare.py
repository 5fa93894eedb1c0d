"""`trivet compare` on the demo's simulated days: every column of the table as text, CSV and image against the readings themselves.

What is expected is counted here from the rows of the database. A cell is read back from each form into the same figures,
so one list of what has to be right serves all three."""
import csv
import io
import re
import statistics
import unittest
import xml.etree.ElementTree

import days
import rig

SVG = "{http://www.w3.org/2000/svg}"
NOTE = 'Fat left on, "thick end" to the door; a bit < 2.4 kg after trimming & tying.'
LATEST = 5  # roasts in the five days

# How far a cell may be from what is counted here: readings come every five seconds and are taken together by ten.
HEAT = {"mass_g": 0.5, "start_C": 0.1, "oven_C": 1, "reached_s": 15, "out_C": 0.7, "rate": 0.06, "peak_C": 0.15, "limit_C": 0.0005,
        "above_s": 60, "below_s": 60, "deviations": 0}
COLD = {"mass_g": 0.5, "start_C": 0.5, "air_C": 1, "clock_s": 15, "stage1_s": 20, "stage2_s": 20, "rate": 0.05, "lowest_C": 0.15,
        "deviations": 0}
ROUNDED = {"s": 31, "C": 0.051, "rate": 0.0051, "g": 50, "deviations": 0}  # what text and image leave out beyond that


def said_in(root):
    return [e for e in root.iter(SVG + "g") if e.get("class") == "said"]


def seconds(text):
    if text in ("-", "", "never"):
        return None
    hours, minutes = text.split(":")
    return 60 * (60 * int(hours) + int(minutes))


def number(text):
    return None if text in ("-", "") else float(text)


def grams(text):
    return 1000 * float(text.removesuffix(" kg"))


def said(text):
    """The middle and the range of "1:49 (1:40 to 2:04)"."""
    match = re.fullmatch(r"(\S+) \((\S+) to (\S+)\)", text)
    return tuple(map(seconds, match.groups())) if match else None


class Compare(days.Days):
    asked = {}  # the records do not change

    def compare(self, *words):
        if words not in self.asked:
            self.asked[words] = self.compare_anew(*words)
        return self.asked[words]

    def compare_anew(self, *words):
        done = self.kitchen.trivet("--store", self.kitchen.store, "compare", *words)
        self.assertEqual(done.code, rig.DONE, done.err)
        return done.out

    def image(self, *words):
        path = self.kitchen.directory / "-".join(["compared", *words, ".svg"])
        self.assertIn("Written", self.compare(*words, "--as", "svg", "--out", path))
        return xml.etree.ElementTree.parse(path).getroot()

    def opened(self, batch):
        return sum(1 for one in self.kitchen.decisions(decision="deviation-opened") if one.get("batch") == batch)

    # ---- what is expected ----

    def slope_K_min(self, core, until, over_s):
        """Least squares through the readings of the last minutes."""
        part = [(at / 60, temp / 1000) for at, temp in core if until - over_s <= at <= until]
        middle, mean = statistics.fmean(at for at, _ in part), statistics.fmean(temp for _, temp in part)
        return sum((at - middle) * (temp - mean) for at, temp in part) / sum((at - middle) ** 2 for at, _ in part)

    def expected_heat(self):
        found = {}
        for batch, (put_in, out) in sorted(self.roasts().items())[-LATEST:]:
            core = self.core(put_in, self.served(batch))
            mass, = (one["data"]["mass_g"] for one in self.kitchen.records("begin") if one["data"]["batch"] == batch)
            spans = [(temp, after - at) for (at, temp), (after, _) in zip(core, core[1:])]
            found[batch] = {
                "mass_g": mass, "start_C": core[0][1] / 1000, "oven_C": statistics.fmean(self.air(put_in, out)),
                "reached_s": next(at for at, temp in core if temp >= days.LIMIT_MC),
                "out_C": [temp for at, temp in core if at <= (out - put_in) / 1000][-1] / 1000,
                "rate": self.slope_K_min(core, (out - put_in) / 1000, 180), "peak_C": max(temp for _, temp in core) / 1000,
                "limit_C": days.LIMIT_MC / 1000, "above_s": sum(span for temp, span in spans if temp >= days.LIMIT_MC),
                "below_s": sum(span for temp, span in spans if temp < days.LIMIT_MC), "deviations": self.opened(batch)}
        return found

    def coolings(self, product):
        """{batch: (begun, over)} of a product's cooling steps, from the decisions; the past cools in the chiller."""
        begins = {one["data"]["batch"] for one in self.kitchen.records("begin") if one["data"]["product"] == product}
        found, begun = {}, {}
        for body in self.kitchen.records("decision"):
            data = body["data"]
            batch = data.get("batch")
            if batch not in begins:
                continue
            if data["decision"] in ("step-begun", "batch-ended") and batch in begun:
                found[batch] = (begun.pop(batch), body["at_ms"])
            if data["decision"] == "step-begun" and data.get("step") == "cool":
                begun[batch] = body["at_ms"]
        return found

    def rows_of(self, probe, begun, over):
        at, = self.numbers(probe)
        return [((when - begun) / 1000, temp / 1000) for when, temp in self.kitchen.query(
            f"SELECT at_ms, temp_mC FROM reading WHERE probe = {at} AND quality = 0 AND at_ms >= {begun} AND at_ms < {over}")]

    def expected_cold(self):
        found = {}
        for batch, (begun, over) in sorted(self.coolings("lentil-filling").items())[-LATEST:]:
            core = self.rows_of("filling-core", begun, over)
            first_above = next(at for at, temp in core if temp > 57)
            falls = next(at for at, temp in core if temp <= 57 and at > first_above)
            clock = max(at for at, temp in core if temp > 57 and at < falls)  # the last reading above
            stage = [next((at - clock for at, temp in core if at >= clock and temp <= to), None) for to in (21, 5)]
            mass, = (one["data"]["mass_g"] for one in self.kitchen.records("begin") if one["data"]["batch"] == batch)
            found[batch] = {
                "mass_g": mass, "start_C": core[0][1], "air_C": statistics.fmean(t for _, t in self.rows_of("chiller-air", begun, over)),
                "clock_s": clock, "stage1_s": stage[0], "stage2_s": stage[1], "rate": (57 - 21) * 60 / stage[0],
                "lowest_C": min(temp for _, temp in core), "deviations": self.opened(batch)}
        return found

    # ---- the three forms, read back into the same figures ----

    def heat_csv(self):
        rows = csv.DictReader(io.StringIO(self.compare("pork-loin", "--as", "csv")))
        return {int(row["batch"]): {
            "mass_g": float(row["mass_g"]), "start_C": float(row["start_degC"]), "oven_C": float(row["mean_oven_degC"]),
            "reached_s": float(row["to_limit_s"]), "out_C": float(row["taken_out_degC"]), "rate": float(row["rate_K_min"]),
            "peak_C": float(row["peak_degC"]), "limit_C": float(row["limit_degC"]), "above_s": float(row["above_limit_s"]),
            "below_s": float(row["below_limit_s"]), "deviations": int(row["deviations"]), "notes": row["notes"],
            "said": tuple(float(row[f"forecast_{which}_s"]) for which in ("p50", "p05", "p95")), "took_s": float(row["to_limit_s"])}
            for row in rows}

    def heat_text(self):
        text = self.compare("pork-loin")
        self.assertTrue(all(len(line) <= 80 for line in text.splitlines()), text)
        self.assertIn("Only measurements decide", text)
        found = {}
        for cells in re.findall(r"(?m)^ +(\d+)  \S+ \S+  (\S+ kg) +(\S+) +(\S+) +(\S+) +(\S+) +(\S+) +(\S+)$", text):
            found[int(cells[0])] = {"mass_g": grams(cells[1]), "start_C": number(cells[2]), "oven_C": number(cells[3]),
                                    "reached_s": seconds(cells[4]), "out_C": number(cells[5]), "rate": number(cells[6]),
                                    "peak_C": number(cells[7])}
        for cells in re.findall(r"(?m)^ +(\d+) +(\d+\.\d) +(\S+) +(\S+) +(\d+)  (\S+ \(\S+ to \S+\)) +(\S+)$", text):
            found[int(cells[0])].update(limit_C=number(cells[1]), above_s=seconds(cells[2]), below_s=seconds(cells[3]),
                                        deviations=int(cells[4]), said=said(cells[5]), took_s=seconds(cells[6]))
        flat = " ".join(text.split())
        notes = re.findall(r"#(\d+): (.*?)(?= #\d+: | A forecast advises)", flat[flat.rindex("Core in °C"):])
        for batch in found:
            found[batch]["notes"] = dict(notes).get(str(batch), "")
        return found

    @staticmethod
    def cells(root):
        """{batch: {class: text}, or of stages a list} of the table below the curves."""
        found = {}
        for row in root.iter(SVG + "g"):
            if row.get("class") == "row":
                cells = found.setdefault(int(row.get("data-batch")), {"stage": [], "note": ""})
                for cell in row:
                    if cell.get("class") == "stage":
                        cells["stage"].append(cell.text)
                    else:
                        cells[cell.get("class")] = cell.text
        for line in root.iter(SVG + "text"):
            if line.get("class") == "note":
                found[int(line.get("data-batch"))]["note"] += line.text
        return found

    def heat_image(self):
        return {batch: {
            "mass_g": grams(row["size"]), "start_C": number(row["start"]), "oven_C": number(row["mean-oven"]),
            "reached_s": seconds(row["to-limit"]), "out_C": number(row["taken-out"]), "rate": number(row["rate"]),
            "peak_C": number(row["peak"]), "limit_C": number(row["limit"]), "above_s": seconds(row["above"]),
            "below_s": seconds(row["below"]), "deviations": int(row["deviations"]), "said": said(row["said"]),
            "took_s": seconds(row["took"]), "notes": row["note"].removeprefix(f"#{batch}: ")}
            for batch, row in self.cells(self.image("pork-loin")).items()}

    def check(self, found, expected, tolerances, rounded):
        self.assertEqual(sorted(found), sorted(expected))
        for batch, wanted in expected.items():
            for key, tolerance in tolerances.items():
                more = ROUNDED[key.rsplit("_", 1)[-1]] if rounded else 0
                with self.subTest(batch=batch, column=key):
                    if wanted[key] is None:
                        self.assertIsNone(found[batch][key])
                    else:
                        self.assertAlmostEqual(found[batch][key], wanted[key], delta=tolerance + more)

    def check_heat(self, found, rounded=True):
        self.check(found, self.expected_heat(), HEAT, rounded)
        for batch, row in found.items():
            noted = "; ".join(one["data"]["text"] for one in self.kitchen.records("note", "end")
                              if one["data"].get("batch") == batch and one["data"].get("text"))
            self.assertEqual(row["notes"], noted)
            self.assertEqual(row["took_s"], row["reached_s"])
        self.assertIn(NOTE, [row["notes"] for row in found.values()])

    # ---- heating ----

    def test_csv_says_what_the_readings_say(self):
        self.check_heat(self.heat_csv(), rounded=False)

    def test_text_says_what_the_readings_say(self):
        self.check_heat(self.heat_text())

    def test_image_says_what_the_readings_say(self):
        self.check_heat(self.heat_image())

    def test_forecast_made_half_way_is_that_of_the_readings_until_then(self):
        """Told once more by `trivet forecast`, from a trace that ends there; and the same in all three forms."""
        rows = {int(row["batch"]): row for row in csv.DictReader(io.StringIO(self.compare("pork-loin", "--as", "csv")))}
        forms = self.heat_csv(), self.heat_text(), self.heat_image()
        oven, = self.numbers("oven-air")
        for batch, (put_in, out) in sorted(self.roasts().items())[-LATEST:]:
            core = self.core(put_in, out)
            half = next(at for at, temp in core if temp >= days.LIMIT_MC) / 2
            self.assertAlmostEqual(float(rows[batch]["forecast_at_s"]), half, delta=30)
            air = dict(self.kitchen.query(f"SELECT (at_ms - {put_in}) / 5000, temp_mC / 1000.0 FROM reading WHERE probe = {oven} AND "
                                          f"quality = 0 AND at_ms >= {put_in} AND at_ms <= {put_in + 1000 * half}"))
            trace = self.kitchen.directory / "half.csv"
            trace.write_text("time_s,core_degC,air_degC,event\n" + "".join(
                f"{at:.1f},{temp / 1000:.3f},{air.get(int(at // 5), '')},\n" for at, temp in core if at <= half), encoding="ascii")
            told = self.kitchen.trivet("forecast", "--target", days.LIMIT_MC / 1000, trace).rows[-1]
            self.assertAlmostEqual(float(told["time_s"]), half, delta=65)
            again = [float(told["time_s"]) + float(told[f"eta_s_{which}"]) for which in ("p50", "p05", "p95")]
            for form, more_s in zip(forms, (0, 31, 31)):
                for mine, theirs in zip(form[batch]["said"], again):
                    with self.subTest(batch=batch, form=forms.index(form)):
                        self.assertAlmostEqual(mine, theirs, delta=0.05 * theirs + more_s)
                middle, early, late = form[batch]["said"]
                self.assertTrue(early < middle < late)

    def check_curves(self, curves):
        """{batch: [(seconds from put-in, °C)]} against the readings, all along."""
        roasts = self.roasts()
        for batch, curve in curves.items():
            put_in, out = roasts[batch]
            core = self.core(put_in, out)
            for at, temp in core[::120]:
                with self.subTest(batch=batch, at=at):
                    self.assertAlmostEqual(self.between(curve, at), temp / 1000, delta=1.0)

    @staticmethod
    def between(curve, at):
        """On straight lines between the points of a curve."""
        before = max((point for point in curve if point[0] <= at), default=curve[0])
        after = min((point for point in curve if point[0] >= at), default=curve[-1])
        share = (at - before[0]) / (after[0] - before[0]) if after[0] > before[0] else 0
        return before[1] + share * (after[1] - before[1])

    def test_curves_are_aligned_at_put_in_as_csv(self):
        rows = list(csv.DictReader(io.StringIO(self.compare("pork-loin", "--as", "curves", "--last", 2))))
        self.check_curves({batch: [(float(row["time_s"]), float(row[f"core_{batch}_degC"])) for row in rows if row[f"core_{batch}_degC"]]
                           for batch in sorted(self.roasts())[-2:]})

    def test_curves_are_aligned_at_put_in_as_text(self):
        text = self.compare("pork-loin")
        text = text[text.index("Core in °C, from put-in on"):]
        batches = [int(one) for one in re.findall(r"#(\d+)", re.search(r"(?m)^ after (.*)$", text)[1])]
        self.assertEqual(batches, sorted(self.roasts())[-LATEST:])
        rows = [line.split() for line in re.findall(r"(?m)^ +\d+:\d\d [ \d.-]+$", text)]
        self.assertGreater(len(rows), 8)
        self.check_curves({batch: [(seconds(row[0]), float(row[at + 1])) for row in rows if row[at + 1] != "-"]
                           for at, batch in enumerate(batches)})

    def test_curves_are_aligned_at_put_in_as_image(self):
        """Read back by the labels of its axes."""
        root = self.image("pork-loin")
        across, up = [], []
        for text in root.iter(SVG + "text"):
            if re.fullmatch(r"\d+:\d\d", text.text or "") and text.get("text-anchor") == "middle":
                across.append((float(text.get("x")), seconds(text.text)))
            elif re.fullmatch(r"-?\d+ °C", text.text or ""):
                up.append((float(text.get("y")) - 4, float(text.text.removesuffix(" °C"))))

        def scale(marks):
            (first, low), (last, high) = min(marks), max(marks)
            return lambda px: low + (px - first) * (high - low) / (last - first)

        at, degrees = scale(across), scale(up)
        lines = [e.get("d") for e in root.iter(SVG + "path") if e.get("fill") == "none" and len(e.get("d")) > 1000]
        self.assertEqual(len(lines), LATEST)
        self.check_curves({batch: [(at(float(x)), degrees(float(y))) for x, y in re.findall(r"[ML]([\d.]+) ([\d.]+)", line)]
                           for batch, line in zip(sorted(self.roasts())[-LATEST:], lines)})

    def test_image_is_whole_and_tells_lines_apart_without_colour(self):
        root = self.image("pork-loin")
        lines = [e for e in root.iter(SVG + "path") if e.get("fill") == "none"]
        self.assertEqual(len(lines), LATEST)
        self.assertEqual(len({e.get("stroke-dasharray") for e in lines}), len(lines))
        self.assertIsNotNone(root.find(SVG + "title"))
        # What was said half way beside what happened, for each.
        self.assertEqual(len(said_in(root)), len(lines))
        # Nothing is drawn or written below or beside the image.
        _, _, width, height = map(float, root.get("viewBox").split())
        for text in root.iter(SVG + "text"):
            self.assertTrue(0 <= float(text.get("x")) <= width and 0 <= float(text.get("y")) <= height, text.text)

    # ---- cooling ----

    def test_coolings_are_what_the_readings_say_in_all_forms(self):
        rows = list(csv.DictReader(io.StringIO(self.compare("lentil-filling", "--cooling", "--as", "csv"))))
        as_csv = {int(row["batch"]): {
            "mass_g": float(row["mass_g"]), "start_C": float(row["start_degC"]), "air_C": float(row["mean_air_degC"]),
            "clock_s": float(row["clock_s"]), "stage1_s": number(row["stage1_took_s"]), "stage2_s": number(row["stage2_took_s"]),
            "rate": float(row["rate_K_min"]), "lowest_C": float(row["lowest_degC"]), "deviations": int(row["deviations"])} for row in rows}
        self.check(as_csv, self.expected_cold(), COLD, rounded=False)
        image = {batch: {
            "mass_g": grams(row["size"]), "start_C": number(row["start"]), "air_C": number(row["mean-air"]),
            "clock_s": seconds(row["clock"]), "stage1_s": seconds(row["stage"][0]), "stage2_s": seconds(row["stage"][1]),
            "rate": number(row["rate"]), "lowest_C": number(row["lowest"]), "deviations": int(row["deviations"])}
            for batch, row in self.cells(self.image("lentil-filling", "--cooling")).items()}
        self.check(image, self.expected_cold(), COLD, rounded=True)
        text = {}
        told = self.compare("lentil-filling", "--cooling")
        for cells in re.findall(r"(?m)^ +(\d+)  \S+ \S+  (\S+ kg) +(\S+) +(\S+) +(\S+) +(\S+) +(\S+) +(\d+)$", told):
            text[int(cells[0])] = {"mass_g": grams(cells[1]), "start_C": number(cells[2]), "air_C": number(cells[3]),
                                   "clock_s": seconds(cells[4]), "rate": number(cells[5]), "lowest_C": number(cells[6]),
                                   "deviations": int(cells[7])}
        for cells in re.findall(r"(?m)^ +(\d+) +(\S+) +(\S+)  \S+ \(\S+ to \S+\) +\S+$", told):
            text[int(cells[0])].update(stage1_s=seconds(cells[1]), stage2_s=seconds(cells[2]))
        self.check(text, self.expected_cold(), COLD, rounded=True)

    def test_forecast_of_a_cooling_made_half_way_is_beside_what_happened(self):
        for row in csv.DictReader(io.StringIO(self.compare("lentil-filling", "--cooling", "--as", "csv"))):
            clock, reached = float(row["clock_s"]), float(row["reached_s"])
            self.assertAlmostEqual(float(row["forecast_at_s"]), clock + (reached - clock) / 2, delta=60)
            # From nothing later, and not far off in this simple kitchen.
            self.assertAlmostEqual(float(row["forecast_p50_s"]) / reached, 1, delta=0.3)

    def test_coolings_as_text_and_image(self):
        text = self.compare("lentil-filling", "--cooling")
        self.assertTrue(all(len(line) <= 80 for line in text.splitlines()), text)
        for told in ("to 21.0", "said half way", "Only measurements decide", "not getting colder"):
            self.assertIn(told, " ".join(text.split()))
        root = self.image("lentil-filling", "--cooling")
        self.assertGreaterEqual(len(said_in(root)), 3)
        self.assertIn("limit 21.0 °C", [e.text for e in root.iter(SVG + "text")])
        self.assertTrue(any("not getting colder" in row["note"] for row in self.cells(root).values()))

    def test_product_that_never_cooled_is_refused(self):
        done = self.kitchen.trivet("--store", self.kitchen.store, "compare", "chicken-stock")
        self.assertEqual(done.code, rig.NO)
        self.assertIn("in the cold", done.err)

    def test_records_nothing(self):
        before = self.kitchen.query("SELECT count(*), max(seq) FROM record")
        self.compare_anew("pork-loin", "--last", 1)
        self.assertEqual(self.kitchen.query("SELECT count(*), max(seq) FROM record"), before)


if __name__ == "__main__":
    unittest.main(verbosity=1)
