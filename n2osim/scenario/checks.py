"""What only shows when the parts of a scenario come together: kinds, names, who follows whom."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from n2osim.errors import InputError
from n2osim.hardware._part import require
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater, Supply
from n2osim.hardware.switch import PressureSwitch
from n2osim.scenario.schedule import Hold, Item, Pass, Purge, Refill, Rest, Weigh

if TYPE_CHECKING:
    from n2osim.scenario.scenario import FittedBottle, Scenario


def as_schedule(items: Any) -> tuple[Item, ...]:
    """The schedule as a tuple; InputError when it is not a list of items."""
    if isinstance(items, (Hold, Rest, Pass, Purge, Weigh, Refill)):
        return (items,)
    try:
        return tuple(items)
    except TypeError:
        raise InputError(
            "schedule",
            items,
            "",
            "a list of Hold, Pass, Rest, ...",
            'for example [Hold("30 min"), Pass("9 s")]',
        ) from None


def check_fitted(fitted: FittedBottle, mounting: type) -> None:
    """The parts of a fitted bottle are of the right kind."""
    require(fitted.bottle, Bottle, "bottle", allow_none=False)
    require(fitted.heater, Heater, f"{fitted.name} heater")
    require(fitted.switch, PressureSwitch, f"{fitted.name} switch")
    require(fitted.mounting, mounting, f"{fitted.name} mounting", allow_none=False)


def check_scenario(scenario: Scenario, model: type, numerics: type, fitted: type) -> None:
    """Everything is of the right kind, names are unique, whoever is named exists."""
    for b in scenario.bottles:
        require(b, fitted, "fitted bottle", allow_none=False)
    for value, kind, name in (
        (scenario.ambient, Ambient, "ambient"),
        (scenario.supply, Supply, "supply"),
        (scenario.model, model, "model"),
        (scenario.numerics, numerics, "numerics"),
    ):
        require(value, kind, name, allow_none=False)
    require(scenario.engine, EngineSide, "engine")
    if scenario.engine is not None:
        from n2osim.results.engine_side import accounting

        accounting(scenario.engine)  # a fuel that is not known, a BSFC that it cannot have
    for name, feed in scenario.feeds:
        require(feed, Feed, f'feed "{name}"', allow_none=False)
    _check_bottles(scenario)
    for item in scenario.schedule:
        _check_item(scenario, item)


def _check_bottles(scenario: Scenario) -> None:
    names = [b.name for b in scenario.bottles]
    if len(set(names)) != len(names):
        raise InputError(
            quantity="bottle names",
            value=names,
            unit="",
            valid="all different",
            remedy="rename one of them",
        )
    for b in scenario.bottles:
        if b.follows is None:
            continue
        leader = scenario.bottles[scenario.bottle_index(b.follows)]
        if leader.follows is not None:
            # Nobody would have a switch of his own: the heaters would never come on.
            raise InputError(
                quantity=f"{b.name} follows",
                value=b.follows,
                unit="",
                valid="a bottle that follows none itself",
                remedy="name the bottle whose switch it is",
            )


def _check_item(scenario: Scenario, item: Any) -> None:
    if not isinstance(item, (Hold, Rest, Pass, Purge, Weigh, Refill)):
        raise InputError(
            quantity="schedule item",
            value=type(item).__name__,
            unit="",
            valid="Hold, Rest, Pass, Purge, Weigh or Refill",
            remedy="use one of these",
        )
    if isinstance(item, Pass) and item.outflow is None:
        for stage in item.stages or (None,):
            scenario.feed_index(item.feed if stage is None else stage.feed)
    if isinstance(item, Purge):
        scenario.feed_index(item.feed)


__all__ = ["as_schedule", "check_fitted", "check_scenario"]
