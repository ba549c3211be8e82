"""The page in words, one short sentence group a moment, for a screen reader."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from trainer.draw.names import Naming, spoken_name
from trainer.draw.text import clean
from trainer.draw.window import Head, Moment, Window, window
from trainer.draw.words import NO_NOTES, joined
from trainer.score.cite import BRITISH, Words
from trainer.score.model import Score, Staff

_PARTS = {
    Fraction(1, 2): "and a half",
    Fraction(1, 4): "and a quarter",
    Fraction(3, 4): "and three quarters",
    Fraction(1, 3): "and a third",
    Fraction(2, 3): "and two thirds",
}


def spoken(
    score: Score,
    start: Fraction,
    end: Fraction,
    names: Naming = "english",
    *,
    staves: Iterable[int] | None = None,
    words: Words = BRITISH,
) -> list[str]:
    """The music from `start` up to `end`, one line a moment where something is struck.

    "Bar 9, beat 1. Right hand G sharp 5; left hand B sharp 2, held." Held is what lasts a
    quarter or longer; `words` may say "Measure 9". Raises TrainerError as `page` does.
    """
    if not score.notes:
        return [NO_NOTES]
    view = window(score, start, end, staves)
    lines = []
    bar = None
    for moment in view.moments:
        if moment.onset < start:
            continue
        said = list(_said(view, moment, names))
        if said:
            place = f"{words.beat.capitalize()} {beat_words(moment.beat)}."
            if moment.bar is not bar:
                label = f"{words.spoken_bar.capitalize()} {clean(moment.bar.label)}"
                place = f"{label}, {words.beat} {beat_words(moment.beat)}."
            bar = moment.bar
            text = "; ".join(said)
            lines.append(f"{place} {text[0].upper()}{text[1:]}.")
    return lines


def beat_words(beat: Fraction) -> str:
    """ "3", "3 and a half", or "3 and 1/5" where there is no short word."""
    whole, rest = divmod(beat, 1)
    if not rest:
        return str(whole)
    return f"{whole} {_PARTS.get(rest, f'and {rest}')}"


def _said(view: Window, moment: Moment, names: Naming) -> Iterator[str]:
    """What each staff does at a moment; a staff where nothing begins is not named."""
    sounding = moment.opening if moment.onset == view.entry else moment.heads
    for staff in view.score.staves:
        number = staff.number
        if number not in view.staves:
            continue
        heads = sorted((h for h in sounding if h.staff == number), key=lambda h: h.pitch)
        struck = [head for head in heads if head.struck]
        on = [head for head in heads if not head.struck]
        phrases = []
        if struck:
            phrases.append(_struck(struck, names))
        if on:
            verb = "sounds on" if len(on) == 1 else "sound on"
            phrases.append(f"{joined([_name(head, names) for head in on])} {verb}")
        if number in moment.rests:
            phrases.append("rest")
        if number in moment.graces:
            phrases.append(_graces(view, moment, number, names, before=bool(struck)))
        phrases += [clean(one.words) for one in moment.told if one.staff == number]
        if phrases:
            yield f"{_player(staff)} {', '.join(phrases)}"


def _graces(view: Window, moment: Moment, staff: int, names: Naming, *, before: bool) -> str:
    """The grace notes of a staff at a moment by name, in their order."""
    notes = [n for n in view.grace_notes if (n.onset, n.staff) == (moment.onset, staff)]
    said = joined([spoken_name(n.step, n.alter, n.octave, names=names) for n in notes])
    kind = "slashed " if notes and all(note.has("slashed") for note in notes) else ""
    word = "grace note" if len(notes) == 1 else "grace notes"
    return f"{'after the ' if before else ''}{kind}{word} {said}"


def _struck(heads: list[Head], names: Naming) -> str:
    """The heads struck together, lowest first; "held" once where it is true of all."""
    if all(head.held for head in heads):
        return joined([_name(head, names) for head in heads]) + ", held"
    return joined([_name(head, names) + (" held" if head.held else "") for head in heads])


def _name(head: Head, names: Naming) -> str:
    name = spoken_name(head.step, head.alter, head.octave, names=names)
    return f"{name} finger {head.fingers[0]}" if head.fingers else name


def _player(staff: Staff) -> str:
    if staff.role != "single":
        return staff.role
    return clean(staff.part) or f"staff {staff.number + 1}"
