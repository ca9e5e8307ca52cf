"""Scenario files: TOML in, a checked :class:`Scenario` out, and back.

A file says ``schema = 1`` and has the sections ``[bottle]`` (or several ``[[bottles]]``),
``[heater]``, ``[switch]``, ``[mounting]``, ``[ambient]``, ``[feed]`` and ``[feeds.NAME]``,
``[engine]``, ``[supply]``, ``[model]``, ``[numerics]``, one ``[[schedule]]`` per thing that
happens, in order, and one ``[[weighed]]`` per pass that was weighed. Quantities are numbers in SI
or texts with a unit. Nothing in a file is executed.
"""

from __future__ import annotations

from pathlib import Path

from n2osim.files import write_text
from n2osim.scenario.bare_numbers import BareNumber
from n2osim.scenario.dump import scenario_text
from n2osim.scenario.read import bare_numbers_in, read_scenario
from n2osim.scenario.scenario import SCHEMA, Scenario
from n2osim.scenario.source import Source, read_text, said_name


def load(path: str | Path) -> Scenario:
    """Read a scenario file ("-": standard input).

    Raises ScenarioError (file, line, key, remedy) for everything that is wrong with it: not
    there, not UTF-8, not TOML, too large, nested too deeply, keys or names that do not exist (with
    near matches), values of the wrong kind, unit or range.
    """
    return loads(read_text(path), said_name(path))


def loads(text: str, name: str = "scenario") -> Scenario:
    """As :func:`load`, from a text; ``name`` stands in messages."""
    source = Source(text, name)
    _check_schema(source)
    return read_scenario(source)


def load_with_notes(path: str | Path) -> tuple[Scenario, list[BareNumber]]:
    """As :func:`load`, and the numbers without a unit that were probably meant in one.

    ``closes = 900`` is 900 Pa gauge, 0.1 psig: of each where it stands, what it was read as and
    what was likely meant.
    """
    source = Source(read_text(path), said_name(path))
    _check_schema(source)
    return read_scenario(source), bare_numbers_in(source)


def dump(scenario: Scenario, path: str | Path | None = None, *, overwrite: bool = False) -> str:
    """The scenario as TOML text in SI numbers, which loads back equal.

    Written to ``path`` where one is given; an existing file only with ``overwrite``.
    """
    text = scenario_text(scenario)
    if path is not None:
        write_text(path, text, overwrite=overwrite)
    return text


def _check_schema(source: Source) -> None:
    schema = source.data.get("schema")
    if schema is None:
        raise source.error((), "has no schema version", f"begin the file with: schema = {SCHEMA}")
    if isinstance(schema, bool) or schema != SCHEMA:
        raise source.error(
            ("schema",),
            f"is {str(schema)[:40]}, this version reads schema {SCHEMA}",
            "the file was written for another version of the program",
        )
