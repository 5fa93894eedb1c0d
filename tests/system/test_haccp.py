"""The HACCP table: what the plan says is in it, what it does not say is missing, and the page is well formed.

The columns are those of the HACCP worksheet of Codex Alimentarius CXC 1-1969 (General Principles of Food Hygiene),
from memory: control points, hazards, critical limits, monitoring (what, how, when, who), corrective actions, verification
activities, records.
"""
import html.parser
import unittest

import rig

PLAN = rig.ROOT / "config/harbour-lane.yaml"


class Table(html.parser.HTMLParser):
    """Cells of the body's rows; every element has to be closed in order."""
    VOID = {"meta", "br"}

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.open, self.rows, self.heads, self.elements = [], [], [], set()
        self.feed(text)
        self.close()
        if self.open:
            raise AssertionError(f"never closed: {self.open}")

    def handle_starttag(self, tag, attrs):
        self.elements.add(tag)
        if tag in self.VOID:
            return
        self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_endtag(self, tag):
        if self.open.pop() != tag:
            raise AssertionError(f"</{tag}> closes another element")

    def handle_data(self, data):
        if self.open and ("td" in self.open or "th" in self.open):
            self.rows[-1][-1] += data


class Haccp(unittest.TestCase):
    def setUp(self):
        self.kitchen = rig.Kitchen()
        self.addCleanup(self.kitchen.close)

    def printed(self, *words):
        answer = self.kitchen.trivet("haccp", *words)
        self.assertEqual(answer.code, rig.DONE, answer.err)
        return answer.out

    def plan(self, *changes):
        text = PLAN.read_text(encoding="utf-8")
        for before, after in changes:
            self.assertIn(before, text)
            text = text.replace(before, after)
        path = self.kitchen.directory / "another.yaml"
        path.write_text(text, encoding="utf-8")
        return path

    def test_text_has_every_part_and_fits_80_columns(self):
        out = self.printed(PLAN)
        self.assertEqual([line for line in out.splitlines() if len(line) > 80], [])
        joined = " ".join(out.split())
        for part in ("HACCP plan: Harbour Lane Kitchen", "Limits approved by JO (Jun Okada, supervisor) on 2026-02-16",
                     "control point CCP 1 Cooking where Rolled pork loin: Roasting",
                     "hazard Bacteria rolled into the meat survive in its core",
                     "critical limit at least 63.0 °C for 3 min; oven (high humidity) at most 121.0 °C under 4500 g, at most "
                     "121.0 °C from 4500 g (food). Source: FDA Food Code 2022, 3-401.11(A)(2)",
                     "where Braised lentil filling: date mark", "where Whole-muscle beef steak: Searing",
                     "monitoring, what coldest core temperature", "how probes put into the food: roast-core-a",
                     "how often continuously: every 5 s", "who Trivet by itself",
                     "corrective action Cook on until the limit is met", "verification Probes checked in ice water",
                     "another person: JO, RS", "records Trivet's chained records", "DEMO DATA",
                     "Local food codes and the authority having jurisdiction prevail"):
            self.assertIn(part, joined)
        self.assertIn("eady to be picked: Door left open", joined)
        # A row for each limit of the plan: nine steps, the oven of one, a date mark and four places.
        self.assertEqual(out.count("\ncontrol point "), 15)

    def test_what_the_plan_does_not_say_is_missing(self):
        path = self.plan(("          hazard: Bacteria rolled into the meat survive in its core\n", ""),
                         ("draft: no", "draft: yes"))
        joined = " ".join(self.printed(path).split())
        self.assertIn("where Rolled pork loin: Roasting hazard MISSING (hazard:)", joined)
        self.assertIn("DRAFT: the limits of this plan may change", joined)
        self.assertNotIn("DRAFT", self.printed(PLAN))

    def test_oven_conditions_have_a_row_of_their_own(self):
        """FDA Food Code 2022, 3-401.11(B)(2): convection 163 °C under 4.5 kg, 121 °C from 4.5 kg."""
        by_hand = ("          kind: cook\n          applies_to: food\n          at_least: 63 °C\n          for: 3 min\n"
                   "          critical_control_point: CCP 1 Cooking\n          source: FDA Food Code 2022, 3-401.11(A)(2), "
                   "63 °C (145 °F) for 3 minutes\n")
        text = PLAN.read_text(encoding="utf-8")
        own = text[text.index("          # The kitchen keeps its steam oven"):text.index("      - id: rest\n")]
        named = "          profile: food-code-2022/roast\n"
        joined = " ".join(self.printed(self.plan((by_hand, named), (own, ""))).split())
        self.assertIn("if an oven is used (the plan says none: `oven:`): still dry under 4500 g at least 177.0 °C, still dry from "
                      "4500 g at least 121.0 °C, convection under 4500 g at least 163.0 °C, convection from 4500 g at least "
                      "121.0 °C, high humidity under 4500 g at most 121.0 °C, high humidity from 4500 g at most 121.0 °C", joined)
        self.assertNotIn("Roasting, the oven", joined)
        named += "          oven: convection\n          roast_g: 3000\n"
        joined = " ".join(self.printed(self.plan((by_hand, named), (own, ""))).split())
        self.assertIn("where Rolled pork loin: Roasting, the oven", joined)
        self.assertIn("critical limit the oven at least 163.0 °C (air). Source: FDA Food Code 2022, 3-401.11(B)(1)", joined)
        self.assertIn("how probe Oven air (oven-air)", joined)
        unwatched = ("    name: Oven\n    probe: oven-air\n", "    name: Oven\n")
        self.assertIn("how NOT MEASURED by a probe: read by a person on the oven",
                      " ".join(self.printed(self.plan((by_hand, named), (own, ""), unwatched)).split()))

    def test_date_mark_has_a_row_of_its_own(self):
        """FDA Food Code 2022, 3-501.17(A): 7 days, the day of preparation being day 1."""
        dated = ("    name: Rolled pork loin\n", "    name: Rolled pork loin\n    date_mark: {profile: food-code-2022/date-mark-prepared}\n")
        joined = " ".join(self.printed(self.plan(dated)).split())
        self.assertIn("where Rolled pork loin: date mark", joined)
        self.assertIn("critical limit kept for at most 7 days, the day itself being the first (food). Source: FDA Food Code 2022, "
                      "3-501.17(A)", joined)

    def test_page_is_well_formed_and_escaped_and_has_the_columns(self):
        path = self.plan(("name: Rolled pork loin", "name: '<b>Rolled</b> \"pork\" & loin'"))
        page = self.printed(path, "--html")
        table = Table(page)
        self.assertNotIn("b", table.elements)
        self.assertLessEqual(table.elements & {"script", "link", "img"}, set())
        heads = table.rows[0] + table.rows[1]
        for column in ("Hazard", "Critical limit", "Monitoring", "What", "How", "How often", "Who", "Corrective action",
                       "Verification", "Records"):
            self.assertIn(column, heads)
        body = table.rows[2:]
        self.assertEqual(len(body), 15)
        self.assertEqual({len(row) for row in body}, {10})
        self.assertIn('<b>Rolled</b> "pork" & loin: Roasting', body[0][0])
        self.assertIn("size: landscape", page)
        self.assertIn("at least 63.0&nbsp;°C for 3&nbsp;min", page)  # a number keeps its unit

    def test_out_appears_whole_and_a_faulty_plan_is_refused(self):
        path = self.kitchen.directory / "table.html"
        self.assertIn("Written", self.printed(PLAN, "--html", "--out", path))
        Table(path.read_text(encoding="utf-8"))
        wrong = self.plan(("at_least: 74 °C", "at_least: 74"))
        answer = self.kitchen.trivet("haccp", wrong, "--out", self.kitchen.directory / "never.html")
        self.assertEqual(answer.code, rig.NO)
        self.assertIn("another.yaml:", answer.err)
        self.assertFalse((self.kitchen.directory / "never.html").exists())

    def test_without_a_file_it_is_the_plan_on_record(self):
        kitchen = self.kitchen
        kitchen.write_plan(PLAN.read_text(encoding="utf-8").replace("port: 8470", f"port: {rig.free_port()}"))
        rig.subprocess.run([rig.PAST, "--end", "1741204800000", "--hours", "2", str(kitchen.plan)], check=True,
                           stdout=rig.subprocess.DEVNULL, stdin=rig.subprocess.DEVNULL)
        self.assertIn("CCP 1 Cooking", self.printed())


if __name__ == "__main__":
    unittest.main()
