"""The studio: every student by what they need, never a ranking; and every programme to come.

The page is the teacher's. Within a group the students stand by name.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date
from typing import Any, Literal, get_args

from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.document.words import day_word
from trainer.draw.words import counted, percent
from trainer.memory.readiness import PieceLoss, losses
from trainer.record.people import FromMemory, Opening, Recital, Student
from trainer.record.studio import Logged
from trainer.reports.today import countdown
from trainer.reports.view import View
from trainer.values import Frozen, plain

Group = Literal[
    "a recital within four weeks, and starts likely to fail",
    "no practice for a week",
    "ready for new starts",
    "practising",
]
NEAR, IDLE, WAITS, GOES_ON = get_args(Group)
GROUPS: tuple[Group, ...] = get_args(Group)
READY_DAYS = 28  # from when on it is worked out what a recital would find
IDLE_DAYS = 7
OPENED_DAYS = 14  # without a start opened, while there are some to open


class PieceGlance(Frozen, frozen=True):
    """A piece on a programme: its open and closed starts; of the open ones, those without a cold
    try, and how many starts are likely to fail on the day, their joins with them. What was not
    worked out, because the day is far or the piece is played with music, is None."""

    deck: str
    title: str
    from_memory: FromMemory
    open: int
    closed: int
    untried: int | None = None
    lost: float | None = None
    all_hold: float | None = None


class Programme(Frozen, frozen=True):
    recital: str
    name: str
    day: date
    pieces: tuple[PieceGlance, ...]

    @property
    def lost(self) -> float:
        return sum(piece.lost or 0.0 for piece in self.pieces)

    @property
    def untried(self) -> int:
        return sum(piece.untried or 0 for piece in self.pieces)

    @property
    def closed(self) -> int:
        return sum(piece.closed for piece in self.pieces if piece.from_memory != "no")


class Glance(Frozen, frozen=True):
    """What is seen of one student at a glance; it can be kept as long as nothing new is logged.
    `closed` are the starts of the pieces in hand that are not open, `next` the first of them in
    words, `opened` the day on which a start was last opened."""

    open: int = 0
    closed: int = 0
    next: str = ""
    opened: date | None = None
    programmes: tuple[Programme, ...] = ()


class Member(Frozen, frozen=True):
    """A student of the studio, in its group and why. `days` are those since the last practice
    day, None where there was none; `week` how many of the last seven were practice days. A day on
    which only the teacher was the judge is none."""

    student: str
    name: str
    group: Group
    why: str
    days: int | None
    week: int


class Playing(Frozen, frozen=True):
    """A student's programme at a recital."""

    student: str
    name: str
    programme: Programme


class Studio(Frozen, frozen=True):
    day: date
    members: tuple[Member, ...]
    playing: tuple[Playing, ...]  # the soonest first


def near(recitals: Sequence[Recital], day: date) -> tuple[Recital, ...]:
    """The recitals for which it is worked out what they would find."""
    return tuple(one for one in recitals if 0 <= (one.day - day).days <= READY_DAYS)


def glance(view: View) -> Glance:
    """What is seen of one student. Attempts are only looked at where a recital is near."""
    coming = [one for one in view.recitals if one.day >= view.day]
    on_programme = {item.deck for one in coming for item in one.programme}
    closed: list[str] = []
    count = 0
    for deck_id, deck in view.decks.items():
        mine = [start for start in deck.starts if start.id in view.open]
        count += len(mine)
        if mine or deck_id in on_programme:
            closed += [
                f"{deck.title} {start.number}" for start in deck.starts if start.id in view.closed
            ]
    programmes = tuple(_programme(view, one) for one in sorted(coming, key=lambda r: (r.day, r.id)))
    return Glance(count, len(closed), closed[0] if closed else "", _opened(view.openings),
                  programmes)  # fmt: skip


def _opened(openings: Sequence[Opening]) -> date | None:
    from trainer.record.attempt import practice_day

    local = (one.at.replace(tzinfo=UTC) for one in openings if one.open)
    latest = max(local, default=None)  # as the clocks of the places showed, like practice days
    return None if latest is None else practice_day(latest)


def _programme(view: View, recital: Recital) -> Programme:
    found: dict[str, PieceLoss] = {}
    if near([recital], view.day):
        at = view.instant((recital.day - view.day).days)
        lost = losses(recital, view.beliefs, view.open, view.decks, at, view.left_out)
        found = {piece.deck: piece for piece in lost}
    pieces = []
    for item in recital.programme:
        deck = view.decks.get(item.deck)
        if deck is None:
            continue
        is_open = sum(start.id in view.open for start in deck.starts)
        known = found.get(item.deck)
        pieces.append(
            PieceGlance(
                item.deck,
                deck.title,
                item.from_memory,
                is_open,
                sum(start.id in view.closed for start in deck.starts),
                len(known.untried) if known else None,
                round(known.lost, 2) if known else None,
                known.all_hold if known else None,
            )
        )
    return Programme(recital.id, recital.name, recital.day, tuple(pieces))


def studio(day: date, known: Sequence[tuple[Student, Logged, Glance]]) -> Studio:
    """All students by what they need on a day."""
    members = [_member(day, *one) for one in known]
    playing = [
        Playing(student.id, student.name, programme)
        for student, _, seen in known
        for programme in seen.programmes
        if programme.day >= day
    ]
    return Studio(
        day,
        tuple(sorted(members, key=lambda one: (GROUPS.index(one.group), _by_name(one.name)))),
        tuple(
            sorted(playing, key=lambda one: (one.programme.day, one.programme.name,
                                             _by_name(one.name)))
        ),
    )  # fmt: skip


def _by_name(name: str) -> tuple[str, str]:
    return name.casefold(), name


def _member(day: date, student: Student, logged: Logged, seen: Glance) -> Member:
    ago = None if logged.last is None else max(0, (day - logged.last).days)
    group, why = next(
        found
        for found in (
            _near(day, seen),
            _idle(day, student, ago, seen),
            _waits(day, seen),
            _well(day, student, logged, seen),
        )
        if found
    )
    return Member(student.id, student.name, group, why, ago, logged.days)


def _near(day: date, seen: Glance) -> tuple[Group, str] | None:
    for one in seen.programmes:
        if not 0 <= (one.day - day).days <= READY_DAYS:
            continue
        lost = round(one.lost)
        told = [f"about {counted(lost, 'start')} likely to fail"] if lost else []
        told += [f"{counted(one.untried, 'open start')} untried"] if one.untried else []
        told += [f"{counted(one.closed, 'start')} not open"] if one.closed else []
        if told:
            return NEAR, f"{one.name} {countdown(day, one.day)}: {', '.join(told)}"
    return None


def _idle(day: date, student: Student, ago: int | None, seen: Glance) -> tuple[Group, str] | None:
    if not seen.open or (ago is not None and ago < IDLE_DAYS) or _off(day, student):
        return None
    if ago is None:
        return IDLE, f"{counted(seen.open, 'start')} open, no practice yet"
    return IDLE, f"last practised {ago} days ago"


def _off(day: date, student: Student) -> str:
    """Until when a student is off, in words; empty on other days."""
    ends = [free.last for free in student.off if free.first <= day <= free.last]
    return f"days off until {day_word(max(ends))}" if ends else ""


def _waits(day: date, seen: Glance) -> tuple[Group, str] | None:
    if not seen.open:
        return WAITS, "no start is open"
    opened = seen.opened
    if not seen.closed or opened is None or (day - opened).days < OPENED_DAYS:
        return None
    return WAITS, f"next is {seen.next}; the last was opened {(day - opened).days} days ago"


def _well(day: date, student: Student, logged: Logged, seen: Glance) -> tuple[Group, str]:
    coming = next((one for one in seen.programmes if one.day >= day), None)
    told = f"; {coming.name} {countdown(day, coming.day)}" if coming else ""
    off = _off(day, student)
    return GOES_ON, f"{off or f'practised on {logged.days} of 7 days'}{told}"


# As tables, and for programs


MEMBERS = ("group", "student", "days", "why", "practised", "id")
PLAYING = (
    "recital", "student", "piece", "open", "closed", "untried", "likely_to_fail", "all_hold",
    "day", "from_memory", "lost", "chance", "student_id", "deck_id",
)  # fmt: skip
DAYS_NOTE = "Days: since the last practice day. Students are listed by name; this is not a ranking."
PLAYING_NOTE = (
    "Likely to fail: starts, each with its join, with no more practice; worked out from "
    f"{READY_DAYS} days before. An estimate from calm practice at home."
)


def as_table(found: Studio) -> Document:
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (one.group.capitalize(), one.name, one.days, one.why, one.week, one.student)
        for one in found.members
    )
    none = "No student yet: `trainer student add NAME`; initials are enough."
    return listed(
        "studio",
        f"The studio, {found.day:%A} {day_word(found.day)}",
        Table(
            columns(*MEMBERS, figures=("days",), hidden=("practised", "id"), sentence="why"),
            rows,
            over="group",
            opens="id",
        ),
        (DAYS_NOTE,) if rows else (none,),
        counted(len(rows), "student"),
    )


def programmes_table(found: Studio) -> Document:
    """Every programme to come, piece by piece."""
    rows = tuple(_playing_rows(found))
    return listed(
        "programmes",
        "Recitals to come",
        Table(
            columns(
                *PLAYING,
                figures=("open", "closed", "untried", "likely_to_fail", "all_hold"),
                hidden=PLAYING[8:],
                spare=("closed", "all_hold", "untried", "open"),
            ),
            rows,
            over="recital",
            opens="student_id",
        ),
        (PLAYING_NOTE,) if rows else ("No recital is set.",),
    )


def _playing_rows(found: Studio) -> Iterator[tuple[Cell, ...]]:
    for one in found.playing:
        programme = one.programme
        head = f"{programme.name}, {day_word(programme.day)}, {countdown(found.day, programme.day)}"
        for piece in programme.pieces:
            music = " (with music)" if piece.from_memory == "no" else ""
            yield (
                head,
                one.name,
                f"{piece.title}{music}",
                piece.open,
                piece.closed,
                piece.untried,
                None if piece.lost is None else round(piece.lost, 1),
                None if piece.all_hold is None else percent(piece.all_hold),
                programme.day,
                piece.from_memory,
                piece.lost,
                piece.all_hold,
                one.student,
                piece.deck,
            )


def as_data(found: Studio) -> dict[str, Any]:
    """All of it for programs, every field there."""
    data: dict[str, Any] = _full(found)
    return {"report": "studio", **data}


def _full(value: Any) -> Any:
    if isinstance(value, Frozen):
        return {name: _full(getattr(value, name)) for name in value.__struct_fields__}
    return [_full(one) for one in value] if isinstance(value, tuple) else plain(value)
