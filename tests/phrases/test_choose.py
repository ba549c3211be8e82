"""Which places are taken: apart from each other, nested, and no long gap left that has a place."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from trainer.phrases.choose import MELODY, TEXTURE, Odds, Rules, choose

rules = st.sampled_from([TEXTURE, MELODY])


@st.composite
def odds(draw: st.DrawFn) -> Odds:
    size = draw(st.integers(1, 60))
    chances = draw(st.lists(st.floats(0, 1), min_size=size, max_size=size))
    flags = st.lists(st.booleans(), min_size=size, max_size=size)
    rare = [np.array(draw(flags)) & np.array(draw(flags)) & np.array(draw(flags)) for _ in range(2)]
    plain = rare[0] | rare[1]
    return Odds(
        chance=np.where(plain, 1.0, chances),
        bar=np.arange(size, dtype=np.float64),
        end=float(size),
        plain=plain,
        firm=rare[1],
        likely=np.zeros(size, dtype=bool),
    )


@given(odds(), rules)
def test_a_denser_choice_only_adds_and_the_first_place_is_in(places: Odds, rule: Rules) -> None:
    fewer, usual, more = (set(choose(places, d, rule)) for d in ("fewer", "usual", "more"))
    assert {0} <= fewer <= usual <= more


@given(odds(), rules)
def test_what_a_person_wrote_is_taken(places: Odds, rule: Rules) -> None:
    assert set(np.flatnonzero(places.firm)) <= set(choose(places, "fewer", rule))
    assert set(np.flatnonzero(places.plain)) <= set(choose(places, "usual", rule))


@given(odds(), rules)
def test_places_that_nobody_wrote_are_apart(places: Odds, rule: Rules) -> None:
    taken = choose(places, "usual", rule)
    for place in taken[1:]:
        if not places.plain[place]:
            others = [abs(place - other) for other in taken if other != place]
            assert min(others) >= min(rule.usual.apart, rule.edge)


@given(odds(), rules)
def test_no_long_gap_keeps_a_good_place(places: Odds, rule: Rules) -> None:
    taken = [*choose(places, "usual", rule), len(places.chance)]
    for start, stop in pairwise(taken):
        if stop - start > rule.gap:
            inside = places.chance[start + int(rule.edge) : stop - int(rule.edge) + 1]
            assert not (inside >= rule.fill).any()
