"""Names of notes: English, German and fixed do, as written signs and as spoken words.

All names are common practice, no source.
"""

from __future__ import annotations

from typing import Literal, get_args

Naming = Literal["english", "german", "fixed do"]
NAMINGS: tuple[Naming, ...] = get_args(Naming)

_DO = {"C": "Do", "D": "Re", "E": "Mi", "F": "Fa", "G": "Sol", "A": "La", "B": "Si"}
_SPOKEN = {0: "", 1: "sharp", -1: "flat", 2: "double sharp", -2: "double flat"}
_SPOKEN |= {3: "triple sharp", -3: "triple flat"}
_GERMAN_MODES = {"major": "Dur", "minor": "Moll"}
_GERMAN_FLATS = {"A": "As", "B": "B", "E": "Es"}


def written(
    step: str,
    alter: int,
    octave: int | None = None,
    *,
    names: Naming = "english",
    ascii: bool = False,
    natural: bool = False,
) -> str:
    """A note as written: "G♯5", German "Gis5", fixed do "Sol♯5"; ASCII "G#5".

    `octave` counts as in "C4 is middle C" and is left out when None. `natural` asks for a
    natural sign on an unaltered note, where the key signature says otherwise; the German
    names need none.
    """
    number = "" if octave is None else str(octave)
    if names == "german":
        return _german(step, alter) + number
    sign = ("#" if ascii else "♯") * alter if alter > 0 else ("b" if ascii else "♭") * -alter
    if natural and not alter:
        sign = "n" if ascii else "♮"
    return (_DO[step] if names == "fixed do" else step) + sign + number


def spoken_name(
    step: str, alter: int, octave: int | None = None, *, names: Naming = "english"
) -> str:
    """A note in words: "G sharp 5", German "Gis 5", fixed do "Sol sharp 5"."""
    if names == "german":
        words = [_german(step, alter)]
    else:
        words = [_DO[step] if names == "fixed do" else step, _spoken_sign(alter)]
    if octave is not None:
        words.append(str(octave))
    return " ".join(word for word in words if word)


def key_name(step: str, alter: int, mode: str, *, names: Naming = "english") -> str:
    """A key or chord by its tonic: "E♭ major", German "Es-Dur" and "es-Moll", fixed do
    "Mi♭ major". Another mode than major and minor keeps its own word: "D dorian".

    In German usage the letter of a minor key is small.
    """
    tonic = written(step, alter, names=names)
    if names != "german" or mode not in _GERMAN_MODES:
        return f"{tonic} {mode}".strip()
    return f"{tonic.lower() if mode == 'minor' else tonic}-{_GERMAN_MODES[mode]}"


def _spoken_sign(alter: int) -> str:
    if alter in _SPOKEN:
        return _SPOKEN[alter]
    return f"{abs(alter)} times {'sharp' if alter > 0 else 'flat'}"


def _german(step: str, alter: int) -> str:
    letter = "H" if step == "B" else step
    if alter >= 0:
        return letter + "is" * alter
    if alter == -1:
        return _GERMAN_FLATS.get(step, letter + "es")
    first = {"A": "As", "E": "Es"}.get(step, letter + "es")
    return first + "es" * (-alter - 1)
