"""The pages' tables are what the code computes, their links and figures exist."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import numpy as np
import pytest

import n2osim as n2
from n2osim.docs import make_figures, make_tables

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "n2osim" / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.glob("*.md"))]


@pytest.mark.parametrize("path", make_tables.pages(), ids=lambda p: p.name)
def test_computed_tables_and_numbers_are_up_to_date(path):
    written = path.read_text(encoding="utf-8")
    assert written == make_tables.filled(written), "run: python -m n2osim.docs.make_tables"


def anchors(page: Path) -> set[str]:
    """Anchors of a page's headings as GitHub makes them."""
    heads = re.findall(r"^#+ (.*)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    kept = (re.sub(r"[^\w\- ]", "", h.lower()) for h in heads)
    return {h.replace(" ", "-") for h in kept}


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_no_sentence_is_cut_by_a_mark(page):
    """A line that begins with a comment ends the paragraph before it (CommonMark, HTML blocks)."""
    assert re.findall(r"^ *<!-- n:.*", page.read_text(encoding="utf-8"), re.MULTILINE) == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page):
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if target.startswith("http"):
            continue
        path, _, anchor = target.partition("#")
        file = page if not path else page.parent / path
        assert file.exists(), f"{page.name}: {target}"
        if anchor:
            assert anchor in anchors(file), f"{page.name}: {target}"


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_no_path_of_some_machine(page):
    assert not re.search(r"/(work|tmp|home|root)/", page.read_text(encoding="utf-8"))


@pytest.mark.campaign
def test_figures_are_drawn_and_shipped(tmp_path):
    for made in make_figures.main(tmp_path):
        assert made.read_bytes().startswith(b"\x89PNG")
        assert made.stat().st_size > 10_000
        assert (DOCS / "figures" / made.name).exists(), "run: python -m n2osim.docs.make_figures"


def test_demo_closes_as_the_model_page_says():
    assert max(n2.simulate(make_figures.demo().scenario).closure().values()) < 1e-10


def test_orifice_table_of_the_model_page():
    """Model over measurement (Waxman et al., AIAA 2013-3636), recomputed to the digits printed."""
    sys.path.insert(0, str(ROOT / "tests" / "physics"))
    from orifice_cases import AREA, CD, flux, liquid, rows

    from n2osim.physics.orifice import MODELS

    text = (DOCS / "model.md").read_text(encoding="utf-8")
    printed = re.findall(r"^\| (\d+) \| (.*) \|$", text.split("orifice table")[1], re.MULTILINE)
    assert [level for level, _ in printed] == ["371", "269", "169", "79"]
    data = rows("n2o_orifice_waxman2013_injector3.csv")
    for level, cells in printed:
        points = [r for r in data if r["P1super_psi"] == level]
        p0, T0 = float(points[0]["P1_Pa_abs"]), float(points[0]["T1_K"])
        lowest = sorted((float(r["P2_Pa_abs"]), float(r["mdot_meas_kg_s"])) for r in points)[:3]
        measured = np.mean([m for _, m in lowest])
        for model, cell in zip(MODELS.values(), cells.split(" | "), strict=True):
            flow = np.mean([flux(model.index, T0, liquid(T0, p0), p)[0] for p, _ in lowest])
            error = 100.0 * (CD * AREA * flow / measured - 1.0)
            assert error == pytest.approx(float(cell.rstrip("% ")), abs=0.06), (level, model.title)


def test_citation_and_changelog_are_of_this_version():
    citation = (DOCS / "citation.md").read_text(encoding="utf-8")
    assert citation.count(n2.__version__) == 2
    changelog = (DOCS / "changelog.md").read_text(encoding="utf-8")
    assert f"\n## {n2.__version__}\n" in changelog or "\n## Unreleased\n" in changelog


def test_files_named_for_developers_exist():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    known = [p.relative_to(ROOT).as_posix() for p in ROOT.rglob("*.py") if "build" not in p.parts]
    for name in set(re.findall(r"`([\w/.]+\.py)`", text)):
        assert any(f"/{k}".endswith(f"/{name}") for k in known), f"DEVELOPERS.md names {name}"
