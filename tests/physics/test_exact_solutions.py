"""The exact solutions that other tests lean on, against textbook values."""

from __future__ import annotations

import math

import pytest
from exact_solutions import plane_wall, plane_wall_mean, two_layer_slab
from reference_rows import example, read

TABLE = "transient_conduction_examples.csv"


def exact(start: str) -> list[float]:
    return example(TABLE, start, "exact")[0]


def test_incropera_5_4_plane_wall():
    Bi, Fo, T_outer, flux, heat = exact("Incropera 5.4")[:5]
    # book: Bi 0.313, Fo 5.64; outer surface of the pipe is the insulated face (x = 0)
    Bi_now, Fo_now = 500.0 * 0.04 / 63.9, 18.8e-6 * 480.0 / 0.04**2
    assert (Bi_now, Fo_now) == (pytest.approx(Bi, rel=2e-3), pytest.approx(Fo, rel=2e-3))
    assert 60.0 - 80.0 * plane_wall(Bi_now, Fo_now, 0.0) == pytest.approx(T_outer, rel=5e-3)
    assert -500.0 * 80.0 * plane_wall(Bi_now, Fo_now, 1.0) == pytest.approx(flux, rel=5e-3)
    stored = 7832.0 * 434.0 * 0.04 * math.pi * 1.0 * 80.0
    given = -stored * (1.0 - plane_wall_mean(Bi_now, Fo_now))
    assert given == pytest.approx(heat, rel=5e-3)


SLABS = {  # header of two_layer_slab_exact.csv: (thickness, k, rho, cp) inside to outside, h
    "A": (((0.006, 167.0, 2700.0, 896.0), (0.010, 0.6, 1500.0, 1000.0)), 10.0),
    "B": (((0.007, 0.385, 945.0, 1584.0), (0.017, 0.5, 1360.0, 1020.0)), 8.0),
}


@pytest.mark.parametrize(
    "row", read("two_layer_slab_exact.csv"), ids=lambda r: r["case"] + r["t_s"]
)
def test_two_layer_slab_against_the_table(row):
    layers, h = SLABS[row["case"]]
    thickness = layers[0][0]
    depths = {"inner": 0.0, "interface": thickness, "outer": thickness + layers[1][0]}
    for place, x in depths.items():
        theta = two_layer_slab(layers, h, float(row["t_s"]), x)
        assert theta == pytest.approx(float(row[f"theta_{place}"]), abs=2e-6), place


def test_two_layer_slab_of_one_material_is_the_plane_wall():
    half = (0.01, 2.0, 1000.0, 900.0)
    for t in (20.0, 200.0, 2000.0):
        Fo, Bi = 2.0 / (1000.0 * 900.0) * t / 0.02**2, 15.0 * 0.02 / 2.0
        for x in (0.0, 0.01, 0.02):
            both = two_layer_slab((half, half), 15.0, t, x)
            assert both == pytest.approx(plane_wall(Bi, Fo, x / 0.02), abs=1e-10)
