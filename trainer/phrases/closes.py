"""Clues from harmony: closes by named chords, and the chord of the opening.

A phrase ends with a close: the dominant goes to the tonic, or the music comes to rest on the
dominant. The chords are those that `score.harmony` names; one that is not sure says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from trainer.phrases.table import NEAR, Floats, Table
from trainer.score.chords import Chord
from trainer.score.key import Key

if TYPE_CHECKING:
    from trainer.phrases.places import Places


@dataclass(frozen=True, eq=False)
class Closes:
    """One entry a frame: the local key, the chord with which it begins, the last chord before
    it, and the chord that led to that one within a bar; None where none is sure."""

    key: tuple[Key, ...]
    here: tuple[Chord | None, ...]
    last: tuple[Chord | None, ...]
    led: tuple[Chord | None, ...]


def closes_of(table: Table) -> Closes:
    from trainer.score.keys import keys_and_chords

    local, stretches = keys_and_chords(table.score)
    onset = np.array([float(stretch.onset) for stretch in stretches])
    starts = table.frames.start
    at = np.maximum(np.searchsorted(onset, starts + NEAR, side="right") - 1, 0).tolist()
    here, last, led = [], [], []
    for frame, place in enumerate(at):
        key = local[int(table.frames.bar[max(frame - 1, 0)])]
        before = place - 1 if frame else place
        back, least = before, max(at[max(frame - 1, 0)] - 1, 0)
        while back > least and _tonic(stretches[back].sure, key):
            back -= 1
        here.append(stretches[place].sure)
        last.append(stretches[before].sure if frame and before >= 0 else None)
        led.append(stretches[back].sure if frame and back >= 0 else None)
    key_of = tuple(local[int(bar)] for bar in table.frames.bar)
    return Closes(key_of, tuple(here), tuple(last), tuple(led))


def _tonic(chord: Chord | None, key: Key) -> bool:
    return chord is not None and chord.root == key.tonic and chord.inversion == 0


def _dominant(chord: Chord | None, key: Key) -> bool:
    if chord is None:
        return False
    degree = (chord.root - key.tonic) % 12
    leading = chord.quality in ("diminished", "dim7", "m7b5")
    return (degree == 7 and chord.quality in ("major", "7")) or (degree == 11 and leading)


def full_close(places: Places) -> Floats:
    """1 where the bar before ends on the tonic, to which the dominant led."""
    said = places.closes
    key = (said.key[0], *said.key)
    return np.array(
        [
            float(_tonic(last, before) and _dominant(led, before))
            for last, led, before in zip(said.last, said.led, key[:-1], strict=True)
        ]
    )


def close_here(places: Places) -> Floats:
    """1 where the dominant goes to the tonic at the bar line: the close is the beginning."""
    said = places.closes
    return np.array(
        [
            float(_tonic(here, key) and _dominant(last, key))
            for here, last, key in zip(said.here, said.last, said.key, strict=True)
        ]
    )


def half_close(places: Places) -> Floats:
    """1 where the bar before ends on the dominant's plain triad."""
    said = places.closes
    key = (said.key[0], *said.key)
    return np.array(
        [
            float(
                chord is not None
                and _dominant(chord, before)
                and (chord.inversion, chord.quality) == (0, "major")
            )
            for chord, before in zip(said.last, key[:-1], strict=True)
        ]
    )


def tonic_here(places: Places) -> Floats:
    """1 where it begins with the tonic."""
    said = places.closes
    return np.array([float(_tonic(c, key)) for c, key in zip(said.here, said.key, strict=True)])


def home_harmony(places: Places) -> Floats:
    """How alike the beginning of each bar is to that of the first, by pitch classes: 0 to 1."""
    chords = _chroma(places, 0.34)
    first = int(places.table.frames.lead[0] > 0 and len(chords) > 1)
    likeness: Floats = chords @ chords[first]
    return likeness


def _chroma(places: Places, within: float) -> Floats:
    """Unit vectors, frames x 12, of the notes struck in the first part of each frame."""
    table = places.table
    frames = table.frames
    share = (table.onset - frames.start[table.frame]) / np.maximum(frames.length[table.frame], 0.1)
    chosen = share < within
    sums = np.zeros((len(frames), 12))
    weights = np.clip(table.end - table.onset, 0.1, 4)[chosen]
    np.add.at(sums, (table.frame[chosen], table.pitch[chosen] % 12), weights)
    lengths = np.linalg.norm(sums, axis=1, keepdims=True)
    unit: Floats = sums / np.maximum(lengths, 1e-9)
    return unit


STAYS = 3  # bars for which a bass that has reached its goal stays there


def bass_arrives(places: Places) -> Floats:
    """1 where the bass changes its note for one with which two more bars begin as well."""
    low = _bass(places)
    found = np.zeros(len(places))
    for frame in range(1, len(low) - STAYS + 1):
        here = set(low[frame : frame + STAYS])
        found[frame] = len(here) == 1 and -1 not in here and low[frame - 1] != low[frame]
    return found


def _bass(places: Places) -> list[int]:
    """The pitch class of the lowest note of each frame's first strike; -1 where there is none."""
    table = places.table
    lowest = []
    edges = np.searchsorted(table.frame, np.arange(len(places) + 1)).tolist()
    for low, high in pairwise(edges):
        first = table.onset[low:high] <= (table.onset[low] if low < high else 0.0) + NEAR
        lowest.append(int(table.pitch[low:high][first].min()) % 12 if low < high else -1)
    return lowest


# In words

PLAIN = ("major", "minor")  # with a seventh a tonic goes on: no close, no chord of the key

_ACCIDENTALS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
_KINDS = {
    "major": " major",
    "minor": " minor",
    "diminished": " diminished",
    "augmented": " augmented",
    "m7b5": " half-diminished",
    "dim7": " diminished seventh",
}


def chord_name(chord: Chord) -> str:
    """ "G7", "B♭ major", "F♯ half-diminished"."""
    kind = _KINDS.get(chord.quality, chord.quality)
    return f"{chord.step}{_ACCIDENTALS.get(chord.alter, '')}{kind}"


def say_full(places: Places, index: int) -> str:
    led, last = places.closes.led[index], places.closes.last[index]
    if led is None or last is None or last.quality not in PLAIN:
        return ""
    return f"a close before it: {chord_name(led)} to {chord_name(last)}"


def say_half(places: Places, index: int) -> str:
    last = places.closes.last[index]
    return f"a half close on {chord_name(last)} before it" if last else ""


def say_tonic(places: Places, index: int) -> str:
    chord = places.closes.here[index]
    if chord is None or chord.quality not in PLAIN:
        return ""
    return f"it begins with {chord_name(chord)}, the chord of the key"


def say_arrival(places: Places, index: int) -> str:
    """The bass note that stays, as it is written in its bar."""
    low = _bass(places)[index]
    score = places.table.score
    bar = score.bars[int(places.table.frames.bar[index])]
    notes = score.notes_between(bar.start, bar.end)
    names = [note for note in notes if note.pitch % 12 == low]
    if not bass_arrives(places)[index] or not names:
        return ""
    return f"the bass reaches {names[0].step}{_ACCIDENTALS.get(names[0].alter, '')} and stays"


def say_home(places: Places, index: int) -> str:
    """The opening's chord by name, only where it is the chord that is named here; of the tonic
    it is said that it is the tonic."""
    chords = places.closes.here
    first = chords[int(places.table.frames.lead[0] > 0 and len(chords) > 1)]
    chord = chords[index]
    if first is None or chord is None:
        return ""
    if _tonic(chord, places.closes.key[index]):
        return say_tonic(places, index)
    same = (first.root, first.quality) == (chord.root, chord.quality)
    return f"it begins with {chord_name(chord)}, like the opening" if same else ""
