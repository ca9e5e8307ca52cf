"""A new quantity is one entry in one file and appears wherever quantities do."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from recipe_tools import Copy

ENTRY = """\
_add("share_drawn", "used over the charge at its start", lambda n: n.used / n.m0)

"""
USE = """
import json
import n2osim as n2
from n2osim.docs.make_tables import quantities
from n2osim.report.export import json_text

scenario = n2.Scenario(
    n2.Bottle.preset("aluminium", "10 lb"), fill="9 lb", start="80 degF",
    feed=n2.Feed(n2.Jets(2, "0.03 in"), model="spi"), schedule=[n2.Pass("0.2 s")],
)
run = n2.simulate(scenario)
study = n2.run_ensemble([scenario], executor="serial", outputs=["pass0.share*"])
print(json.dumps({
    "true": run.passes[0].used / run.passes[0].start_mass,
    "get": run.get("pass0.share_drawn"),
    "summary": run.passes[0].share_drawn,
    "study": float(study["pass0.share_drawn"][0]),
    "json": json.loads(json_text(run))["numbers"]["pass0.share_drawn"],
    "page": [line for line in quantities().splitlines() if "share_drawn" in line],
}))
"""


def test_one_file_and_it_is_everywhere(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    mark = "# --- several bottles together"
    copy.before("results/quantities_segments.py", mark, ENTRY)
    assert len(copy.touched) == 1
    found = json.loads(copy.python(USE, compiled=False))
    assert 0.0 < found["true"] < 0.05
    for where in ("get", "summary", "study", "json"):
        assert found[where] == pytest.approx(found["true"], rel=1e-12), where
    (line,) = found["page"]
    assert "passes and purges" in line and "used over the charge at its start" in line
