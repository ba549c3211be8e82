"""How long each pitch class sounds, and which pitch is lowest, between any two moments.

All of it costs n log n in the number of notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.score.model import Note

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

SILENT = 1000  # stands above every pitch


class Sounding:
    """The notes as arrays of onsets and ends in ql and of pitches; cue notes left out.

    Times are rounded to a billionth, so that equal fractions are equal here too.
    """

    def __init__(self, notes: Sequence[Note]) -> None:
        import numpy as np

        self.notes = [note for note in notes if not note.cue]
        self.onset = rounded([float(note.onset) for note in self.notes])
        length = np.array([float(note.length) for note in self.notes])
        self.end = rounded(self.onset + length)
        self.pitch: Ints = np.array([note.pitch for note in self.notes], dtype=np.int64)

    @property
    def close(self) -> float:
        """Where the last note stops, in ql; 0 without notes."""
        return float(self.end.max(initial=0))

    def within(self, begin: float, end: float) -> Sounding:
        """The notes that are struck or sound in [begin, end)."""
        import numpy as np

        kept = (self.onset < end) & ((self.end > begin) | (self.onset >= begin))
        part = object.__new__(Sounding)
        part.notes = [self.notes[place] for place in np.nonzero(kept)[0].tolist()]
        part.onset, part.end, part.pitch = self.onset[kept], self.end[kept], self.pitch[kept]
        return part

    def until(self, times: Floats) -> Floats:
        """How long each pitch class has sounded up to each time, in ql: times by 12.

        A note contributes (time - onset) less (time - end), each where positive.
        """
        import numpy as np

        total = np.zeros((len(times), 12))
        for pitch_class in range(12):
            mine = self.pitch % 12 == pitch_class
            total[:, pitch_class] = _ramp(self.onset[mine], times) - _ramp(self.end[mine], times)
        return total

    def together(self, times: Floats) -> tuple[Floats, Floats]:
        """How long, up to each time, anything has sounded; and how long two notes or more."""
        import numpy as np

        moments, place = np.unique(np.concatenate((self.onset, self.end)), return_inverse=True)
        if not len(moments):
            return np.zeros(len(times)), np.zeros(len(times))
        change = np.bincount(place, np.repeat([1, -1], len(self.onset)), len(moments))
        count = np.cumsum(change)[:-1]
        spent = [
            np.concatenate(([0.0], np.cumsum(np.diff(moments) * (count >= least))))
            for least in (1, 2)
        ]
        return np.interp(times, moments, spent[0]), np.interp(times, moments, spent[1])

    def lowest(self, times: Floats) -> Ints:
        """The lowest pitch that sounds between each time and the next; SILENT where none.

        Each note covers its stretch of slots by two overlapping runs of a power of two,
        which are then handed down from the longest run to single slots.
        """
        import numpy as np

        slots = len(times) - 1
        first = np.clip(np.searchsorted(times, self.onset, side="right") - 1, 0, None)
        last = np.minimum(np.searchsorted(times, self.end, side="left"), slots)
        kept = (last > first) & (self.end > self.onset)
        first, last, pitch = first[kept], last[kept], self.pitch[kept]
        level = np.frexp((last - first).astype(float))[1] - 1
        top = int(level.max(initial=0))
        runs = np.full((top + 1, slots), SILENT, dtype=np.int64)
        np.minimum.at(runs, (level, first), pitch)
        np.minimum.at(runs, (level, last - 2**level), pitch)
        for size in range(top, 0, -1):
            half = 2 ** (size - 1)
            runs[size - 1] = np.minimum(runs[size - 1], runs[size])
            runs[size - 1, half:] = np.minimum(runs[size - 1, half:], runs[size, :-half])
        lowest: Ints = runs[0]
        return lowest


def rounded(times: Sequence[float] | Floats) -> Floats:
    import numpy as np

    return np.round(np.asarray(times, dtype=float), 9)


def _ramp(starts: Floats, times: Floats) -> Floats:
    """The sum over all starts of how far each time lies after them."""
    import numpy as np

    starts = np.sort(starts)
    before = np.searchsorted(starts, times)
    sums = np.concatenate(([0.0], np.cumsum(starts)))
    return np.asarray(times * before - sums[before])
