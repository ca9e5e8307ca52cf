"""What the pick-up leaves behind, against counting of points in the cylinder."""

from __future__ import annotations

import math

import numpy as np
import pytest

import n2osim as n2
from n2osim.errors import InputError
from n2osim.hardware.mounting import Mounting
from n2osim.results.limits import find
from n2osim.results.mounting import stranded_mass

G = 9.80665
BOTTLE = n2.Bottle.preset("aluminium", "10 lb")
D, LENGTH = BOTTLE.inner_diameter, BOTTLE.inner_length


def counted_standing(acceleration: float, above_base: float, rear: float) -> float:
    """Share of random points of an upright cylinder below the surface through the mouth.

    ``rear``: place of the mouth from the axis to the rear, m. Car axes: z up, x forward; the liquid
    feels gravity down and the launch to the rear.
    """
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-D / 2, D / 2, (2, 600_000))
    inside = x**2 + y**2 < D**2 / 4
    z = rng.uniform(0.0, LENGTH, inside.sum())
    height = G * z + acceleration * x[inside]
    return float(np.mean(height < G * above_base - acceleration * rear))


@pytest.mark.parametrize("g", [0.0, 0.5, 1.5, 3.0])
@pytest.mark.parametrize(("height", "rear"), [(None, 0.0), (0.02, -0.48), (0.98, 0.48)])
def test_standing_bottle_at_launch_by_counting(g: float, height: float | None, rear: float) -> None:
    found = Mounting(standing=True, acceleration=g * G, pickup_height=height).stranded(D, LENGTH)
    assert found == pytest.approx(counted_standing(g * G, 0.05 * LENGTH, rear * D), abs=2.5e-3)


def test_standing_wedge_by_hand() -> None:
    # mouth on the axis, surface steep but clear of both ends: the plane through the axis cuts the
    # same volume off as a level one at that height (a wedge added in front, one taken off behind)
    m = Mounting(standing=True, acceleration=0.3 * G, pickup_along=0.5)
    assert 0.3 * D / 2 < 0.5 * LENGTH
    assert m.stranded(D, LENGTH) == pytest.approx(0.5, rel=1e-9)


def test_standing_at_rest_leaves_what_is_under_the_mouth() -> None:
    assert Mounting(standing=True, pickup_along=0.9).stranded(D, LENGTH) == pytest.approx(0.1)


def test_given_share_is_kept() -> None:
    assert Mounting(standing=True, acceleration="1.5 g", pickup=0.2).stranded(D, LENGTH) == 0.2


def test_standing_with_a_tilt_is_refused_with_what_to_give() -> None:
    with pytest.raises(InputError, match="70 deg"):
        Mounting(standing=True, tilt="20 deg")


def test_launch_of_a_standing_bottle_shows_in_a_run() -> None:
    """It was ignored: liquid-out now comes with what the plane through the mouth holds."""

    def level(**how: object) -> float:
        scenario = n2.Scenario(
            BOTTLE,
            fill="6 lb",
            start="75 degF",
            ambient=n2.Ambient("75 degF"),
            feed=n2.Feed(n2.Jets(1, "0.046 in")),
            schedule=[n2.Pass("80 s")],
            mounting=Mounting(standing=True, **how),
        )
        run = n2.simulate(scenario)
        at = next(e.time for e in run.events if e.name == "liquid-out")
        return float(np.interp(at, run.time, run["liquid_fraction"][0]))

    assert level() == pytest.approx(0.05, abs=0.01)
    expected = counted_standing(1.5 * G, 0.05 * LENGTH, 0.0)
    assert expected > 0.06
    assert level(acceleration="1.5 g") == pytest.approx(expected, abs=0.01)


# --- in the report --------------------------------------------------------------------------------
def tilted(tilt: str, fill: str = "9 lb") -> n2.Run:
    return n2.simulate(
        n2.Scenario(
            BOTTLE,
            fill=fill,
            start="75 degF",
            ambient=n2.Ambient("75 degF"),
            feed=n2.Feed(n2.Jets(1, "0.046 in")),
            schedule=[n2.Pass("5 s")],
            mounting=Mounting(tilt=tilt),
        )
    )


def test_stranded_charge_is_found_and_printed() -> None:
    run = tilted("-20 deg")
    (f,) = [f for f in find(run) if f.code == "stranded"]
    # counted: points of the tilted cylinder below the mouth, times saturated liquid at 75 degF
    # (ESDU 91022: 755 kg/m3 at 297 K)
    rng = np.random.default_rng(2)
    x, y = rng.uniform(-D / 2, D / 2, (2, 400_000))
    inside = x**2 + y**2 < D**2 / 4
    along = rng.uniform(0.0, LENGTH, inside.sum())  # from the front
    t = math.radians(-20.0)
    up = -along * math.sin(t) + (y[inside] + D / 2) * math.cos(t)
    mouth = -0.95 * LENGTH * math.sin(t) + 0.02 * D * math.cos(t)
    kg = float(np.mean(up < mouth)) * BOTTLE.volume * 755.0
    assert f.value == pytest.approx(kg, rel=0.01)
    assert "valve end down by 20 deg" in f.message
    text = " ".join(run.summary(full=True).split())
    assert "Mounting lying, valve end down by 20 deg" in text
    assert not [f for f in find(tilted("20 deg")) if f.code == "stranded"]


def test_no_more_is_stranded_than_there_is_liquid() -> None:
    run = tilted("-20 deg", fill="2 lb")
    fitted = run.scenario.bottles[0]
    behind = stranded_mass(fitted, fitted.start, fitted.fill)
    level = float(run["liquid_fraction"][0, 0])
    assert behind == pytest.approx(level * BOTTLE.volume * 755.0, rel=0.01)
    assert stranded_mass(fitted, 320.0, fitted.fill) == 0.0  # all gas
