"""What words over a staff mean, as far as the reader has to know."""

from __future__ import annotations

import re

JUMPS = {
    "Segno": "segno",
    "Coda": "coda",
    "Fine": "fine",
    "DaCapo": "da capo",
    "DaCapoAlFine": "da capo",
    "DaCapoAlCoda": "da capo",
    "DalSegno": "dal segno",
    "DalSegnoAlFine": "dal segno",
    "DalSegnoAlCoda": "dal segno",
    "AlSegno": "dal segno",
}
"""The jump that a class of music21's stands for."""

_JUMP_WORDS = (
    (r"\bd\. ?c\.|\bda capo\b", "da capo"),
    (r"\bd\. ?s\.|\bdal segno\b", "dal segno"),
    (r"^(to|al) coda\b", "to coda"),
    (r"^\W*fine\W*$", "fine"),
    (r"^segno$", "segno"),
    (r"^coda$", "coda"),
)
_TEMPO_WORDS = re.compile(
    r"\b(largo|larghetto|lento|grave|adagio|andante|andantino|moderato|allegretto|allegro|vivace|"
    r"vivo|presto|prestissimo|tempo|rit|ritard|ritardando|ritenuto|riten|rall|rallentando|accel|"
    r"accelerando|string|stringendo|allargando|allarg|mosso|animato|sostenuto|maestoso|langsam|"
    r"schnell|lebhaft|bewegt|m[äa]ssig|mäßig|slow|slowly|fast|faster|slower|lively)\b",
    re.IGNORECASE,
)
"""Words that say how fast, as they stand over a staff (common practice, no source)."""


def jump_of(text: str) -> str:
    """The jump that words over the staff stand for, as `Mark.text` has it, or ""."""
    low = text.lower()
    return next((jump for pattern, jump in _JUMP_WORDS if re.search(pattern, low)), "")


def is_tempo(text: str) -> bool:
    """Whether words over the staff say how fast to play."""
    return _TEMPO_WORDS.search(text) is not None
