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
        "13 ?    –    ······························  ?  not tried cold yet",
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
        "Start 13: not tried cold yet.",
        "Start 5: holds today, 90%; holds throughout; 90% at the end.",
    ]


def test_too_narrow() -> None:
    with pytest.raises(TrainerError, match="39 columns"):
        strips(FORECASTS, width=39)


def test_a_start_and_its_join_with_the_days_marked() -> None:
    chances = FORECASTS[0].chances
    made = [Forecast(4, chances, name="start"), Forecast(4, chances[3:] + (0.5,) * 3, name="join")]
    marks = {0: "1 Mar", 9: "10 Mar, Concert"}
    assert strips(made, width=64, marks=marks) == [
        "start ✓  98%  ██████▒▒▒▒▒▒▒▒▒▒▒▒░░  58%!  fading from day 3",
        "join  ~  84%  ▒▒▒▒▒▒▒▒▒▒▒▒░░░░░░░░  50%!  weak from day 6",
        "              ▲ 1 Mar           ▲ 10 Mar, Concert",
    ]
    crowded = marks | {0: "1 March 2026"}
    assert strips(made[:1], width=48, ascii=True, marks=crowded)[-1] == (
        "              ^        ^ 10 Mar, Concert"
    )


def test_a_bare_strip_tells_no_figures() -> None:
    one = Forecast(4, FORECASTS[0].chances, name="start", bare=True)
    assert strips([one], width=60) == ["start ✓  ██████▒▒▒▒▒▒▒▒▒▒▒▒░░  !  fading from day 3"]
    assert spoken_strips([one]) == ["Start: holds today; fading from day 3."]


@given(
    st.integers(1, 60),
    st.dictionaries(st.integers(0, 70), st.text(st.characters(codec="ascii"), max_size=70)),
    st.integers(40, 120),
    st.booleans(),
)
def test_a_marked_day_is_under_its_cell(
    days: int, marks: dict[int, str], width: int, ascii: bool
) -> None:
    """The shades change on one day, and the pointer of that day stands under the first new one."""
    changed = max((day for day in marks if day < days), default=None)
    chances = tuple(0.9 if changed is None or day < changed else 0.1 for day in range(days))
    lines = strips([Forecast(1, chances)], width=width, ascii=ascii, marks=marks)
    assert all(cells(line) <= width for line in lines)
    if changed is None:
        assert len(lines) == 1
    else:
        shades = lines[0][8:]
        first = 8 + min(shades.find(shade) for shade in "░-" if shade in shades)
        assert lines[1][first] == ("^" if ascii else "▲")
