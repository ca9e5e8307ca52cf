"""The printer of tables is :mod:`n2osim.text`, below everything that prints."""

from n2osim.text import Table

__all__ = ["Table"]
