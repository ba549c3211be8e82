"""One thing to try at a lesson: rules, the first of which that has something to say says it.

To add a rule, write a function from a view (and the id of one piece, or None for all) to a
sentence or None, and put it into RULES where it belongs by its weight. The rules are common
practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from datetime import timedelta

from trainer.deck.model import Deck, Start
from trainer.memory.model import Trace
from trainer.reports.lookalikes import parts_at
from trainer.reports.numbers import numbers
from trainer.reports.today import countdown
from trainer.reports.view import View, join_where

Rule = Callable[[View, str | None], str | None]

LATELY = timedelta(days=28)  # a confusion from before is forgotten
CONFUSED = 2  # times
FAILS = 3  # cold tries running
JOIN_FAILS = 2
RUN_DAYS = 14  # before a recital, from when on it is played through
NAMED = 4  # untried starts that are named


def one_thing(view: View, deck: str | None = None) -> str:
    """The one thing to try, in a sentence or two; empty where there is none."""
    return next((told for rule in RULES if (told := rule(view, deck))), "")


def _open(view: View, deck: str | None) -> Iterator[tuple[Deck, Start]]:
    for deck_id, found in view.decks.items():
        if deck in (None, deck_id):
            yield from ((found, start) for start in found.starts if start.id in view.open)


def _call(found: Deck, start: Start) -> str:
    return f"Start {start.number} of {found.title}"


def confused_pair(view: View, deck: str | None) -> str | None:
    """Two starts that were taken for each other twice or more, lately."""
    pairs = Counter(
        (one.attempt.deck, *sorted((one.start, one.confused)))
        for one in view.tries
        if one.confused
        and one.confused != one.start
        and deck in (None, one.attempt.deck)
        and view.day - one.attempt.day <= LATELY
    )
    for (deck_id, one, other), times in pairs.most_common():
        here, there = view.find(deck_id, one), view.find(deck_id, other)
        if times < CONFUSED or here is None or there is None:
            continue
        piece = here[0]
        first, second = sorted((here[1], there[1]), key=lambda start: start.onset)
        at = parts_at(piece, first.id, second.id, view.words)
        parts = f" They part at {at}." if at else ""
        return (
            f"Starts {first.number} and {second.number} of {piece.deck.title} were confused "
            f"{times} times: play both openings in turn and name the difference.{parts}"
        )
    return None


def stuck(view: View, deck: str | None) -> str | None:
    """A start that calls do not lift any more."""
    found = [(of, start) for of, start in _open(view, deck) if start.id in view.stuck]
    if not found:
        return None
    named = numbers(view, tuple(start.id for _, start in found[:NAMED]))
    return (
        f"Stuck in spite of practice: {named}. Take one apart, slowly, hands separately; then "
        "record that it was worked on (k on its page)."
    )


def failing(view: View, deck: str | None) -> str | None:
    """A start that did not hold three cold tries running."""
    fails: list[tuple[int, Deck, Start]] = []
    for found, start in _open(view, deck):
        trace = view.beliefs.trace(start.id)
        if trace and trace.failing >= FAILS:
            fails.append((trace.failing, found, start))
    if not fails:
        return None
    times, found, start = max(fails, key=lambda one: one[0])
    return (
        f"{_call(found, start)} did not hold the last {times} times: take it apart, slowly, at "
        "half tempo."
    )


def join_lost(view: View, deck: str | None) -> str | None:
    """A start that holds while the way into the next phrase does not."""
    lost: list[tuple[int, Deck, Start]] = []
    for found, start in _open(view, deck):
        trace, join = view.beliefs.trace(start.id), view.beliefs.trace(start.id, "join")
        if join and join.failing >= JOIN_FAILS and _holds(trace):
            lost.append((join.failing, found, start))
    if not lost:
        return None
    times, deck_, start = max(lost, key=lambda one: one[0])
    piece = view.pieces[deck_.id]
    return (
        f"{_call(deck_, start)} begins well, but the join failed {times} times in a row: play "
        f"{join_where(piece, start, view.words)}, and cross it."
    )


def _holds(trace: Trace | None) -> bool:
    return trace is not None and trace.tries > 0 and not trace.failing


def untried(view: View, deck: str | None) -> str | None:
    """Starts that were opened, so learned, and not tried cold."""
    found = [
        start.id
        for _, start in _open(view, deck)
        if not ((trace := view.beliefs.trace(start.id)) and trace.tries)
    ]
    if not found:
        return None
    more = "" if len(found) <= NAMED else f", and {len(found) - NAMED} more"
    told = numbers(view, tuple(found[:NAMED]))
    them = "it" if len(found) == 1 else "them"
    return f"Learned but not yet tried cold: {told}{more}. Ask for {them} today."


def run_through(view: View, deck: str | None) -> str | None:
    """Nothing is wrong, and the recital is near."""
    coming = view.recital
    if coming is None or (coming.day - view.day).days > RUN_DAYS:
        return None
    played = [one.deck for one in coming.programme if one.from_memory != "no"]
    titles = [view.decks[one].title for one in played if one in view.decks and deck in (None, one)]
    if not titles:
        return None
    return (
        f"{coming.name} {countdown(view.day, coming.day)}: do a run-through of {titles[0]}; after "
        "a slip go on from the next start."
    )


def next_start(view: View, deck: str | None) -> str | None:
    """All that is open holds: the next start of the piece tried last that is not open."""
    lately = [one.deck for one in reversed(view.attempts)]
    for deck_id in dict.fromkeys((*lately, *view.decks)):
        found = view.decks.get(deck_id)
        if found is None or deck not in (None, deck_id):
            continue
        closed = [start for start in found.starts if start.id in view.closed]
        if closed and (len(closed) < len(found.starts) or not view.open):
            return f"{_call(found, closed[0])} is the next to open, once its phrase is learned."
    return None


RULES: tuple[Rule, ...] = (
    confused_pair, stuck, failing, join_lost, untried, run_through, next_start,
)  # fmt: skip
