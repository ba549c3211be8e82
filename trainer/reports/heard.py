"""What an instrument heard beside what was said of it: start by start, in plain words.

Both may be mistaken. The report tells places to listen to, and reproaches nobody; a child sees
the places alone.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from datetime import date

from trainer.deck.model import Piece, Start
from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.document.words import day_word
from trainer.draw.words import counted, joined
from trainer.memory.evidence import SURE
from trainer.record.attempt import Attempt, Outcome, Witness
from trainer.reports.view import View, where
from trainer.score.cite import place
from trainer.values import Frozen

COLUMNS = (
    "piece", "start", "place", "heard", "alike", "said_kinder", "said_harsher", "how", "start_id",
)  # fmt: skip
FIGURES = ("heard", "alike", "said_kinder", "said_harsher")
NONE = "No attempts heard yet. Once an instrument listens, this shows what it hears."
ALIKE = "You marked it as it was heard."
LISTEN = "An instrument can mishear: where the two differ, play the place slowly and listen."
KINDER = (
    "You often marked it higher than the instrument did. Wait until the next phrase has begun "
    "before pressing the key."
)
HARSHER = "You often marked it lower than the instrument did. You can trust your playing more."
LEFT = "You left it as it was heard."
NO_DECK = "its deck is missing"
TENDENCY = 3  # times more the one than the other, before it is called so
DAYS = 3  # that are named

_RANKS = {
    Outcome.THROUGH: 0,
    Outcome.STOPPED: 1,
    Outcome.BROKE_OFF: 2,
    Outcome.LOOKED: 3,
    Outcome.ELSEWHERE: 4,
    Outcome.NOTHING: 4,
}
_HEARD = {
    Outcome.THROUGH: "heard going through",
    Outcome.STOPPED: "heard with a stop",
    Outcome.BROKE_OFF: "heard breaking off",
    Outcome.LOOKED: "heard after a look at the music",
    Outcome.ELSEWHERE: "heard beginning elsewhere",
    Outcome.NOTHING: "not heard to begin",
}


class Beside(Frozen, frozen=True):
    """How often a start was heard, how often it was said as it was heard, and how often said to
    have gone better (kinder) or worse (harsher); how often it was `left` as it was heard: who
    says nothing has not agreed."""

    heard: int = 0
    alike: int = 0
    kinder: int = 0
    harsher: int = 0
    left: int = 0

    def __add__(self, other: Beside) -> Beside:
        return Beside(
            self.heard + other.heard,
            self.alike + other.alike,
            self.kinder + other.kinder,
            self.harsher + other.harsher,
            self.left + other.left,
        )


def report(view: View, deck: str | None = None) -> Document:
    """Each start that was heard surely, in the order of the score."""
    found: defaultdict[str, list[Attempt]] = defaultdict(list)
    unsure = 0
    for one in view.tries:
        if one.attempt.heard is not None and deck in (None, one.attempt.deck):
            if compared(one.attempt):
                found[one.start].append(one.attempt)
            else:
                unsure += 1
    rows: list[tuple[Cell, ...]] = []
    total = Beside()
    for piece, start in view.starts(deck):
        if tries := found.get(start.id):
            counts = sum(map(beside, tries), Beside())
            total += counts
            rows.append(_row(view, piece, start, counts, tries))
    child, lacking = view.student.level == "child", missing(view)
    return listed(
        "heard",
        f"Heard and marked: {view.student.name}",
        Table(
            columns(
                *COLUMNS,
                figures=("start", *FIGURES),
                hidden=(*(FIGURES if child else ()), "start_id"),
                sentence="how",
            ),
            tuple(rows),
            over="piece",
        ),
        tuple(lacking if lacking and not rows else [*_notes(total, unsure, child=child), *lacking]),
    )


def compared(one: Attempt) -> bool:
    """Whether it was heard surely enough to be set beside what was said."""
    return one.heard is not None and (one.judge == "heard" or one.heard.sure >= SURE)


def otherwise(one: Attempt) -> bool:
    """Whether an instrument heard otherwise than was said."""
    heard = one.heard
    if heard is None or one.outcome is not heard.outcome:
        return heard is not None
    return bool(one.elsewhere and heard.elsewhere) and one.elsewhere != heard.elsewhere


def beside(one: Attempt) -> Beside:
    """One try that was heard."""
    if one.judge == "heard":
        return Beside(1, left=1)
    if one.heard is None or not otherwise(one):
        return Beside(1, 1)
    said, heard = _RANKS[one.outcome], _RANKS[one.heard.outcome]
    return Beside(1, 0, int(said < heard), int(said > heard))


def outcome_word(view: View, one: Attempt, heard: Witness) -> str:
    """What was heard of a try, in a word or two: "broke off", "start 4"."""
    other = view.find(one.deck, heard.elsewhere) if heard.elsewhere else None
    return f"start {other[1].number}" if other else heard.outcome.value


def _row(
    view: View, piece: Piece, start: Start, counts: Beside, tries: Sequence[Attempt]
) -> tuple[Cell, ...]:
    return (
        piece.deck.title,
        start.number,
        where(piece, start, view.words),
        counts.heard,
        counts.alike,
        counts.kinder,
        counts.harsher,
        _how(view, piece, tries),
        start.id,
    )


def _how(view: View, piece: Piece, tries: Sequence[Attempt]) -> str:
    """What was said and what was heard where the two differ, each with its last days."""
    days: defaultdict[str, list[date]] = defaultdict(list)
    for one in tries:
        if one.heard is not None and otherwise(one):
            days[f"said {_said(view, one)}, {_told(view, piece, one, one.heard)}"].append(one.day)
    told = [f"{text} ({_days(found)})" for text, found in days.items()]
    text = "; ".join(told)
    if text:
        return f"{text[0].upper()}{text[1:]}."
    return LEFT if all(one.judge == "heard" for one in tries) else ALIKE


def _said(view: View, one: Attempt) -> str:
    other = view.find(one.deck, one.elsewhere) if one.elsewhere else None
    return f"start {other[1].number}" if other else one.outcome.value


def _told(view: View, piece: Piece, one: Attempt, heard: Witness) -> str:
    other = view.find(one.deck, heard.elsewhere) if heard.elsewhere else None
    if other:
        return f"heard as start {other[1].number}"
    at = heard.broke_at
    cited = "" if at is None else f" at {place(piece.score, at, words=view.words)}"
    return f"{_HEARD[heard.outcome]}{cited}"


def _days(found: Sequence[date]) -> str:
    """The last days, "7 Mar and 9 Mar", "earlier, 7 Mar, 8 Mar and 9 Mar"."""
    days = [day_word(day) for day in dict.fromkeys(found)]
    return joined([*(["earlier"] if len(days) > DAYS else []), *days[-DAYS:]])


def _notes(total: Beside, unsure: int, *, child: bool) -> list[str]:
    if not total.heard:
        return [NONE]
    notes = []
    if not child:
        notes.append(_told_of(total))
    if unsure and not child:
        more = counted(unsure, "more was", "more were")
        notes.append(f"{more} heard too unclearly to compare.")
    if total.kinder >= total.harsher + TENDENCY:
        notes.append(KINDER)
    elif total.harsher >= total.kinder + TENDENCY:
        notes.append(HARSHER)
    return [*notes, LISTEN] if total.alike + total.left < total.heard else notes


def _told_of(total: Beside) -> str:
    said = total.heard - total.left
    heard = f"{counted(total.heard, 'attempt was', 'attempts were')} heard"
    if not said:
        return f"{heard}; you marked none of them yourself."
    return (
        f"{heard}; you marked {said} yourself, {total.alike} of them the same; yours was higher "
        f"{_times(total.kinder)}, lower {_times(total.harsher)}."
    )


def missing(view: View) -> list[str]:
    """A sentence for each deck of which there are heard attempts here and which is not."""
    found = Counter(
        one.deck for one in view.attempts if one.heard is not None and one.deck not in view.decks
    )
    return [
        f"The deck of {counted(number, 'heard attempt')} is missing; import the teacher's file of "
        f"the deck {deck[:8]} with `trainer deck in`."
        for deck, number in sorted(found.items())
    ]


def _times(number: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(number, f"{number} times")
