"""Errors say what, where and what to do, and survive a trip through another process."""

from __future__ import annotations

import math
import pickle

import pytest

from n2osim import errors as e

EXAMPLES = [
    e.N2OSimError("plain"),
    e.InputError("fill", 12.0, "kg", "0 to 10 kg", "weigh again"),
    e.RangeError("fill", 12.0, "kg", "0 to 10 kg", "weigh again"),
    e.UnitError("fill", "12 psi", "", "mass", ""),
    e.UnknownNameError.among("material", "aluminim", ["aluminium", "steel"]),
    e.ScenarioError("car.toml", 14, "no such entry", "bottle.fil", "did you mean 'fill'?"),
    e.IntegrationError("step too small", 12.5, {"T": 300.0}, "pass", "loosen", {"t": [0, 1]}),
    e.NoSolutionError("never gets there", 950.0),
    e.LogError("not a number", "log.csv", 7, "pressure", "remove the row"),
]


@pytest.mark.parametrize("error", EXAMPLES, ids=lambda x: type(x).__name__)
def test_pickle_keeps_class_text_and_fields(error):
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is type(error)
    assert str(back) == str(error)
    assert vars(back) == vars(error)
    assert isinstance(back, e.N2OSimError)


def test_texts():
    assert str(EXAMPLES[1]) == ("fill: 12 kg is not usable; valid: 0 to 10 kg; weigh again")
    assert "did you mean 'aluminium'?" in str(EXAMPLES[4])
    assert str(EXAMPLES[5]).startswith("car.toml, line 14: bottle.fil: no such entry; ")
    assert "at 12.5 s (mode: pass)" in str(EXAMPLES[6])
    assert str(EXAMPLES[7]) == "never gets there; nearest: 950.0"
    assert str(EXAMPLES[8]).startswith("log.csv, line 7, column 'pressure': not a number")
    assert str(e.ScenarioError()) == "scenario is not usable"


def test_user_mistakes_are_value_errors():
    for error in EXAMPLES[1:6]:
        assert isinstance(error, ValueError)
    assert not isinstance(EXAMPLES[7], ValueError)


def test_what_cannot_be_pickled_is_shown_instead():
    error = e.InputError("x", lambda: 0)
    assert "lambda" in str(pickle.loads(pickle.dumps(error)))
    assert len(e.InputError("x", "y" * 10_000).value) <= 120
    assert math.isnan(e.IntegrationError("stopped").time)


def test_suggestions():
    assert e.did_you_mean("PSGI", ["psig", "bar"]) == "did you mean 'psig'?"
    assert e.did_you_mean("zzz", ["psig"]) == ""
    assert e.did_you_mean("alu", ["steel", "aluminium"]) == "did you mean 'aluminium'?"
    synonyms = {"aluminum": "aluminium", "aluminium": "aluminium", "3al": "aluminium"}
    with pytest.raises(e.UnknownNameError, match=r"did you mean 'aluminium'\?$"):
        e.choice("alumin", synonyms, "preset")
