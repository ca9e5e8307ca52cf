"""Studies: ensembles, sweeps, Monte Carlo, sensitivity: one scenario varied many times.

Public names are loaded when first used; they stand in ``__init__.pyi``.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
