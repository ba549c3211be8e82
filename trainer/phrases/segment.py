"""Where the phrases of a score begin, with the reasons."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trainer.phrases import choose as choosing
from trainer.phrases.choose import Odds, choose
from trainer.phrases.clues import CLUES
from trainer.phrases.entry import entries
from trainer.phrases.habits import EVEN, LENGTH, PLACE, habits
from trainer.phrases.lengths import MELODY, TEXTURE, Spans, spans_of
from trainer.phrases.likeness import verbatim
from trainer.phrases.model import Density, Proposal, Reason
from trainer.phrases.numbered import numbered
from trainer.phrases.places import Places, places_of
from trainer.phrases.plain import Plain, plain
from trainer.phrases.spans import Division, divide
from trainer.phrases.table import Floats, Ints, Table, tabulate
from trainer.score.model import Score

WRITTEN = 50.0  # log odds: outweighs all that is not written
FAINT = 0.15  # log odds below which a clue is no reason
MOST_REASONS = 5
FIRST = Reason("first", "the piece begins here")


def propose(score: Score, density: Density = "usual") -> tuple[Proposal, ...]:
    """Phrase starts in score order; the first struck note is always one.

    What a person plainly wrote (see `plain.py`) is a start at that very strike. Every other
    place has the chance that the model of `spans.py` gives it, which is its strength, and is
    taken or not by the rules of `choose.py`: a denser choice only adds. Where a person has numbered
    the starts (see `numbered.py`), these are the usual ones, and the fewer ones too. Empty where
    the score has no struck note. Time grows with the number of notes.
    """
    table = tabulate(score)
    if table is None:
        return ()
    if density != "more" and (told := numbered(score)):
        return tuple(
            Proposal(onset, 1.0, (Reason("written", f"the number {number} is written here"),))
            for number, onset in told.items()
        )
    places = places_of(table)
    written = plain(table)
    of_plain = {strike: _place_of(places, strike) for strike in written}
    says = _Says(places)
    division = says.division(sorted(set(of_plain.values())))
    candidates = _candidates(places, division.chances, written, of_plain)
    odds = _odds(places, candidates, set(division.starts) if table.single else set())
    chosen = choose(odds, density, choosing.MELODY if table.single else choosing.TEXTURE)
    found = []
    before: int | None = None
    for index in chosen:
        candidate = candidates[index]
        found.append(_proposal(table, says, candidate, before))
        before = candidate.place
    return tuple(found)


@dataclass(frozen=True)
class _Candidate:
    """A strike where a phrase may begin, the place it belongs to, its chance, and what is
    plainly written there."""

    strike: int
    place: int
    chance: float
    plain: Plain | None = None


def _candidates(
    places: Places, chances: Floats, written: dict[int, Plain], of_plain: dict[int, int]
) -> list[_Candidate]:
    """In order of strikes, each once: those of what is written, and one for every other place."""
    found = {0: _Candidate(0, 0, 1.0)}
    found |= {s: _Candidate(s, of_plain[s], 1.0, what) for s, what in written.items()}
    taken = set(of_plain.values())
    for place, strike in enumerate(entries(places).tolist()):
        if place not in taken:
            found.setdefault(strike, _Candidate(strike, place, float(chances[place])))
    return [found[strike] for strike in sorted(found)]


def _odds(places: Places, candidates: list[_Candidate], likely: set[int]) -> Odds:
    bar = places.line.bar if places.table.single else np.arange(len(places), dtype=np.float64)
    return Odds(
        chance=np.array([candidate.chance for candidate in candidates]),
        bar=bar[[candidate.place for candidate in candidates]],
        end=float(np.searchsorted(places.table.frames.start, places.table.close)),
        plain=np.array([candidate.plain is not None for candidate in candidates]),
        firm=np.array([bool(candidate.plain and candidate.plain.firm) for candidate in candidates]),
        likely=np.array([candidate.place in likely for candidate in candidates]),
    )


def _proposal(table: Table, says: _Says, candidate: _Candidate, before: int | None) -> Proposal:
    if before is None:
        return Proposal(table.strikes[0], 1.0, (FIRST,))
    reasons = says.reasons(candidate.place, before)
    if candidate.plain is not None:
        reasons = (Reason(candidate.plain.name, candidate.plain.words), *reasons)
    return Proposal(table.strikes[candidate.strike], candidate.chance, reasons[:MOST_REASONS])


def _place_of(places: Places, strike: int) -> int:
    """The place of a strike, or the place nearest to it."""
    if places.table.single:
        return strike
    position = places.table.at[strike]
    after = int(np.searchsorted(places.at, position))
    around = [place for place in (after - 1, after) if 0 <= place < len(places)]
    return min(around, key=lambda place: abs(places.at[place] - position))


class _Says:
    """What each clue says for each place, in log odds."""

    def __init__(self, places: Places) -> None:
        self.places = places
        single = places.table.single
        weighted = [(clue, clue.weight(single)) for clue in CLUES]
        self.clues = [(clue, weight) for clue, weight in weighted if weight is not None]
        said = np.stack([weight * clue.evidence(places) for clue, weight in self.clues], axis=1)
        self.said = said if single else _shared(said, verbatim(places.contents))
        self.usual = np.maximum(self.said.mean(axis=0), 0)
        self.spans: Spans = spans_of(places)
        self.lengths = [
            (clue, clue.weight * clue.evidence(self.spans))
            for clue in (MELODY if single else TEXTURE)
        ]

    def division(self, marked: list[int]) -> Division:
        """How the piece may be divided, with the marked places among its starts. A melody is
        divided twice: in the second division its habits in the first speak as well."""
        scores = np.sum([said for _, said in self.lengths], axis=0)
        here = self.said.sum(axis=1)
        here[marked] += WRITTEN
        scores[:-1] += here[:, None]
        division = divide(scores)
        if not self.places.table.single:
            return division
        place, even, length = habits(self.spans, division)
        return divide(scores + PLACE * place + EVEN * even + LENGTH * length)

    def reasons(self, place: int, before: int) -> tuple[Reason, ...]:
        """What is said for this place above what is said of most, strongest first; never empty.

        `before` is the place where the span that leads to it begins.
        """
        found: dict[str, tuple[str, float]] = {}
        above = np.minimum(self.said[place], self.said[place] - self.usual)
        for index in np.flatnonzero(above >= FAINT).tolist():
            clue = self.clues[index][0]
            words = clue.say(self.places, place)
            if not words:
                continue
            name, weight = found.get(words, (clue.name, 0.0))
            found[words] = (name, weight + float(above[index]))
        for name, words, weight in self._spanned(place, before):
            found.setdefault(words, (name, weight))
        ordered = sorted(found.items(), key=lambda item: -item[1][1])[:MOST_REASONS]
        return tuple(
            Reason(name, words, round(1 - math.exp(-weight), 3))
            for words, (name, weight) in ordered
        )

    def _spanned(self, place: int, before: int) -> list[tuple[str, str, float]]:
        """What the span from the start before says; always something."""
        if not 0 < place - before < self.spans.steps.shape[1]:
            return [("count", "it may begin here by the count of bars", FAINT)]
        span = (place, place - before)
        said = [
            (clue.name, clue.words, float(weighted[span]))
            for clue, weighted in self.lengths
            if clue.words and weighted[span] >= FAINT
        ]
        if self._ending_within(before, place):  # played and printed bars differ
            return said or [("count", "it may begin here by the count of bars", FAINT)]
        bars = int(self.spans.bars[span])
        words = "1 bar" if bars == 1 else f"{bars} bars"
        weight = 0.5 if bars and bars % 4 == 0 else FAINT
        return [*said, ("count", f"{words} after the start before it", weight)]

    def _ending_within(self, before: int, place: int) -> bool:
        """Whether the bars from one place up to another have an ending among them."""
        table = self.places.table
        first, last = self.places.frame[before], self.places.frame[place]
        return any(table.score.bars[bar].endings for bar in table.frames.bar[first:last].tolist())


def _shared(said: Floats, first: Ints) -> Floats:
    """Places from which the same four bars follow share half of what is said for each."""
    counts = np.bincount(first, minlength=len(said)).astype(np.float64)
    sums = np.zeros_like(said)
    np.add.at(sums, first, said)
    mean = sums[first] / counts[first][:, None]
    shared: Floats = (said + mean) / 2
    return shared
