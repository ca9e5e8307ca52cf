"""Oxygen left in a closed space: by hand (ideal gas, paper), by stepping, and the limits."""

from __future__ import annotations

import math

import pytest

import n2osim as n2
from n2osim.errors import InputError
from n2osim.physics import enclosure as e

# By hand: 10 lb = 4.53592 kg over 44.0128 g/mol = 103.059 mol; R T / p at 294.26 K, 101325 Pa:
# 8.314463 * 294.26 / 101325 = 0.0241464 m3/mol; together 2.48850 m3 of ideal gas.
IDEAL = 2.48850
# Second virial coefficient of N2O at 294 K: -133 cm3/mol (Dymond & Smith 1980, from memory), so
# Z = 1 - 133e-6 / 0.02415 = 0.9945.
REAL = IDEAL * 0.9945


def test_gas_volume_by_hand() -> None:
    found = e.gas_volume("10 lb", 294.26, 101325.0)
    assert found == pytest.approx(REAL, rel=5e-4)
    assert found < IDEAL


@pytest.mark.parametrize(
    ("mixing", "by_hand"),
    [
        # v / V = 2.4748 / 3 = 0.8249
        # exp(-0.8249) = 0.4383, 1 / 1.8249 = 0.5480, 1 - 0.8249 = 0.1751
        ("displacement", 0.2095 * 0.4383),
        ("sealed", 0.2095 * 0.5480),
        ("plug", 0.2095 * 0.1751),
    ],
)
def test_ten_pounds_in_a_closed_car_by_hand(mixing: str, by_hand: float) -> None:
    found = e.closed_space("10 lb", "3 m3", 294.26, 101325.0, mixing)
    assert found.oxygen == pytest.approx(by_hand, rel=1.5e-3)
    assert found.oxygen < e.OXYGEN_LEAST
    assert found.nitrous == pytest.approx(1.0 - by_hand / 0.2095, rel=1.5e-3)
    assert found.times_exposure_limit == pytest.approx(1e6 * found.nitrous / 25.0)


def test_displacement_is_the_limit_of_many_small_pushes() -> None:
    """Let in a little, let the same volume of mixture out, mix: ten thousand times."""
    space = e.closed_space(2.0, 5.0)
    little, oxygen = space.gas_volume / 10_000, 0.2095
    for _ in range(10_000):
        oxygen *= 5.0 / (5.0 + little)
    assert space.oxygen == pytest.approx(oxygen, rel=1e-4)


def test_a_sealed_space_counts_molecules() -> None:
    """Ideal gas: 5 m3 of air and n mol of N2O; Dalton's partial pressures."""
    air = 101325.0 * 5.0 / (8.314463 * 294.26)  # mol
    nitrous = 2.0 / 0.0440128
    found = e.closed_space(2.0, 5.0, mixing="sealed")
    assert found.oxygen == pytest.approx(0.2095 * air / (air + nitrous), rel=2e-3)
    assert found.pressure_ratio == pytest.approx((air + nitrous) / air, rel=2e-3)


def test_plug_is_worst_sealed_is_best_and_all_agree_on_a_whiff() -> None:
    plug, displaced, sealed = (
        e.closed_space(3.0, 3.0, mixing=m).oxygen for m in ("plug", "displacement", "sealed")
    )
    assert 0.0 <= plug < displaced < sealed < 0.2095
    few = [e.closed_space(1e-4, 3.0, mixing=m).nitrous for m in e.MIXING]
    assert max(few) == pytest.approx(min(few), rel=1e-4)
    assert e.closed_space(50.0, 0.4, mixing="plug").oxygen == 0.0
    assert e.closed_space(0.0, 3.0).oxygen == 0.2095


def test_volume_made_deficient_is_the_inverse() -> None:
    volume = e.volume_made_deficient("10 lb")
    # by hand: 2.4748 / ln(0.2095 / 0.195) = 2.4748 / 0.07172 = 34.5 m3: a one-car garage
    assert volume == pytest.approx(34.5, rel=3e-3)
    assert e.closed_space("10 lb", volume).oxygen == pytest.approx(0.195, rel=1e-12)
    assert e.closed_space("10 lb", 1.01 * volume).oxygen >= e.OXYGEN_LEAST


def test_the_exposure_limit_is_passed_by_a_breath() -> None:
    """25 ppm of 3 m3 is 75 cm3 of gas: 75e-6 / 0.02415 * 44.01 = 0.137 g."""
    found = e.closed_space("0.137 g", "3 m3")
    assert 1e6 * found.nitrous == pytest.approx(25.0, rel=0.01)
    assert found.times_exposure_limit == pytest.approx(1.0, rel=0.01)


def test_thin_hot_air_takes_more_room() -> None:
    assert e.gas_volume(1.0, 320.0, 80e3) > 1.3 * e.gas_volume(1.0, 290.0, 101e3)


@pytest.mark.parametrize(
    "given",
    [
        {"mass": -1.0},
        {"mass": math.nan},
        {"mass": "3 m"},
        {"mass": 1.0, "volume": 0.0},
        {"mass": 1.0, "volume": "3 kg"},
        {"mass": 1.0, "mixing": "stirred"},
        {"mass": True},
        {"mass": 1.0, "temperature": 20.0},
        {"mass": 1.0, "pressure": "14.7 psig"},
    ],
)
def test_nonsense_is_refused_by_name(given: dict) -> None:
    if given.get("pressure"):
        with pytest.raises(InputError):  # 29.4 psia: twice the atmosphere is no closed car
            e.closed_space(given["mass"], pressure=given["pressure"])
        return
    with pytest.raises(InputError, match=r"mass|volume|mixing|temperature|pressure"):
        e.closed_space(**given)


def test_public() -> None:
    assert n2.closed_space is e.closed_space
    assert n2.volume_made_deficient is e.volume_made_deficient
