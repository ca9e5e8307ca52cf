"""The rule by which a pair of jets is started with."""

from n2osim.answers.jets import Choice, Pair, choose_pair


def pair(power, lean, rich, bore=1e-3):
    return Pair(bore, bore, power, 0.5 * (lean + rich), lean, rich)


def test_nearest_in_power_among_those_whose_ends_hold():
    good, nearer_but_lean, nearer_but_rich = (
        pair(90e3, 0.96, 1.19),
        pair(100e3, 0.94, 1.1),
        pair(101e3, 0.97, 1.21),
    )
    chosen = choose_pair([nearer_but_lean, good, nearer_but_rich], 100e3)
    assert chosen == Choice(good, True, 10e3, 0.0)


def test_lean_bound_wins_where_no_pair_holds_both():
    lean, richer, rich = pair(100e3, 0.9, 1.3), pair(99e3, 0.99, 1.5), pair(80e3, 0.95, 1.4)
    assert choose_pair([lean, richer, rich], 100e3) == Choice(rich, False, 20e3, 1.4)


def test_none_without_a_pair_that_holds_the_lean_bound():
    assert choose_pair([pair(1e5, 0.9, 1.0)], 1e5) is None
    assert choose_pair([], 1e5) is None
