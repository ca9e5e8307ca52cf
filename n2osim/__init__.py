"""n2osim: real-fluid simulation of nitrous-oxide bottles, heaters and passes."""

__version__ = "0.1.0"
