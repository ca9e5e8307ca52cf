# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""A weighed pass: what a scale, a stopwatch and the gauge say about the jets."""

from __future__ import annotations

from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.schema import Amount, MaybeAmount, Part, field


@dataclass(frozen=True)
class WeighedPass(Part):
    """The bottle on a scale before and after the valve stood fully open for some seconds.

    Errors are standard deviations; their defaults are ours.

    >>> import n2osim as n2
    >>> reading = n2.WeighedPass("24.62 lb", "23.14 lb", seconds="22 s", gauge="890 psig")
    >>> print(f"{reading.used:.2f} kg used")
    0.67 kg used
    """

    before: Amount = field(
        "mass", "what the scale showed before: bottle and charge", low=0.0, high=500.0
    )
    after: Amount = field("mass", "what the scale showed after", low=0.0, high=500.0)
    seconds: Amount = field("time", "how long the valve stood open", low=0.1, high=600.0)
    gauge: Amount = field(
        "gauge_pressure", "GAUGE pressure at rest before it opened", low=1e5, high=3e7
    )
    gauge_after: MaybeAmount = field(
        "gauge_pressure", "GAUGE pressure right after it shut", None, low=0.0, high=3e7
    )
    scale_error: Amount = field("mass", "error of each weighing", 0.010, low=0.0, high=5.0)
    timing_error: Amount = field("time", "error of `seconds`", 0.1, low=0.0, high=10.0)
    gauge_error: Amount = field(
        "pressure_difference", "error of the gauge", 34474.0, low=0.0, high=1e6
    )
    empty_error: Amount = field(
        "mass",
        "error of the bottle's empty mass, the same in all weighings",
        0.05,
        low=0.0,
        high=5.0,
    )

    def __post_init__(self) -> None:
        if not self.before - self.after > 0.0:
            raise InputError(
                "weighed pass",
                f"{self.before:.6g} kg before, {self.after:.6g} kg after",
                "",
                "less after than before",
                "swap the two readings",
            )

    @property
    def used(self) -> float:
        """N2O that went through the jets, kg."""
        return self.before - self.after
