"""The signs of a passage as short texts for a drawing, their legend, and their words for speech.

The texts are of ASCII but for the accidentals, and none is the name of a note.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from fractions import Fraction
from textwrap import wrap
from typing import NamedTuple

from trainer.draw.text import clean
from trainer.score.cite import place
from trainer.score.model import Mark, MarkKind, Note, Score, Sign, SignKind

SIGNS: dict[SignKind, tuple[str, str]] = {
    "trill": ("tr", "trill"),
    "turn": ("tu", "turn"),
    "inverted turn": ("iu", "inverted turn"),
    "delayed turn": ("du", "turn after the note"),
    "delayed inverted turn": ("di", "inverted turn after the note"),
    "mordent": ("mo", "mordent"),
    "short trill": ("st", "short trill"),
    "slide": ("sl", "slide"),
    "tremolo": ("tm", "tremolo"),
    "arpeggio": ("ar", "arpeggio"),
    "arpeggio up": ("a^", "arpeggio upwards"),
    "arpeggio down": ("av", "arpeggio downwards"),
    "not arpeggiated": ("[", "struck together"),
    "staccato": (".", "staccato"),
    "staccatissimo": ("'", "staccatissimo"),
    "tenuto": ("_", "tenuto"),
    "accent": (">", "accent"),
    "marcato": ("^", "marcato"),
    "portato": ("-.", "portato"),
    "slashed": ("", "slashed"),  # of grace notes, which are told by name
}
"""What is done with a note: its text on a drawing, and its words."""
LINES: dict[MarkKind, tuple[str, str]] = {
    "pedal": ("Ped", "pedal"),
    "glissando": ("gl", "glissando"),
    "trill line": ("tr~", "trill line"),
    "tremolo": ("tm-", "tremolo with the next note"),
    "octave": ("8va", "octave line, named as it sounds"),
    "breath": (",", "breath after the note"),
    "fermata": ("(.)", "fermata"),
}
"""What stands over one note or several: its text where it begins, and its words."""
_HAIRPINS = {"crescendo": ("<", "getting louder"), "diminuendo": (">>", "getting softer")}
_UP = ("*", "pedal up")
_ACCIDENTALS = {-2: "♭♭", -1: "♭", 0: "♮", 1: "♯", 2: "×"}
_ALTERS = {-2: "double flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double sharp"}
_DYNAMICS = {
    "ppp": "pianississimo",
    "pp": "pianissimo",
    "p": "piano",
    "mp": "mezzo piano",
    "mf": "mezzo forte",
    "f": "forte",
    "ff": "fortissimo",
    "fff": "fortississimo",
    "sf": "sforzando",
    "sfz": "sforzando",
    "fz": "forzando",
    "fp": "fortepiano",
}
_LONGEST = 5  # cells of a dynamic on a drawing


class Told(NamedTuple):
    """One sign of a passage: where it stands, on which staff, its text on a drawing ("" where it
    has none), what that text means, and its words for speech."""

    onset: Fraction
    staff: int
    text: str
    meaning: str
    words: str


def told(score: Score, first: Fraction, end: Fraction, staves: Collection[int]) -> list[Told]:
    """The signs from `first` up to `end` on these staves, those at notes first. A chord's arpeggio
    is told once."""
    found: dict[Told, None] = {}
    for note in score.notes_between(first, end):
        if note.staff in staves and not (note.cue or note.grace):
            found |= dict.fromkeys(_at_note(note, sign) for sign in note.signs)
    for mark in score.marks:
        staff = mark.staff if mark.staff >= 0 else min(staves)
        if staff in staves:
            found |= dict.fromkeys(one for one in _of(mark, staff) if first <= one.onset < end)
    return list(found)


def _at_note(note: Note, sign: Sign) -> Told:
    text, words = SIGNS[sign.kind]
    printed = [
        (_ACCIDENTALS[alter], f"{_ALTERS[alter]} {where}")
        for alter, where in ((sign.above, "above"), (sign.below, "below"))
        if alter is not None
    ]
    full = f"{words} with {' and '.join(said for _, said in printed)}" if printed else words
    return Told(note.onset, note.staff, text + "".join(s for s, _ in printed), words, full)


def _of(mark: Mark, staff: int) -> Iterator[Told]:
    """What a mark gives to see and to say, where it begins and where it ends."""
    text = clean(mark.text)
    if mark.kind == "dynamic":
        sign, words = _HAIRPINS.get(text, (text[:_LONGEST], _DYNAMICS.get(text, text)))
        yield Told(mark.onset, staff, sign, words if text in _HAIRPINS else "", words)
    elif mark.kind in LINES:
        sign, words = LINES[mark.kind]
        full = f"{text} {words}" if text else words
        yield Told(mark.onset, staff, text if mark.kind == "octave" else sign, words, full)
        if mark.kind == "pedal" and mark.end is not None:
            yield Told(mark.end, staff, *_UP, _UP[1])
    elif mark.kind in ("tempo", "text", "rehearsal"):
        pace = f"{mark.value:g} quarters a minute" if mark.value else ""
        full = f"{text}, {pace}" if text and pace else text or pace
        if full:
            yield Told(mark.onset, staff, "", "", full)


def legend(
    score: Score,
    found: Iterable[Told],
    graces: Iterable[Note],
    name: Callable[[Note], str],
    width: int,
) -> list[str]:
    """What the texts of a drawing mean, each once, then the words that stand over it and the names
    of its grace notes, each with its place; lines of up to `width` cells."""
    meanings: dict[str, str] = {}
    words: dict[str, list[str]] = {}
    for one in found:
        if one.text and one.meaning:
            meanings.setdefault(one.text.rstrip("♭♮♯×"), one.meaning)
        elif not one.text and one.words != "slashed":
            words.setdefault(place(score, one.onset), []).append(one.words)
    for note in graces:
        stroke = " (slashed)" if note.has("slashed") else ""
        words.setdefault(f"~ {place(score, note.onset)}", []).append(name(note) + stroke)
    lines: list[str] = []
    for entry in (f"{text} {meaning}" for text, meaning in meanings.items()):
        if lines and len(lines[-1]) + 2 + len(entry) <= width:
            lines[-1] += f"; {entry}"
        else:
            lines.append(entry)
    lines += [f"{where}: {', '.join(said)}" for where, said in words.items()]
    return [part for line in lines for part in _wrapped(line, width)]


def _wrapped(line: str, width: int) -> list[str]:
    return [line] if len(line) <= width else wrap(line, width, break_on_hyphens=False)
