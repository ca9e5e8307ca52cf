"""n2osim: real-fluid simulation of nitrous-oxide bottles, heaters and passes.

    import n2osim as n2

    bottle = n2.Bottle.preset("carbon-aluminium", capacity="15 lb")
    scenario = n2.Scenario(
        bottle, fill="12.9 lb", start="57 degF", ambient=n2.Ambient("57 degF"),
        heater=n2.Heater("380 W"), switch=n2.PressureSwitch("840 psig", "885 psig"),
        feed=n2.Feed(n2.Jets(2, "0.033 in")),
        schedule=[n2.Hold("50 min"), n2.Pass("8 s"), n2.Rest("25 min")],
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
