"""Chords as data, and their Roman numerals.

The signs are common practice, no source: upper case for a major third over the root, lower
case for a minor one, °, ø and + for diminished, half-diminished and augmented, figures for the
inversion, V7/ii for the dominant of another degree. In minor the natural scale has no signs
(III, VI, VII), and a diminished chord on the raised seventh degree is vii°.
"""

from __future__ import annotations

from typing import Literal, get_args

from trainer.score.key import Key
from trainer.values import Frozen

Quality = Literal["major", "minor", "diminished", "augmented", "7", "maj7", "m7", "m7b5", "dim7"]
QUALITIES: tuple[Quality, ...] = get_args(Quality)

TONES: dict[Quality, tuple[int, ...]] = {  # semitones over the root: root, third, fifth, seventh
    "major": (0, 4, 7),
    "minor": (0, 3, 7),
    "diminished": (0, 3, 6),
    "augmented": (0, 4, 8),
    "7": (0, 4, 7, 10),
    "maj7": (0, 4, 7, 11),
    "m7": (0, 3, 7, 10),
    "m7b5": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
}

AT_HOME: dict[str, dict[Quality, tuple[int, ...]]] = {
    "major": {  # roots, in semitones over the tonic, of the chords that belong to a major key
        "major": (0, 5, 7),
        "minor": (2, 4, 9),
        "diminished": (11,),
        "7": (7,),
        "maj7": (0, 5),
        "m7": (2, 4, 9),
        "m7b5": (11,),
    },
    "minor": {  # with the raised seventh degree, and the tonic's raised third
        "major": (0, 3, 7, 8, 10),
        "minor": (0, 5, 7),
        "diminished": (2, 11),
        "7": (7, 10),
        "maj7": (3, 8),
        "m7": (0, 5),
        "m7b5": (2,),
        "dim7": (11,),
    },
}

_SIGNS: dict[Quality, str] = {"diminished": "°", "augmented": "+", "m7b5": "ø", "dim7": "°"}
CADENTIAL = "cadential 6/4"
_TRIAD = ("", "6", "6/4", "")
_SEVENTH = ("7", "6/5", "4/3", "4/2")
_DEGREES = {
    "major": ("I", "♭II", "II", "♭III", "III", "IV", "♯IV", "V", "♭VI", "VI", "♭VII", "VII"),
    "minor": ("I", "♭II", "II", "III", "♯III", "IV", "♯IV", "V", "VI", "♯VI", "VII", "♯VII"),
}
_TARGETS = {  # the degrees, other than the tonic, that have a dominant of their own
    "major": {2: "ii", 4: "iii", 5: "IV", 7: "V", 9: "vi"},
    "minor": {3: "III", 5: "iv", 7: "V", 8: "VI", 10: "VII"},
}


class Chord(Frozen, frozen=True):
    """A chord: its root as spelled, its kind, and which of its tones is lowest.

    `inversion` is 0 for the root, 1 the third, 2 the fifth, 3 the seventh; 0 also where a
    foreign tone is lowest. `confidence`, from 0 to 1, estimates the chance that a trained
    reader would name the same root.
    """

    step: str
    alter: int
    quality: Quality
    inversion: int
    confidence: float

    @property
    def root(self) -> int:
        """The root's pitch class, 0 for C."""
        return ("C D EF G A B".index(self.step) + self.alter) % 12

    @property
    def tones(self) -> tuple[int, ...]:
        """Its pitch classes: root, third, fifth, seventh."""
        root = self.root
        return tuple((root + tone) % 12 for tone in TONES[self.quality])


def numeral(chord: Chord, key: Key, following: Chord | None = None) -> str:
    """The Roman numeral of a chord in a key, such as "vii°6", "V6/5" or "V7/ii".

    A chord foreign to the key is the dominant of another degree where it has the tones for it
    and a seventh; without one only where it goes on to that degree, the root of `following`. The
    tonic's second inversion that goes on to the dominant is the cadential six-four.
    """
    degree = (chord.root - key.tonic) % 12
    if (degree, chord.inversion) == (0, 2) and _is_dominant(following, key):
        return CADENTIAL
    figures = (_SEVENTH if len(TONES[chord.quality]) == 4 else _TRIAD)[chord.inversion]
    target = _target(chord, degree, key.mode, following)
    if target is not None:
        leading = chord.quality in ("diminished", "m7b5", "dim7")
        name = "vii" if leading else "V"
        return f"{name}{_SIGNS.get(chord.quality, '')}{figures}/{_TARGETS[key.mode][target]}"
    name = _DEGREES[key.mode][degree]
    if TONES[chord.quality][1] == 3:
        name = name.lower()
        if key.mode == "minor" and degree == 11 and TONES[chord.quality][2] == 6:
            name = "vii"
    return name + _SIGNS.get(chord.quality, "") + figures


def _is_dominant(chord: Chord | None, key: Key) -> bool:
    """Whether a chord is the dominant in root position, with its seventh or without."""
    if chord is None or chord.quality not in ("major", "7"):
        return False
    return chord.inversion == 0 and (chord.root - key.tonic) % 12 == 7


def _target(chord: Chord, degree: int, mode: str, following: Chord | None) -> int | None:
    """The degree, in semitones over the tonic, whose dominant or leading chord this is."""
    if degree in AT_HOME[mode].get(chord.quality, ()):
        return None
    up = {"major": 5, "7": 5, "diminished": 1, "m7b5": 1, "dim7": 1}.get(chord.quality)
    if up is None:
        return None
    target = (degree + up) % 12
    goes_there = following is not None and following.root == (chord.root + up) % 12
    if target not in _TARGETS[mode] or not (goes_there or chord.quality in ("7", "dim7")):
        return None
    return target
