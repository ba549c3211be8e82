"""One student's own layer over the teacher's deck: other fingering, own words, an own tempo,
starts left out or added, when a start was worked on apart from its calls, and what the teacher
asked for until the next lesson.

It is a set of edits that only grows, so that two machines' edits merge by union. Of each start
and each thing the last word counts. The deck itself is never touched: a newer form of it comes
in under the layer, and `with_layer` lays the one over the other anew each time.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from fractions import Fraction
from typing import Literal, NamedTuple

from msgspec.structs import replace

from trainer.deck.model import Deck, Former, Start
from trainer.deck.sound import FINEST, MOST_TEXT
from trainer.phrases.model import Reason
from trainer.values import Frozen

What = Literal["fingering", "words", "tempo", "left out", "added", "worked on", "homework"]

SLOWEST, FASTEST = 10, 400  # felt beats a minute
FARTHEST = 10**8  # ql
OWN = Reason("person", "the student's own start")
_TEMPO = re.compile(r"\d{1,3}(\.\d{1,3})?", re.ASCII)
_PLACE = re.compile(r"\d{1,9}(/[1-9]\d{0,6})?", re.ASCII)


class LayerEdit(Frozen, frozen=True):
    """One word on what is a student's own at a start; `value` "" takes it back.

    A tempo is in felt beats a minute ("72", "67.5"); of a start left out or worked on the value is
    "yes". Of homework it is the day until which the teacher asks for it ("2026-03-09"). Of an added
    start, whose id is fresh, it is the onset in quarter notes as a fraction ("135/2").
    """

    id: str
    student: str
    deck: str
    start: str
    what: What
    value: str
    machine: str
    at: datetime


class Own(Frozen, frozen=True):
    """What is a student's own at one start. `added` is the onset of a start of their own."""

    start: str
    fingering: str = ""
    words: str = ""
    tempo: float | None = None
    left_out: bool = False
    added: Fraction | None = None


class Layer(Frozen, frozen=True):
    """All that is a student's own in one deck; added starts in the order they were added."""

    owns: tuple[Own, ...] = ()

    def of(self, start_id: str) -> Own:
        """What is the student's own at a start, empty where nothing is."""
        return next((own for own in self.owns if own.start == start_id), Own(start_id))

    @property
    def left_out(self) -> frozenset[str]:
        return frozenset(own.start for own in self.owns if own.left_out)


def fault(edit: LayerEdit) -> str:
    """What is wrong with an edit's value; empty where it will do."""
    if not edit.value:
        return ""
    match edit.what:
        case "tempo":
            if tempo_of(edit.value) is None:
                return f"has a tempo that is not from {SLOWEST} to {FASTEST} beats a minute"
        case "left out" | "worked on":
            if edit.value != "yes":
                return f"is {edit.what} with another word than yes"
        case "homework":
            if day_of(edit.value) is None:
                return "is homework until what is not a date"
        case "added":
            if place_of(edit.value) is None:
                return "is added at what is not a place in a score"
        case _:
            if len(edit.value) > MOST_TEXT:
                return f"has more than {MOST_TEXT:,} characters"
    return ""


def tempo_of(text: str) -> float | None:
    """Felt beats a minute, None where the text is no tempo that can be played."""
    found = float(text) if _TEMPO.fullmatch(text) else 0.0
    return found if SLOWEST <= found <= FASTEST else None


def place_of(text: str) -> Fraction | None:
    """A position in quarter notes, None where the text is none."""
    found = Fraction(text) if _PLACE.fullmatch(text) else None
    if found is None or found > FARTHEST or found.denominator > FINEST:
        return None
    return found


def day_of(text: str) -> date | None:
    """A day as 2026-03-09, None where the text is none."""
    try:
        return date.fromisoformat(text) if len(text) == 10 else None
    except ValueError:
        return None


def layers(edits: Iterable[LayerEdit]) -> dict[str, Layer]:
    """What stands of one student's edits, by deck id, whatever order they come in."""
    last: dict[tuple[str, str], dict[What, str]] = {}
    for edit in sorted(edits, key=lambda edit: (edit.at, edit.id)):
        last.setdefault((edit.deck, edit.start), {})[edit.what] = edit.value
    found: dict[str, list[Own]] = {}
    # In the order of the first word on each start, which for an added one was to add it.
    for (deck, start), said in last.items():
        own = _own(start, said)
        gone = "added" in said and own.added is None  # added once and taken back, with all of it
        if own != Own(start) and not gone:
            found.setdefault(deck, []).append(own)
    return {deck: Layer(tuple(owns)) for deck, owns in found.items()}


def worked_on(edits: Iterable[LayerEdit]) -> dict[str, datetime]:
    """When each start was last worked on: taken apart, slowly, hands alone, shown to the teacher.
    By start id, whatever order the edits come in."""
    return {start: edit.at for start, edit in _last(edits, "worked on").items()}


def homework(edits: Iterable[LayerEdit], today: date) -> dict[str, date]:
    """Until when the teacher asks for starts, that day included, where it is not over. By start
    id, whatever order the edits come in."""
    until = {start: day_of(edit.value) for start, edit in _last(edits, "homework").items()}
    return {start: day for start, day in until.items() if day is not None and day >= today}


def _last(edits: Iterable[LayerEdit], what: What) -> dict[str, LayerEdit]:
    """The last edit of a kind on each start, where it was not taken back."""
    last = {
        edit.start: edit
        for edit in sorted(edits, key=lambda edit: (edit.at, edit.id))
        if edit.what == what
    }
    return {start: edit for start, edit in last.items() if edit.value}


def _own(start: str, said: Mapping[What, str]) -> Own:
    return Own(
        start,
        said.get("fingering", ""),
        said.get("words", ""),
        tempo_of(said.get("tempo", "")),
        bool(said.get("left out")),
        place_of(said.get("added", "")),
    )


def with_layer(deck: Deck, layer: Layer, end: Fraction | None = None) -> Deck:
    """The deck as this student has it.

    Own fingering stands in place of the teacher's, own words after the teacher's advice. Added
    starts take their place in the score and on each pass of the route, as a split phrase would;
    their numbers come after the deck's last. Starts left out stay: pages and route need them.
    `end` is the end of the score in ql, from which on no start is added.

    An added start where another one begins already is not there: its tries count for that one.
    """
    laid = _laid(deck, layer, end)
    owns = {own.start: own for own in layer.owns}
    number = max(start.number for start in deck.starts)
    new = [
        Start(own.start, number + n, own.added or Fraction(0), (OWN,))
        for n, own in enumerate(laid.placed, 1)
    ]
    starts: list[Start] = []
    # What is played with each start of the deck, in order: itself, and what was added after it;
    # with the first one also what was added before it.
    passes: dict[str, list[str]] = {start.id: [] for start in deck.starts}
    here = passes[deck.starts[0].id]
    added = {start.id for start in new}
    for start in sorted((*deck.starts, *new), key=lambda start: start.onset):
        if start.id in added:
            start = replace(start, parent=starts[-1].id if starts else "")
        else:
            here = passes[start.id]
        here.append(start.id)
        starts.append(_with_own(start, owns.get(start.id)))
    merged = tuple(
        Former(id_, 0, owns[id_].added or Fraction(0), "merged", there)
        for id_, there in laid.doubles.items()
    )
    return replace(
        deck,
        starts=tuple(starts),
        route=tuple(id_ for old in deck.route for id_ in passes.get(old, [old])),
        former=(*deck.former, *merged),
    )


def _with_own(start: Start, own: Own | None) -> Start:
    if own is None:
        return start
    advice = (*start.advice, own.words) if own.words else start.advice
    return replace(start, fingering=own.fingering or start.fingering, advice=advice)


def no_effect(deck: Deck, layer: Layer, end: Fraction | None = None) -> dict[str, str]:
    """The starts whose own edits have no effect on this form of the deck, and why. They are
    kept, and work again once the deck lets them. Arguments as in `with_layer`."""
    return _laid(deck, layer, end).idle


class _Laid(NamedTuple):
    """Which added starts take their place, which begin where another one does (its id), and
    what has no effect and why, by ids of starts."""

    placed: list[Own]
    doubles: dict[str, str]
    idle: dict[str, str]


def _laid(deck: Deck, layer: Layer, end: Fraction | None) -> _Laid:
    laid = _Laid([], {}, {})
    numbers = {start.id: start.number for start in deck.starts}
    former = {gone.id: gone for gone in deck.former}
    taken = {start.onset: start.id for start in deck.starts}
    for own in layer.owns:
        if own.start in numbers:
            continue
        if own.start in former:
            gone = former[own.start]
            laid.idle[own.start] = f"start {gone.number} was {_FATES[gone.fate]} in the deck"
        elif own.added is None:
            laid.idle[own.start] = "the deck has no such start"
        elif end is not None and own.added >= end:
            laid.idle[own.start] = "the piece ends before it"
        elif own.added in taken:
            there = laid.doubles[own.start] = taken[own.added]
            who = f"the deck has start {numbers[there]}" if there in numbers else "an own start is"
            laid.idle[own.start] = f"{who} there"
        else:
            taken[own.added] = own.start
            laid.placed.append(own)
    return laid


_FATES = {"removed": "removed", "merged": "joined to another", "thinned": "thinned out"}


def reaches_beyond(deck: Deck, layer: Layer) -> bool:
    """Whether a start was added after the deck's last, so that only the score can tell whether
    it still lies in the piece."""
    last = deck.starts[-1].onset
    return any(own.added is not None and own.added > last for own in layer.owns)
