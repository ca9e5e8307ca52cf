"""Public names of the studies, loaded when first used."""

from .checkpoint import CheckpointError as CheckpointError
from .ensemble import StudyError as StudyError
from .ensemble import run_ensemble as run_ensemble
from .members import SERIES as SERIES
from .members import numbers_of as numbers_of
from .montecarlo import PlusMinus as PlusMinus
from .montecarlo import SobolIndices as SobolIndices
from .montecarlo import half_width as half_width
from .montecarlo import monte_carlo as monte_carlo
from .montecarlo import plus_minus as plus_minus
from .montecarlo import sobol_indices as sobol_indices
from .result import Failure as Failure
from .result import Probability as Probability
from .result import StudyResult as StudyResult
from .sensitivity import InsideSensitivity as InsideSensitivity
from .sensitivity import inside_sensitivity as inside_sensitivity
from .sweeps import sweep as sweep
