"""Speed and memory of n2osim against a plain CoolProp + scipy script: ``python -m benchmarks``."""
