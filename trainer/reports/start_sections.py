"""A start opened: everything about it in sections of lines, for the screen, for the command line,
and in words for listening."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator
from datetime import date
from fractions import Fraction
from typing import Literal, get_args

from trainer.deck.model import Piece
from trainer.deck.page import page_span
from trainer.document.words import day_word
from trainer.draw.history import history, shown
from trainer.draw.keyboard import first_position, in_hands, keyboard
from trainer.draw.layout import Style
from trainer.draw.page import page, spoken
from trainer.draw.strip import Forecast, spoken_strips, strips
from trainer.draw.text import PLAIN, clean
from trainer.draw.words import band_sign, counted, hint_words, joined, percent
from trainer.memory.model import FIGURES_FROM, Retention
from trainer.memory.planner import STUCK
from trainer.practice.cautions import WIDE
from trainer.reports.start import About, Alike, Onward, Tried, basis, short
from trainer.score.cite import BRITISH, Words, ordinal, value_word
from trainer.values import Frozen

Name = Literal[
    "stands", "history", "strip", "words", "alike", "recovery", "page", "hands", "tries", "reasons"
]
NAMES: tuple[Name, ...] = get_args(Name)
JUDGES = {"self": "", "teacher": "judged by the teacher", "heard": "heard by the instrument"}
FEW = 2  # pairs alike in shape only that are told one by one
BOUND = "\u00a0"
LONG = 10_000  # columns: a sentence is a line
AS_IT_IS = "with no more practice"


class Section(Frozen, frozen=True):
    """Lines under a title; without a title they stand by themselves."""

    name: Name
    title: str
    lines: tuple[str, ...]

    @property
    def under_title(self) -> tuple[str, ...]:
        return (f"{self.title}:", *self.lines) if self.title else self.lines


def sections(
    found: About, piece: Piece, look: Style, *, words: Words = BRITISH, listen: bool = False
) -> tuple[Section, ...]:
    """What is known of the start, each thing in its section; sections with nothing to tell are
    left out. No line is wider than `look.width`, at least 40. To `listen` to, drawings are put in
    words, and each sentence is a line."""
    width = LONG if listen else look.width
    made = (
        Section("stands", "", _fitted(_stands(found, look, listen), width)),
        Section("history", _history_title(found, width), () if listen else _history(found, look)),
        Section("strip", _strip_title(found), _strip(found, look, listen)),
        Section("words", "Advice and fingering", _fitted(_words(found), width)),
        Section("alike", "Look-alikes", _fitted(_alike(found.alike), width)),
        Section("recovery", "If memory fails", _fitted(_recovery(found), width)),
        Section("page", "The music", _page(found, piece, look, words, listen)),
        Section("hands", "First hand position", _hands(found, piece, look, width, listen)),
        Section("tries", "Attempt by attempt", _tries(found, words, width)),
        Section("reasons", "Why it begins here", _fitted(_reasons(found), width)),
    )
    told = (section for section in made if section.lines)
    return tuple(_plain(section) if look.ascii else section for section in told)


def head(found: About) -> str:
    """ "Start 4, b. 12"."""
    return f"Start {found.number}, {found.place}"


def _plain(section: Section) -> Section:
    lines = tuple(line.translate(PLAIN) for line in section.lines)
    return Section(section.name, section.title.translate(PLAIN), lines)


def _fitted(sentences: Iterable[str], width: int, indent: str = "  ") -> tuple[str, ...]:
    """Sentences broken at spaces, but not between "b." and its number; what goes on of each is
    indented."""
    return tuple(
        line.replace(BOUND, " ")
        for sentence in sentences
        for line in textwrap.wrap(_bound(clean(sentence)), width, subsequent_indent=indent)
    )


def _bound(text: str) -> str:
    return re.sub(r"\b((?:bb?|mm?)\.|beat) (?=\d)", rf"\1{BOUND}", text)


def _day(day: date, today: date) -> str:
    """A day in short, with its year where it is not of the last or the next months."""
    return day_word(day) if abs((day - today).days) < 300 else f"{day_word(day)} {day.year}"


# How it stands


def _stands(found: About, look: Style, listen: bool) -> Iterator[str]:
    band = found.both.band
    sign = "" if listen else f"{band_sign(band, ascii=look.ascii)} "
    closed = "not drilled for you" if found.own.left_out else "not open, so it is not called"
    state = "open" if found.open else closed
    yield f"{sign}{band}; {'; '.join(filter(None, (state, _calls(found))))}."
    if found.why_today:
        yield f"Why today: {found.why_today[0].lower()}{found.why_today[1:]}"
    if not found.child:
        yield from _figures(found)
    if found.stuck:
        yield f"Stuck. {STUCK} Press k when you have worked on it."
    if found.worked_on:
        yield f"Worked on {_day(found.worked_on, found.today)}."


def _calls(found: About) -> str:
    """When it is called: "called today, then on 26 Nov"."""
    later = _day(found.next_call, found.today) if found.next_call else ""
    if found.why_today:
        return f"called today, then on {later}" if later else "called today"
    return f"next call {later}" if later else ""


def _figures(found: About) -> Iterator[str]:
    if found.start.tries:
        yield f"Next cold attempt: {basis(found.both)}. {parts(found.start, found.join)}."


def parts(start: Retention, join: Retention) -> str:
    """What the figure of a start rests on: "Start 94%, join 83%"."""
    first = f"Start {short(start)}"
    return f"{first}, join {short(join)}" if join.tries else f"{first}; its join was not reached"


# What was tried, and what is to come


def _history_title(found: About, width: int) -> str:
    count, room = len(found.cold), shown(width)
    return "Cold attempts" if count <= room else f"Cold attempts, the last {room} of {count}"


def _history(found: About, look: Style) -> tuple[str, ...]:
    row = [(_day(one.day, found.today), one.outcome) for one in reversed(found.cold)]
    return tuple(history(row, width=look.width, ascii=look.ascii))


def _strip_title(found: About) -> str:
    day = _day(found.day, found.today)
    return f"To {', '.join(filter(None, (found.occasion, day)))}, {AS_IT_IS}"


def _strip(found: About, look: Style, listen: bool) -> tuple[str, ...]:
    """The days to the one planned for, of the start and of its join."""
    if not found.start.tries:
        return ()
    days = [ahead.day for ahead in found.ahead]
    forecasts = [
        _forecast(found, "both", found.both, [ahead.both for ahead in found.ahead]),
        _forecast(found, "join", found.join, [ahead.join for ahead in found.ahead]),
    ]

    def named(number: int) -> str:
        return _day(days[number], found.today)

    if listen:
        return tuple(spoken_strips(forecasts, day=named))
    last = len(days) - 1
    marks = {0: named(0), last: ", ".join(filter(None, (named(last), found.occasion)))}
    if days[last] != found.day:
        del marks[last]
    return tuple(strips(forecasts, width=look.width, ascii=look.ascii, day=named, marks=marks))


def _forecast(found: About, name: str, now: Retention, chances: list[float | None]) -> Forecast:
    return Forecast(
        found.number,
        tuple(chance for chance in chances if chance is not None),
        basis(now) if 0 < now.tries < FIGURES_FROM else "",
        name=name,
        bare=found.child,
    )


def _tries(found: About, words: Words, width: int) -> tuple[str, ...]:
    """Every try with all that is known of it, cold ones first; the others stand apart."""
    lines = _fitted((_sentence(one, found.today, words) for one in found.cold), width)
    if not found.others:
        return lines
    apart = "Not cold, so they count for little:"
    others = _fitted((_sentence(one, found.today, words) for one in found.others), width)
    return (*lines, *([""] if lines else []), apart, *others)


def _sentence(one: Tried, today: date, words: Words) -> str:
    """ "24 Nov: broke off at b. 12; hints: harmony; judged by the teacher"."""
    drill = "" if one.drill == "cold" or one.aside.startswith(("in a", "going")) else one.drill
    more = (
        one.aside,
        f"drill: {drill}" if drill else "",
        f"hints: {hint_words(one.hints)}" if one.hints else "",
        JUDGES[one.judge],
        "" if one.hands == "both" else f"{one.hands} hand alone",
        "" if one.tempo is None else f"{value_word(Fraction(1), words)} = {one.tempo:g}",
        "" if one.latency is None else f"first note after {one.latency:.1f} s",
    )
    return "; ".join(filter(None, (f"{_day(one.day, today)}: {one.said}", *more)))


# What belongs to it


def _words(found: About) -> Iterator[str]:
    theirs = found.advice[:-1] if found.own.words else found.advice
    if theirs:
        yield " ".join(theirs)
    if found.own.words:
        yield f"Your words: {found.own.words}"
    if found.cue:
        yield f"Cue: {found.cue}"
    if found.fingering:
        yield f"{'Your fingering' if found.own.fingering else 'Fingering'}: {found.fingering}"
    if found.own_tempo:
        yield f"Your tempo: {found.own_tempo}"


def _reasons(found: About) -> Iterator[str]:
    if found.reasons:
        text = "; ".join(found.reasons)
        yield f"{text[0].upper()}{text[1:]}."


def _alike(alike: tuple[Alike, ...]) -> Iterator[str]:
    """Each look-alike; many that are alike in shape only are told together."""
    shapes = [one for one in alike if one.kind == "shape" and not (one.taken or one.given)]
    together = shapes if len(shapes) > FEW else []
    for one in alike:
        if one not in together:
            yield _alike_words(one)
    if together:
        numbers = joined([str(number) for number in sorted(one.number for one in together)])
        yield f"Starts {numbers}: {together[0].how}, no more."


def _alike_words(one: Alike) -> str:
    told = [f"Start {one.number}, {one.place}: {one.how}"]
    if one.parts_here and one.parts_there:
        told.append(f"they part at {one.parts_here} (there {one.parts_there})")
    elif one.repeat:
        told.append("the whole phrase comes again")
    if one.words and one.kind != "told":
        told.append(one.words)
    if one.taken:
        told.append(f"played instead of this one {_times(one.taken)}")
    if one.given:
        told.append(f"this one played instead of it {_times(one.given)}")
    return "; ".join(told) + "."


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _recovery(found: About) -> Iterator[str]:
    """Where this start stands in the recovery map."""
    if not found.on_route:
        yield "It is not in the order of play."
        return
    if not found.tried_piece:
        yield "Nothing in this piece has been tried yet."
        return
    if found.lands:
        numbers = joined([str(number) for number in found.lands])
        phrases = "phrase" if len(found.lands) == 1 else "phrases"
        yield f"After a slip in {phrases} {numbers}: go on from here."
    elif found.both.band == "untried":
        yield "Not used as a recovery point: it has not been tried cold yet."
    elif found.both.band != "holds":
        yield "Not used as a recovery point: it is not secure enough."
    for one in found.onward:
        yield _onward_words(one, found)


def _onward_words(one: Onward, found: About) -> str:
    several = len(found.onward) > 1
    time = f" the {joined([ordinal(n) for n in one.times])} time" if several else ""
    if one.number is None:
        return f"After a slip in this phrase{time}: there is no secure start ahead."
    lost = counted(one.lost, "bar")
    chance = "" if found.child or one.chance is None else f"; {percent(one.chance)}"
    at = "from here again" if one.id == found.id else f"from {one.number}, {one.place}"
    return f"After a slip in this phrase{time}: go on {at}; up to {lost} lost{chance}."


def _page(found: About, piece: Piece, look: Style, words: Words, listen: bool) -> tuple[str, ...]:
    span = page_span(piece, piece.deck.start(found.id))
    if listen:
        return tuple(spoken(piece.score, *span, names=look.names, words=words))
    drawn = page(piece.score, *span, width=look.width, names=look.names, ascii=look.ascii)
    return tuple(drawn)


def _hands(found: About, piece: Piece, look: Style, width: int, listen: bool) -> tuple[str, ...]:
    """The keyboard where there is one; a reach that is too wide is never shown without its
    caution."""
    if not found.position:
        return ()
    drawn: tuple[str, ...] = ()
    if not listen:
        keys = in_hands(first_position(piece.score, piece.deck.start(found.id).onset))
        drawn = tuple(keyboard(keys, width=look.width, names=look.names, ascii=look.ascii))
    words = (found.position, WIDE) if found.wide else (found.position,)
    return (*drawn, *_fitted(words, width))
