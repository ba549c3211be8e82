"""The notes and bars of a score as arrays, made once; everything after it is arithmetic."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np
import numpy.typing as npt

from trainer.score.model import Bar, MarkKind, Note, Score

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

SLOTS = 48  # positions told apart in a bar: enough for thirty-seconds and for triplets
NEAR = 1e-6  # ql; positions closer than this are one
MOST = 4096  # frames made of one bar at most


@dataclass(frozen=True, eq=False)
class Frames:
    """Bars as they are felt: the parts of a split bar are one, and a bar much longer than its
    metre (free time) is counted in lengths of the metre. One entry a frame.

    `start`, `length`, `beat` in ql; `lead` is what the frame lacks at its beginning; `full`
    the length of a complete one; `bar` the index in the score of the bar it begins in; `count`
    the bars before it as they are played once through: an upbeat does not count, and a later
    ending is counted from where the first ending began.
    """

    start: Floats
    length: Floats
    beat: Floats
    lead: Floats
    full: Floats
    bar: Ints
    count: Ints

    def __len__(self) -> int:
        return len(self.start)


@dataclass(frozen=True, eq=False)
class Table:
    """A score's struck notes (grace and cue notes aside) in order of position, and its frames.

    Notes: `onset`, `end` (tied notes are one) in ql, `pitch` as MIDI number, `staff`, `frame`,
    and `slot` (0 to SLOTS, the place in the bar). Strikes: each position where something is
    struck, once: exact in `strikes`, as numbers in `at`.
    """

    score: Score
    onset: Floats
    end: Floats
    pitch: Ints
    staff: Ints
    frame: Ints
    slot: Ints
    strikes: tuple[Fraction, ...]
    at: Floats
    frames: Frames

    @cached_property
    def close(self) -> float:
        """Where the last note stops, ql; rests after it are no part of a phrase."""
        return float(self.end.max())

    @cached_property
    def single(self) -> bool:
        """Whether it is one melodic line: one staff, and hardly ever two notes at once."""
        return len(set(self.staff.tolist())) == 1 and len(self.onset) < 1.1 * len(self.at)

    @cached_property
    def upper(self) -> npt.NDArray[np.bool_]:
        """Which notes are in the upper staff."""
        top = self.staff == self.staff.min()
        return np.asarray(top, dtype=np.bool_)

    @cached_property
    def silence(self) -> tuple[Floats, Floats]:
        """The strikes, and the silence of all voices before each (ql)."""
        return _silence(self.onset, self.end)

    @cached_property
    def upper_silence(self) -> tuple[Floats, Floats]:
        """The strikes of the upper staff, and its silence before each (ql)."""
        return _silence(self.onset[self.upper], self.end[self.upper])

    @cached_property
    def strike_frame(self) -> Ints:
        """The frame of each strike."""
        return frames_of(self.frames.start, self.at)

    def marked(self, *kinds: MarkKind) -> Floats:
        """The positions of the marks of some kinds, ql, in order."""
        return np.array([float(mark.onset) for mark in self.score.marks_of(*kinds)])

    def label(self, frame: int) -> str:
        """The printed label of the bar in which a frame begins."""
        return self.score.bars[int(self.frames.bar[frame])].label


def frames_of(starts: Floats, positions: Floats) -> Ints:
    """For each position the frame that holds it."""
    return np.maximum(np.searchsorted(starts, positions + NEAR, side="right") - 1, 0)


def tabulate(score: Score) -> Table | None:
    """The table of a score; None where nothing is struck."""
    notes, ends = _struck(score)
    if not notes:
        return None
    frames = _frames(score, max(ends))
    onset = np.array([_float(note.onset) for note in notes])
    frame = frames_of(frames.start, onset)
    place = (onset - frames.start[frame] + frames.lead[frame]) / frames.full[frame]
    strikes = score.onsets
    return Table(
        score=score,
        onset=onset,
        end=np.array(ends),
        pitch=np.array([note.pitch for note in notes], dtype=np.int64),
        staff=np.array([note.staff for note in notes], dtype=np.int64),
        frame=frame,
        slot=np.rint(place * SLOTS).astype(np.int64),
        strikes=strikes,
        at=np.array([_float(strike) for strike in strikes]),
        frames=frames,
    )


def _silence(onset: Floats, end: Floats) -> tuple[Floats, Floats]:
    strikes, first = np.unique(onset, return_index=True)
    sounding = np.maximum.accumulate(end)
    quiet = np.zeros(len(strikes))
    quiet[1:] = np.maximum(strikes[1:] - sounding[first[1:] - 1], 0)
    return strikes, quiet


def _float(value: Fraction) -> float:
    return value.numerator / value.denominator


def _struck(score: Score) -> tuple[list[Note], list[float]]:
    """The struck notes, and where each stops sounding once its ties are counted in."""
    notes: list[Note] = []
    ends: list[float] = []
    last: dict[tuple[int, int], int] = {}
    for note in score.notes:
        if note.grace or note.cue:
            continue
        key = (note.staff, note.pitch)
        if note.sounds:
            last[key] = len(notes)
            notes.append(note)
            ends.append(_float(note.onset) + _float(note.length))
        elif key in last:
            ends[last[key]] = max(ends[last[key]], _float(note.onset) + _float(note.length))
    return notes, ends


def _frames(score: Score, close: float) -> Frames:
    """The frames that begin before the last note stops."""
    rows: list[tuple[float, ...]] = []
    for bar, length in _joined(score.bars):
        start, lead, beat = _float(bar.start), _float(bar.lead), _float(bar.meter.beat)
        metre = max(_float(bar.meter.length), NEAR)
        count = min(int(length / metre + NEAR), MOST) if length >= 2 * metre else 1
        each = length / count if count == MOST else metre
        for part in range(count):
            long = length - part * each if part == count - 1 else each
            ahead = lead if part == 0 else 0.0
            full = max(each, long + ahead)
            rows.append((start + part * each, long, beat, ahead, full, bar.index))
    rows = [row for row in rows if row[0] < close - NEAR] or rows[:1]
    start_, length_, beat_, lead_, full_, bar_ = np.array(rows, dtype=np.float64).T
    bar = bar_.astype(np.int64)
    return Frames(start_, length_, beat_, lead_, full_, bar, _counted(score, bar, lead_))


def _counted(score: Score, bar: Ints, lead: Floats) -> Ints:
    """For each frame the bars before it as they are played."""
    counted: list[int] = []
    count, first = -int(lead[0] > 0), 0
    before: tuple[int, ...] = ()
    for index in bar.tolist():
        endings = score.bars[index].endings
        if endings and not before:
            first = count
        elif endings and endings != before:
            count = first
        counted.append(max(count, 0))
        before = endings
        count += 1
    return np.array(counted, dtype=np.int64)


def _joined(bars: tuple[Bar, ...]) -> list[tuple[Bar, float]]:
    """Bars with their lengths, the later parts of split bars joined to the first."""
    joined: list[tuple[Bar, float]] = []
    for bar in bars:
        if bar.continues and joined:
            first, length = joined[-1]
            joined[-1] = (first, length + _float(bar.length))
        elif bar.length > 0 or not joined:
            joined.append((bar, _float(bar.length)))
    return joined
