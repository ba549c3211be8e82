"""The report for a recital: what would hold on the day, and the way back where it does not.

A child's is shorter: it shows places, and nothing foretold.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from trainer.dates import in_full
from trainer.deck.model import Piece, Start
from trainer.document.model import Table, columns
from trainer.document.words import day_word
from trainer.draw.map import spoken_map
from trainer.draw.words import band_sign, percent
from trainer.errors import TrainerError
from trainer.memory.model import Retention
from trainer.paper.drawing import Tag, key, piece_map
from trainer.paper.html import Element, el, p, section, sentences
from trainer.paper.page import Paper, document
from trainer.paper.written import table_of
from trainer.record.people import ProgrammeItem, Recital
from trainer.reports import countdown, readiness
from trainer.reports.retention import bands
from trainer.reports.start import figures, ways_back
from trainer.reports.today import countdown as in_days
from trainer.reports.view import View, where
from trainer.score.cite import ordinal

FARTHEST = 366  # days that are foretold, however far off the recital is
LEFT_OUT = ("piece", "closed")  # of the readiness report's columns
HOW = {"yes": "from memory", "no": "with music", "optional": "from memory, or with music"}


def recital(view: View, *, paper: Paper | None = None) -> str:
    """The report for a student's next recital. Raises TrainerError where none is set."""
    coming = view.recital
    if coming is None:
        raise TrainerError(readiness.NO_RECITAL)
    child = view.level == "child"
    items = [item for item in coming.programme if item.deck in view.decks]
    played = list(dict.fromkeys(item.deck for item in items if item.from_memory != "no"))
    return document(
        coming.name,
        p(readiness.CHILD_NOTE if child else readiness.NOTE, class_="note"),
        section(2, "The programme", *_programme(view, items, child=child)),
        section(2, "The maps", key(), None if child else p(_figures(coming))) if played else None,
        *(section(2, view.decks[deck].title, *_piece(view, deck)) for deck in played),
        *([] if child else _countdown(view)),
        about=_about(view, coming),
        foot=f"Made on {in_full(view.day)}, as things stand on that day.",
        size="tight",
        paper=paper,
    )


def _figures(coming: Recital) -> str:
    return (
        "Beside each number: the chance that a cold attempt holds today, and on "
        f"{day_word(coming.day)} with no more practice. Where attempts are few they are counted."
    )


def _about(view: View, coming: Recital) -> str:
    return f"{view.student.name}, {in_full(coming.day)}, {in_days(view.day, coming.day)}"


def _programme(
    view: View, items: Sequence[ProgrammeItem], *, child: bool
) -> Iterator[Element | None]:
    """How each piece is played, and what would hold; then what to do."""
    if not items:
        yield p("No piece is in the programme yet.")
        return
    found = readiness.report(view).table
    assert found is not None
    shown = [c for c in found.columns if not c.hidden and c.key not in LEFT_OUT]
    by_deck = {row["id"]: row for row in found.named()}
    rows = []
    for item in items:
        row = by_deck.get(item.deck)  # none where it is played with music
        told = [row[column.key] if row else None for column in shown]
        rows.append((view.decks[item.deck].title, HOW[item.from_memory], *told))
    programme = Table((*columns("piece", "played", once=()), *shown), tuple(rows))
    caption = "Starts of each piece: how many are open, how many are likely to hold at the recital"
    yield table_of(programme, caption, class_="programme")
    if not child:
        yield sentences([
            *readiness.outlook_notes(view),
            *_weak(view),
            *readiness.stuck_notes(view),
            readiness.AS_IT_IS,
        ])  # fmt: skip


def _weak(view: View) -> Iterator[str]:
    """The weakest places, in one sentence."""
    found = readiness.of_next(view)
    places = readiness.weakest(found[1]) if found else []
    if places:
        yield "Weakest: " + "; ".join(readiness.place_words(view, place) for place in places) + "."


def _piece(view: View, deck: str) -> Iterator[Element | None]:
    """The map with its figures, and where to go on if memory fails."""
    piece = view.pieces[deck]
    known = bands(view, deck)
    standing = {start: found.band for start, found in known.items()}
    told = figures(view, known) or {}
    then = {one: view.retention(one, on=view.target).chance for one in told}
    label = " ".join(spoken_map(piece, standing, chances=told, words=view.words))
    tags = {
        start.id: Tag(start.number, _tag(known[start.id], told.get(start.id), then.get(start.id)))
        for start in piece.deck.starts
    }
    yield piece_map(piece, tags, standing, label=label, size=20)
    yield section(3, "If memory fails", _way_back(view, piece))


def _tag(found: Retention, told: float | str | None, then: float | None) -> str:
    """ "✓ 94→87%": today and on the recital day, with no more practice. Where tries are few their
    count stands for both, and a child sees the sign alone."""
    figure = told if isinstance(told, str) else ""
    if isinstance(told, float):
        figure = percent(told)
        if then is not None and percent(then) != figure:
            figure = f"{figure.rstrip('%')}→{percent(then)}"
    return " ".join(part for part in (band_sign(found.band), figure) if part)


def _way_back(view: View, piece: Piece) -> Element | None:
    """From which phrases the playing would be taken up where; phrases in a row that lead to
    the same start are told together."""
    by_id = {start.id: start for start in piece.deck.starts}
    runs: list[tuple[list[Start], int, str]] = []
    passes = Counter[str]()
    step = -1
    for catch in ways_back(view, piece.deck.id):
        if catch.step == step:
            continue  # one line a phrase: from its first bar
        step = catch.step
        here = by_id[piece.deck.route[step]]
        passes[here.id] += 1
        time = passes[here.id]
        if runs and runs[-1][1:] == (time, catch.start) and here.id != catch.start:
            runs[-1][0].append(here)
        else:
            runs.append(([here], time, catch.start))
    items = [
        el("span", el("b", _phrases(some, time)), ": ", _onward(view, piece, by_id.get(start)))
        for some, time, start in runs
    ]
    return sentences(items, class_="onward")


def _phrases(phrases: Sequence[Start], time: int) -> str:
    numbers = [start.number for start in phrases]
    if len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1)):
        told = f"{numbers[0]} to {numbers[-1]}"
    else:
        told = ", ".join(map(str, numbers))
    return f"{told} ({ordinal(time)} time)" if time > 1 else told


def _onward(view: View, piece: Piece, start: Start | None) -> str:
    if start is None:
        return "play on as best you can"
    return f"go on at start {start.number}, {where(piece, start, view.words)}"


def _countdown(view: View) -> Iterator[Element | None]:
    """The stages and the last two weeks."""
    stages = countdown.stages(view).table
    if stages is not None:
        every = replace(stages, columns=tuple(replace(c, hidden=False) for c in stages.columns))
        yield section(2, "The stages", table_of(every, countdown.ADVICE))
    days = countdown.last_days(view)
    how = "Day by day: `trainer last-days`."
    yield section(2, "The last two weeks", sentences((*days.notes, how)))
