"""The report for a recital: what would hold on the day, and the way back where it does not.

A child's is shorter: it shows places, and nothing foretold.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import timedelta

from msgspec.structs import replace

from trainer.dates import in_full
from trainer.deck.model import Piece, Start
from trainer.document.model import Table, columns
from trainer.document.words import day_word
from trainer.draw.map import spoken_map
from trainer.draw.strip import Forecast, change_words
from trainer.draw.words import band_of, band_sign, percent
from trainer.errors import TrainerError
from trainer.memory.model import FIGURES_FROM, Retention
from trainer.paper.drawing import Tag, key, piece_map, strip
from trainer.paper.html import Element, el, p, section, sentences, span, table
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
    child = view.student.level == "child"
    items = [item for item in coming.programme if item.deck in view.decks]
    played = list(dict.fromkeys(item.deck for item in items if item.from_memory != "no"))
    return document(
        coming.name,
        p(readiness.CHILD_NOTE if child else readiness.NOTE, class_="note"),
        section(2, "The programme", *_programme(view, items, child=child)),
        section(2, "What the shades mean", key()) if played else None,
        *(section(2, view.decks[deck].title, *_piece(view, deck, child=child)) for deck in played),
        *([] if child else _countdown(view)),
        about=_about(view, coming),
        foot=f"Made on {in_full(view.day)}, as things stand on that day.",
        paper=paper,
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


def _piece(view: View, deck: str, *, child: bool) -> Iterator[Element | None]:
    """The map, the forecasts, and the way back."""
    piece = view.pieces[deck]
    known = bands(view, deck)
    standing = {start: found.band for start, found in known.items()}
    told = figures(view, known) or {}
    label = " ".join(spoken_map(piece, standing, chances=told, words=view.words))
    tags = {
        start.id: Tag(start.number, _tag(known[start.id], told.get(start.id)))
        for start in piece.deck.starts
    }
    yield piece_map(piece, tags, standing, label=label)
    if not child:
        yield section(3, "Start by start, from today to the recital", _strips(view, piece, known))
    yield section(3, "If memory fails", _way_back(view, piece))


def _tag(found: Retention, told: float | str | None) -> str:
    figure = percent(told) if isinstance(told, float) else told
    return " ".join(part for part in (band_sign(found.band), figure) if part)


def _strips(view: View, piece: Piece, known: dict[str, Retention]) -> Element:
    """Each start that is open or was tried: today, the days between, the day."""
    starts = [s for s in piece.deck.starts if s.id in view.open or known[s.id].tries]
    if not starts:
        return p("No start is open yet.")
    rows: list[list[Element | str | None]] = []
    for start, found in zip(starts, forecasts(view, starts), strict=True):
        rows.append([
            str(start.number),
            where(piece, start, view.words),
            _stands(found, 0),
            el("div", strip(found), class_="strip"),
            _stands(found, -1),
            change_words(found, lambda n: day_word(view.day + timedelta(days=n))),
        ])  # fmt: skip
    coming = view.target
    return table(
        "The chance that a cold attempt holds, with no more practice",
        ["start", "place", "today", "until then", day_word(coming), "in words"],
        rows,
    )


def forecasts(view: View, starts: Sequence[Start]) -> list[Forecast]:
    """The chances of these starts day by day, from the next cold try to the recital's day."""
    ids = [start.id for start in starts]
    known = {start: view.verdict(start) for start in ids}
    left = min(FARTHEST, max(0, (view.target - view.day).days))
    days = [view.day + timedelta(days=n) for n in range(left + 1)]
    chances = [[view.verdict(start, on=day).chance for start in ids] for day in days]
    return [
        Forecast(
            start.number,
            tuple(chance for row in chances if (chance := row[at]) is not None),
            _few(known[start.id]),
        )
        for at, start in enumerate(starts)
    ]


def _few(found: Retention) -> str:
    return f"{found.held} of {found.tries}" if 0 < found.tries < FIGURES_FROM else ""


def _stands(found: Forecast, day: int) -> Element:
    """The sign of a day with its figure; where tries are few their count stands for both."""
    if not found.chances:
        return el("span", span("sign", band_sign("untried")))
    chance = found.chances[day]
    figure = found.basis or percent(chance)
    return el("span", span("sign", band_sign(band_of(chance))), f" {figure}")


def _way_back(view: View, piece: Piece) -> Element:
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
    rows = [
        [_phrases(some, time), _onward(view, piece, by_id.get(start))] for some, time, start in runs
    ]
    caption = "In the order of play: the start ahead that holds"
    return table(caption, ["in phrase", "go on at"], rows)


def _phrases(phrases: Sequence[Start], time: int) -> str:
    numbers = [start.number for start in phrases]
    if len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1)):
        told = f"{numbers[0]} to {numbers[-1]}"
    else:
        told = ", ".join(map(str, numbers))
    return f"{told} ({ordinal(time)} time)" if time > 1 else told


def _onward(view: View, piece: Piece, start: Start | None) -> Element | str:
    if start is None:
        return "no start ahead holds yet: play on as best you can"
    return el("span", el("b", str(start.number)), f", {where(piece, start, view.words)}")


def _countdown(view: View) -> Iterator[Element | None]:
    """The stages and the last two weeks."""
    stages = countdown.stages(view).table
    if stages is not None:
        every = replace(stages, columns=tuple(replace(c, hidden=False) for c in stages.columns))
        yield section(2, "The stages", table_of(every, countdown.ADVICE))
    days = countdown.last_days(view)
    table_of_days = table_of(days.table, days.title) if days.table and days.rows else None
    yield section(2, "The last two weeks", table_of_days, sentences(days.notes))
