"""Some pairs of random scenario and question; the long campaign is ``answer_campaign.py``."""

import answer_campaign as campaign
import pytest

from n2osim.scenario.fields import get_field


@pytest.mark.parametrize(
    "first", [pytest.param(k, marks=pytest.mark.campaign) for k in range(0, 60, 10)]
)
def test_saved_answers_do_what_they_say(first: int) -> None:
    failed = {}
    answered = 0
    for seed in range(first, first + 10):
        _, what, bad = campaign.examine(seed)
        answered += what.startswith("answered")
        if bad:
            failed[seed] = bad
    assert not failed and answered >= 2


def test_a_wrong_answer_is_seen() -> None:
    """The judge of answers itself: another heater in the scenario than the figures are of."""
    import dataclasses

    from study_samples import base

    from n2osim.answers.heater import size_heater
    from n2osim.scenario.fields import with_fields

    found = size_heater(base(), "30 min", page=False)
    assert campaign.wrong(found) == []
    power = get_field(found.scenario, "heater.power")
    other = with_fields(found.scenario, {"heater.power": 1.1 * power})
    assert campaign.wrong(dataclasses.replace(found, scenario=other))


@pytest.mark.parametrize("seed", [137, pytest.param(352, marks=pytest.mark.campaign), 871])
def test_pairs_that_failed_once(seed: int) -> None:
    """A bottle frozen out in a day; a frozen leader; an edge with more allowed values beyond it."""
    assert campaign.examine(seed)[2] == []
