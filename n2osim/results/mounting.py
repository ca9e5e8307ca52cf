"""Liquid that lies where the pick-up does not reach it: how much, and how the bottle lies."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from n2osim.errors import InputError

if TYPE_CHECKING:
    from n2osim.hardware.mounting import Mounting
    from n2osim.scenario.fitted import FittedBottle


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
