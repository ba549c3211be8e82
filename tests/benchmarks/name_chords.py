"""How often the chords we name agree with a trained reader.

Run as `python -m tests.benchmarks.name_chords`; it takes some minutes.

The source is the RomanText analyses that music21's corpus carries: twenty chorales of J. S. Bach
(A. Jones, D. Tymoczko, H. Robb) and 48 madrigals of C. Monteverdi, books 3 to 5. All of it is
sung music, so it says nothing about broken chords on a keyboard.

The weights were set on book 3 and the first ten chorales (`tuned_on`), with a look at the demo
piece; the others are held out, and theirs are the figures to quote. Four chorales are left out,
since the score in the corpus is in another key or in another order of bars than its analysis;
any other piece whose notes fit its own analysis worse than MUST_FIT is refused aloud.

A bar has one label where one chord of one key fills all of it. Its root is right where the root
that we hold longest in it is the reader's; a bar that we leave unsure counts as wrong. All other
figures are shares of time. Intervals are bootstrap intervals over pieces (95 %).
"""

from __future__ import annotations

import re
import sys
import warnings
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random
from time import perf_counter
from typing import Any

from msgspec.structs import replace

from trainer.score.blocks import Block, blocks
from trainer.score.chords import CADENTIAL, Chord
from trainer.score.model import Bar, Score
from trainer.score.read import read_score

MUST_FIT = 0.75  # of the sounding time, within the labelled chords
OTHER_EDITION = tuple(f"riemenschneider0{number}" for number in (11, 14, 15, 17))
FILES = {"248(2).12": "bwv248.12-2"}  # where a BWV number is not the name of the file

_TRIADS = {"7": "major", "maj7": "major", "m7": "minor", "m7b5": "diminished", "dim7": "diminished"}
_FIGURE = re.compile(r"([b#]*[ivIV]+)(o|ø|\+)?((?:\d(?:/\d)*)?)(?:/(.+))?$")
_SHORT = {"2": "42", "43": "43", "64": "64"}


@dataclass(frozen=True)
class Label:
    """A chord as the reader heard it, in the score's own time."""

    onset: Fraction
    end: Fraction
    bar: int
    figure: str
    tonic: int
    mode: str
    root: int
    triad: str
    tones: frozenset[int]


@dataclass
class Tally:
    """Counts of one piece: right and all, by the name of the question."""

    right: dict[str, float] = field(default_factory=lambda: defaultdict(float))
    all: dict[str, float] = field(default_factory=lambda: defaultdict(float))

    def add(self, question: str, right: bool, weight: float = 1) -> None:
        self.all[question] += weight
        self.right[question] += weight * right


def corpus() -> Path:
    """Where music21 keeps its scores."""
    import music21

    return Path(music21.__file__).parent / "corpus"


def names() -> list[str]:
    """Every piece with an analysis that fits its score."""
    found = sorted(path.stem for path in corpus().rglob("*.rntxt"))
    return [name for name in found if name not in OTHER_EDITION]


def tuned_on(name: str) -> bool:
    if name.startswith("madrigal"):
        return name.startswith("madrigal.3.")
    return int(name[-3:]) <= 10


@cache
def piece(name: str) -> tuple[Score, tuple[Label, ...]]:
    """A score read by our own reader, and its labels. Raises ValueError where they do not fit."""
    analysis = next(corpus().rglob(f"{name}.rntxt"))
    work = re.search(r"BWV: (\S+)", analysis.read_text())
    file = analysis.with_suffix(".mxl")
    if work:
        file = corpus() / "bach" / f"{FILES.get(work[1], 'bwv' + work[1])}.mxl"
    score = read_score(file)
    labels = tuple(_labels(score, analysis))
    if fit(score, labels) < MUST_FIT:
        raise ValueError(f"{name}: the notes do not fit the analysis")
    return score, labels


def _labels(score: Score, analysis: Path) -> list[Label]:
    from music21 import converter

    bars: dict[str, list[Bar]] = defaultdict(list)
    for bar in score.bars:
        bars[bar.label].append(bar)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed: Any = converter.parse(str(analysis), format="romantext", forceSource=True)
    found = []
    for measure in parsed.parts[0].getElementsByClass("Measure"):
        for roman in measure.getElementsByClass("RomanNumeral"):
            for bar in bars[str(measure.measureNumber)]:  # several where print splits a bar
                found.append(_label(bar, roman))
    return sorted((one for one in found if one.onset < one.end), key=lambda one: one.onset)


def _label(bar: Bar, roman: Any) -> Label:
    onset = bar.start + Fraction(roman.offset) - (0 if bar.upbeat else bar.lead)
    return Label(
        max(onset, bar.start),
        min(onset + Fraction(roman.quarterLength), bar.end),
        bar.index,
        roman.figure,
        roman.key.tonic.pitchClass,
        roman.key.mode,
        roman.root().pitchClass,
        roman.quality,
        frozenset(roman.pitchClasses),
    )


def fit(score: Score, labels: Sequence[Label]) -> float:
    """The share of sounding time that belongs to the labelled chords; 0 for no notes."""
    inside = total = Fraction(0)
    for label in labels:
        bar = score.bars[label.bar]
        for note in score.notes_between(bar.start, label.end):
            time = min(note.end, label.end) - max(note.onset, label.onset)
            if time > 0:
                total += time
                inside += time * (note.pitch % 12 in label.tones)
    return float(inside / total) if total else 0.0


def top_part(score: Score) -> Score:
    """The score with the notes of its first staff alone."""
    return replace(score, notes=tuple(note for note in score.notes if note.staff == 0))


def measure(score: Score, labels: Sequence[Label]) -> Tally:
    """Our blocks against the labels of one piece."""
    ours: dict[int, list[Block]] = defaultdict(list)
    for block in blocks(score):
        ours[score.bar_at(block.onset).index].append(block)
    theirs: dict[int, list[Label]] = defaultdict(list)
    for label in labels:
        theirs[label.bar].append(label)
    tally = Tally()
    for bar, heard in theirs.items():
        one = _fills(score.bars[bar], heard)
        if one:
            _one_label(tally, ours[bar], heard[0])
        for label in heard:
            for block in ours[bar]:
                time = min(block.end, label.end) - max(block.onset, label.onset)
                if time > 0:
                    _by_time(tally, block, label, float(time), one)
    return tally


def _fills(bar: Bar, labels: Sequence[Label]) -> bool:
    """Whether one chord of one key takes the whole bar."""
    same = len({(label.figure, label.tonic, label.mode) for label in labels}) == 1
    return same and sum(label.end - label.onset for label in labels) == bar.length


def _one_label(tally: Tally, heard: Sequence[Block], label: Label) -> None:
    held: dict[int | None, Fraction] = defaultdict(Fraction)
    kinds: dict[str, Fraction] = defaultdict(Fraction)
    for block in heard:
        held[block.chord.root if block.chord else None] += block.end - block.onset
    root = max(held, key=lambda one: held[one])
    for block in heard:
        if block.chord and block.chord.root == root:
            kinds[triad(block.chord)] += block.end - block.onset
    right = root == label.root
    kind = max(kinds, key=lambda one: kinds[one], default="")
    tally.add("one label: root", right)
    tally.add("one label: root and triad", right and kind == label.triad)
    tally.add("one label: a chord is named", root is not None)
    if root is not None:
        tally.add("one label: root, where named", right)


def _by_time(tally: Tally, block: Block, label: Label, time: float, one: bool) -> None:
    chord = block.chord
    right = chord is not None and chord.root == label.root
    where = "one label" if one else "several labels"
    tally.add(f"{where}, by time: root", right, time)
    tally.add("by time: root", right, time)
    tally.add(
        "by time: root and triad",
        right and chord is not None and triad(chord) == label.triad,
        time,
    )
    tally.add("by time: a chord is named", chord is not None, time)
    same_key = (block.key.tonic, block.key.mode) == (label.tonic, label.mode)
    tally.add("by time: key", same_key, time)
    tally.add("by time: a numeral is given", bool(block.numeral), time)
    if chord is not None:
        tally.add("by time: root, where named", right, time)
        tally.add(f"confidence {int(chord.confidence * 10) / 10:.1f}", right, time)
    if block.numeral:
        mine, reader = figure(block.numeral), figure(label.figure)
        tally.add("by time: numeral, where given", same_key and mine == reader, time)
        if same_key:
            tally.add("by time: numeral, where given, same key", mine == reader, time)
            tally.add(
                "by time: numeral less figures, where given, same key",
                (mine[0].rstrip("7"), mine[2]) == (reader[0].rstrip("7"), reader[2]),
                time,
            )


def triad(chord: Chord) -> str:
    return _TRIADS.get(chord.quality, chord.quality)


def figure(text: str) -> tuple[str, str, str]:
    """A Roman numeral as degree with its sign, figures, and the degree it is applied to."""
    text = text.replace(CADENTIAL, "I64").replace("°", "o")
    plain = re.sub(r"\[.*?\]", "", text).replace("/o", "ø").replace("♭", "b").replace("♯", "#")
    match = _FIGURE.match(plain)
    if match is None:
        return plain, "", ""
    degree, sign, figures, target = match.groups()
    figures = figures.replace("/", "")
    return degree + (sign or ""), _SHORT.get(figures, figures), target or ""


def share(tallies: Iterable[Tally], question: str) -> float:
    """The share of right answers over all pieces; NaN where the question never came up."""
    tallies = list(tallies)
    total = sum(tally.all[question] for tally in tallies)
    return sum(tally.right[question] for tally in tallies) / total if total else float("nan")


def interval(tallies: Sequence[Tally], question: str, draws: int = 1000) -> tuple[float, float]:
    """The middle 95 % of `share` over pieces drawn anew with replacement."""
    rng = Random(1)
    drawn = sorted(share(rng.choices(tallies, k=len(tallies)), question) for _ in range(draws))
    return drawn[draws * 25 // 1000], drawn[draws * 975 // 1000]


def report(title: str, tallies: Sequence[Tally]) -> None:
    print(f"\n{title}: {len(tallies)} pieces")
    for question in sorted({question for tally in tallies for question in tally.all}):
        low, high = interval(tallies, question)
        count = sum(tally.all[question] for tally in tallies)
        unit = "ql" if "time" in question or "confidence" in question else "bars"
        print(
            f"  {question:55} {share(tallies, question):.3f}"
            f" ({low:.3f} to {high:.3f}) of {count:,.0f} {unit}"
        )


def main() -> int:
    tallies: dict[str, Tally] = {}
    alone: dict[str, Tally] = {}
    seconds = 0.0
    for name in names():
        score, labels = piece(name)
        before = perf_counter()
        blocks(score)
        seconds += perf_counter() - before
        tallies[name] = measure(score, labels)
        alone[name] = measure(top_part(score), labels)
        print(f"{name} {share([tallies[name]], 'by time: root'):.3f}", flush=True)
    kinds: tuple[tuple[str, Callable[[str], bool]], ...] = (
        ("Tuned on", tuned_on),
        ("Held out", lambda name: not tuned_on(name)),
        ("Held out, chorales", lambda name: not tuned_on(name) and name.startswith("riem")),
    )
    for title, kind in kinds:
        report(title, [tallies[name] for name in tallies if kind(name)])
    report("Held out, the top part alone", [alone[n] for n in alone if not tuned_on(n)])
    notes = sum(len(piece(name)[0].notes) for name in tallies)
    print(
        f"\nkeys and blocks: {1000 * seconds / notes:.3f} s for 1,000 notes, over {notes:,} notes"
    )
    grow()
    return 0


def grow() -> None:
    """How the cost grows: one long madrigal, end to end until there are 100,000 notes."""
    score = piece("madrigal.5.8")[0]
    for times in (1, 4, 16, 64):
        long = repeated(score, times)
        before = perf_counter()
        blocks(long)
        print(f"  {len(long.notes):7,} notes: {perf_counter() - before:.2f} s", flush=True)


def repeated(score: Score, times: int) -> Score:
    """The score's bars and notes, `times` times in line."""
    shifts = [score.end * time for time in range(times)]
    bars = [replace(bar, start=bar.start + shift) for shift in shifts for bar in score.bars]
    return replace(
        score,
        bars=tuple(replace(bar, index=index) for index, bar in enumerate(bars)),
        notes=tuple(replace(n, onset=n.onset + shift) for shift in shifts for n in score.notes),
    )


if __name__ == "__main__":
    sys.exit(main())
