"""What the studies package offers, and that asking for it costs nothing beforehand."""

from __future__ import annotations

import pkgutil
import subprocess
import sys

import pytest

import n2osim.studies as studies


def test_every_public_name_is_there():
    assert "run_ensemble" in studies.__all__
    for name in studies.__all__:
        assert getattr(studies, name) is not None
    assert set(studies.__all__) <= set(dir(studies))
    with pytest.raises(AttributeError, match="monte_carol"):
        studies.monte_carol  # noqa: B018


def test_no_name_is_also_a_module():
    # "from package import name" would hand out the module once something has imported it.
    modules = {m.name for m in pkgutil.iter_modules(studies.__path__)}
    assert "ensemble" in modules and not set(studies.__all__) & modules


def test_importing_the_package_loads_nothing_heavy():
    code = (
        "import sys, n2osim.studies\n"
        "print([m for m in ('numpy', 'scipy', 'numba', 'pandas', 'CoolProp', 'matplotlib', 'tqdm')"
        " if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"


def test_an_ensemble_needs_neither_pandas_nor_matplotlib_nor_scipy_stats():
    code = (
        "import sys\n"
        "from n2osim import run_ensemble, sweep\n"
        "print([m for m in ('scipy.stats', 'pandas', 'CoolProp', 'matplotlib', 'tqdm')"
        " if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "[]"
