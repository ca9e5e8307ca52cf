"""A new limit with its finding is a reader and an entry in one file, and is read everywhere."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from recipe_tools import Copy

READER = """\
def _drained(case: Case) -> Reading:
    v = case.view
    return Reading(float(v.gauge.min()), 4e6, float(v.time[int(v.gauge.argmin())]))


"""
ENTRY = """\
    Limit(
        "drained-far",
        "bottle",
        _drained,
        "warning",
        "the pressure falls far",
        quantity="minimum_pressure_gauge_Pa",
        kind="gauge_pressure",
        sense="below",
        value_is="lowest",
        limit_is="limit",
        cause="schedule",
        bound_from="rule",
        person="a shorter pass",
    ),
"""
USE = """
import json
import n2osim as n2
from n2osim.report.export import json_text
from n2osim.results.limits import margins

scenario = n2.Scenario(
    n2.Bottle.preset("aluminium", "10 lb"), fill="9 lb", start="50 degF",
    ambient=n2.Ambient("50 degF"), schedule=[n2.Rest("1 s")],
)
run = n2.simulate(scenario)
(margin,) = [m for m in margins(run) if m.limit.code == "drained-far"]
print(json.dumps({
    "true": run["pressure_gauge_Pa"].min() - 4e6,
    "margin": margin.margin,
    "found": [f.code for f in run.findings],
    "json": [f["code"] for f in json.loads(json_text(run))["findings"]],
    "said": run.summary(),
    "advice": run.remedies().text(),
}))
"""


def test_one_file_and_it_is_everywhere(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    copy.before("results/rules_schedule.py", "SCHEDULE_LIMITS = (\n", READER)
    copy.replace(
        "results/rules_schedule.py", "SCHEDULE_LIMITS = (\n", "SCHEDULE_LIMITS = (\n" + ENTRY
    )
    assert len(copy.touched) == 1
    found = json.loads(copy.python(USE, compiled=False))
    assert found["margin"] == pytest.approx(found["true"], rel=1e-12) and found["true"] < 0.0
    assert "drained-far" in found["found"] and "drained-far" in found["json"]
    assert "the pressure falls far" in found["said"] and "a shorter pass" in found["advice"]
