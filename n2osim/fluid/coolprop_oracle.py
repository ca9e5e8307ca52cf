"""The only place that touches CoolProp: thread-local states, for making coefficients and tests.

Nothing in the library needs CoolProp while it runs: the kernels read a coefficient file made
from it by ``python -m n2osim.fluid.make_coefficients``. CoolProp takes seconds to import, so it
is imported inside the functions here and nowhere else. Its AbstractState is neither thread-safe
nor picklable: one is kept per thread and never handed out of this module's callers.
"""

from __future__ import annotations

import json
import threading
from typing import Any

FLUID = "NitrousOxide"
_local = threading.local()


def coolprop_version() -> str:
    """Version string of the installed CoolProp."""
    import CoolProp

    return str(CoolProp.__version__)


def fluid_parameters(fluid: str = FLUID) -> dict[str, Any]:
    """CoolProp's own description of a fluid (equation of state, super-ancillary) as a dict."""
    from CoolProp.CoolProp import get_fluid_param_string

    parameters: dict[str, Any] = json.loads(get_fluid_param_string(fluid, "JSON"))[0]
    return parameters


def abstract_state(fluid: str = FLUID) -> Any:
    """This thread's CoolProp AbstractState of a fluid (Helmholtz equation of state)."""
    from CoolProp import AbstractState

    states: dict[str, Any] = _local.__dict__.setdefault("states", {})
    if fluid not in states:
        states[fluid] = AbstractState("HEOS", fluid)
    return states[fluid]
