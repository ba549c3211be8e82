"""What a player may ask for at a call, from the least that is given away to the most.

A hint is taken, recorded, and never part of the call itself. To add one, write a function
from a piece and a start to a sentence (or nothing) and add a line to HINTS.
"""

from __future__ import annotations

from collections.abc import Callable

from trainer.deck.model import Piece, Start
from trainer.draw.names import Naming, written
from trainer.score.cite import beat_token
from trainer.score.model import Bar, Mark, MarkKind, Note

Hint = Callable[[Piece, Start, Naming], str]

_FIFTHS = "FCGDAEB"  # sharps are added in this order, each step a fifth higher


def key_and_count(piece: Piece, start: Start, names: Naming) -> str:
    """The key signature, the metre and the beat that the phrase begins on."""
    bar = piece.score.bar_at(start.onset)
    beat = beat_token(bar.beat_at(start.onset))
    return f"{_key(bar, names)}, {bar.meter}, begins on beat {beat}"


def _key(bar: Bar, names: Naming) -> str:
    """The bar's key; both keys of its signature where the score does not say which."""
    found = [
        f"{_tonic(bar.fifths, mode, names)} {mode}"
        for mode in ("major", "minor")
        if bar.mode in ("", mode)
    ]
    return " or ".join(found) or f"{_tonic(bar.fifths, 'major', names)} {bar.mode}"


def _tonic(fifths: int, mode: str, names: Naming) -> str:
    alter, step = divmod(fifths + (4 if mode == "minor" else 1), 7)
    return written(_FIFTHS[step], alter, names=names)


def character(piece: Piece, start: Start, _names: Naming) -> str:
    """The tempo words and the dynamic in force at the start."""
    found = [_in_force(piece, start, "tempo"), _in_force(piece, start, "dynamic")]
    return ", ".join(text for text in found if text)


def first_notes(piece: Piece, start: Start, names: Naming) -> str:
    """What each hand strikes first, as one block, with the printed fingers."""
    words = []
    for staff in piece.score.staves:
        notes = _first_of_staff(piece, start, staff.number)
        if notes:
            block = " ".join(_name(n, names) for n in sorted(notes, key=lambda n: n.pitch))
            who = staff.part if staff.role == "single" else staff.role
            words.append(f"{who}: {block}" if who else block)
    return "; ".join(words)


def advice(_piece: Piece, start: Start, _names: Naming) -> str:
    """The words of teacher or player for this start."""
    return " ".join(start.advice)


HINTS: dict[str, Hint] = {
    "key and count": key_and_count,
    "character": character,
    "advice": advice,
    "first hand position": first_notes,
}


def hints_of(piece: Piece, start: Start, names: Naming = "english") -> tuple[tuple[str, str], ...]:
    """The hints there are for a start: name and text, in the order in which they are given."""
    found = ((name, hint(piece, start, names)) for name, hint in HINTS.items())
    return tuple((name, text) for name, text in found if text)


def _in_force(piece: Piece, start: Start, kind: MarkKind) -> str:
    marks: list[Mark] = [
        mark for mark in piece.score.marks if mark.kind == kind and mark.onset <= start.onset
    ]
    return marks[-1].text if marks else ""


def _first_of_staff(piece: Piece, start: Start, staff: int) -> list[Note]:
    bar = piece.score.bar_at(start.onset)
    near = piece.score.notes_between(start.onset, bar.end)
    notes = [n for n in near if n.staff == staff and n.sounds and not n.grace]
    return [note for note in notes if note.onset == notes[0].onset]


def _name(note: Note, names: Naming) -> str:
    finger = f"({note.fingers[0]})" if note.fingers else ""
    return written(note.step, note.alter, note.octave, names=names) + finger
