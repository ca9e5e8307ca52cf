"""Materials and surfaces against tests/data/materials_and_surfaces.csv (sources there)."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from n2osim.errors import RangeError, UnknownNameError
from n2osim.hardware.materials import MATERIALS, STATUSES, SURFACES, Material, material, surface
from n2osim.units import to_degF

DATA = Path(__file__).parents[1] / "data" / "materials_and_surfaces.csv"


def _value(name: str, prop: str) -> str:
    lines = [x for x in DATA.read_text().splitlines() if not x.startswith("#")]
    return next(
        r["value"]
        for r in csv.DictReader(lines)
        if r["material"].startswith(name) and r["property"].startswith(prop)
    )


def _numbers(text: str) -> list[list[float]]:
    """ "0.6-0.8; 3-7" -> [[0.6, 0.8], [3, 7]]."""
    return [[float(x) for x in part.split("-")] for part in text.split(";") if "C" not in part]


@pytest.mark.parametrize(
    ("name", "row", "order"),
    [
        ("6061-T6", ("Al 6061-T6", "k; cp; rho"), ("k_radial", "cp", "density")),
        ("4130", ("AISI 4130", "k; cp; rho"), ("k_radial", "cp", "density")),
        ("HDPE", ("HDPE liner", "k; cp; rho"), ("k_radial", "cp", "density")),
        ("PA6", ("PA6 liner", "k; cp; rho"), ("k_radial", "cp", "density")),
        ("carbon-epoxy", ("CFRP std", "k through"), ("k_radial", "k_inplane", "cp", "density")),
        ("glass-epoxy", ("Glass/epoxy", "k normal"), ("k_radial", "cp")),
    ],
)
def test_properties_lie_in_the_reference_range(name, row, order):
    for prop, span in zip(order, _numbers(_value(*row))):
        value = getattr(MATERIALS[name], prop)
        assert 0.99 * min(span) <= value <= 1.01 * max(span), prop


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("bare aluminium", ("Aluminium as-received", "emissivity")),
        ("polished aluminium", ("Aluminium polished", "emissivity")),
        ("anodised aluminium", ("Aluminium anodised sheet", "emissivity")),
        ("painted", ("Lacquer on aluminium", "emissivity")),
        ("clear epoxy", ("CFRP or GFRP", "emissivity")),
    ],
)
def test_emissivities_lie_in_the_reference_range(name, row):
    span = _numbers(_value(*row))[0]
    assert min(span) <= SURFACES[name].emissivity <= max(span)


def test_temperature_limits():
    # CGA C-6.1 as quoted by cylinder guidance: aluminium heated over 350 degF is condemned
    assert to_degF(MATERIALS["6061-T6"].max_temperature) == pytest.approx(350.0)
    # wet Tg 109 C (data file) less 28 K (MIL-HDBK-17 operational limit, recalled)
    assert MATERIALS["carbon-epoxy"].max_temperature == pytest.approx(
        109.0 + 273.15 - 28.0, abs=0.01
    )


def test_every_property_has_a_source_and_a_status():
    for m in MATERIALS.values():
        for prop in ("k_radial", "k_inplane", "density", "cp", "max_temperature"):
            status, source = m.provenance(prop)
            assert status in STATUSES
            assert len(source) > 5
    for s in SURFACES.values():
        assert s.status in STATUSES
        assert len(s.source) > 5


def test_lookup():
    assert material("Aluminum") is MATERIALS["6061-T6"]
    assert material("hdpe") is MATERIALS["HDPE"]
    assert material(MATERIALS["PA6"]) is MATERIALS["PA6"]
    assert material(MATERIALS["PA6"].as_dict()) == MATERIALS["PA6"]
    with pytest.raises(UnknownNameError, match="did you mean 'carbon-epoxy'"):
        material("carbon-epxy")
    with pytest.raises(UnknownNameError):
        surface("pink")
    with pytest.raises(RangeError, match="material density"):
        Material("x", 1.0, 1.0, -5.0, 900.0)
    with pytest.raises(UnknownNameError, match="status"):
        Material("x", 1.0, 1.0, 5.0, 900.0, status="guessed")
