"""What must hold within a stranger's deck and score before anything is done with them.

Every rule names the path of the field that breaks it. The bounds are wide for music and narrow
for mischief: no position, count or text may make the program run long.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from trainer.deck.exchange import counted, texts
from trainer.deck.model import Deck
from trainer.errors import TrainerError
from trainer.score.model import Bar, Meter, Note, Score

MOST = {
    "deck.starts": 2_000,
    "deck.route": 20_000,
    "deck.former": 20_000,
    "deck.alike": 20_000,
    "deck.told": 20_000,
    "score.staves": 100,
    "score.bars": 20_000,
    "score.notes": 500_000,
    "score.rests": 500_000,
    "score.marks": 200_000,
    "score.warnings": 10_000,
}
MOST_TEXT = 2_000  # characters in one text
MOST_ID = 100
LONGEST = 1_000  # ql in one bar
FINEST = 1_000_000  # the largest denominator of a position
_POWERS = tuple(2**n for n in range(9))


def sound_deck(deck: Deck, what: str) -> None:
    """The claims between the fields of a deck. Raises TrainerError."""
    for path, entries in (
        ("deck.starts", deck.starts),
        ("deck.route", deck.route),
        ("deck.former", deck.former),
        ("deck.alike", deck.alike),
        ("deck.told", deck.told),
    ):
        counted(what, path, entries, MOST[path])
    sound_ids(what, "deck.id", [deck.id])
    sound_ids(what, "deck.starts", [start.id for start in deck.starts])
    sound_ids(what, "deck.former", [gone.id for gone in deck.former])
    texts(what, "deck", _deck_texts(deck), MOST_TEXT)
    if not deck.starts:
        raise TrainerError(f"{what} holds no starts; add at least one.")
    for sentence in _deck_faults(deck):
        raise TrainerError(f"{what}: {sentence}.")


def _deck_texts(deck: Deck) -> Iterator[str]:
    yield from (deck.title, deck.score)
    for start in deck.starts:
        yield from (start.label, start.parent, start.fingering, start.cue, *start.advice)
        yield from (text for reason in start.reasons for text in (reason.cue, reason.words))
    yield from (like.words for like in deck.alike)


def _deck_faults(deck: Deck) -> Iterator[str]:
    ids = [start.id for start in deck.starts]
    onsets = [start.onset for start in deck.starts]
    numbers = [start.number for start in deck.starts]
    known = set(ids)
    if len(known) < len(ids):
        yield "two starts in deck.starts have the same id"
    if any(len(start.advice) > 50 or len(start.reasons) > 100 for start in deck.starts):
        yield "a start in deck.starts has more than 50 words of advice or 100 reasons"
    if any(onset.denominator > FINEST for onset in onsets):
        yield "an onset in deck.starts is finer than any music"
    if any(one >= two for one, two in pairwise(onsets)):
        yield "deck.starts is not in the order of the score, or two starts begin at one place"
    if not 0 <= deck.first <= 9000:
        yield "deck.first is not from 0 to 9000"
    if numbers != list(range(deck.first, deck.first + len(numbers))):
        yield f"the numbers in deck.starts do not run from {deck.first} on, one by one"
    if set(deck.route) - known:
        yield "deck.route names a start that is not in deck.starts"
    if not deck.route:
        yield "deck.route is empty: name the starts in the order in which they are played"
    former = {gone.id for gone in deck.former}
    if len(former) < len(deck.former) or former & known:
        yield "deck.former names a start twice, or one that is in deck.starts"
    if any(gone.fate == "merged" and gone.into not in known | former for gone in deck.former):
        yield "a start in deck.former was merged into one that is not in the deck"
    if any(not -1 < gone.number <= 99_999 for gone in deck.former):
        yield "a number in deck.former is not from 0 to 99999"
    pairs = [(one.one, one.other) for one in deck.alike] + [(w.one, w.other) for w in deck.told]
    if any(one == other for one, other in pairs):
        yield "a start in deck.alike or deck.told is alike to itself"
    if any(like.one not in known or like.other not in known for like in deck.alike):
        yield "deck.alike names a start that is not in deck.starts"


def sound_ids(what: str, path: str, ids: Iterable[str]) -> None:
    """Ids are short, not empty, and of printing ASCII signs without a space."""
    for id_ in ids:
        if not 0 < len(id_) <= MOST_ID or not id_.isascii() or not id_.isprintable() or " " in id_:
            raise TrainerError(
                f"{what}: an id in {path} is empty, longer than {MOST_ID} signs, or of other"
                " signs than letters and digits."
            )


def sound_score(score: Score, what: str, *, notes: bool) -> None:
    """The claims within a score, with its notes or, where they were left out, without."""
    for path, entries in (
        ("score.staves", score.staves),
        ("score.bars", score.bars),
        ("score.notes", score.notes),
        ("score.rests", score.rests),
        ("score.marks", score.marks),
        ("score.warnings", score.warnings),
    ):
        counted(what, path, entries, MOST[path])
    texts(what, "score", (score.title, score.source, *score.warnings), MOST_TEXT)
    texts(what, "score.staves", (staff.part for staff in score.staves), MOST_TEXT)
    texts(what, "score.bars", (bar.label for bar in score.bars), 100)
    texts(what, "score.marks", (mark.text for mark in score.marks), MOST_TEXT)
    if not score.bars:
        raise TrainerError(f"{what} holds no bars, so there is no place to begin.")
    if notes and not score.notes:
        raise TrainerError(f"{what} holds no notes, so there is nothing to begin.")
    if not notes and (score.notes or score.rests):
        raise TrainerError(f"{what} says that its notes are left out, but score.notes has some.")
    for sentence in _bar_faults(score.bars):
        raise TrainerError(f"{what}: {sentence}.")
    for sentence in _content_faults(score):
        raise TrainerError(f"{what}: {sentence}.")


def _bar_faults(bars: Sequence[Bar]) -> Iterator[str]:
    at = Fraction(0)
    for place, bar in enumerate(bars):
        path = f"score.bars[{place}]"
        if bar.index != place:
            yield f"{path}.index is not {place}"
        if bar.start != at:
            yield f"{path}.start is not {at}, where the bar before it ends"
        if not 0 < bar.length <= LONGEST or bar.length.denominator > FINEST:
            yield f"{path}.length is not over 0 and at most {LONGEST} quarter notes"
        if not 0 <= bar.lead <= LONGEST or bar.lead.denominator > FINEST:
            yield f"{path}.lead is not from 0 to {LONGEST} quarter notes"
        if not _sound_meter(bar.meter):
            yield f"{path}.meter is none: count from 1 to 200, unit a power of two up to 256"
        if not -14 <= bar.fifths <= 14:
            yield f"{path}.fifths is not from -14 to 14"
        if not 0 <= bar.repeat_times <= 20 or not all(0 < time <= 99 for time in bar.endings):
            yield f"{path} repeats too often"
        if len(bar.endings) > 99 or len(bar.mode) > 40:
            yield f"{path} has too many endings or too long a mode"
        at = bar.end


def _sound_meter(meter: Meter) -> bool:
    return 1 <= meter.count <= 200 and meter.unit in _POWERS


def _content_faults(score: Score) -> Iterator[str]:
    end = score.bars[-1].end
    staves = {staff.number for staff in score.staves}
    if len(staves) < len(score.staves) or any(not 0 <= number < 100 for number in staves):
        yield "score.staves has a number twice, or one that is not from 0 to 99"
    if any(not -60 <= staff.transposition <= 60 for staff in score.staves):
        yield "a transposition in score.staves is not from -60 to 60"
    before = Fraction(0)
    for place, note in enumerate(score.notes):
        if not _sound_note(note, end) or note.staff not in staves or note.onset < before:
            yield (
                f"score.notes[{place}] is out of order, outside the bars, on no staff, or no"
                " note that can be written"
            )
        before = note.onset
    for place, rest in enumerate(score.rests):
        if not _inside(rest.onset, rest.length, end) or rest.staff not in staves:
            yield f"score.rests[{place}] lies outside the bars or on no staff"
    for place, mark in enumerate(score.marks):
        length = mark.end - mark.onset if mark.end is not None else Fraction(0)
        if not _inside(mark.onset, length, end) or mark.staff not in staves | {-1}:
            yield f"score.marks[{place}] lies outside the bars or on no staff"
        if mark.value is not None and not 0 < mark.value <= 10_000:
            yield f"score.marks[{place}].value is no tempo"


def _sound_note(note: Note, end: Fraction) -> bool:
    return (
        _inside(note.onset, note.length, end)
        and 0 <= note.pitch <= 127
        and len(note.step) == 1
        and note.step in "CDEFGAB"
        and -4 <= note.alter <= 4
        and -2 <= note.octave <= 12
        and len(note.voice) <= 40
        and len(note.fingers) <= 20
        and all(len(finger) <= 40 for finger in note.fingers)
    )


def _inside(onset: Fraction, length: Fraction, end: Fraction) -> bool:
    fine = onset.denominator <= FINEST and length.denominator <= FINEST
    return fine and 0 <= onset <= end and 0 <= length <= 10 * LONGEST
