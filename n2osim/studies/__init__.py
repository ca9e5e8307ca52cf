"""Studies: ensembles, sweeps, Monte Carlo, sensitivity: one scenario varied many times.

Public names are loaded when first used.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach(
    __name__,
    submod_attrs={
        "checkpoint": ["CheckpointError"],
        "ensemble": ["StudyError", "run_ensemble"],
        "members": ["SERIES", "numbers_of"],
        "montecarlo": [
            "PlusMinus",
            "SobolIndices",
            "half_width",
            "monte_carlo",
            "plus_minus",
            "sobol_indices",
        ],
        "result": ["Failure", "Probability", "StudyResult"],
        "sensitivity": ["InsideSensitivity", "inside_sensitivity"],
        "sweeps": ["sweep"],
    },
)
