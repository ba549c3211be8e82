"""The forecast strip."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.draw.strip import Forecast, spoken_strips, strips
from trainer.draw.text import cells
from trainer.errors import TrainerError

FORECASTS = [
    Forecast(4, (0.98, 0.93, 0.88, 0.84, 0.79, 0.74, 0.70, 0.66, 0.61, 0.58)),
    Forecast(12, (0.5,) * 10, "1 of 2"),
    Forecast(13),
    Forecast(5, (0.9,) * 10),
]


def test_as_drawn() -> None:
    assert strips(FORECASTS, width=70) == [
        " 4 ✓  98%    █████████▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒▒░░░  58%!  fading from day 3",
        "12 ! 1 of 2  ░░░░░░░░░░░░░░░░░░░░░░░░░░░░░░  !  weak throughout",
        "13 ?    –    ······························  ?  no cold try yet",
        " 5 ✓  90%    ██████████████████████████████  90%✓  holds throughout",
    ]


def test_in_ascii_with_named_days() -> None:
    days = ["Mon", "Tue", "Wed", "Thu"]
    assert strips(FORECASTS[:1], width=60, ascii=True, day=days.__getitem__) == [
        " 4 +  98%  ######============--  58%!  fading from Thu"
    ]


def test_a_cell_shows_the_lowest_chance_of_its_days() -> None:
    chances = [0.9] * 400
    chances[200] = 0.1
    (line,) = strips([Forecast(1, tuple(chances))], width=80)
    assert line.count("░") == 1


@given(
    st.lists(
        st.builds(
            Forecast,
            st.integers(1, 200),
            st.lists(st.floats(0, 1), max_size=120).map(tuple),
            st.sampled_from(["", "2 of 2"]),
        ),
        max_size=6,
    ),
    st.integers(40, 200),
    st.booleans(),
)
def test_one_line_a_start_within_the_width(
    forecasts: list[Forecast], width: int, ascii: bool
) -> None:
    lines = strips(forecasts, width=width, ascii=ascii)
    assert len(lines) == len(forecasts)
    assert all(cells(line) <= width for line in lines)
    assert not ascii or all(line.isascii() for line in lines)
    assert [int(line.split()[0]) for line in lines] == [one.number for one in forecasts]


def test_spoken() -> None:
    assert spoken_strips(FORECASTS) == [
        "Start 4: holds today, 98%; fading from day 3; 58% at the end.",
        "Start 12: weak today, 1 of 2; weak throughout.",
        "Start 13: no cold try yet.",
        "Start 5: holds today, 90%; holds throughout; 90% at the end.",
    ]


def test_too_narrow() -> None:
    with pytest.raises(TrainerError, match="39 columns"):
        strips(FORECASTS, width=39)
