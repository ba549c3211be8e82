"""The history of a start: its tries as a row of signs, each with its day and its word."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from trainer.draw.text import clean, cut
from trainer.record.attempt import Outcome

# How far the playing went, in three cells: the beginning, the phrase, the join.
SIGNS: dict[Outcome, str] = {
    Outcome.THROUGH: "━━━",
    Outcome.STOPPED: "━ ━",
    Outcome.BROKE_OFF: "━··",
    Outcome.LOOKED: "o··",
    Outcome.NOTHING: "···",
    Outcome.ELSEWHERE: "x··",
}
_ASCII = str.maketrans("━·", "=.")
WIDE = max(len(outcome.value) for outcome in Outcome)
GAP = 2
STEP = WIDE + GAP  # cells from one try to the next


def outcome_sign(outcome: Outcome, *, ascii: bool = False) -> str:
    return SIGNS[outcome].translate(_ASCII) if ascii else SIGNS[outcome]


def shown(width: int) -> int:
    """How many tries there is room for in a row, at least one."""
    return max(1, (width + GAP) // STEP)


def history(
    tries: Sequence[tuple[str, Outcome]], *, width: int = 80, ascii: bool = False
) -> list[str]:
    """The last tries, given oldest first with the day of each, in a row of three lines: days,
    signs, words. Earlier ones for which the width has no room are left out; nothing without
    tries."""
    if not tries:
        return []
    row = list(islice(reversed(tries), shown(width)))[::-1]
    lines = (
        [clean(day) for day, _ in row],
        [outcome_sign(outcome, ascii=ascii) for _, outcome in row],
        [outcome.value for _, outcome in row],
    )
    gap = " " * GAP
    return [
        cut(gap.join(cell[:WIDE].ljust(WIDE) for cell in line).rstrip(), width, ascii=ascii)
        for line in lines
    ]
