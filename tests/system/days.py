"""The demo's simulated days on record, for tests that hold what the command says of them against the readings themselves."""
import unittest

import rig

END_MS = 1741204800000  # 2025-03-05T20:00:00Z; Europe/London shows the same
LIMIT_MC = 63000  # of the demo's roast


class Days(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.kitchen = rig.Kitchen()
        cls.addClassCleanup(cls.kitchen.close)
        cls.kitchen.write_plan((rig.ROOT / "config/harbour-lane.yaml").read_text(encoding="utf-8"))
        done = rig.subprocess.run([rig.PAST, "--end", str(END_MS), "--hours", "120", str(cls.kitchen.plan)],
                                  stdin=rig.subprocess.DEVNULL, capture_output=True, text=True, timeout=120)
        if done.returncode != 0:
            raise AssertionError(done.stderr)

    def roasts(self):
        """{batch: (put in, taken out)} from the decisions."""
        found = {}
        for body in self.kitchen.records("decision"):
            data = body["data"]
            if data["decision"] == "step-begun" and data.get("step") == "cook":
                found[data["batch"]] = [body["at_ms"], None]
            elif data["decision"] == "step-begun" and data.get("step") == "rest" and data["batch"] in found:
                found[data["batch"]][1] = body["at_ms"]
        return found

    def served(self, batch):
        """When it left its rest: from then on the probes tell of the hot cupboard, and the curve has ended."""
        return next(body["at_ms"] for body in self.kitchen.records("decision")
                    if body["data"]["decision"] == "step-begun" and (body["data"]["batch"], body["data"].get("step")) == (batch, "serve"))

    def numbers(self, *ids):
        probes = self.kitchen.records("plan")[-1]["data"]["probes"]
        return [probes[name] for name in ids]

    def core(self, put_in, until):
        """[(seconds, coldest core in mC)] of the instants at which both roast probes read well."""
        a, b = self.numbers("roast-core-a", "roast-core-b")
        rows = self.kitchen.query(f"SELECT at_ms, min(temp_mC), count(*) FROM reading WHERE probe IN ({a}, {b}) AND quality = 0 "
                                  f"AND at_ms >= {put_in} AND at_ms <= {until} GROUP BY at_ms / 5000 ORDER BY at_ms")
        return [((at - put_in) / 1000, temp) for at, temp, count in rows if count == 2]

    def air(self, put_in, until):
        probe, = self.numbers("oven-air")
        return [temp / 1000 for temp, in self.kitchen.query(
            f"SELECT temp_mC FROM reading WHERE probe = {probe} AND quality = 0 AND at_ms > {put_in} AND at_ms < {until}")]
