"""The row of a start's tries."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from trainer.draw.history import SIGNS, STEP, history, outcome_sign, shown
from trainer.draw.text import cells
from trainer.record.attempt import Outcome

TRIES = [
    ("28 Oct", Outcome.NOTHING),
    ("1 Nov", Outcome.LOOKED),
    ("4 Nov", Outcome.ELSEWHERE),
    ("15 Nov", Outcome.BROKE_OFF),
    ("22 Nov", Outcome.STOPPED),
    ("23 Nov", Outcome.THROUGH),
]


def test_as_drawn() -> None:
    assert history(TRIES, width=76) == [
        "28 Oct     1 Nov      4 Nov      15 Nov     22 Nov     23 Nov",
        "···        o··        x··        ━··        ━ ━        ━━━",
        "nothing    looked     elsewhere  broke off  stopped    through",
    ]


def test_the_last_ones_where_there_is_no_room_for_all() -> None:
    assert history(TRIES, width=40, ascii=True) == [
        "15 Nov     22 Nov     23 Nov",
        "=..        = =        ===",
        "broke off  stopped    through",
    ]


def test_no_two_outcomes_share_a_sign() -> None:
    assert set(SIGNS) == set(Outcome)
    for ascii in (False, True):
        signs = {outcome_sign(outcome, ascii=ascii) for outcome in Outcome}
        assert len(signs) == len(Outcome)
        assert all(len(sign) == 3 for sign in signs)


@given(
    st.lists(
        st.tuples(st.sampled_from(["3 Mar", "28 Nov", "28 Nov 2024"]), st.sampled_from(Outcome)),
        max_size=30,
    ),
    st.integers(24, 200),
    st.booleans(),
)
def test_each_sign_stands_over_its_word(
    tries: list[tuple[str, Outcome]], width: int, ascii: bool
) -> None:
    lines = history(tries, width=width, ascii=ascii)
    assert len(lines) == (3 if tries else 0)
    assert all(cells(line) <= width for line in lines)
    last = tries[-shown(width) :]
    for at, (_, outcome) in enumerate(last):
        sign, word = (line[at * STEP : (at + 1) * STEP].rstrip() for line in lines[1:])
        assert (sign, word) == (outcome_sign(outcome, ascii=ascii).rstrip(), outcome.value)
