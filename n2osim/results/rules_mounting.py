"""Liquid that lies where the pick-up does not reach it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from n2osim.errors import InputError
from n2osim.results.findings import LEAVE_FUEL_JETS, Finding

if TYPE_CHECKING:
    from n2osim.hardware.mounting import Mounting
    from n2osim.results.view import View
    from n2osim.scenario.scenario import FittedBottle

MOST_STRANDED = 0.10
"""Share of the charge that may stay behind unremarked (no source)."""


def stranded_mass(fitted: FittedBottle, temperature: float, mass: float) -> float:
    """Liquid (kg) that the pick-up leaves behind of ``mass`` (kg) at ``temperature`` (K).

    0 where gas is drawn by choice. A bottle full of liquid, or too hot to have any, is counted at
    its own density: what stays once it has liquid and vapour.
    """
    from n2osim import fluid
    from n2osim.fluid.phase import TWO_PHASE

    bottle, m = fitted.bottle, fitted.mounting
    if m.draw == "vapour":
        return 0.0
    share = m.stranded(bottle.inner_diameter, bottle.inner_length)
    density = mass / bottle.volume
    try:
        phase = int(fluid.state(temperature, density).phase)
    except InputError:  # beyond the equation of state: whoever simulates it is told so
        return share * mass
    if phase != TWO_PHASE:
        return share * mass if density > fluid.RHO_CRITICAL else 0.0
    line = fluid.saturation(temperature)
    level = (density - float(line.rho_v)) / (float(line.rho_l) - float(line.rho_v))
    return min(share, level) * bottle.volume * float(line.rho_l)


def attitude(m: Mounting) -> str:
    """How a bottle lies, in words."""
    degrees = math.degrees(m.tilt)
    text = "standing" if m.standing else "lying"
    if degrees:
        text += f", valve end {'up' if degrees > 0 else 'down'} by {abs(degrees):.0f} deg"
    if m.acceleration:
        text += f", launched at {m.acceleration / 9.80665:.2g} g"
    return text


def stranded_finding(
    fitted: FittedBottle, temperature: float, mass: float, time: float | None
) -> Finding | None:
    """A finding where more than a tenth of the charge stays behind."""
    behind = stranded_mass(fitted, temperature, mass)
    if behind <= MOST_STRANDED * mass:
        return None
    return Finding(
        "warning",
        "stranded",
        f"the pick-up leaves {100 * behind / mass:.0f} % of the charge behind as liquid that it "
        f"does not reach ({attitude(fitted.mounting)}): gas follows while the scale still shows "
        "a charge",
        behind,
        MOST_STRANDED * mass,
        "mass",
        "stays behind",
        "remarked on above",
        time,
        fitted.name,
        "put the pick-up where the liquid lies at the launch: the mouth low and to "
        "the rear, the valve end up, not down" + LEAVE_FUEL_JETS,
        "computed: plane liquid surface, no sloshing",
    )


def stranded(v: View) -> Iterator[Finding]:
    """At the start of the first pass."""
    one = next(iter(v.summaries("pass")), None)
    if one is None:
        return
    found = stranded_finding(v.fitted, one.start_temperature, one.start_mass, one.start_time)
    if found is not None:
        yield found


MOUNTING_RULES = (stranded,)

__all__ = ["MOST_STRANDED", "MOUNTING_RULES", "attitude", "stranded_finding", "stranded_mass"]
