"""A bottle's inside coefficient at a state, as the tests call it."""

from __future__ import annotations

from n2osim.fluid.phase import TWO_PHASE
from n2osim.fluid.saturation import sat_rho
from n2osim.fluid.state import state_Trho
from n2osim.jit import _compile
from n2osim.physics.boiling import DEFAULT_CAP, inside_coefficient

DIAMETER, HEIGHT = 0.165, 0.42
NO_CAP = 1e12
# Hundreds of thousands of calls: compiled, as the engine runs it (plain Python is 50 times slower).
_inside_coefficient = _compile(inside_coefficient)


def inside(T_wall, T, rho, wet=None, standing=0, cap=DEFAULT_CAP):
    """Coefficient and flag with the wetted share set to the liquid's share of the volume."""
    phase = int(state_Trho(T, rho)[6])
    if wet is None:
        wet = liquid_volume_share(T, rho) if phase == TWO_PHASE else 0.5
    size = HEIGHT if standing else DIAMETER
    return _inside_coefficient(T_wall, T, rho, phase, wet, float(size), int(standing), float(cap))


def liquid_volume_share(T, rho):
    _, rho_l, rho_v = sat_rho(T)
    return (rho - rho_v) / (rho_l - rho_v)
