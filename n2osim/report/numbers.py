"""Moved to :mod:`n2osim.numbers`."""

from n2osim.numbers import Units, both, in_system, instant, lasting

__all__ = ["Units", "both", "in_system", "instant", "lasting"]
