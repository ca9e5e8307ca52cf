"""The 200 scenarios of the corpus: hand-built, from texts, and from the dice of the trust tests."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from named import GROUPS
from names import beside, shipped

import n2osim as n2

COUNT = 200
FIRST_SEED = 1000
VARIETY = 3  # different feeds with losses among the random ones
TEXTS = ("SMALL", "EVERYTHING", "PAIR", "CHECKS")
SHIPPED = ("demo.toml", "new.toml", "evening.toml", "two_bottles.toml", "closed_form.toml")


def read(text: str) -> n2.Scenario:
    """A scenario from its text."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "scenario.toml")
        path.write_text(text)
        return n2.Scenario.from_toml(path)


def written() -> Iterator[tuple[str, n2.Scenario]]:
    """Scenario files that ship, and texts of the tests of the command line."""
    for name in SHIPPED:
        yield f"file-{name.removesuffix('.toml')}", n2.Scenario.from_toml(shipped(name))
    texts = beside("cli", "scenario_texts")
    for name in TEXTS:
        yield f"text-{name.lower()}", read(getattr(texts, name))


def diced(count: int) -> Iterator[tuple[str, n2.Scenario]]:
    """``count`` random scenarios, always the same ones."""
    dice = beside("trust", "random_scenarios")
    for seed in range(FIRST_SEED, FIRST_SEED + count):
        yield f"random-{seed}", dice.scenario(dice.Dice(seed), VARIETY)


def corpus() -> dict[str, n2.Scenario]:
    """All scenarios by name, in order; names are good file names."""
    found: dict[str, n2.Scenario] = {}
    for group in GROUPS:
        found |= group()
    found |= dict(written())
    return found | dict(diced(COUNT - len(found)))


def recorded(folder: Path) -> dict[str, n2.Scenario]:
    """The scenarios of an earlier recording, from the texts that it kept."""
    return {p.stem: n2.Scenario.from_toml(p) for p in sorted(folder.glob("scenarios/*.toml"))}
