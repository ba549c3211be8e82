"""Five minutes before the lesson: what is weak, what waits, and one thing to try.

The page is the teacher's, whoever the student is: it shows counts and chances, a child's too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from itertools import combinations, pairwise, permutations

from msgspec.structs import replace

from trainer.deck.model import Deck
from trainer.draw.words import band_of
from trainer.memory.evidence import made
from trainer.memory.model import Band
from trainer.record.lesson import LessonNote, standing_notes
from trainer.reports.lesson_advice import one_thing
from trainer.reports.lookalikes import parts_at
from trainer.reports.start import basis
from trainer.reports.today import countdown
from trainer.reports.view import View
from trainer.values import Frozen

WEAKEST = 3
HEARD = 3  # starts that a teacher hears
LOOKED_AT = 12  # of those most in need, from which the ones to hear are taken
WEEK = timedelta(days=7)
NOTES = 5  # of the teacher's, the newest first


class LessonStart(Frozen, frozen=True):
    """An open start. `chance` (0-1) is that of its next cold try with its join, None where it was
    not tried cold; `days` are those since it last held cold, None where it never did. `basis`,
    the chance with its tries in words, and `place` are told of the weakest only."""

    deck: str
    piece: str
    start: str
    number: int
    band: Band
    chance: float | None = None
    basis: str = ""
    days: int | None = None
    place: str = ""
    stuck: bool = False


class Confused(Frozen, frozen=True):
    """A start that was called, the one that was begun for it, how often, and last when. `parts`
    is where the two go different ways, in words; empty where nobody knows."""

    deck: str
    piece: str
    called: str
    called_number: int
    begun: str
    begun_number: int
    times: int
    last: date
    parts: str = ""


class PiecePractised(Frozen, frozen=True):
    """The days on which a piece was practised, and the tries that were made."""

    deck: str
    piece: str
    days: int
    tries: int


class Practised(Frozen, frozen=True):
    """What was practised without the teacher since a day; `lesson` says whether that was the
    day of a lesson that is known."""

    since: date
    lesson: bool
    days: int
    tries: int
    pieces: tuple[PiecePractised, ...]


class Lesson(Frozen, frozen=True):
    """Everything to know before a lesson. `starts` are all that are open, in score order, the
    weakest and the untried ones among them; `notes` are the teacher's, the newest first."""

    student: str
    name: str
    day: date
    recital: str  # "School concert in 23 days", or empty
    weakest: tuple[LessonStart, ...]
    untried: tuple[LessonStart, ...]
    starts: tuple[LessonStart, ...]
    confused: tuple[Confused, ...]
    practised: Practised
    one_thing: str
    notes: tuple[LessonNote, ...]


def lesson(view: View, deck: str | None = None, *, since: date | None = None) -> Lesson:
    """What to know before a lesson, of one piece or of all. `since` is the day of the last
    lesson, by default the last one before today on which the teacher was a try's judge."""
    starts = tuple(_starts(view, deck))
    tried = [one for one in starts if one.chance is not None]
    weakest = sorted(tried, key=lambda one: (one.chance or 0.0, one.number))[:WEAKEST]
    coming = view.recital
    return Lesson(
        view.student.id,
        view.student.name,
        view.day,
        f"{coming.name} {countdown(view.day, coming.day)}" if coming else "",
        tuple(_placed(view, one) for one in weakest),
        tuple(one for one in starts if one.chance is None),
        starts,
        tuple(_confusions(view, deck)),
        practised(view, deck, since=since),
        one_thing(view, deck),
        standing_notes(view.lesson_notes)[:NOTES],
    )


def _starts(view: View, deck: str | None) -> Iterator[LessonStart]:
    held = _last_held(view)
    found = [
        (of, start)
        for deck_id, of in view.decks.items()
        for start in (of.starts if deck in (None, deck_id) else ())
        if start.id in view.open
    ]
    chances = view.chances([start.id for _, start in found])
    for of, start in found:
        chance, last = chances.get(start.id), held.get(start.id)
        yield LessonStart(
            of.id,
            of.title,
            start.id,
            start.number,
            band_of(chance),
            chance,
            days=(view.day - last).days if last else None,
            stuck=start.id in view.stuck,
        )


def _last_held(view: View) -> dict[str, date]:
    """The day on which each start last held cold."""
    held: dict[str, date] = {}
    for one in reversed(view.tries):
        if one.cold and one.start not in held and one.held():
            held[one.start] = one.attempt.day
    return held


def _placed(view: View, one: LessonStart) -> LessonStart:
    place = view.place(one.deck, view.decks[one.deck].start(one.start))
    return replace(one, place=place, basis=basis(view.retention(one.start)))


def _confusions(view: View, deck: str | None) -> Iterator[Confused]:
    """The starts taken for others, those confused last first."""
    found: dict[tuple[str, str, str], list[date]] = {}
    for one in view.tries:
        if one.confused and one.confused != one.start and deck in (None, one.attempt.deck):
            key = (one.attempt.deck, one.start, one.confused)
            found.setdefault(key, []).append(one.attempt.day)
    for (deck_id, called, begun), days in sorted(found.items(), key=lambda it: it[1], reverse=True):
        one_, other = view.find(deck_id, called), view.find(deck_id, begun)
        if one_ and other:
            piece, start = one_
            yield Confused(
                deck_id,
                piece.deck.title,
                called,
                start.number,
                begun,
                other[1].number,
                len(days),
                max(days),
                parts_at(piece, called, begun, view.words),
            )


def practised(view: View, deck: str | None = None, *, since: date | None = None) -> Practised:
    """What was practised from a day on, by default since the last lesson, or for a week where
    none is known; what the teacher heard is left out."""
    after: datetime | None = None
    begin = since or view.day - WEEK + timedelta(days=1)
    heard = [one for one in view.attempts if one.judge == "teacher" and one.day < view.day]
    if since is None and heard:
        begin, after = heard[-1].day, heard[-1].at
    found = [
        one
        for one in view.attempts
        if one.judge != "teacher"
        and deck in (None, one.deck)
        and one.day >= begin
        and (after is None or one.at > after)
    ]
    days = {deck_id: {one.day for one in found if one.deck == deck_id} for deck_id in view.decks}
    tries = {deck_id: made([o for o in found if o.deck == deck_id]) for deck_id in days}
    pieces = tuple(
        PiecePractised(deck_id, view.decks[deck_id].title, len(of), tries[deck_id])
        for deck_id, of in days.items()
        if of
    )
    return Practised(
        begin,
        since is not None or bool(heard),
        len({one.day for one in found}),
        made(found),
        pieces,
    )


# The starts that the teacher hears


def three_to_hear(view: View) -> tuple[tuple[str, str], ...]:
    """The three starts most in need of being heard, as ids of deck and start, in the order in
    which they are called: the weakest, one that was never tried, the one that held cold
    longest ago.

    No two that come after each other are look-alikes or neighbours, and the first is not one
    that the last try of today leads to; rather than that, fewer are given. What the teacher
    or an instrument has heard today is left out.
    """
    waiting = _by_need(view)[:LOOKED_AT]
    last = view.today[-1] if view.today else None
    before = (last.deck, last.elsewhere or last.start) if last else None
    for size in range(min(HEARD, len(waiting)), 0, -1):
        for some in combinations(waiting, size):
            for order in permutations(some):
                calls = [before, *order] if before else list(order)
                if not any(_close(view.decks, *two) for two in pairwise(calls)):
                    return order
    return tuple(waiting[:1])


def _by_need(view: View) -> list[tuple[str, str]]:
    """The open starts not heard today: in turn the weakest, the untried, the longest ago."""
    heard = {one.start for one in view.tries
             if one.attempt.day == view.day and one.attempt.judge != "self"}  # fmt: skip
    found = [one for one in _starts(view, None) if one.start not in heard]
    tried = [one for one in found if one.chance is not None]
    weakest = sorted(tried, key=lambda one: one.chance or 0.0)
    untried = [one for one in found if one.chance is None]
    longest = sorted(tried, key=lambda one: (one.days is not None, -(one.days or 0)))
    turns = [
        (one.deck, one.start)
        for at in range(len(found))
        for some in (weakest, untried, longest)
        for one in some[at : at + 1]
    ]
    return list(dict.fromkeys(turns))


def _close(decks: Mapping[str, Deck], one: tuple[str, str], other: tuple[str, str]) -> bool:
    """Whether two starts are look-alikes, or one leads into the other, on the route or in
    number."""
    if one[0] != other[0] or one[0] not in decks:
        return False
    deck = decks[one[0]]
    numbers = {start.id: start.number for start in deck.starts}
    if one[1] not in numbers or other[1] not in numbers:
        return False
    return (
        abs(numbers[one[1]] - numbers[other[1]]) <= 1
        or other[1] in (*deck.kin(one[1]), *deck.following(one[1]), *deck.leading(one[1]))
        or one[1] in deck.kin(other[1])
    )
