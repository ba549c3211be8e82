"""The division into spans against trying every division."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.phrases.spans import divide


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 7), st.integers(1, 8), st.integers(0, 2**32 - 1))
def test_best_division_and_chances_are_those_of_all_divisions(
    places: int, longest: int, seed: int
) -> None:
    scores = np.random.default_rng(seed).normal(0, 2, (places + 1, longest + 1))
    all_of_them = []
    for count in range(places):
        for inner in combinations(range(1, places), count):
            edges = [0, *inner, places]
            spans = [(j, j - i) for i, j in pairwise(edges)]
            if all(span <= longest for _, span in spans):
                all_of_them.append((sum(scores[span] for span in spans), [0, *inner]))
    total = sum(math.exp(score) for score, _ in all_of_them)
    found = divide(scores)
    assert found.starts == max(all_of_them)[1]
    for place in range(places):
        chance = sum(math.exp(s) for s, starts in all_of_them if place in starts) / total
        assert found.chances[place] == pytest.approx(chance, abs=1e-9)
    assert found.spans.sum() == pytest.approx(
        sum(math.exp(score) * len(starts) for score, starts in all_of_them) / total
    )
