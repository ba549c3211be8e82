"""The order in which phrases are played, over the score's repeats and endings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction

from trainer.deck.model import Start
from trainer.score.cite import leads_into
from trainer.score.model import Score
from trainer.score.route import bar_route


def phrase_route(score: Score, starts: Sequence[Start]) -> tuple[str, ...]:
    """The ids of the starts as they come when the piece is played through.

    A start on an upbeat goes with the bar it leads into, so that a repeat back to bar 1
    comes to the start that has bar 1's upbeat.
    """
    by_bar: dict[int, list[tuple[Fraction, str]]] = defaultdict(list)
    for start in starts:
        by_bar[leads_into(score, start.onset).index].append((start.onset, start.id))
    route: list[str] = []
    for visit in bar_route(score):
        route.extend(start_id for _, start_id in sorted(by_bar.get(visit.bar, ())))
    return tuple(route)
