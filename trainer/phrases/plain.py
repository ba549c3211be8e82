"""What a person plainly wrote: where a phrase begins whatever else is heard.

Rehearsal marks and numbers typed over the staff, double bars and repeat signs, the strike after
a fermata, and the first note of each line of a song are starts, at that very strike (common
practice, no source). A repeat sign between two endings divides nothing.

A section that begins within the first bar is the piece itself, and of fermatas less than a bar
apart only the last divides. A line of text ends at a full stop or the like before a rest or a
note held for a beat, at a comma before a rest or a long note, and at a rest of a beat where no
word goes on; a line shorter than a bar goes with the one before it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from trainer.phrases.table import NEAR, Table
from trainer.score.model import Bar, Mark, Note

SYLLABLES = 8  # fewer are no song,
SUNG = 0.25  # nor are fewer than this share of the notes of their staff
LONG = 1.4  # times the usual length: a long note at a comma


@dataclass(frozen=True)
class Plain:
    """What is written at a strike: the clue's name and the sentence for it. `firm` where it is a
    start at every density: a mark or the beginning of a section."""

    name: str
    words: str
    firm: bool


def plain(table: Table) -> dict[int, Plain]:
    """The strikes at which something plainly begins, in order; the first strike is left out.

    Where several things are written at one strike the first of these counts: a mark, a section,
    a fermata, a line.
    """
    found: dict[int, Plain] = {}
    for strikes in (_marks(table), _sections(table), _after_fermatas(table), _lines(table)):
        for strike, what in strikes:
            if strike:
                found.setdefault(strike, what)
    return dict(sorted(found.items()))


def _strike(table: Table, position: float) -> int | None:
    """The strike at a position, or the first one after it."""
    strike = int(np.searchsorted(table.at, position - NEAR))
    return strike if strike < len(table.at) else None


# Marks

_NUMBER = re.compile(r"[(\[]?\s*(\d{1,3}|[A-Z]|[IVX]{1,5})\s*[.)\]:]?")


def _marks(table: Table) -> Iterator[tuple[int, Plain]]:
    for mark in (*table.score.marks_of("rehearsal"), *_numbers(table)):
        strike = _strike(table, float(mark.onset))
        if strike is not None:
            what = "rehearsal mark" if mark.kind == "rehearsal" else "the number"
            words = " ".join(f"{what} {mark.text} is written here".split())
            yield strike, Plain("written", words, firm=True)


def _numbers(table: Table) -> list[Mark]:
    """The numbers and letters that a person typed to number places.

    They stand in different bars and go up, or are letters two bars apart; otherwise they are
    fingerings, chord names or the like.
    """
    kept: list[Mark] = []
    texts = [(mark, _NUMBER.fullmatch(mark.text.strip())) for mark in table.score.marks_of("text")]
    tokens = [(mark, match[1]) for mark, match in texts if match]
    for digits in (True, False):
        kind = [(mark, token) for mark, token in tokens if token.isdigit() == digits]
        if _goes_up([token for _, token in kind]) or not digits:
            bars = [table.score.bar_at(mark.onset).index for mark, _ in kind]
            apart = min((later - bar for bar, later in pairwise(bars)), default=2)
            if apart >= (1 if digits else 2):
                kept += [mark for mark, _ in kind]
    return kept


def _goes_up(tokens: Sequence[str]) -> bool:
    return all(int(one) < int(other) for one, other in pairwise(tokens) if one.isdigit())


# Sections


def _sections(table: Table) -> Iterator[tuple[int, Plain]]:
    bars = table.score.bars
    first = table.at[0] + bars[0].meter.length
    for before, bar in pairwise(bars):
        words = _section(before, bar) if bar.start >= first - NEAR else ""
        strike = _strike(table, float(bar.start)) if words else None
        if strike is not None:
            yield strike, Plain("double bar", words, firm=True)


def _section(before: Bar, bar: Bar) -> str:
    """What stands between two bars, or nothing. The repeat sign of an ending does not count: the
    bar after it goes on from the bar before the ending, whether it has a bracket of its own or
    not."""
    if before.endings and bar.endings and before.endings != bar.endings:
        return ""
    if before.double:
        return "a double bar before it"
    repeated = before.repeat_times and not before.endings
    return "a repeat sign before it" if repeated or bar.repeat_start else ""


# Fermatas


def _after_fermatas(table: Table) -> Iterator[tuple[int, Plain]]:
    """The strike after each fermata; of fermatas at one time that of the top staff counts."""
    words = Plain("fermata", "a fermata before it", firm=False)
    ends: list[float] = []
    marks = (mark for mark in table.score.marks_of("fermata") if mark.end is not None)
    for mark in sorted(marks, key=lambda mark: (mark.onset, mark.staff)):
        if mark.end is not None and (not ends or mark.onset >= ends[-1] - NEAR):
            ends.append(float(mark.end))
    for end, after in pairwise([*ends, float("inf")]):
        strike = _strike(table, end)
        bar = float(table.score.bar_at(table.strikes[strike]).meter.length) if strike else 0.0
        if strike is not None and after - end >= bar - NEAR:
            yield strike, words


# Lines of a song


@dataclass(frozen=True)
class _Voice:
    """The notes of the sung staff: onsets and ends in ql."""

    onset: np.ndarray
    end: np.ndarray

    @staticmethod
    def of(notes: Iterable[Note]) -> _Voice:
        sung = [note for note in notes if not note.grace and not note.cue]
        return _Voice(
            np.array([float(note.onset) for note in sung]),
            np.array([float(note.end) for note in sung]),
        )

    def held(self, start: float, stop: float) -> float:
        """How long the notes struck in [start, stop) sound."""
        first, last = np.searchsorted(self.onset, (start - NEAR, stop - NEAR))
        return float(self.end[first:last].max() - start) if last > first else 0.0


def _lines(table: Table) -> Iterator[tuple[int, Plain]]:
    score = table.score
    words = Plain("line", "a line of the text begins here", firm=False)
    syllables = score.marks_of("lyric")
    if len(syllables) < SYLLABLES:
        return
    staff = syllables[0].staff
    syllables = tuple(mark for mark in syllables if mark.staff == staff)
    voice = _Voice.of(note for note in score.notes if note.staff == staff)
    if len(syllables) < SUNG * len(voice.onset):
        return
    usual = float(np.median(voice.end - voice.onset)) if len(voice.end) else 0.0
    begun = float(syllables[0].onset)
    for before, mark in pairwise(syllables):
        meter = score.bar_at(mark.onset).meter
        ends = _ends(before, mark, voice, usual, float(meter.beat))
        if ends and float(mark.onset) - begun >= float(meter.length) - NEAR:
            strike = _strike(table, float(mark.onset))
            if strike is not None:
                begun = float(mark.onset)
                yield strike, words


def _ends(before: Mark, mark: Mark, voice: _Voice, usual: float, beat: float) -> bool:
    """Whether a line ends between two syllables."""
    start, stop = float(before.onset), float(mark.onset)
    held = voice.held(start, stop)
    rest = stop - start - held
    last = before.text.rstrip("\"'”’»)« ")[-1:]
    if last in tuple(".;:!?"):
        return rest > NEAR or held >= beat - NEAR
    if last == ",":
        return rest > NEAR or held > LONG * usual
    return rest >= beat - NEAR and last != "-"
