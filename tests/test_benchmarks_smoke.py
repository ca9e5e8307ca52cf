"""The benchmark command runs and writes its keys; speed itself is reported, not asserted."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

KEYS = {
    "hold_single_speedup",
    "pass_single_speedup",
    "ensemble_speedup",
    "max_pressure_error_psi",
    "scaling_exponent",
    "peak_memory_gb",
    "import_s",
    "demo_s",
    "hold_default_speedup",
    "hold_smart_speedup",
    "pass_lsoda_speedup",
    "ensemble_per_core_speedup",
    "cold_demo_cpu_s",
    "cold_demo_wall_s",
}


@pytest.mark.campaign
def test_quick_run_writes_every_key_and_agrees_with_the_plain_reference(tmp_path):
    """Reference: CoolProp's own states in scipy's solve_ivp (benchmarks/plain.py)."""
    target = tmp_path / "figures.json"
    subprocess.run(
        [sys.executable, "-m", "benchmarks", "--quick", "--json", str(target)],
        cwd=Path(__file__).parents[1],
        check=True,
        capture_output=True,
        timeout=900,
    )
    figures = json.loads(target.read_text())
    assert set(figures) >= KEYS
    assert all(figures[key] > 0.0 for key in KEYS)
    assert figures["max_pressure_error_psi"] < 0.5
