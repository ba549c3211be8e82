"""A passage and its count, first as tones and clicks, then as samples. Pure.

Plain on purpose, a sketch of the written notes: all equally loud and held for their length.
Signs of expression, ornaments, fermatas and the pedal are not played.
"""

from __future__ import annotations

import io
import sys
import wave
from array import array
from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

from trainer.errors import TrainerError
from trainer.score.count import Count
from trainer.score.model import Note, Score
from trainer.score.tempo import clock, stretch
from trainer.values import Frozen

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Wave = NDArray[np.float32]

RATE = 44_100  # samples a second
PEAK = 0.7  # of full scale; nothing is louder
LONGEST = 120.0  # seconds that can be heard at once

LEAST, MOST = 0.3, 1.5  # seconds of a key whose end is not known

GRACE = 0.08  # seconds of a grace note
GRACES = 0.4  # seconds of all grace notes before one note
PARTIALS = (1.0, 0.4, 0.15, 0.05)  # strengths of the fundamental and its overtones
LOUDNESS = 0.2  # of one tone
DECAY = 1.2  # a tone falls by e to this power in a second
ATTACK, RELEASE = 0.01, 0.04  # seconds
CLICK, CLICK_DECAY, CLICK_LOUDNESS = 0.06, 60.0, 0.4
FIRST_BEAT, OTHER_BEAT = 1760.0, 1320.0  # Hz


class Tone(Frozen, frozen=True):
    """A MIDI note number (60 is middle C), the seconds from the entry to where it is struck
    (below 0 for a grace note before it), and how many it lasts."""

    pitch: int
    at: float
    seconds: float


def frequency(pitch: int) -> float:
    """Hz of a MIDI note number in equal temperament: number 69 is A4, 440 Hz, and 12 numbers
    double the frequency (MIDI tuning standard)."""
    return float(440.0 * 2.0 ** ((pitch - 69) / 12))


def tones(
    score: Score, begin: Fraction, end: Fraction, rate: float | None = None
) -> tuple[Tone, ...]:
    """What is struck in [begin, end), cut off at `end`; cue notes are left out. `rate` is the
    tempo at `begin` in felt beats a minute, where it is not as written.

    Tied notes are one tone; one tied over from before `begin` is struck at its first head, as a
    player who begins there would. A unison is struck once. Grace notes come just before their
    note, a staff's from the lowest up: a score does not keep their order. Raises TrainerError
    for a passage of over LONGEST seconds, and for a score whose notes are left out.
    """
    if not score.notes:
        raise TrainerError(
            "This deck has no notes, so it cannot be played: ask for the deck with its notes, or"
            " give the piece its file with `trainer add FILE --for PIECE`."
        )
    written, slower = clock(score, begin), stretch(score, begin, rate)

    def at(onset: Fraction) -> float:
        return written(onset) * slower

    if at(end) > LONGEST:
        raise TrainerError(
            f"The passage lasts {at(end):.0f} s, and at most {LONGEST:.0f} s can be played at "
            "once; choose fewer bars."
        )
    notes = [note for note in score.notes_between(begin, end) if not note.cue]
    found = [
        Tone(pitch, at(onset), at(min(until, end)) - at(onset))
        for (onset, pitch), until in _held([note for note in notes if not note.grace]).items()
    ]
    graces = groupby((note for note in notes if note.grace), lambda n: (n.onset, n.staff))
    for (onset, _), group in graces:
        pitches = sorted({note.pitch for note in group})
        each = min(GRACE, GRACES / len(pitches))
        first = at(onset) - each * len(pitches)
        found += [Tone(pitch, first + n * each, each) for n, pitch in enumerate(pitches)]
    return tuple(sorted(found, key=lambda tone: (tone.at, tone.pitch)))


def replayed(strikes: Sequence[tuple[float, int]]) -> tuple[Tone, ...]:
    """Keys as they were struck, each a time in seconds and a MIDI note number; the first at once.
    How long they were held is not known: each sounds until the next but one, LEAST to MOST
    seconds. What comes after LONGEST seconds is left out."""
    times = sorted({time for time, _ in strikes})
    found = []
    for time, pitch in sorted(strikes):
        later = times[bisect_right(times, time) :][:2]
        seconds = min(MOST, max(LEAST, later[-1] - time)) if later else MOST
        if time - times[0] <= LONGEST:
            found.append(Tone(pitch, time - times[0], seconds))
    return tuple(found)


def _held(notes: Sequence[Note]) -> dict[tuple[Fraction, int], Fraction]:
    """Each onset and pitch that is struck, and until when it is held."""
    until: dict[tuple[Fraction, int], Fraction] = {}
    tied: dict[tuple[int, int, Fraction], Fraction] = {}  # staff, pitch, end: where it was struck
    for note in notes:
        onset = note.onset
        if note.tie in ("continue", "stop"):
            onset = tied.pop((note.staff, note.pitch, note.onset), onset)
        if note.tie in ("start", "continue"):
            tied[note.staff, note.pitch, note.end] = onset
        key = (onset, note.pitch)
        until[key] = max(until.get(key, note.end), note.end)
    return until


def samples(sounds: Sequence[Tone], count: Count | None = None) -> array[int]:
    """Tones, and the clicks of a count before them, as signed 16-bit samples of one channel,
    RATE a second. Nothing is louder than PEAK; without tones or clicks there are none."""
    import numpy as np

    lead = count.seconds if count else 0.0
    parts = [(lead + tone.at, _tone(tone)) for tone in sounds]
    parts += [(beat.at, _click(first=beat.number == 1)) for beat in (count.beats if count else ())]
    earliest = min((at for at, _ in parts), default=0.0)
    placed = [(round((at - min(0.0, earliest)) * RATE), part) for at, part in parts]
    whole = np.zeros(max((at + len(part) for at, part in placed), default=0), np.float32)
    for at, part in placed:
        whole[at : at + len(part)] += part
    loudest = float(np.abs(whole).max(initial=0.0))
    scale = min(1.0, PEAK / loudest) if loudest else 1.0
    return array("h", (whole * (scale * 32767)).astype(np.int16).tobytes())


def _tone(tone: Tone) -> Wave:
    import numpy as np

    times = np.arange(max(1, round(tone.seconds * RATE))) / RATE
    turn = 2 * np.pi * frequency(tone.pitch) * times
    wave = np.zeros_like(times)
    for number, strength in enumerate(PARTIALS, 1):
        if number * frequency(tone.pitch) < RATE / 2:
            wave += LOUDNESS * strength * np.sin(number * turn)
    swell = np.minimum(1.0, times / ATTACK) * np.minimum(1.0, (times[-1] - times) / RELEASE)
    shaped: Wave = (wave * swell * np.exp(-DECAY * times)).astype(np.float32)
    return shaped


def _click(*, first: bool) -> Wave:
    import numpy as np

    times = np.arange(round(CLICK * RATE)) / RATE
    turn = 2 * np.pi * (FIRST_BEAT if first else OTHER_BEAT) * times
    click: Wave = (CLICK_LOUDNESS * np.sin(turn) * np.exp(-CLICK_DECAY * times)).astype(np.float32)
    return click


def wav(sound: array[int]) -> bytes:
    """The samples as a WAV file of one channel."""
    little = array("h", sound)
    if sys.byteorder == "big":
        little.byteswap()
    file = io.BytesIO()
    with wave.open(file, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(little.tobytes())
    return file.getvalue()
