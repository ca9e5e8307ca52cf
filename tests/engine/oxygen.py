"""Where the oxygen of a run was and where it went, from exported arrays."""

import n2osim as n2
from n2osim.physics.fuels import OXYGEN_IN_N2O
from n2osim.results.engine_side import EngineTrace


def oxygen_balance(run: n2.Run, trace: EngineTrace) -> dict[str, float]:
    """Oxygen (kg) of a whole run.

    Keys: ``started``, ``refilled``, ``left`` (in the bottles); ``vented``, ``burnt`` (with the
    shot's fuel, from the fuel burnt and its demand), ``free`` (reached the engine unused);
    ``closure``: |started + refilled - left - vented - burnt - free| over started + refilled.
    """
    bottles = run["mass_kg"].sum(axis=0)
    found = {
        "started": float(bottles[0]) * OXYGEN_IN_N2O,
        "refilled": float(trace["n2o_refilled_kg"][-1]) * OXYGEN_IN_N2O,
        "left": float(bottles[-1]) * OXYGEN_IN_N2O,
        "vented": float(trace["n2o_vented_kg"][-1]) * OXYGEN_IN_N2O,
        "burnt": float(trace["oxygen_burnt_kg"][-1]),
        "free": float(trace["oxygen_free_kg"][-1]),
    }
    came = found["started"] + found["refilled"]
    gone = found["left"] + found["vented"] + found["burnt"] + found["free"]
    found["closure"] = abs(came - gone) / came
    return found
