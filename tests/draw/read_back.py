"""Reads a drawn page back from its text alone: which notes are struck, where, in which hand."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from trainer.score.model import Score

Seen = tuple[str, str, str, str, int, int]  # bar label, beat, staff label, step, alter, octave

_STEPS = "CDEFGAB"
_CLEF_NOTES = {"G": 7 * 4 + 4, "F": 7 * 3 + 3, "C": 7 * 4}
_NAME = re.compile(r"(\(?)~?([A-G])([♯♭]+|♮|)(-?\d*)(?::\d)?\)?")
_RULER = re.compile(r"[\d&ea·│ ]+")


def read_back(lines: Sequence[str]) -> Counter[Seen]:
    """The struck notes of a page in English names, staff or table, counted."""
    seen: Counter[Seen] = Counter()
    for block in _blocks(lines):
        staves = any("┃" in line for line in block)
        seen.update(_read_staves(block) if staves else _read_table(block))
    return seen


def expected(score: Score, start: Fraction, end: Fraction, labels: dict[int, str]) -> Counter[Seen]:
    """The struck notes from the bar line before `start` up to `end`, from the score's values;
    a unison of two voices on one staff is one key and counts once."""
    first = max(bar.start for bar in score.bars if bar.start <= start)
    keys = {
        (note.onset, note.staff, note.step, note.alter, note.octave)
        for note in score.notes
        if first <= note.onset < end and not note.grace and not note.cue
        if note.tie in ("", "start")
    }
    return Counter(
        (_bar(score, onset), _beat(score, onset), labels[staff], step, alter, octave)
        for onset, staff, step, alter, octave in keys
    )


def _bar(score: Score, onset: Fraction) -> str:
    return [bar.label for bar in score.bars if bar.start <= onset][-1]


def _beat(score: Score, onset: Fraction) -> str:
    """The ruler's word by common practice: counted beats, e & a for quarters of a simple
    beat, & a for thirds of a compound one."""
    bar = [bar for bar in score.bars if bar.start <= onset][-1]
    compound = bar.meter.unit >= 8 and bar.meter.count in (6, 9, 12)
    beat = Fraction(4 * (3 if compound else 1), bar.meter.unit)
    number, rest = divmod((bar.lead + onset - bar.start) / beat, 1)
    words = {"1/3": "&", "2/3": "a"} if compound else {"1/4": "e", "1/2": "&", "3/4": "a"}
    return str(number + 1) if not rest else words.get(str(rest), "·")


def _blocks(lines: Sequence[str]) -> list[list[str]]:
    """The blocks between empty lines."""
    breaks = [i for i, line in enumerate(lines) if not line]
    edges = zip([-1, *breaks], [*breaks, len(lines)], strict=True)
    return [list(lines[begin + 1 : end]) for begin, end in edges]


def _at(marks: dict[int, str], column: int) -> str:
    """The mark at or last before a column."""
    return marks[max(place for place in marks if place <= column)]


def _labels(header: str) -> dict[int, str]:
    return {found.start(): found[1] for found in re.finditer(r"(?:bar )?(\d+)…?", header)}


def _ruler(line: str) -> dict[int, str]:
    return {found.start(): found[0] for found in re.finditer(r"[\d&ea·]+", line)}


def _struck(line: str, begin: int) -> list[tuple[int, str, int, str]]:
    """Column, step, alter and octave text of every struck name in a row of music."""
    names = []
    for found in _NAME.finditer(line, begin):
        bracket, step, sign, octave = found.groups()
        if not bracket:
            names.append((found.start(), step, sign.count("♯") - sign.count("♭"), octave))
    return names


def _read_table(block: list[str]) -> list[Seen]:
    bars = _labels(block[0])
    margin = min(bars)
    ruler = next(line for line in block[1:] if _RULER.fullmatch(line) and "▼" not in line)
    beats = _ruler(ruler)
    seen: list[Seen] = []
    label = ""
    for line in block[1:]:
        if line is ruler or "▼" in line:
            continue
        label = line[:margin].strip() or label
        for column, step, alter, octave in _struck(line, margin):
            seen.append((_at(bars, column), beats[column], label, step, alter, int(octave)))
    return seen


def _read_staves(block: list[str]) -> list[Seen]:
    bars = _labels(block[0])
    body = [line for line in block[1:] if "▼" not in line or "┃" in line]
    tops = [i for i in range(len(body)) if "┃" in body[i] and (not i or "┃" not in body[i - 1])]
    ruler = next(i for i in range(tops[0], len(body)) if _is_ruler(body[i]))
    beats = _ruler(body[ruler])
    seen: list[Seen] = []
    for top in tops:
        name = body[top + 2].partition("┃")[0].strip()
        label = {"R": "RH", "L": "LH"}.get(name, name)
        first, last = (0, ruler) if top < ruler else (ruler + 1, len(body))
        clefs = _clefs(body[top : top + 5])
        for i in range(first, last):
            row = top + 4 - i
            for at, step, alter, octave in _columns(body[i], min(bars)):
                place = (
                    7 * int(octave) + _STEPS.index(step)
                    if octave
                    else _place(row, step, _at_clef(clefs, at))
                )
                seen.append((_at(bars, at), _at(beats, at), label, step, alter, place // 7))
    return seen


def _is_ruler(line: str) -> bool:
    """Under the first staff the first row without letters of notes is the ruler."""
    return "┃" not in line and bool(_RULER.fullmatch(line)) and bool(line.strip())


def _columns(line: str, begin: int) -> list[tuple[int, str, int, str]]:
    """The struck names of a row right of the edge; the clefs in brackets are not names."""
    return _struck(re.sub(r"\[[GFC]\]", "───", line), begin)


def _clefs(rows: list[str]) -> dict[int, int]:
    """The place of the lowest line by column, from the clefs at the edge and in brackets."""
    found: dict[int, int] = {}
    edge = rows[0].index("┃")
    for i, row in enumerate(rows):
        signs = [(edge + 1, row[edge + 1])] if row[edge + 1] in "GFC" else []
        signs += [(m.start(), m[1]) for m in re.finditer(r"\[([GFC])\]", row)]
        for column, sign in signs:
            shift = 0
            for j, step in ((i - 1, 7), (i + 1, -7)):
                if 0 <= j < 5 and "8" in rows[j][column : column + 2]:
                    shift = step
            found[column] = _CLEF_NOTES[sign] - 2 * (4 - i) + shift
    return found


def _at_clef(clefs: dict[int, int], column: int) -> int:
    return clefs[max(place for place in clefs if place <= column)]


def _place(row: int, step: str, bottom: int) -> int:
    """The one note of that letter on a row: on its line or in the space above it."""
    places = [bottom + 2 * row, bottom + 2 * row + 1]
    (place,) = [place for place in places if _STEPS[place % 7] == step]
    return place
