"""What music21 tells of the signs at a note, as plain values. music21 itself is not imported here.

The names are those of MusicXML 4.0 (W3C Music Notation Community Group, 2021: the elements
"ornaments", "articulations", "arpeggiate", "grace"); a "mordent" has the stroke there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from trainer.score.model import MarkKind, Sign, SignKind

_KINDS: dict[str, SignKind] = {
    "Trill": "trill",
    "Turn": "turn",
    "InvertedTurn": "inverted turn",
    "Mordent": "mordent",
    "InvertedMordent": "short trill",
    "Shake": "short trill",
    "Schleifer": "slide",
    "Tremolo": "tremolo",
    "ArpeggioMark": "arpeggio",
    "Staccato": "staccato",
    "Staccatissimo": "staccatissimo",
    "Spiccato": "staccatissimo",
    "Tenuto": "tenuto",
    "Accent": "accent",
    "Stress": "accent",
    "StrongAccent": "marcato",
    "DetachedLegato": "portato",
}
_DELAYED: dict[SignKind, SignKind] = {
    "turn": "delayed turn",
    "inverted turn": "delayed inverted turn",
}
_ARPEGGIOS: dict[str, SignKind] = {
    "up": "arpeggio up",
    "down": "arpeggio down",
    "non-arpeggio": "not arpeggiated",
}
ARPEGGIOS: tuple[SignKind, ...] = ("arpeggio", *_ARPEGGIOS.values())
_ELSEWHERE = ("Fermata", "BreathMark", "Caesura", "Fingering")
"""Classes that are told as marks or fingers."""
SPANS: dict[str, MarkKind] = {
    "Slur": "slur",
    "Crescendo": "dynamic",
    "Diminuendo": "dynamic",
    "Glissando": "glissando",
    "TrillExtension": "trill line",
    "TremoloSpanner": "tremolo",
    "Ottava": "octave",
    "PedalMark": "pedal",
}


def signs(element: Any, passed: dict[str, int]) -> Iterator[Sign]:
    """The signs at a note or chord. What has no sign here is counted in `passed`, by its name."""
    for one in (*element.expressions, *element.articulations):
        kind = _kind(one.__class__)
        if kind is not None:
            yield _sign(one, kind)
        elif kind_name := _unknown(one.__class__):
            passed[kind_name] = passed.get(kind_name, 0) + 1


def _sign(one: Any, kind: SignKind) -> Sign:
    if kind == "tremolo":
        return Sign(kind, strokes=max(1, min(int(one.numberOfMarks), 8)))
    if kind == "arpeggio":
        return Sign(_ARPEGGIOS.get(one.type, kind))
    if kind in _DELAYED:
        late = getattr(one.delay, "value", one.delay) not in ("noDelay", None, 0, 0.0)
        above, below = _alter(one.upperAccidental), _alter(one.lowerAccidental)
        return Sign(_DELAYED[kind] if late else kind, above, below)
    if kind == "mordent":
        return Sign(kind, below=_alter(one.accidental))
    if kind in ("trill", "short trill"):
        return Sign(kind, _alter(one.accidental))
    return Sign(kind)


def _alter(accidental: Any) -> int | None:
    return None if accidental is None else max(-2, min(round(accidental.alter), 2))


@cache
def _kind(kind: type) -> SignKind | None:
    """The sign of a class of music21's: its own, or that of the nearest class that it is made
    from, as a trill of a half step is a trill."""
    names = [base.__name__ for base in kind.__mro__]
    if names[0] in ("Unstress", "InvertedTrill"):
        return None
    return next((_KINDS[name] for name in names if name in _KINDS), None)


@cache
def _unknown(kind: type) -> str:
    """What a class without a sign is called, or "" where it is told elsewhere."""
    if any(base.__name__ in _ELSEWHERE for base in kind.__mro__):
        return ""
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", kind.__name__).lower()


def span_text(spanner: Any) -> str:
    """The text of the mark that a spanner becomes."""
    name = type(spanner).__name__
    if name in ("Crescendo", "Diminuendo"):
        return name.lower()
    if name == "Ottava":
        return str(spanner.type)
    if name == "PedalMark":
        kind = str(getattr(spanner.pedalType, "value", spanner.pedalType) or "").lower()
        return kind if kind in ("soft", "sostenuto") else ""
    return ""
