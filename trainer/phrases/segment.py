"""Where the phrases of a score begin, with the reasons."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from trainer.phrases.cues import CUES
from trainer.phrases.entry import entries
from trainer.phrases.habits import EVEN, LENGTH, PLACE, habits
from trainer.phrases.lengths import MELODY, TEXTURE, Spans, spans_of
from trainer.phrases.likeness import verbatim
from trainer.phrases.model import Density, Proposal, Reason
from trainer.phrases.numbered import numbered
from trainer.phrases.places import Places, places_of
from trainer.phrases.signs import written
from trainer.phrases.spans import Division, divide
from trainer.phrases.table import Floats, Ints, Table, tabulate
from trainer.score.model import Score

FEWER = 0.6  # the share of the usual starts
WRITTEN = 50.0  # log odds: outweighs all that is not written
FAINT = 0.15  # log odds below which a cue is no reason
MORE = 1.5  # log odds that every start gains in the denser division
MOST_REASONS = 5


def propose(score: Score, density: Density = "usual") -> tuple[Proposal, ...]:
    """Phrase starts in score order; the first struck note is always one.

    The usual ones are the best division into spans (see `spans.py`), with strengths that are
    their chances under the same model. Fewer are what a person wrote and the strongest of them;
    more are all of them with those that the best division adds when every start gains MORE. So
    a denser choice only adds. Empty where the score has no struck note. Time grows with the
    number of notes. Where a person has numbered the starts (see `numbered.py`), these are the
    usual ones, and the fewer ones too.
    """
    table = tabulate(score)
    if table is None:
        return ()
    if density != "more" and (told := numbered(score)):
        return tuple(
            Proposal(onset, 1.0, (Reason("written", f"the number {number} is written here"),))
            for number, onset in told.items()
        )
    ranking = _ranked(table, denser=density == "more")
    usual = sum(found.usual for found in ranking)
    fixed = sum(found.fixed for found in ranking)
    count = {"fewer": max(fixed, math.ceil(FEWER * usual)), "usual": usual, "more": len(ranking)}
    return tuple(
        Proposal(found.onset, found.strength, found.reasons)
        for found in sorted(ranking[: count[density]], key=lambda found: found.onset)
    )


@dataclass(frozen=True)
class _Found:
    """A place in the ranking; `fixed` ones are in at every density."""

    onset: Fraction
    strength: float
    reasons: tuple[Reason, ...]
    usual: bool
    fixed: bool = False


def _ranked(table: Table, *, denser: bool) -> list[_Found]:
    places = places_of(table)
    marked = {_place_of(places, strike): strike for strike in written(table)}
    says = _Says(places)
    division = says.division(list(marked))
    starts, chances = division.starts, division.chances
    at = entries(places)
    for place, strike in marked.items():
        at[place] = strike
    onsets = table.strikes
    ranking = [
        _Found(onsets[0], 1.0, (Reason("first", "the piece begins here"),), usual=True, fixed=True)
    ]
    seen = {onsets[0]}
    for strike, words in written(table).items():
        if onsets[strike] not in seen:
            seen.add(onsets[strike])
            reasons = (Reason("written", words), *says.reasons(_place_of(places, strike), None))
            ranking.append(_Found(onsets[strike], 1.0, reasons, usual=True, fixed=True))
    previous = dict(zip(starts[1:], starts, strict=False))
    for place in sorted(starts[1:], key=lambda place: (-chances[place], place)):
        if onsets[at[place]] not in seen:
            seen.add(onsets[at[place]])
            reasons = says.reasons(place, previous[place])
            ranking.append(_Found(onsets[at[place]], float(chances[place]), reasons, usual=True))
    if denser:
        added = says.division(starts, MORE)
        previous = dict(zip(added.starts[1:], added.starts, strict=False))
        for place in sorted(set(previous) - set(starts)):
            if onsets[at[place]] not in seen:
                seen.add(onsets[at[place]])
                reasons = says.reasons(place, previous[place])
                chance = float(chances[place])
                ranking.append(_Found(onsets[at[place]], chance, reasons, usual=False))
    return ranking


def _place_of(places: Places, strike: int) -> int:
    """The place of a strike, or the place nearest to it."""
    if places.table.single:
        return strike
    position = places.table.at[strike]
    after = int(np.searchsorted(places.at, position))
    around = [place for place in (after - 1, after) if 0 <= place < len(places)]
    return min(around, key=lambda place: abs(places.at[place] - position))


class _Says:
    """What each cue says for each place, in log odds."""

    def __init__(self, places: Places) -> None:
        self.places = places
        single = places.table.single
        weighted = [(cue, cue.weight(single)) for cue in CUES]
        self.cues = [(cue, weight) for cue, weight in weighted if weight is not None]
        said = np.stack([weight * cue.evidence(places) for cue, weight in self.cues], axis=1)
        self.said = said if single else _shared(said, verbatim(places.table))
        self.usual = np.maximum(self.said.mean(axis=0), 0)
        self.spans: Spans = spans_of(places)
        self.lengths = [
            (cue, cue.weight * cue.evidence(self.spans)) for cue in (MELODY if single else TEXTURE)
        ]

    def division(self, marked: list[int], more: float = 0.0) -> Division:
        """The best division, with the marked places among its starts, and `more` log odds for
        every start. A melody is divided twice: in the second division its habits in the first
        speak as well."""
        scores = np.sum([said for _, said in self.lengths], axis=0) + more * self.spans.inner
        here = self.said.sum(axis=1)
        here[marked] += WRITTEN
        scores[:-1] += here[:, None]
        division = divide(scores)
        if not self.places.table.single:
            return division
        place, even, length = habits(self.spans, division)
        return divide(scores + PLACE * place + EVEN * even + LENGTH * length)

    def reasons(self, place: int, before: int | None) -> tuple[Reason, ...]:
        """What is said for this place above what is said of most, strongest first; never empty.

        `before` is the place where the span that leads to it begins.
        """
        found: dict[str, tuple[str, float]] = {}
        above = np.minimum(self.said[place], self.said[place] - self.usual)
        for index in np.flatnonzero(above >= FAINT).tolist():
            cue = self.cues[index][0]
            words = cue.say(self.places, place)
            name, weight = found.get(words, (cue.name, 0.0))
            found[words] = (name, weight + float(above[index]))
        for name, words, weight in self._spanned(place, before):
            found.setdefault(words, (name, weight))
        ordered = sorted(found.items(), key=lambda item: -item[1][1])[:MOST_REASONS]
        return tuple(
            Reason(name, words, round(1 - math.exp(-weight), 3))
            for words, (name, weight) in ordered
        )

    def _spanned(self, place: int, before: int | None) -> list[tuple[str, str, float]]:
        """What the span from the start before says; always something."""
        if before is None:
            return [("count", "it may begin here by the count of bars", FAINT)]
        span = (place, place - before)
        said = [
            (cue.name, cue.words, float(weighted[span]))
            for cue, weighted in self.lengths
            if cue.words and weighted[span] >= FAINT
        ]
        bars = int(self.spans.bars[span])
        words = "1 bar" if bars == 1 else f"{bars} bars"
        weight = 0.5 if bars and bars % 4 == 0 else FAINT
        return [*said, ("count", f"{words} after the start before it", weight)]


def _shared(said: Floats, first: Ints) -> Floats:
    """Places from which the same four bars follow share half of what is said for each."""
    counts = np.bincount(first, minlength=len(said)).astype(np.float64)
    sums = np.zeros_like(said)
    np.add.at(sums, first, said)
    mean = sums[first] / counts[first][:, None]
    shared: Floats = (said + mean) / 2
    return shared
