"""What a player may ask for at a call, from the least that is given away to the most.

A hint is taken, recorded, and never part of the call itself. To add one, write a function
from a piece, a start and the player's terms to a sentence (or nothing) and add a line to HINTS.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from trainer.deck.model import Piece, Start
from trainer.draw.names import Naming, key_name, written
from trainer.score.cite import BRITISH, Words, beat_token, entry, place, value_word
from trainer.score.model import Bar, Mark, MarkKind, Meter, Note, Score

if TYPE_CHECKING:
    from trainer.score.blocks import Block, BlockNote, HandBlock

SYLLABLES = 4


class Terms(NamedTuple):
    """How a player calls things: the names of notes, and the words for places and values."""

    names: Naming = "english"
    words: Words = BRITISH


Hint = Callable[[Piece, Start, Terms], str]
Spelled = tuple[str, int, int]  # step, alter, octave

_FIFTHS = "FCGDAEB"  # sharps are added in this order, each step a fifth higher


def key_and_count(piece: Piece, start: Start, terms: Terms) -> str:
    """The key signature where it is known, the metre and the beat that the phrase begins on."""
    bar = piece.score.bar_at(start.onset)
    beat = beat_token(bar.beat_at(start.onset))
    count = " ".join(count_in(bar.meter, _subdivision(piece, start)))
    key = f"{_key(bar, terms.names)}, " if _key_known(piece.score) else ""
    return f"{key}{bar.meter}, begins on {terms.words.beat} {beat}; count {count}"


def _key_known(score: Score) -> bool:
    """Whether anything was read of the key: of a piece on paper only bars and metre are told."""
    return bool(score.notes) or any(bar.fifths or bar.mode for bar in score.bars)


def count_in(meter: Meter, parts: int) -> list[str]:
    """The syllables of one bar: "1 & 2 &" for two parts a beat, "1 & a" for three, "1 e & a"
    for four (common practice, no source). An odd bar such as 5/8 counts its written units."""
    beats, rest = divmod(meter.length, meter.beat)
    if rest:
        return [str(n + 1) for n in range(meter.count)]
    after = {2: ["&"], 3: ["&", "a"], 4: ["e", "&", "a"]}.get(parts, [])
    return [word for beat in range(int(beats)) for word in (str(beat + 1), *after)]


def _subdivision(piece: Piece, start: Start) -> int:
    """Into how many parts the phrase's first bars divide the beat: 1, 2, 3 or 4."""
    bar = piece.score.bar_at(start.onset)
    notes = piece.score.notes_between(start.onset, start.onset + 2 * bar.meter.length)
    positions = [(note.onset - bar.start + bar.lead) / bar.meter.beat % 1 for note in notes]
    needed = {position.denominator for position in positions}
    if any(part % 3 == 0 for part in needed):
        return 3
    return max((part for part in needed if part in (1, 2, 4)), default=1)


def _key(bar: Bar, names: Naming) -> str:
    """The bar's key; both keys of its signature where the score does not say which."""
    found = [mode for mode in ("major", "minor") if bar.mode in ("", mode)] or [bar.mode]
    return " or ".join(
        key_name(*_tonic(bar.fifths, mode), mode=mode, names=names) for mode in found
    )


def _tonic(fifths: int, mode: str) -> tuple[str, int]:
    alter, step = divmod(fifths + (4 if mode == "minor" else 1), 7)
    return _FIFTHS[step], alter


def character(piece: Piece, start: Start, terms: Terms) -> str:
    """The tempo and the dynamic in force at the start: "Slow, crotchet = 52, p"."""
    tempo = _in_force(piece, start, "tempo")
    found = [mark.text for mark in tempo]
    found += [pace_words(piece.score, mark, terms.words) for mark in tempo if mark.value][-1:]
    found += [mark.text for mark in _in_force(piece, start, "dynamic")[-1:]]
    return ", ".join(text for text in found if text)


def pace_words(score: Score, mark: Mark, words: Words) -> str:
    """A metronome mark in felt beats: "crotchet = 60", in 6/8 "dotted crotchet = 60"."""
    beat = score.bar_at(mark.onset).meter.beat
    if not value_word(beat, words):
        beat = Fraction(1)
    return f"{value_word(beat, words)} = {(mark.value or 0) / float(beat):.0f}"


def first_notes(piece: Piece, start: Start, terms: Terms) -> str:
    """What each hand strikes first, as one block, with the printed fingers. The harmony comes
    before it: of a hand that strikes the notes told there only the fingers are new."""
    known = _hands_of_harmony(piece, start)
    struck = [(staff, _first_of_staff(piece, start, staff.number)) for staff in piece.score.staves]
    told = []
    for staff, notes in struck:
        words = _news(notes, terms.names, told=_spelled(notes) == known.get(staff.number))
        if words:
            who = staff.part if staff.role == "single" else staff.role
            told.append(f"{who}: {words}" if who else words)
    if not told and any(notes for _, notes in struck):
        return "the notes of the harmony"
    return "; ".join(told)


def _news(notes: Sequence[Note], names: Naming, *, told: bool) -> str:
    """What there is to say of a hand's first notes, where the notes were told or were not."""
    fingers = [note.fingers[0] for note in notes if note.fingers]
    if told and len(fingers) == len(notes):
        return f"finger{'s' if len(fingers) > 1 else ''} {' '.join(fingers)}"
    return "" if told and not fingers else " ".join(_name(note, names) for note in notes)


def _hands_of_harmony(piece: Piece, start: Start) -> dict[int, list[Spelled]]:
    block = _first_block(piece, start)
    return {hand.staff: _spelled(hand.notes) for hand in block.hands} if block else {}


def _spelled(notes: Iterable[Note | BlockNote]) -> list[Spelled]:
    return [(note.step, note.alter, note.octave) for note in notes]


def harmony(piece: Piece, start: Start, terms: Terms) -> str:
    """The first chord, by name and numeral, and the block that each hand can hold of it."""
    block = _first_block(piece, start)
    return chord_words(piece.score, block, terms.names) if block else ""


def _first_block(piece: Piece, start: Start) -> Block | None:
    from trainer.score.blocks import blocks

    found = blocks(piece.score, start.onset, piece.score.bar_at(start.onset).end)
    return found[0] if found else None


def words_sung(piece: Piece, start: Start, _terms: Terms) -> str:
    """The first words of the phrase, where there are any."""
    sung = [
        mark.text
        for mark in piece.score.marks_of("lyric")
        if start.onset <= mark.onset < piece.end_of(start)
    ]
    return " ".join(sung[:SYLLABLES])


def page_turn(piece: Piece, start: Start, terms: Terms) -> str:
    """Where the page turns within the phrase, if the score says so."""
    turns = [
        mark.onset
        for mark in piece.score.marks_of("page")
        if start.onset <= mark.onset < piece.end_of(start)
    ]
    return f"the page turns at {entry(piece.score, turns[0], words=terms.words)}" if turns else ""


def fingering(_piece: Piece, start: Start, _terms: Terms) -> str:
    """The teacher's fingering; the score's stands with the first hand position."""
    return start.fingering


def cue(piece: Piece, start: Start, terms: Terms) -> str:
    """Who gives the entry, in the teacher's words; else, where a single part enters, what the
    others strike last before it."""
    if start.cue:
        return start.cue
    single = {staff.number for staff in piece.score.staves if staff.role == "single"}
    bar = piece.score.bar_at(start.onset)
    near = piece.score.notes_between(start.onset - bar.meter.length, start.onset)
    others = [n for n in near if n.staff not in single and n.sounds and not n.grace]
    before = [note for note in others if note.onset < start.onset]
    if not single or not before:
        return ""
    last = max(note.onset for note in before)
    struck = sorted((n for n in before if n.onset == last), key=lambda note: note.pitch)
    at = place(piece.score, last, words=terms.words)
    return f"before it the others strike {' '.join(_name(n, terms.names) for n in struck)} in {at}"


def advice(_piece: Piece, start: Start, _terms: Terms) -> str:
    """The words of teacher or player for this start."""
    return " ".join(start.advice)


HINTS: dict[str, Hint] = {
    "key and count": key_and_count,
    "character": character,
    "words": words_sung,
    "page turn": page_turn,
    "cue": cue,
    "advice": advice,
    "fingering": fingering,
    "harmony": harmony,
    "first hand position": first_notes,
}


def hint_names(piece: Piece, start: Start) -> tuple[str, ...]:
    """The hints there are for a start, in the order in which they are given. Harmony is always
    one: where it is not sure, the hint says so. Nothing is worked out for it here."""
    sure = {"harmony"}
    if any(_first_of_staff(piece, start, staff.number) for staff in piece.score.staves):
        sure.add("first hand position")
    return tuple(
        name for name, hint in HINTS.items() if name in sure or hint(piece, start, Terms())
    )


def hint_text(
    piece: Piece, start: Start, name: str, names: Naming = "english", words: Words = BRITISH
) -> str:
    """One hint in words; empty for a name that is none."""
    return HINTS[name](piece, start, Terms(names, words)) if name in HINTS else ""


def chord_words(score: Score, block: Block, names: Naming) -> str:
    """A block in words: "A♭ major (I); right hand C5 E♭5; left hand A♭3"; it says where the
    chord is not sure, and how a hand has to spread it."""
    told = [chord_name(block, names)]
    for hand in block.hands:
        staff = score.staves[hand.staff]
        who = staff.part if staff.role == "single" else staff.role
        told.append(f"{who} {hand_words(hand, names)}".strip())
    return "; ".join(told)


def hand_words(hand: HandBlock, names: Naming) -> str:
    """What one hand holds of a block, from the lowest note up: what it cannot hold at once, grip
    by grip."""
    return ", then ".join(
        " ".join(written(n.step, n.alter, n.octave, names=names) for n in grip)
        for grip in hand.spread or (hand.notes,)
    )


_QUALITY_WORDS = {
    "7": "dominant seventh",
    "maj7": "major seventh",
    "m7": "minor seventh",
    "m7b5": "half-diminished seventh",
    "dim7": "diminished seventh",
}


def chord_name(block: Block, names: Naming) -> str:
    """A chord by its root and kind, with its numeral where key and chord are sure, and the pedal
    point that it stands over."""
    if block.chord is None:
        return "the chord is not sure"
    chord = block.chord
    if chord.quality in ("major", "minor"):
        found = key_name(chord.step, chord.alter, chord.quality, names=names)
    else:
        root = written(chord.step, chord.alter, names=names)
        found = f"{root} {_QUALITY_WORDS.get(chord.quality, chord.quality)}"
    over = block.pedal
    pedal = f" over the pedal {written(over.step, over.alter, names=names)}" if over else ""
    return found + (f" ({block.numeral})" if block.numeral else "") + pedal


def _in_force(piece: Piece, start: Start, kind: MarkKind) -> list[Mark]:
    """The last marks of a kind up to the start: all that stand at one place, in their order."""
    marks = [mark for mark in piece.score.marks_of(kind) if mark.onset <= start.onset]
    return [mark for mark in marks if mark.onset == marks[-1].onset]


def _first_of_staff(piece: Piece, start: Start, staff: int) -> list[Note]:
    bar = piece.score.bar_at(start.onset)
    near = piece.score.notes_between(start.onset, bar.end)
    notes = [n for n in near if n.staff == staff and n.sounds and not n.grace]
    first = [note for note in notes if note.onset == notes[0].onset]
    return sorted(first, key=lambda note: note.pitch)


def _name(note: Note, names: Naming) -> str:
    finger = f"({note.fingers[0]})" if note.fingers else ""
    return written(note.step, note.alter, note.octave, names=names) + finger


def hints_of(piece: Piece, start: Start, names: Naming = "english") -> tuple[tuple[str, str], ...]:
    """All hints of a start, name and text: for lists; a drill asks for one at a time."""
    return tuple((name, hint_text(piece, start, name, names)) for name in hint_names(piece, start))
