"""Jets for a wanted power: N2O and fuel bores at a gauge pressure and a charge."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from n2osim import fluid
from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed
from n2osim.hardware.jets import Jets
from n2osim.hardware.orifice_models import MODELS
from n2osim.physics.combustion import fuel_for
from n2osim.physics.feed_state import Drawn, drawn_at_pressure, feed_flow, liquid_at
from n2osim.results.engine_side import (
    accounting,
    engine_point,
    fuel_jets_flow,
    fuel_of,
    power_per_flow,
)
from n2osim.units import INCH, format_quantity, parse, parse_many

NUMBER_DRILLS = tuple(
    thou * INCH / 1000.0
    for thou in (
        13.5,
        14.5,
        16,
        18,
        20,
        21,
        22.5,
        24,
        25,
        26,
        28,
        29.2,
        31,
        32,
        33,
        35,
        36,
        37,
        38,
        39,
        40,
        41,
        42,
        43,
        46.5,
        52,
        55,
        59.5,
        63.5,
        67,
        70,
        73,
        76,
        78.5,
        81,
        82,
        86,
        89,
        93.5,
        96,
        98,
    )
)
"""Number-size twist drills 80 to 40, m (ASME B94.11M; from memory)."""
_LEAST_BORE, _LARGEST_BORE = 1e-4, 0.012
_MUCH_LOST = 0.8  # of the jets' own flow (our choice)


@dataclass(frozen=True)
class JetSet:
    """Bores (m) of the N2O and the fuel jets and what they give at the state they were sized for.

    power W; n2o_flow, fuel_flow kg/s; mixture: equivalence ratio of the shot alone.
    """

    n2o_bore: float
    fuel_bore: float | None
    n2o_flow: float
    fuel_flow: float
    power: float
    mixture: float


@dataclass(frozen=True)
class JetSizing:
    """Answer of :func:`size_jets`. SI.

    exact: bores that give the wanted power and mixture. standard: the nearest of the sizes that
    were offered (None: none were) and what they give. drawn: the state the N2O is drawn in.
    chokes_at: the part of the feed that limits the flow. by_model: N2O bore (m) that each orifice
    model asks for; how far they lie apart is how much rests on the model (a flow test settles it).
    cautions: what to know before drilling (gas instead of liquid, a part ahead of the jets that
    limits the flow, a bottle too hot); empty when there is nothing.
    ``feed`` and ``engine`` carry the chosen jets, ready for a scenario.
    """

    power: float
    count: int
    exact: JetSet
    standard: JetSet | None
    drawn: Drawn
    chokes_at: str
    by_model: dict[str, float]
    feed: Feed
    engine: EngineSide
    statement: str
    cautions: tuple[str, ...] = ()

    def __str__(self) -> str:
        f = format_quantity
        lines = [
            f"{f(self.power, 'engine_power')} from {self.count} N2O jet(s), drawn at "
            f"{f(self.drawn.temperature, 'temperature')}, {self.drawn.density:.0f} kg/m3",
            _line("exact", self.exact),
        ]
        if self.standard is not None:
            lines.append(_line("nearest size", self.standard))
        asked = ", ".join(f"{k} {f(v, 'length')}" for k, v in self.by_model.items())
        lines += [f"CAUTION: {text}" for text in self.cautions]
        return "\n".join([*lines, f"N2O bore by orifice model: {asked}", self.statement])


def _line(name: str, jets: JetSet) -> str:
    f = format_quantity
    fuel = "-" if jets.fuel_bore is None else f(jets.fuel_bore, "length")
    return (
        f"{name}: N2O {f(jets.n2o_bore, 'length')}, fuel {fuel}: {f(jets.n2o_flow, 'mass_flow')} "
        f"N2O, {f(jets.fuel_flow, 'mass_flow')} fuel, {f(jets.power, 'engine_power')}, mixture "
        f"{jets.mixture:.3f}"
    )


def size_jets(
    target_power: Any,
    at_pressure: Any,
    count: int,
    engine: EngineSide,
    bottle: Bottle,
    charge: Any,
    *,
    feed: Feed | None = None,
    fuel_count: int | None = None,
    ambient: Ambient | None = None,
    sizes: Sequence[Any] | None = None,
) -> JetSizing:
    """N2O and fuel jets that give ``target_power`` (W, "100 hp") at a gauge pressure.

    Parameters
    ----------
    at_pressure : GAUGE pressure (Pa) of the bottle at rest; the charge (kg) decides what is drawn.
    count : N2O jets in the intake, ``fuel_count`` fuel jets (None: as many).
    engine : fuel, mixture, BSFC, accounting, fuel pressure; its own fuel jets give only their cd.
    feed : losses ahead of the jets, orifice model and the jets' cd (their bore is what is looked
        for); None: jets alone with the default model and cd.
    sizes : bores (m or text) that can be had, for example ``NUMBER_DRILLS``.

    Raises NoSolutionError when the feed cannot pass that much whatever the bore, or the charge
    cannot stand at that pressure.
    """
    power = parse(target_power, "engine_power", name="target power", low=100.0, high=3e6)
    air = (ambient or Ambient()).pressure
    gauge = parse(at_pressure, "gauge_pressure", name="bottle pressure", low=1e5, ambient=air)
    held = parse(charge, "mass", name="charge", low=0.0, low_open=True)
    drawn = drawn_at_pressure(bottle, held, gauge, air)
    template = feed if feed is not None else Feed(Jets(1, 1e-3))
    p_back = air + engine.intake_pressure
    flow = power / power_per_flow(engine)
    base = _with_bore(template, count, 1e-3)
    bore = bore_for_flow(base, drawn, p_back, flow)
    chosen = _with_bore(base, count, bore)
    fuel_bore = _fuel_bore(engine, count if fuel_count is None else fuel_count, flow)
    exact, fuelled = _set_of(chosen, engine, fuel_count or count, fuel_bore, drawn, p_back)
    standard = None
    if sizes is not None:
        offered = parse_many(sizes, "length", name="jet sizes", low=5e-5, high=0.02)
        chosen = _with_bore(base, count, nearest_size(bore, offered))
        near = None if fuel_bore is None else nearest_size(fuel_bore, offered)
        standard, fuelled = _set_of(chosen, engine, fuel_count or count, near, drawn, p_back)
    return JetSizing(
        power,
        count,
        exact,
        standard,
        drawn,
        feed_flow(chosen, drawn, p_back).chokes_at,
        bores_by_model(base, drawn, p_back, flow),
        chosen,
        fuelled,
        f"{accounting(engine)}; {base.model} orifice model, cd {base.jets.cd:.3g}",
        tuple(jet_cautions(chosen, drawn, p_back)),
    )


def jet_cautions(feed: Feed, drawn: Drawn, p_back: float) -> Iterator[str]:
    """What to know before jets of this bore are drilled for this state."""
    point = feed_flow(feed, drawn, p_back)
    if drawn.density < fluid.RHO_CRITICAL and not drawn.two_phase:
        yield _gas_caution(feed, drawn, p_back, point.flow)
    jets = ("jets", "")
    if point.chokes_at not in jets:
        yield f"the {point.chokes_at} limits the flow, not the jets: enlarge it"
    alone = feed_flow(Feed(feed.jets, model=feed.model), drawn, p_back).flow
    if point.chokes_at in jets and point.flow < _MUCH_LOST * alone:
        yield (
            f"losses ahead of the jets leave {point.flow / alone:.0%} of what the jets alone "
            "would pass: a larger hose or solenoid steadies the mixture"
        )
    if drawn.temperature > EXPOSURE_LIMIT:
        yield (
            f"the bottle would be at {format_quantity(drawn.temperature, 'temperature')}, above "
            f"the {format_quantity(EXPOSURE_LIMIT, 'temperature')} that nitrous oxide cylinders "
            "may see (CGA G-8.1, as quoted by cylinder-industry guidance)"
        )


def _gas_caution(feed: Feed, drawn: Drawn, p_back: float, flow: float) -> str:
    told = (
        f"no liquid is left at this charge and pressure ({drawn.density:.0f} kg/m3): these "
        "jets are sized for gas"
    )
    if drawn.pressure >= fluid.P_CRITICAL:
        return told
    liquid = feed_flow(feed, liquid_at(drawn.pressure), p_back).flow
    return (
        f"{told}; a bottle with liquid at the same gauge pressure gives {liquid / flow:.2f} "
        "times as much N2O through them, which with the same fuel is lean"
    )


def _with_bore(feed: Feed, count: int, bore: float) -> Feed:
    return dataclasses.replace(feed, jets=Jets(count, bore, cd=feed.jets.cd))


def nearest_size(bore: float, sizes: Sequence[float]) -> float:
    """The size whose area is nearest in proportion."""
    return min(sizes, key=lambda s: abs(s / bore - 1.0) if s >= bore else abs(bore / s - 1.0))


def bore_for_flow(feed: Feed, drawn: Drawn, p_back: float, flow: float) -> float:
    """Bore (m) of the feed's jets that passes ``flow`` (kg/s), losses ahead of them included."""
    from scipy.optimize import brentq

    count = feed.jets.count

    def error(bore: float) -> float:
        return feed_flow(_with_bore(feed, count, bore), drawn, p_back).flow / flow - 1.0

    most = error(_LARGEST_BORE)
    if most < 0.0:
        at = feed_flow(_with_bore(feed, count, _LARGEST_BORE), drawn, p_back).chokes_at
        raise NoSolutionError(
            f"no jet gives {format_quantity(flow, 'mass_flow')}: the feed passes "
            f"{format_quantity(flow * (1.0 + most), 'mass_flow')} at most"
            + (f", choked at the {at}" if at else "")
        )
    if error(_LEAST_BORE) > 0.0:
        asked = format_quantity(flow, "mass_flow")
        raise NoSolutionError(
            f"{count} jets of {_LEAST_BORE * 1e3:.2g} mm pass more than {asked} already: use fewer"
        )
    return float(brentq(error, _LEAST_BORE, _LARGEST_BORE, xtol=1e-9))


def bores_by_model(feed: Feed, drawn: Drawn, p_back: float, flow: float) -> dict[str, float]:
    """Bore (m) that each orifice model asks for; a model without an answer is left out."""
    found = {}
    for name in MODELS:
        try:
            found[name] = bore_for_flow(dataclasses.replace(feed, model=name), drawn, p_back, flow)
        except NoSolutionError:
            continue
    return found


def _fuel_bore(engine: EngineSide, count: int, n2o_flow: float) -> float | None:
    """Bore of ``count`` fuel jets for the target mixture; None without a fuel pressure."""
    if engine.fuel_pressure is None:
        return None
    wanted = float(fuel_for(n2o_flow, fuel_of(engine), engine.target_mixture))
    trial = dataclasses.replace(engine, fuel_jets=Jets(count, 1e-3, cd=_fuel_cd(engine)))
    flow = fuel_jets_flow(trial)
    if not flow:
        raise InputError(
            "fuel pressure",
            engine.fuel_pressure,
            "Pa gauge",
            f"above the intake's ({engine.intake_pressure:.6g} Pa gauge)",
            "raise it, or use a regulator referenced to boost",
        )
    return 1e-3 * float((wanted / flow) ** 0.5)


def _fuel_cd(engine: EngineSide) -> float:
    return engine.fuel_jets.cd if engine.fuel_jets is not None else 0.8


def _set_of(
    feed: Feed,
    engine: EngineSide,
    fuel_count: int,
    fuel_bore: float | None,
    drawn: Drawn,
    p_back: float,
) -> tuple[JetSet, EngineSide]:
    """What a set of jets gives, and the engine side that carries its fuel jets."""
    if fuel_bore is not None:
        jets = Jets(fuel_count, fuel_bore, cd=_fuel_cd(engine))
        engine = dataclasses.replace(engine, fuel_jets=jets)
    else:
        engine = dataclasses.replace(engine, fuel_jets=None)
    flow = feed_flow(feed, drawn, p_back).flow
    point = engine_point(engine, flow)
    made = JetSet(feed.jets.bore, fuel_bore, flow, point.fuel_flow, point.power, point.equivalence)
    return made, engine


__all__ = [
    "NUMBER_DRILLS",
    "JetSet",
    "JetSizing",
    "bore_for_flow",
    "bores_by_model",
    "jet_cautions",
    "nearest_size",
    "size_jets",
]
