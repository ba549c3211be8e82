"""A start opened: everything about it as a document, in sections."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from fractions import Fraction

from trainer.deck.model import Piece
from trainer.deck.page import page_span
from trainer.document.model import Document, Drawing, Listing, Section, Sentence
from trainer.document.words import day_word
from trainer.draw.history import history, shown
from trainer.draw.keyboard import first_position, in_hands, keyboard
from trainer.draw.names import Naming
from trainer.draw.page import page, spoken
from trainer.draw.strip import NARROWEST, Forecast, spoken_strips, strips
from trainer.draw.text import wrapped
from trainer.draw.words import band_sign, counted, hint_words, joined, percent
from trainer.memory.model import FIGURES_FROM, Retention
from trainer.memory.planner import STUCK
from trainer.practice.cautions import WIDE
from trainer.reports.start import About, Alike, Onward, Tried, basis, short
from trainer.score.cite import BRITISH, Words, ordinal, value_word

JUDGES = {"self": "", "teacher": "judged by the teacher", "heard": "heard by the instrument"}
FEW = 2  # pairs alike in shape only that are told one by one
AS_IT_IS = "with no more practice"


def document(
    found: About, piece: Piece, *, names: Naming = "english", words: Words = BRITISH
) -> Document:
    """What is known of the start, each thing in its section."""
    sections = (
        Section("history", "Cold attempts", _history(found)),
        Section("strip", _strip_title(found), _strip(found)),
        Section("words", "Advice and fingering", _listed(_words(found))),
        Section("alike", "Look-alikes", _listed(_alike(found.alike))),
        Section("recovery", "If memory fails", _listed(_recovery(found))),
        Section("page", "The music", (_page(found, piece, names, words),)),
        Section("hands", "First hand position", _hands(found, piece, names)),
        Section("tries", "Attempt by attempt", _tries(found, words)),
        Section("reasons", "Why it begins here", _listed(_reasons(found))),
    )
    stands = tuple(map(Sentence, _stands(found)))
    return Document(
        "start", f"Start {found.number}, {found.place}", (*stands, *sections), piece.deck.title
    )


def _listed(told: Iterable[str], key: str = "items") -> tuple[Listing, ...]:
    items = tuple(told)
    return (Listing(items, key),) if items else ()


def _day(day: date, today: date) -> str:
    """A day in short, with its year where it is not of the last or the next months."""
    return day_word(day) if abs((day - today).days) < 300 else f"{day_word(day)} {day.year}"


# How it stands


def _stands(found: About) -> Iterator[str]:
    band = found.both.band
    closed = "not drilled for you" if found.own.left_out else "not open, so it is not called"
    state = "open" if found.open else closed
    yield f"{band_sign(band)} {band}; {'; '.join(filter(None, (state, _calls(found))))}."
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


def _history(found: About) -> tuple[Drawing, ...]:
    """The row of cold tries; in words they are told one by one below."""
    row = [(_day(one.day, found.today), one.outcome) for one in reversed(found.cold)]

    def drawn(width: int, ascii: bool) -> Sequence[str]:
        room = shown(width)
        told = [f"The last {room} of {len(row)}:"] if len(row) > room else []
        return [*told, *history(row, width=width, ascii=ascii)]

    return (Drawing(drawn),) if row else ()


def _strip_title(found: About) -> str:
    day = _day(found.day, found.today)
    return f"To {', '.join(filter(None, (found.occasion, day)))}, {AS_IT_IS}"


def _strip(found: About) -> tuple[Drawing, ...]:
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

    last = len(days) - 1
    marks = {0: named(0), last: ", ".join(filter(None, (named(last), found.occasion)))}
    if days[last] != found.day:
        del marks[last]

    words = tuple(spoken_strips(forecasts, day=named))

    def drawn(width: int, ascii: bool) -> Sequence[str]:
        if width < NARROWEST:
            return [line for told in words for line in wrapped(told, width)]
        return strips(forecasts, width=width, ascii=ascii, day=named, marks=marks)

    return (Drawing(drawn, words),)


def _forecast(found: About, name: str, now: Retention, chances: list[float | None]) -> Forecast:
    return Forecast(
        found.number,
        tuple(chance for chance in chances if chance is not None),
        basis(now) if 0 < now.tries < FIGURES_FROM else "",
        name=name,
        bare=found.child,
    )


def _tries(found: About, words: Words) -> tuple[Listing | Sentence, ...]:
    """Every try with all that is known of it, cold ones first; the others stand apart."""
    cold = _listed((_sentence(one, found.today, words) for one in found.cold), "cold")
    others = _listed((_sentence(one, found.today, words) for one in found.others), "others")
    return (*cold, Sentence("Not cold, so they count for little:"), *others) if others else cold


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


def _page(found: About, piece: Piece, names: Naming, words: Words) -> Drawing:
    span = page_span(piece, piece.deck.start(found.id))

    def drawn(width: int, ascii: bool) -> Sequence[str]:
        return page(piece.score, *span, width=width, names=names, ascii=ascii)

    return Drawing(drawn, tuple(spoken(piece.score, *span, names=names, words=words)))


def _hands(found: About, piece: Piece, names: Naming) -> tuple[Drawing | Listing, ...]:
    """The keyboard where there is one; a reach that is too wide is never shown without its
    caution."""
    if not found.position:
        return ()
    keys = in_hands(first_position(piece.score, piece.deck.start(found.id).onset))

    def drawn(width: int, ascii: bool) -> Sequence[str]:
        return keyboard(keys, width=width, names=names, ascii=ascii)

    return Drawing(drawn), *_listed((found.position, WIDE) if found.wide else (found.position,))
