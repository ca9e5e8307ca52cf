"""n2osim: real-fluid simulation of nitrous-oxide bottles, heaters and passes.

    import n2osim as n2

    bottle = n2.Bottle.preset("aluminium", capacity="12 lb")
    scenario = n2.Scenario(
        bottle, fill="12 lb", start="60 degF", ambient=n2.Ambient("60 degF"),
        heater=n2.Heater("300 W"), switch=n2.PressureSwitch("1000 psig", "1100 psig"),
        feed=n2.Feed(n2.Jets(4, "0.028 in")),
        schedule=[n2.Hold("45 min"), n2.Pass("9 s"), n2.Rest("20 min")],
    )
    run = n2.simulate(scenario)
    print(run.summary())

Everything public hangs here and is loaded when first used, so that importing costs little.
"""

from __future__ import annotations

from typing import Any

import lazy_loader

__version__ = "0.1.0"

_load, _names, __all__ = lazy_loader.attach_stub(__name__, __file__)


def __getattr__(name: str) -> Any:
    if name in __all__ or name.startswith("__"):
        return _load(name)
    from n2osim.errors import did_you_mean

    hint = did_you_mean(name, __all__)
    raise AttributeError(f"n2osim has no {name!r}" + (f"; {hint}" if hint else ""))


def __dir__() -> list[str]:
    return sorted({*__all__, "__version__"})
