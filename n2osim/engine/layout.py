"""Where everything sits in the arrays that the integrator works on.

One run (one scenario) is described by a few structured arrays and advanced as one state
vector ``y``. Positions are written down here by name, those of the fluid's state ``st`` in
:mod:`~n2osim.engine.fluid_node`.

State vector, for ``nb`` bottles with ``n`` wall nodes from inside to outside::

    [ bottle 0 | bottle 1 | ... | air node | totals of bottle 0 | totals of bottle 1 | ... ]
    bottle  = [ M1 U1 M2 U2 BOILING SENSOR HEATER | c0 b0 c1 b1 ... c(n-1) b(n-1) ]
    totals  = [ E_HEATER Q_FLUID Q_LOSS M_OUT H_OUT W_PUMP ]

``M1, U1`` are the mass (kg) and internal energy (J) of the fluid (equilibrium model) or of the
liquid zone (two-zone model); ``M2, U2`` those of the vapour zone; ``BOILING`` is the time (s)
for which the liquid zone has been superheated. ``c`` nodes lie under the heater, ``b`` are bare.
``W_PUMP`` jumps at refills and has no rate.
"""

from __future__ import annotations

from typing import get_args

import numpy as np

from n2osim.scenario.schedule import KINDS
from n2osim.scenario.steps import Meter

# --- state slots of a bottle -------------------------------------------------------------
M1, U1, M2, U2, BOILING, SENSOR, HEATER, NODE0 = 0, 1, 2, 3, 4, 5, 6, 7
# --- running totals of a bottle ----------------------------------------------------------
E_HEATER, Q_FLUID, Q_LOSS, M_OUT, H_OUT, W_PUMP, N_TOTALS = 0, 1, 2, 3, 4, 5, 6
# --- what the right-hand side reports for a bottle ---------------------------------------
(
    O_T,  # K, of the fluid; of the liquid where there are two zones
    O_P,  # Pa
    O_X,  # quality, -1 supercritical
    O_PHASE,  # see fluid.phase
    O_LEVEL,  # volume fraction of liquid
    O_TV,  # K, of the vapour zone
    O_MDOT,  # kg/s out, net
    O_DRAW,  # share of the pick-up's mouth under liquid
    O_HOUT,  # W, enthalpy with O_MDOT
    O_DROP,  # Pa, least difference that something flows out over (inf: nothing flows)
    O_QC,  # W from the wall to the fluid; here and below C covered, B bare part
    O_QB,
    O_HC,  # W/m2/K, inside film
    O_HB,
    O_POWER,  # W, heater
    O_LOSS,  # W, to the air
    O_GC,  # W/K, slope of that heat over the inner node's temperature
    O_GB,
    O_GTC,  # W/K, how much it falls per kelvin of the fluid
    O_GTB,
    O_DTDU,  # K/J at constant mass and volume
    O_GLC,  # W/K, slope of the loss over the temperature of what loses
    O_GLB,
    O_EXTRAP,  # 1: the inside film has no data behind it
    O_GAUGE,  # Pa gauge at the switch's sensor, before its lag
    O_FLOW_VALID,  # 1: inside the range of the orifice model
    O_P_THROAT,  # Pa, 0 where not choked or not known
    O_TSAT,  # K, phase boundary at this density
    O_MDOT_L,  # kg/s of O_MDOT from below the liquid surface
    O_RELIEF,  # kg/s of O_MDOT through the relief device
    O_OPEN,  # share of full opening of the valves
    O_P_MANIFOLD,  # Pa, 0 without one
    O_DPDT,  # Pa/K at constant density in one phase, else 0
    O_GPOWER,  # W/K that self-limiting takes of the power
    O_FED,  # kg/s in from the manifold
    O_HFED,  # W, enthalpy with O_FED
    N_OUT,
) = range(37)
# --- modes (integers) of a bottle: switch closed, cut-out open, counts as two-phase, pick-up
# uncovered, relief device open, well off its phase boundary, why frozen out --------------------
SW_ON, CUT_OPEN, TWO_PHASE_FLAG, LIQUID_OUT, BURST, PHASE_CLEAR, FROZEN, N_MODES = range(8)
# --- why a bottle is frozen out (0: it is not) --------------------------------------------
HOT, FULL, COLD, EMPTY = 1, 2, 3, 4
# --- modes of the run (``lmodes``) ----------------------------------------------------------
L_SEGMENT, L_WINDOW_SHUT, L_HEATER_ARMED, L_FLOWING, N_RUN_MODES = 0, 1, 2, 3, 4


# --- segment kinds -------------------------------------------------------------------------
def kind_number(kind: str) -> int:
    """Number of a kind of item in the arrays of a run; other packages may add kinds."""
    return list(KINDS).index(kind)


REFILL = kind_number("refill")
# --- how a stage meters its flow -----------------------------------------------------------
METERS = get_args(Meter)
BY_AREA, BY_MASS_FLOW, BY_TARGET = range(len(METERS))

# --- event codes ---------------------------------------------------------------------------
EVENTS = (
    "segment start",
    "segment end",
    "switch on",
    "switch off",
    "cut-out opens",
    "cut-out closes",
    "liquid-full",
    "saturated",
    "all vapour or supercritical",
    "liquid-out",
    "liquid back",
    "relief opens",
    "flow inhibited",
    "flow allowed",
    "flow ends",
    "left the range: hot",
    "left the range: full",
    "left the range: cold",
    "left the range: empty",
)
(
    EV_START,
    EV_END,
    EV_ON,
    EV_OFF,
    EV_CUT_OPEN,
    EV_CUT_CLOSE,
    EV_LIQUID_FULL,
    EV_SATURATED,
    EV_SINGLE,
    EV_LIQUID_OUT,
    EV_LIQUID_BACK,
    EV_RELIEF,
    EV_SHUT,
    EV_ALLOWED,
    EV_FLOW_ENDS,
    EV_HOT,
    EV_FULL,
    EV_COLD,
    EV_EMPTY,
) = range(19)

# --- how a run ended ------------------------------------------------------------------------
OK, STEP_TOO_SMALL, TOO_MANY_STEPS, OUT_OF_RANGE, TOO_MANY_EVENTS, PAUSED = range(6)
ENDINGS = (
    "schedule complete",
    "step size fell below its floor",
    "too many steps",
    "state left the range of the equation of state (182.33 to 525 K, up to 50 MPa)",
    "too many events at one instant",
    "interrupted",
)

# SI. Ends: c covered by the heater, b bare. controller: the bottle whose switch is in charge;
# fault: 1 welded, 2 stuck open; line_side: place in switch.SENSORS; r_in, r_out: K/W of half a
# node.
BOTTLE = np.dtype(
    [
        (name, np.int64)
        for name in (
            "n",
            "has_heater",
            "controller",
            "standing",
            "draw_vapour",
            "radiation",
            "fault",
            "line_side",
            "two_zone",
        )
    ]
    + [
        (name, np.float64)
        for name in (
            "volume",
            "area_in_c",
            "area_in_b",
            "area_out_c",
            "area_out_b",
            "r_in_c",
            "r_in_b",
            "r_out_c",
            "r_out_b",
            "g_contact",
            "cover_resistance",
            "cover_factor",
            "heater_capacity",
            "power",
            "conductance",
            "self_limit",
            "self_ref",
            "emissivity",
            "length_in",
            "diameter_in",
            "diameter_out",
            "length_out",
            "sun",
            "h_in_c",
            "h_in_b",
            "h_in_factor",
            "h_in_cap",
            "h_out_c",
            "h_out_b",
            "closes",
            "opens",
            "lag",
            "offset",
            "cut_opens",
            "cut_closes",
            "cut_pause",
            "relief_pressure",
            "relief_cda",
            "pickup_low",
            "pickup_band",
            "zone_factor",
            "boiling_growth",
        )
    ]
)
# What belongs to no bottle (``Setup.whole``).
WHOLE = np.dtype(
    [("ambient_kind", np.int64), ("ambient_n", np.int64), ("air_node", np.int64)]
    + [
        (name, np.float64)
        for name in (
            "ambient_mean",
            "ambient_swing",
            "ambient_hottest",
            "p_ambient",
            "air_speed",
            "clock0",
            "air_capacity",
            "air_conductance",
            "air_sun",
            "supply_voltage",
            "supply_resistance",
            "tolerance",
            "max_step_hold",
            "max_step_flow",
        )
    ]
)
SEGMENT = np.dtype(
    [
        ("kind", np.int64),
        ("heater_armed", np.int64),
        ("until_open", np.int64),
        ("stage0", np.int64),
        ("n_stages", np.int64),
        ("refill_bottle", np.int64),
        ("refill_mode", np.int64),
    ]
    + [
        (name, np.float64)
        for name in (
            "duration",
            "window_low",
            "window_high",
            "refill_mass",
            "refill_enthalpy",
            "refill_pressure",
            "refill_entropy",
            "refill_efficiency",
        )
    ]
)
STAGE = np.dtype(
    [("meter", np.int64), ("feed", np.int64), ("table0", np.int64), ("table_n", np.int64)]
    + [("value", np.float64), ("bottle", np.int64)]
)
FEED = np.dtype(
    [
        ("model", np.int64),
        ("map", np.int64),
        ("cda", np.float64),
        ("p_back", np.float64),
        ("map_scale", np.float64),
        ("map_floor", np.float64),
        ("shared", np.int64),
        ("branch_cda", np.float64),
        ("short_share", np.float64),
    ]
)


def n_bottle(nodes: int) -> int:
    """Length of one bottle's part of the state vector for ``nodes`` wall nodes."""
    return NODE0 + 2 * nodes


def n_state(bottles: int, nodes: int) -> int:
    """Length of the state vector: bottles, the air node and the running totals."""
    return bottles * n_bottle(nodes) + 1 + bottles * N_TOTALS
