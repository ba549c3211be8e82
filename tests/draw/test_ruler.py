"""The beat ruler of common metres (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.draw.scores import F, note, score
from trainer.draw.page import FORMS, Form, page


def ruler(meter: tuple[int, int], unit: Fraction, form: Form = "staff") -> str:
    """The ruler of one bar of equal notes on a single staff."""
    count = int(F(4 * meter[0], meter[1]) / unit)
    music = score([note(i * unit, unit, "B4") for i in range(count)], meter=meter, staves=1, bars=1)
    return " ".join(page(music, F(0), music.end, width=120, form=form)[-1].split())


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    ("meter", "unit", "expected"),
    [
        ((2, 4), F(1, 4), "1 e & a 2 e & a"),
        ((3, 4), F(1, 2), "1 & 2 & 3 &"),
        ((4, 4), F(1), "1 2 3 4"),
        ((4, 4), F(1, 4), "1 e & a 2 e & a 3 e & a 4 e & a"),
        ((2, 2), F(1, 2), "1 e & a 2 e & a"),
        ((6, 8), F(1, 2), "1 & a 2 & a"),
        ((6, 8), F(1, 4), "1 · & · a · 2 · & · a ·"),
        ((9, 8), F(1, 2), "1 & a 2 & a 3 & a"),
        ((12, 8), F(1, 2), "1 & a 2 & a 3 & a 4 & a"),
        ((5, 8), F(1, 2), "1 2 3 4 5"),
        ((5, 8), F(1, 4), "1 & 2 & 3 & 4 & 5 &"),
        ((2, 4), F(1, 3), "1 · · 2 · ·"),
        ((2, 4), F(1, 5), "1 · · · · 2 · · · ·"),
        ((2, 4), F(1, 8), "1 · e · & · a · 2 · e · & · a ·"),
        ((3, 4), F(3), "1 2 3"),
    ],
)
def test_ruler(meter: tuple[int, int], unit: Fraction, expected: str, form: Form) -> None:
    assert ruler(meter, unit, form) == expected
