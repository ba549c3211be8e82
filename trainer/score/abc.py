"""The decorations of ABC, which music21 10 passes over: ornaments, fermatas, accents, fingers.

They are taken out of the text before it is read, in the order of the notes, and given to the notes
that came of it (ABC 2.1, "Decorations"). An Irish roll (~) is no sign of print and is left out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, NamedTuple

_SHORT = {"T": "trill", "H": "fermata", "L": "accent", "M": "mordent", "P": "pralltriller"}
_CLASSES = {
    "trill": "Trill",
    "fermata": "Fermata",
    "mordent": "Mordent",
    "lowermordent": "Mordent",
    "pralltriller": "InvertedMordent",
    "uppermordent": "InvertedMordent",
    "turn": "Turn",
    "invertedturn": "InvertedTurn",
    "accent": "Accent",
    ">": "Accent",
    "emphasis": "Accent",
    "tenuto": "Tenuto",
    "arpeggio": "ArpeggioMark",
    **dict.fromkeys("12345", "Fingering"),
}
_TOKEN = re.compile(
    r"""(?P<other>"[^"]*"|\[[A-Za-z]:[^\]\n]*\]|%.*|^[A-Za-z]:.*|[zxZX][\d/]*)
    |[!+](?P<named>[^!+\s]+)[!+]
    |(?P<letter>[THLMP])(?=[THLMP~.uv!{]*(?:\[|[\^=_]*[A-Ga-g]))
    |(?P<chord>\[[^\]\n]*\])
    |(?P<note>[\^=_]*(?P<step>[A-Ga-g])[,']*)""",
    re.VERBOSE | re.MULTILINE,
)


class Decorated(NamedTuple):
    """A note's step, or "" for a chord, and the names of its decorations."""

    step: str
    names: tuple[str, ...]


def without_decorations(text: str) -> tuple[str, list[Decorated]]:
    """A tune without the decorations that are known here, and one entry a note or chord."""
    found: list[Decorated] = []
    waiting: list[str] = []

    def seen(token: re.Match[str]) -> str:
        name = token["named"] or _SHORT.get(token["letter"] or "", "")
        if name in _CLASSES:
            waiting.append(name)
            return ""
        if token["chord"] or token["note"]:
            found.append(Decorated((token["step"] or "").upper(), tuple(waiting)))
            waiting.clear()
        return token[0]

    return _TOKEN.sub(seen, text), found


def decorate(
    tune: Any, decorated: Sequence[Decorated], expressions: Any, articulations: Any
) -> None:
    """Give the notes of a tune their decorations, of music21's modules `expressions` and
    `articulations`; nothing where they are not the same notes, as in a tune of several voices."""
    notes = [one for one in tune.recurse().notes if "Harmony" not in one.classSet]
    steps = [one.pitch.step if one.isNote else "" for one in notes]
    if steps != [one.step for one in decorated]:
        return
    for note, (_, names) in zip(notes, decorated, strict=True):
        for name in names:
            kind = _CLASSES[name]
            if hasattr(expressions, kind):
                note.expressions.append(getattr(expressions, kind)())
            else:
                make = getattr(articulations, kind)
                note.articulations.append(make(int(name)) if kind == "Fingering" else make())
