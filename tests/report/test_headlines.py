"""Headlines of findings: what a short report keeps of a message must say what it is about."""

from report_runs import run

import n2osim as n2
from n2osim.results.findings import Finding


def test_a_headline_ends_where_the_message_explains_itself() -> None:
    found = Finding("note", "x", 'the tap "a: b; c" drips: it wears; mend it', cause="tap")
    assert found.headline() == 'the tap "a: b; c" drips (cause: tap)'
    assert Finding("note", "x", 'a 4" hose: long').headline() == 'a 4" hose'
    assert Finding("note", "x", "").headline() == ""


def test_a_label_with_a_colon_is_not_cut_in_two() -> None:
    result = run(
        feed=n2.Feed(n2.Jets(1, "0.03 in")),
        schedule=[n2.Pass("2 s", label="final: left; wet", delivery=[("0 s", 0.4), ("9 s", 0.8)])],
    )
    text = " ".join(result.summary().split())
    assert 'NOTE the delivery of pass "final: left; wet" peaks at' in text
    assert 'pass "final: left; wet" ends before its delivery does, at 49 % of full flow' in text


def test_a_model_that_is_not_the_default_is_named_in_the_headline() -> None:
    result = run(model=n2.Model(inside_factor=0.5, radiation=False))
    (found,) = (f for f in result.findings if f.code == "model-choices")
    assert found.headline() == (
        "not the default model but inside coefficient times 0.5, radiation left out (cause: model)"
    )
