"""Real-fluid nitrous oxide: states, saturation line, flashes and transport properties.

Public functions take floats or arrays in SI and check the valid range. The compiled scalar
kernels that simulations call are in the submodules, to be imported from there by name
(``from n2osim.fluid.state import state_Trho``): the names ``state`` and ``saturation`` of this
package are the functions.
"""

from n2osim.fluid.api import (
    Phase,
    Saturation,
    State,
    conductivity,
    expansion_coefficient,
    heat_capacity_cp,
    saturation_temperature,
    speed_of_sound,
    state_from_p_h,
    state_from_p_rho,
    state_from_p_s,
    state_from_p_T,
    state_from_rho_u,
    surface_tension,
    viscosity,
)
from n2osim.fluid.api import at_saturation as saturation
from n2osim.fluid.api import at_T_rho as state
from n2osim.fluid.equation_of_state import (
    MOLAR_MASS,
    P_CRITICAL,
    P_MAX,
    P_TRIPLE,
    R_SPECIFIC,
    RHO_CRITICAL,
    T_CRITICAL,
    T_MAX,
    T_TRIPLE,
)

__all__ = [
    "MOLAR_MASS",
    "P_CRITICAL",
    "P_MAX",
    "P_TRIPLE",
    "RHO_CRITICAL",
    "R_SPECIFIC",
    "T_CRITICAL",
    "T_MAX",
    "T_TRIPLE",
    "Phase",
    "Saturation",
    "State",
    "conductivity",
    "expansion_coefficient",
    "heat_capacity_cp",
    "saturation",
    "saturation_temperature",
    "speed_of_sound",
    "state",
    "state_from_p_T",
    "state_from_p_h",
    "state_from_p_rho",
    "state_from_p_s",
    "state_from_rho_u",
    "surface_tension",
    "viscosity",
]
