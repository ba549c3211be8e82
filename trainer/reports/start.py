"""Everything about one start: what was tried, how it stands, what is to come, where it belongs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any

from trainer.deck.model import Piece, Start
from trainer.draw.keyboard import first_position, in_hands, spoken_position, too_wide
from trainer.draw.words import percent
from trainer.memory.evidence import RUN, SLIP, Try
from trainer.memory.model import FIGURES_FROM, Beliefs, Retention
from trainer.memory.readiness import Catch, recovery
from trainer.record.attempt import Attempt, Hands, Judge, Outcome, practice_day
from trainer.record.layer import Own
from trainer.reports.lookalikes import KINDS
from trainer.reports.own import tempo_words
from trainer.reports.view import View, where
from trainer.score.cite import Words, place
from trainer.values import Frozen

FARTHEST = 366  # days that are foretold, however far off the recital is


class Tried(Frozen, frozen=True):
    """One try: `said` is its outcome in words, with the place. `aside` says why it is not a cold
    try, and is empty for one that is."""

    id: str
    at: datetime
    day: date
    outcome: Outcome
    said: str
    judge: Judge
    hints: tuple[str, ...]
    drill: str
    hands: Hands
    tempo: float | None
    seconds: float | None
    latency: float | None
    aside: str


class Ahead(Frozen, frozen=True):
    """The chances (0-1) of start and join, and of both together, on a day to come, with no more
    practice; None where no cold try observed it."""

    day: date
    start: float | None
    join: float | None
    both: float | None


class Alike(Frozen, frozen=True):
    """A start that is easily taken for this one: how they are alike, where each goes its own way
    (in words, empty where they never part or nobody knows), and how they differ.

    `taken` counts how often it was begun when this one was called, `given` the reverse.
    """

    id: str
    number: int
    place: str
    kind: str
    how: str
    parts_here: str
    parts_there: str
    words: str
    repeat: bool
    taken: int
    given: int


class Onward(Frozen, frozen=True):
    """Where to go on if memory fails in this phrase: at which of its passes on the route (from
    1), at which start (None: nowhere ahead holds), with how many bars lost at the most."""

    times: tuple[int, ...]
    id: str
    number: int | None
    place: str
    lost: int
    chance: float | None


class About(Frozen, frozen=True):
    """All there is to know of one start of one student's piece; tries newest first.

    `why_today` says why today's drill calls it, and is empty where it does not; `next_call` is
    the next one after today. `start` and `join` are the next cold try and `both` is how
    it stands, with its join; `start_then`, `join_then` and `both_then` those of the `day` planned
    for, with no more practice. `occasion` is the
    recital of that day, empty where there is none or the piece is not played there. `lands` are
    the phrases, by number, from which a slip would be taken up again here. `child`: chances are
    not for showing. `own` is what is the student's own here, its words the last of `advice`;
    `own_tempo` is its tempo in words.
    """

    piece: str
    deck: str
    id: str
    number: int
    place: str
    open: bool
    child: bool
    today: date
    why_today: str
    next_call: date | None
    start: Retention
    join: Retention
    both: Retention
    day: date
    occasion: str
    start_then: Retention
    join_then: Retention
    both_then: Retention
    ahead: tuple[Ahead, ...]
    cold: tuple[Tried, ...]
    others: tuple[Tried, ...]
    advice: tuple[str, ...]
    fingering: str
    own: Own
    own_tempo: str
    stuck: bool
    worked_on: date | None
    cue: str
    reasons: tuple[str, ...]
    alike: tuple[Alike, ...]
    on_route: bool
    tried_piece: bool
    lands: tuple[int, ...]
    onward: tuple[Onward, ...]
    position: str
    wide: bool


def about(view: View, deck: str, start_id: str, catches: Sequence[Catch] | None = None) -> About:
    """All about a start of a piece. `catches` is `ways_back` of the piece, where that is known
    already. Raises KeyError where the deck or the start is not there."""
    piece = view.pieces[deck]
    start = piece.deck.start(start_id)
    catches = ways_back(view, deck) if catches is None else catches
    call = view.next_calls.get(start_id)
    tries = [_tried(view, piece, one) for one in reversed(view.tries) if one.start == start_id]
    keys = in_hands(first_position(piece.score, start.onset))
    return About(
        piece=piece.deck.title,
        deck=deck,
        id=start_id,
        number=start.number,
        place=where(piece, start, view.words),
        open=start_id in view.open,
        child=view.level == "child",
        today=view.day,
        why_today=_why_today(view, start_id),
        next_call=call.day if call else None,
        start=view.retention(start_id, "start"),
        join=view.retention(start_id, "join"),
        both=view.retention(start_id),
        day=view.target,
        occasion=_occasion(view, deck),
        start_then=view.retention(start_id, "start", on=view.target),
        join_then=view.retention(start_id, "join", on=view.target),
        both_then=view.retention(start_id, on=view.target),
        ahead=tuple(_ahead(view, start_id)),
        cold=tuple(one for one in tries if not one.aside),
        others=tuple(one for one in tries if one.aside),
        advice=start.advice,
        fingering=start.fingering,
        own=(own := view.own(deck, start_id)),
        own_tempo=tempo_words(piece, start, own, view.words),
        stuck=start_id in view.stuck,
        worked_on=practice_day(worked) if (worked := view.worked_on.get(start_id)) else None,
        cue=start.cue,
        reasons=tuple(reason.words for reason in start.reasons),
        alike=tuple(_alike(view, piece, start)),
        on_route=start_id in piece.deck.route,
        tried_piece=any(view.beliefs.trace(other.id) for other in piece.deck.starts),
        lands=_lands(piece, start_id, catches),
        onward=tuple(_onward(view, piece, start_id, catches)),
        position=spoken_position(keys, names=view.names),
        wide=too_wide(keys, view.span),
    )


def as_data(found: About) -> dict[str, Any]:
    """All of it for programs, every field there; chances too, where a child is not shown them."""
    data: dict[str, Any] = _full(found)
    for name in ("start", "join", "both", "start_then", "join_then", "both_then"):
        retention: Retention = getattr(found, name)
        data[name] |= {"stands": retention.band, "basis": basis(retention)}
    return {"report": "start", **data}


def _full(value: Any) -> Any:
    if isinstance(value, Frozen):
        return {name: _full(getattr(value, name)) for name in value.__struct_fields__}
    return [_full(one) for one in value] if isinstance(value, tuple) else value


def basis(found: Retention) -> str:
    """A figure with what it rests on: "2 of 2" under three tries, else "87% (71-95), 9 tries"."""
    if found.chance is None or found.low is None or found.high is None:
        return "not tried cold yet"
    if found.tries < FIGURES_FROM:
        return f"{found.held} of {found.tries}"
    low, high = round(100 * found.low), round(100 * found.high)
    return f"{percent(found.chance)} ({low}-{high}), {found.tries} attempts"


def short(found: Retention) -> str:
    """A figure alone: "2 of 2" under three tries, else "87%"."""
    few = found.tries < FIGURES_FROM or found.chance is None
    return f"{found.held} of {found.tries}" if few else percent(found.chance or 0.0)


def figures(view: View, known: dict[str, Retention]) -> dict[str, float | str | None] | None:
    """What stands beside each start on the map, by id: its chance, or the counts where tries are
    few. None for a child, who sees no chances."""
    if view.level == "child":
        return None
    return {
        key: found.chance if found.tries >= FIGURES_FROM else basis(found) if found.tries else None
        for key, found in known.items()
    }


def ways_back(view: View, deck: str) -> tuple[Catch, ...]:
    """The recovery map of a piece as things stand: on the next day, when all can be tried cold
    again, or on the day planned for where that is today."""
    at = view.instant(min(1, (view.target - view.day).days))
    return recovery(view.pieces[deck], view.beliefs, at)


def _why_today(view: View, start_id: str) -> str:
    """Why today's drill still calls it; empty where it does not."""
    return next((slot.why for slot in view.left.slots if slot.start == start_id), "")


def _occasion(view: View, deck: str) -> str:
    """The next recital, where the piece is played there from memory."""
    recital = view.recital
    playing = recital and any(
        item.deck == deck and item.from_memory != "no" for item in recital.programme
    )
    return recital.name if recital and playing else ""


def _ahead(view: View, start_id: str) -> Iterator[Ahead]:
    days = min(FARTHEST, max(0, (view.target - view.day).days))
    for day in (view.day + timedelta(days=n) for n in range(days + 1)):
        each = (view.retention(start_id, part, on=day).chance for part in ("start", "join", "both"))
        yield Ahead(day, *each)


# What was tried


def _tried(view: View, piece: Piece, one: Try) -> Tried:
    attempt = one.attempt
    return Tried(
        attempt.id,
        attempt.at,
        attempt.day,
        attempt.outcome,
        outcome_words(piece, attempt, view.words),
        attempt.judge,
        attempt.hints,
        attempt.drill,
        attempt.hands,
        attempt.tempo,
        attempt.seconds,
        attempt.latency,
        _aside(one),
    )


def outcome_words(piece: Piece, attempt: Attempt, words: Words) -> str:
    """An outcome with its place: "broke off at b. 12", "elsewhere, at start 3"."""
    told = attempt.outcome.value
    if attempt.drill == RUN and attempt.outcome is Outcome.STOPPED and attempt.broke_at is not None:
        return f"hesitated at {place(piece.score, attempt.broke_at, words=words)}"
    if attempt.outcome is Outcome.BROKE_OFF and attempt.broke_at is not None:
        told += f" at {place(piece.score, attempt.broke_at, words=words)}"
    other = next((s.number for s in piece.deck.starts if s.id == attempt.elsewhere), None)
    if other is not None:
        told += (
            f", {'taken up again' if attempt.drill in (RUN, SLIP) else 'begun'} at start {other}"
        )
    return told


def _aside(one: Try) -> str:
    """Why a try is no cold one, in words; empty where it is."""
    if one.cold:
        return ""
    if one.apart:
        return "not played as it goes"
    if one.attempt.drill == RUN:
        return "in a run-through"
    if one.attempt.drill == SLIP:
        return "going on after a slip"
    return "again that day" if one.repeat else "just after the music before it"


# What it is taken for


def _alike(view: View, piece: Piece, start: Start) -> Iterator[Alike]:
    """Its look-alikes, the likeliest first, then the starts it was confused with all the same."""
    mixed = _mixed(view.beliefs, start.id)
    by_id = {other.id: other for other in piece.deck.starts}
    for like in piece.deck.likenesses(start.id):
        other = by_id[like.other if like.one == start.id else like.one]
        taken, given = mixed.pop(other.id, (0, 0))
        yield Alike(
            other.id,
            other.number,
            where(piece, other, view.words),
            like.kind,
            KINDS[like.kind],
            _parts(piece, like.parts_from(start.id), view.words),
            _parts(piece, like.parts_from(other.id), view.words),
            like.words,
            like.repeat,
            taken,
            given,
        )
    for start_id in (other for other in by_id if other in mixed):
        other, how = by_id[start_id], "no look-alike"
        at = where(piece, other, view.words)
        yield Alike(
            other.id, other.number, at, "confused", how, "", "", "", False, *mixed[start_id]
        )


def _mixed(beliefs: Beliefs, start_id: str) -> dict[str, tuple[int, int]]:
    """The starts it was confused with: how often each was begun for it, and it for each."""
    others = {(set(pair) - {start_id}).pop() for pair in beliefs.confusions if start_id in pair}
    count = beliefs.confusions.get
    return {
        other: (count((start_id, other), 0), count((other, start_id), 0))
        for other in sorted(others)
    }


def _parts(piece: Piece, at: Fraction | None, words: Words) -> str:
    return "" if at is None else place(piece.score, at, words=words)


# Its place in the recovery map


def _lands(piece: Piece, start_id: str, catches: Sequence[Catch]) -> tuple[int, ...]:
    """The phrases from which a slip would be taken up again here, by number."""
    numbers = {start.id: start.number for start in piece.deck.starts}
    route = piece.deck.route
    return tuple(sorted({numbers[route[c.step]] for c in catches if c.start == start_id}))


def _onward(view: View, piece: Piece, start_id: str, catches: Sequence[Catch]) -> Iterator[Onward]:
    """Where to go on from this phrase; passes that go on alike are told together."""
    by_id = {start.id: start for start in piece.deck.starts}
    firsts = {catch.step: catch for catch in reversed(catches)}  # the first bar of each step
    passes = [step for step, there in enumerate(piece.deck.route) if there == start_id]
    alike: dict[tuple[str, int], list[int]] = {}
    for time, step in enumerate(passes, 1):
        alike.setdefault((firsts[step].start, firsts[step].lost), []).append(time)
    for (back, lost), times in alike.items():
        start = by_id[back] if back else None
        yield Onward(
            tuple(times),
            back,
            start.number if start else None,
            where(piece, start, view.words) if start else "",
            lost if start else 0,
            firsts[passes[times[0] - 1]].chance if start else None,
        )
