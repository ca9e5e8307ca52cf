"""Limits on the heater, its cut-out, its supply and on where the heat goes in."""

from __future__ import annotations

from typing import Any

from n2osim.hardware.heater import DRY_WALL_MARGIN, FUSE_MARGIN, VOLTAGE_DROP
from n2osim.hardware.materials import MATERIALS
from n2osim.numbers import Units
from n2osim.results.bottle_readings import against
from n2osim.results.electric import current
from n2osim.results.instants import highest
from n2osim.results.judge import Case, Limit, Part, Reading
from n2osim.results.view import View


def cuts(v: View) -> Any:
    """Events at which the surface cut-out opens."""
    return v.events("cut-out opens")


def _no_cut_out(case: Case) -> Reading | None:
    heater = case.view.fitted.heater
    if heater is None:
        return None
    return Reading(beyond=heater.cut_out is None and heater.self_limit == 0.0)


def _cut_out_high(case: Case) -> Reading | None:
    """A cut-out against what the layer of the shell that bears least bears."""
    v = case.view
    cut_out = v.fitted.heater.cut_out if v.fitted.heater is not None else None
    if cut_out is None:
        return None
    bears = {x.material.name: x.material.max_temperature for x in v.bottle.layers}
    known = {name: limit for name, limit in bears.items() if limit is not None}
    if v.bottle.wall_temperature_limit is not None:
        known = {"the shell": v.bottle.wall_temperature_limit}
    if not known:
        return None
    weakest = min(known, key=lambda name: known[name])
    return Reading(cut_out.opens, known[weakest], details={"weakest": weakest})


def _cut_out(case: Case) -> Reading | None:
    v = case.view
    opened = cuts(v)
    cut_out = v.fitted.heater.cut_out if v.fitted.heater is not None else None
    if not opened or cut_out is None:
        return None
    hottest = highest(v.time, v.array("heater_temperature_K")).value
    return Reading(
        hottest,
        cut_out.opens,
        opened[0].time,
        beyond=True,
        severity="warning" if len(opened) > 1 else "note",
        details={"count": "once" if len(opened) == 1 else f"{len(opened)} times"},
    )


_BLANKET = MATERIALS["silicone rubber"]


def _heater_hot(case: Case) -> Reading | None:
    """The heater itself against what silicone rubber bears: little contact, or a small face."""
    v = case.view
    if v.fitted.heater is None or _BLANKET.max_temperature is None:
        return None
    return against(v, v.array("heater_temperature_K"), _BLANKET.max_temperature)


def _dry_wall(case: Part) -> Reading | None:
    """Heat that goes in above the liquid, where one temperature of the fluid is not fair."""
    heater, mounting = case.fitted.heater, case.fitted.mounting
    if heater is None:
        return None
    margin = DRY_WALL_MARGIN.get((heater.blanket, mounting.standing))
    if margin is None:
        return None
    shop, si = ([f"{u.value(m, 'pressure_difference'):.0f}" for m in margin] for u in _SYSTEMS)
    return Reading(
        margin[1],
        None,
        beyond=True,
        details={
            "where": _PLACES[heater.blanket],
            "how": "standing" if mounting.standing else "lying",
            "margin": f"{' to '.join(shop)} psi ({' to '.join(si)} kPa)",
        },
    )


_SYSTEMS = (Units("shop"), Units("si"))
_PLACES = {"top": "on the top half"}


def _supply(case: Part) -> Reading | None:
    """Current of all heaters together against the supply's fuse."""
    fuse = case.scenario.supply.fuse
    heaters = [b.heater for b in case.scenario.bottles if b.heater is not None]
    if fuse is None or not heaters:
        return None
    return Reading(current(heaters, case.scenario.supply), fuse)


def _near_fuse(case: Part) -> Reading | None:
    """The same against what a load that stays on should draw at most."""
    found = _supply(case)
    if found is None or found.bound is None or found.value is None:
        return None
    most = found.bound / FUSE_MARGIN
    return Reading(found.value, most, beyond=most < found.value <= found.bound)


def _weak_supply(case: Part) -> Reading | None:
    """What battery, cable and relay keep back of the voltage when all heaters are on."""
    supply = case.scenario.supply
    heaters = [b.heater for b in case.scenario.bottles if b.heater is not None]
    load = sum(h.element_conductance for h in heaters)
    if supply.resistance == 0.0 or load == 0.0:
        return None
    left = supply.voltage_at(load) / supply.voltage
    drop, mended = (1.0 - left) * supply.voltage, supply.voltage * load
    fuse = supply.fuse is not None and mended > supply.fuse / FUSE_MARGIN
    more = f": on such a cable the heaters draw up to {mended:.0f} A, too much for the fuse"
    return Reading(
        1.0 - left,
        VOLTAGE_DROP,
        severity="warning" if 1.0 - left > 2.0 * VOLTAGE_DROP else None,
        details={
            "less": f"{100.0 * (1.0 - left**2):.0f} %",
            "heat": f"{drop**2 / supply.resistance:.0f} W",
            "person": "a thicker or shorter cable, a sound relay and connections"
            + (more if fuse else ""),
        },
    )


HEATER_LIMITS = (
    Limit(
        "no-cut-out",
        "bottle",
        _no_cut_out,
        "note",
        "the heater has no surface cut-out: with its relay welded nothing turns it off",
        cause="heater",
    ),
    Limit(
        "cut-out-too-high",
        "bottle",
        _cut_out_high,
        "note",
        "the surface cut-out opens above what {weakest} bears: with the relay welded it guards the "
        "heater, not the shell",
        kind="temperature",
        value_is="opens at",
        limit_is="limit",
        cause="cut-out",
        bound_from="shell",
    ),
    Limit(
        "cut-out-cycling",
        "bottle",
        _cut_out,
        "warning",
        "the surface cut-out interrupts the heater ({count}): the full power does not get "
        "into the shell",
        quantity="hottest_heater_K",
        value_is="heater",
        limit_is="cut-out opens at",
        cause="cut-out",
    ),
    Limit(
        "heater-too-hot",
        "bottle",
        _heater_hot,
        "warning",
        "the heater gets hotter than the silicone rubber of a blanket bears: it may char or burn",
        quantity="hottest_heater_K",
        value_is="heater",
        limit_is="silicone rubber bears",
        cause="heater",
        bound_from="rule",
        source=_BLANKET.provenance("max_temperature")[1],
        person="strap the heater tightly to the shell over its whole face",
    ),
    Limit(
        "heat-on-dry-wall",
        "fitted",
        _dry_wall,
        "warning",
        "the blanket lies {where} of a {how} bottle, above the liquid: the fluid layers, and its "
        "pressure can stand {margin} above what is computed with one temperature",
        quantity="layering_margin_Pa",
        value_is="keep clear by",
        cause="layering",
        source="computed: two layers at 1000 psia (6895 kPa) and 620 kg/m3, a twentieth of the "
        "mass 2 K warmer to a tenth 5 K; that dry walls layer the fluid is measured, how far in a "
        "bottle of this size is not",
        person="put the blanket on the lower half, or allow for the margin",
    ),
    Limit(
        "over-fuse",
        "set-up",
        _supply,
        "warning",
        "the heaters together draw more than the fuse of the supply is rated for",
        kind="current",
        value_is="draw",
        limit_is="fuse",
        cause="heater",
        bound_from="supply",
        source="the rating given with the supply",
        person="less power, or a larger fuse on a wire that is made for it; never a larger fuse on "
        "the same wire",
    ),
    Limit(
        "near-fuse",
        "set-up",
        _near_fuse,
        "note",
        "the heaters together draw more than a fuse bears for long",
        kind="current",
        value_is="draw",
        limit_is="80 % of the fuse",
        cause="heater",
        bound_from="supply",
        source="NFPA 70 article 210.20(A), from memory: a fuse of 125 % of a load that stays on",
        person="less power, or a larger fuse on a wire that is made for it",
    ),
    Limit(
        "weak-supply",
        "set-up",
        _weak_supply,
        "note",
        "battery, cable and relay keep back much of the voltage: the heaters give {less} less, and "
        "{heat} of heat arise on the way there, most where a contact is bad",
        kind="fraction",
        value_is="kept back",
        limit_is="usual",
        cause="supply",
        bound_from="supply",
        source="ABYC E-11, from memory: a tenth of the voltage for what is not critical; a warning "
        "from twice that (no source)",
        person="{person}",
    ),
)
