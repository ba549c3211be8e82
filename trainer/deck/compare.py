"""What differs between two forms of a deck, in words, and what each start inherits."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from trainer.deck.file import has_notes
from trainer.deck.model import Deck, Former, Piece, Start
from trainer.score.cite import counted, entry
from trainer.values import Frozen

Kind = Literal[
    "title",
    "score",
    "added",
    "split",
    "came back",
    "moved",
    "renumbered",
    "named",
    "advice",
    "fingering",
    "cue",
    "reasons",
    "other",
    "merged",
    "removed",
    "former",
    "look-alikes",
    "route",
]

KEEPS = "keeps its attempts"
_TOLD = {"id", "number", "onset", "reasons", "label", "advice", "parent", "fingering", "cue"}


class Change(Frozen, frozen=True):
    """One difference. `start` is the start's id, empty where the whole deck is meant; `old` and
    `new` are its numbers; `inherits` says which attempts it goes on with."""

    kind: Kind
    words: str
    inherits: str = ""
    start: str = ""
    old: int | None = None
    new: int | None = None


def compare(before: Piece, after: Piece) -> tuple[Change, ...]:
    """Every difference of two forms of one deck: the whole deck's first, then start by start in
    the order of the new score, then what has gone."""
    return (
        *_whole(before, after),
        *(change for start in after.deck.starts for change in _start(before, after, start)),
        *_gone(before, after),
        *_relations(before.deck, after.deck),
    )


def _whole(before: Piece, after: Piece) -> Iterator[Change]:
    old, new = before.deck, after.deck
    if old.title != new.title:
        yield Change("title", f'the title is "{new.title}", was "{old.title}"')
    if has_notes(after) and not has_notes(before):
        yield Change("score", "the notes come with it, so far there were none")
    elif old.score != new.score:
        yield Change("score", "the score is another one: " + _scores(before, after))


def _scores(before: Piece, after: Piece) -> str:
    bars = len(after.score.bars), len(before.score.bars)
    if bars[0] != bars[1]:
        return f"{counted(bars[0], 'bar')} instead of {bars[1]}"
    if not (has_notes(before) and has_notes(after)):
        return "its notes cannot be compared, because they are left out"
    changed = len(set(before.score.notes) ^ set(after.score.notes))
    differ = counted(changed, "note differs", "notes differ")
    return differ if changed else "its signs or words differ, no note does"


def _start(before: Piece, after: Piece, start: Start) -> Iterator[Change]:
    known = {one.id: one for one in before.deck.starts}
    if start.id not in known:
        yield _new(before, after, start)
        return
    was = known[start.id]
    at = entry(after.score, start.onset)

    def change(kind: Kind, words: str) -> Change:
        return Change(kind, words, KEEPS, start.id, was.number, start.number)

    if was.onset != start.onset:
        yield change("moved", f"moved to {at}, was at {entry(before.score, was.onset)}")
    if was.number != start.number:
        yield change("renumbered", f"was start {was.number} ({at})")
    if was.label != start.label:
        yield change("named", f'is called "{start.label}"' if start.label else "has no name now")
    if was.advice != start.advice:
        words = "; ".join(start.advice)
        yield change("advice", f"new advice: {words}" if words else "its advice is taken away")
    if was.reasons != start.reasons and was.onset == start.onset:
        yield change("reasons", "other reasons are given why it is there")
    if was.parent != start.parent:
        yield change("split", "another start is named that it was split from")
    if was.fingering != start.fingering:
        words = f"new fingering: {start.fingering}"
        yield change("fingering", words if start.fingering else "its fingering is taken away")
    if was.cue != start.cue:
        yield change("cue", f"new cue: {start.cue}" if start.cue else "its cue is taken away")
    for name in set(Start.__struct_fields__) - _TOLD:  # a later field is not passed over
        if getattr(was, name) != getattr(start, name):
            yield change("other", f"its {name.replace('_', ' ')} is another one")


def _new(before: Piece, after: Piece, start: Start) -> Change:
    at = entry(after.score, start.onset)
    numbers = {one.id: one.number for one in (*before.deck.starts, *after.deck.starts)}
    if any(gone.id == start.id for gone in before.deck.former):
        words, inherits = f"is a start again, at {at}", "its earlier attempts count again"
        return Change("came back", words, inherits, start.id, None, start.number)
    if start.parent in numbers:
        parent = f"start {numbers[start.parent]}"
        words = f"new at {at}, split from {parent}"
        inherits = f"begins untried; {parent} keeps its attempts, a weak hint for this one"
        return Change("split", words, inherits, start.id, None, start.number)
    return Change("added", f"new at {at}", "begins untried", start.id, None, start.number)


def _gone(before: Piece, after: Piece) -> Iterator[Change]:
    numbers = {start.id: start.number for start in after.deck.starts}
    now = {gone.id: gone for gone in after.deck.former}
    for start in before.deck.starts:
        if start.id in numbers:
            continue
        fate = now.get(start.id)
        at = entry(before.score, start.onset)
        if fate and fate.fate == "merged" and fate.into in numbers:
            into = f"start {numbers[fate.into]}"
            words, inherits = f"merged into {into} (was at {at})", f"{into} takes its attempts over"
            yield Change("merged", words, inherits, start.id, start.number, numbers[fate.into])
        else:
            inherits = "its attempts are kept, but it is called no more"
            yield Change("removed", f"removed (was at {at})", inherits, start.id, start.number)
    for gone in before.deck.former:
        if gone.id not in numbers and now.get(gone.id) != gone:
            yield _former(gone, now.get(gone.id), numbers)


def _former(was: Former, now: Former | None, numbers: dict[str, int]) -> Change:
    """A retired start whose entry has changed."""
    inherits = "its attempts are kept, but no start has them"
    words = "a retired start, described differently"
    if now is None:
        words = "a retired start, no longer listed"
    elif now.into in numbers:
        inherits = f"start {numbers[now.into]} has its attempts"
    return Change("former", words, inherits, was.id, was.number)


def _relations(old: Deck, new: Deck) -> Iterator[Change]:
    if (old.alike, old.told) != (new.alike, new.told):
        count = len(set(new.alike) ^ set(old.alike))
        pairs = counted(count, "pair of look-alikes is", "pairs of look-alikes are")
        yield Change("look-alikes", f"{pairs} linked, unlinked or told otherwise")
    if (old.route, old.route_by_hand) != (new.route, new.route_by_hand):
        numbers = {start.id: start.number for start in new.starts}
        order = " ".join(str(numbers[start_id]) for start_id in new.route)
        yield Change("route", f"the order of play is {order}")


def sentence(change: Change) -> str:
    """A difference as a sentence of its own."""
    number = change.new if change.new is not None else change.old
    who = "the deck" if number is None else f"start {number}"
    if change.kind == "removed" or (change.kind in ("merged", "former") and change.old is not None):
        who = f"old start {change.old}"
    end = f"; {change.inherits}" if change.inherits else ""
    return f"{who}: {change.words}{end}."
