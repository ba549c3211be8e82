"""What must hold within a stranger's deck and score before anything is done with them.

Every rule names the path of the field that breaks it. The bounds are wide for music and narrow
for mischief: no position, count or text may make the program run long.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import chain, pairwise

from trainer.deck.exchange import at, counted, quoted, texts
from trainer.deck.model import Deck, Likeness, Told
from trainer.errors import TrainerError
from trainer.score.model import Bar, Mark, Meter, Note, Score, Sign, Staff
from trainer.score.route import MOST as MOST_VISITS

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
    "score.played": 1_000,
}
MOST_TEXT = 2_000  # characters in one text
MOST_ID = 100
LONGEST = 1_000  # ql in one bar
FINEST = 1_000_000  # the largest denominator of a position
FARTHEST_UP = 60  # semitones between what is written and what sounds
_POWERS = tuple(2**n for n in range(9))
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


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
    sound_ids(what, "deck.starts[].id", [start.id for start in deck.starts])
    sound_ids(what, "deck.former[].id", [gone.id for gone in deck.former])
    for path, found in _deck_texts(deck):
        texts(what, path, found, MOST_TEXT)
    if not deck.starts:
        raise TrainerError(f"{what} has no starts; add at least one.")
    for sentence in _deck_faults(deck):
        raise TrainerError(f"{what}: {sentence}.")


def _deck_texts(deck: Deck) -> Iterator[tuple[str, Iterable[str]]]:
    yield "deck.title", [deck.title]
    yield "deck.score", [deck.score]
    for name in ("label", "parent", "fingering", "cue"):
        yield f"deck.starts[].{name}", [getattr(start, name) for start in deck.starts]
    for place, start in enumerate(deck.starts):
        yield f"deck.starts[{place}].advice[]", start.advice
        yield f"deck.starts[{place}].reasons[].cue", [reason.cue for reason in start.reasons]
        yield f"deck.starts[{place}].reasons[].words", [reason.words for reason in start.reasons]
    yield "deck.alike[].words", [like.words for like in deck.alike]


def _deck_faults(deck: Deck) -> Iterator[str]:
    known = {start.id for start in deck.starts}
    former = {gone.id for gone in deck.former}
    yield from twice("deck.starts[].id", [start.id for start in deck.starts])
    for place, start in enumerate(deck.starts):
        path = f"deck.starts[{place}]"
        if len(start.advice) > 50:
            yield f"{path}.advice has more than 50 words of advice"
        if len(start.reasons) > 100:
            yield f"{path}.reasons has more than 100 reasons"
        if start.onset.denominator > FINEST:
            yield f"{path}.onset is finer than any music"
    for place, (one, two) in enumerate(pairwise(deck.starts), 1):
        if one.onset >= two.onset:
            yield (
                f"deck.starts[{place}].onset is not after that of the start before it: starts"
                " stand in the order of the score, each at a place of its own"
            )
    if not 0 <= deck.first <= 9000:
        yield "deck.first is not from 0 to 9000"
    for place, start in enumerate(deck.starts):
        if start.number != deck.first + place:
            yield (
                f"deck.starts[{place}].number is not {deck.first + place}: numbers run on from"
                " deck.first, one by one"
            )
    for place, id_ in enumerate(deck.route):
        if id_ not in known:
            yield f"deck.route[{place}] is {quoted(id_)}, a start that is not in deck.starts"
    if not deck.route:
        yield "deck.route is empty: name the starts in the order in which they are played"
    yield from twice("deck.former[].id", [gone.id for gone in deck.former])
    for place, gone in enumerate(deck.former):
        path = f"deck.former[{place}]"
        if gone.id in known:
            yield f"{path}.id is {quoted(gone.id)}, which is in deck.starts"
        if gone.fate == "merged" and gone.into not in known | former:
            yield f"{path}.into is {quoted(gone.into)}, a start that is not in the deck"
        if not -1 < gone.number <= 99_999:
            yield f"{path}.number is not from 0 to 99999"
    said: dict[str, Sequence[Likeness | Told]] = {"deck.alike": deck.alike, "deck.told": deck.told}
    for path, pairs in said.items():
        for place, pair in enumerate(pairs):
            if pair.one == pair.other:
                yield f"{path}[{place}] says that a start is alike to itself"
    for place, like in enumerate(deck.alike):
        for name, id_ in (("one", like.one), ("other", like.other)):
            if id_ not in known:
                yield (
                    f"deck.alike[{place}].{name} is {quoted(id_)}, a start that is not in"
                    " deck.starts"
                )


def twice(path: str, ids: Sequence[str]) -> Iterator[str]:
    """Says of each id that it has stood before in the same list."""
    if len(set(ids)) < len(ids):
        first: dict[str, int] = {}
        for place, id_ in enumerate(ids):
            if first.setdefault(id_, place) != place:
                yield f"{at(path, place)} is {quoted(id_)}, as {at(path, first[id_])} is"


def sound_ids(what: str, path: str, ids: Iterable[str]) -> None:
    """Ids are short, not empty, and of printing ASCII signs without a space. In `path`, "[]"
    stands for the place of the id. Raises TrainerError."""
    for place, id_ in enumerate(ids):
        if 0 < len(id_) <= MOST_ID and id_.isascii() and id_.isprintable() and " " not in id_:
            continue
        where = at(path, place)
        if not id_:
            raise TrainerError(f"{what}: {where} is empty; give every id a text.")
        if len(id_) > MOST_ID:
            raise TrainerError(f"{what}: {where} has more than {MOST_ID} characters.")
        raise TrainerError(
            f"{what}: {where} is {quoted(id_)}; an id has letters A to Z and a to z, digits, and "
            "characters such as - or _, but no space."
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
        ("score.played", score.played),
    ):
        counted(what, path, entries, MOST[path])
    texts(what, "score.title", [score.title], MOST_TEXT)
    texts(what, "score.source", [score.source], MOST_TEXT)
    texts(what, "score.warnings[]", score.warnings, MOST_TEXT)
    texts(what, "score.staves[].part", (staff.part for staff in score.staves), MOST_TEXT)
    texts(what, "score.bars[].label", (bar.label for bar in score.bars), 100)
    texts(what, "score.marks[].text", (mark.text for mark in score.marks), MOST_TEXT)
    if not score.bars:
        raise TrainerError(f"{what} has no bars, so there is nowhere to begin.")
    if notes and not score.notes:
        raise TrainerError(f"{what} has no notes, so there is nothing to begin.")
    if not notes and (score.notes or score.rests):
        name = "notes" if score.notes else "rests"
        raise TrainerError(f"{what} says that its notes are left out, but score.{name} has some.")
    for sentence in chain(
        _bar_faults(score.bars),
        _staff_faults(score.staves),
        _note_faults(score),
        _rest_faults(score),
        _mark_faults(score),
        _order_faults(score),
    ):
        raise TrainerError(f"{what}: {sentence}.")


def _bar_faults(bars: Sequence[Bar]) -> Iterator[str]:
    begins = Fraction(0)
    for place, bar in enumerate(bars):
        path = f"score.bars[{place}]"
        if bar.index != place:
            yield f"{path}.index is not {place}"
        if bar.start != begins:
            yield f"{path}.start is not {begins}, where the bar before it ends"
        if not 0 < bar.length <= LONGEST or bar.length.denominator > FINEST:
            yield f"{path}.length is not over 0 and at most {LONGEST} quarter notes"
        if not 0 <= bar.lead <= LONGEST or bar.lead.denominator > FINEST:
            yield f"{path}.lead is not from 0 to {LONGEST} quarter notes"
        if not _sound_meter(bar.meter):
            yield f"{path}.meter is none: count from 1 to 200, unit a power of two up to 256"
        if not -14 <= bar.fifths <= 14:
            yield f"{path}.fifths is not from -14 to 14"
        if len(bar.mode) > 40:
            yield f"{path}.mode has more than 40 characters"
        if not 0 <= bar.repeat_times <= 20:
            yield f"{path}.repeat_times is not from 0 to 20"
        if len(bar.endings) > 99 or not all(0 < time <= 99 for time in bar.endings):
            yield f"{path}.endings has other passes than 1 to 99, or more than 99"
        begins = bar.end


def _sound_meter(meter: Meter) -> bool:
    return 1 <= meter.count <= 200 and meter.unit in _POWERS


def _staff_faults(staves: Sequence[Staff]) -> Iterator[str]:
    seen: set[int] = set()
    for place, staff in enumerate(staves):
        path = f"score.staves[{place}]"
        if not 0 <= staff.number < 100:
            yield f"{path}.number is not from 0 to 99"
        if staff.number in seen:
            yield f"{path}.number is {staff.number}, as a staff before it is"
        if abs(staff.transposition) > FARTHEST_UP:
            yield f"{path}.transposition is not from -{FARTHEST_UP} to {FARTHEST_UP}"
        seen.add(staff.number)


def _note_faults(score: Score) -> Iterator[str]:
    end, shifts = score.end, _shifts(score)
    before = Fraction(0)
    for place, note in enumerate(score.notes):
        if note.onset < before:
            yield (
                f"score.notes[{place}].onset is before that of the note before it: notes stand in"
                " the order of their onsets"
            )
        if wrong := _span_fault(note.onset, note.length, end) or _note_fault(note, shifts):
            yield f"score.notes[{place}].{wrong}"
        before = note.onset


def _shifts(score: Score) -> Mapping[int, Collection[int]]:
    """By how many semitones notes sound from what is written, by staff; several where the
    player changes the instrument. By none always: scores that were read by an earlier version
    tell of a transposition over notes that are written as they sound."""
    found = {staff.number: {0, staff.transposition} for staff in score.staves}
    for mark in score.marks_of("transposition"):
        if mark.value is not None and mark.staff in found:
            found[mark.staff].add(int(mark.value))
    return found


def _note_fault(note: Note, shifts: Mapping[int, Collection[int]]) -> str:
    """What is wrong with a note apart from its place in time, from its field's name on."""
    if note.staff not in shifts:
        return f"staff is {note.staff}, which is not in score.staves"
    if note.step not in _STEPS:
        return "step is not one of the letters A to G"
    if not -4 <= note.alter <= 4:
        return "alter is not from -4 to 4"
    if not -2 <= note.octave <= 12:
        return "octave is not from -2 to 12"
    if not 0 <= note.pitch <= 127:
        return "pitch is not from 0 to 127"
    written = 12 * (note.octave + 1) + _STEPS[note.step] + note.alter
    if note.pitch - written not in shifts[note.staff]:
        name = f"{note.step}{'#' * note.alter}{'b' * -note.alter}{note.octave}"
        sounds = " or ".join(str(written + shift) for shift in sorted(shifts[note.staff]))
        return (
            f"pitch is {note.pitch}, but its step, alter and octave say {name}, which sounds as"
            f" {sounds} on its staff; if nobody changed the file, its score was read by an earlier"
            " version: whoever made it can add the score again, with `trainer add FILE --again`,"
            " and hand that deck out"
        )
    if len(note.voice) > 40:
        return "voice has more than 40 characters"
    if len(note.fingers) > 20 or any(len(finger) > 40 for finger in note.fingers):
        return "fingers has more than 20 entries, or one of more than 40 characters"
    if len(note.signs) > 20 or not 0 <= note.order < 1000:
        return "signs has more than 20 entries, or order is not from 0 to 999"
    return next((f"signs{wrong}" for sign in note.signs if (wrong := _sign_fault(sign))), "")


def _sign_fault(sign: Sign) -> str:
    if any(alter is not None and abs(alter) > 2 for alter in (sign.above, sign.below)):
        return "[].above or below is not from -2 to 2"
    return "" if 0 <= sign.strokes <= 8 else "[].strokes is not from 0 to 8"


def _rest_faults(score: Score) -> Iterator[str]:
    end, staves = score.end, {staff.number for staff in score.staves}
    for place, rest in enumerate(score.rests):
        path = f"score.rests[{place}]"
        if wrong := _span_fault(rest.onset, rest.length, end):
            yield f"{path}.{wrong}"
        if rest.staff not in staves:
            yield f"{path}.staff is {rest.staff}, which is not in score.staves"


def _mark_faults(score: Score) -> Iterator[str]:
    end, staves = score.end, {-1, *(staff.number for staff in score.staves)}
    for place, mark in enumerate(score.marks):
        if wrong := _mark_fault(mark, end, staves):
            yield f"score.marks[{place}].{wrong}"


def _order_faults(score: Score) -> Iterator[str]:
    for place, part in enumerate(score.played):
        if not 0 <= part.first <= part.last < len(score.bars):
            yield f"score.played[{place}] is not from one bar's index to that of a later one"
            return
    if sum(part.last + 1 - part.first for part in score.played) > MOST_VISITS * len(score.bars):
        yield f"score.played comes to each bar more than {MOST_VISITS} times"


def _mark_fault(mark: Mark, end: Fraction, staves: Collection[int]) -> str:
    if wrong := _span_fault(mark.onset, Fraction(0), end):
        return wrong
    if mark.end is not None and _span_fault(mark.onset, mark.end - mark.onset, end):
        return "end is before its onset, too far away, or finer than any music"
    if mark.staff not in staves:
        return f"staff is {mark.staff}, which is not in score.staves"
    if mark.kind == "transposition":
        whole = mark.value is not None and mark.value == int(mark.value)
        if not whole or abs(mark.value or 0) > FARTHEST_UP:
            return f"value is no whole number of semitones from -{FARTHEST_UP} to {FARTHEST_UP}"
    elif mark.value is not None and not 0 < mark.value <= 10_000:
        return "value is no tempo: it is not over 0 and at most 10000"
    return ""


def _span_fault(onset: Fraction, length: Fraction, end: Fraction) -> str:
    """What is wrong with a place and a length within the bars, from the field's name on."""
    if not 0 <= onset <= end:
        return f"onset is not from 0 to {end}, where the bars end"
    if onset.denominator > FINEST:
        return "onset is finer than any music"
    if not 0 <= length <= 10 * LONGEST or length.denominator > FINEST:
        return f"length is not from 0 to {10 * LONGEST} quarter notes, or finer than any music"
    return ""
