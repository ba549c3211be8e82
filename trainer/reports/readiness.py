"""How ready the next recital is: piece by piece, the stages, recovery after a slip."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from functools import partial

from msgspec.structs import replace

from trainer.deck.model import Piece
from trainer.document.model import Cell, Document, Drawing, Section, Table, columns, listed
from trainer.document.words import day_word
from trainer.draw.map import NARROWEST, piece_map, spoken_map
from trainer.draw.words import joined, percent
from trainer.memory.model import Band
from trainer.memory.readiness import PieceReadiness, Place, Readiness, Stage, recovery
from trainer.record.people import Recital
from trainer.reports.numbers import numbers
from trainer.reports.today import countdown
from trainer.reports.view import View, join_where, where
from trainer.score.cite import label, ordinal

NO_RECITAL = "No recital is set: `trainer recital set NAME 2026-06-21 PIECE ...`."
NOTE = (
    "Estimates for calm practice at home. On stage, nerves lower these chances; the music leading "
    "up to a join raises them."
)
CHILD_NOTE = "If you slip, go on from the next start with ✓."
WEAKEST = 5


def of_next(view: View) -> tuple[Recital, Readiness] | None:
    """The next recital with what it would find, None where no recital is to come."""
    recital, ready = view.recital, view.readiness
    return (recital, ready) if recital and ready else None


def report(view: View, deck: str | None = None) -> Document:
    """Each piece of the programme: how many starts and joins would not hold, and the chance
    that all do. A child sees how many places would catch a slip instead."""
    found = of_next(view)
    if found is None:
        return listed("readiness", "Readiness", Table(columns(*COLUMNS), ()), (NO_RECITAL,))
    recital, ready = found
    child = view.level == "child"
    rows = tuple(_row(view, piece) for piece in ready.pieces if deck in (None, piece.deck))
    told = (
        *with_music(view, recital),
        *_stage_notes(view, ready),
        *_weak_notes(view, ready),
        *stuck_notes(view, deck),
        AS_IT_IS,
        NOTE,
    )
    made = listed(
        "readiness",
        recital.name,
        Table(
            columns(
                *COLUMNS,
                figures=COLUMNS[1:-1],
                hidden=("id", *(COLUMNS[5:8] if child else ())),
                spare=("closed", "would_catch_you", "open"),
                once=(),
            ),
            rows,
            opens="id",
        ),
        with_music(view, recital) if child else told,
        day_words(view, recital),
        first=(CHILD_NOTE,) if child else outlook_notes(view),
    )
    maps = _maps(view, [piece.deck for piece in ready.pieces]) if child else ()
    return replace(made, blocks=(*made.blocks, *maps))


def _maps(view: View, decks: Iterable[str]) -> Iterator[Section]:
    """The map of each piece, with the starts that would catch a slip."""
    for n, deck in enumerate(decks, 1):
        piece = view.pieces[deck]
        known = {start.id: view.retention(start.id).band for start in piece.deck.starts}
        drawn = partial(_map, piece, known)
        words = tuple(spoken_map(piece, known, words=view.words))
        yield Section(f"map_{n}", piece.deck.title, (Drawing(drawn, words, "map"),))


def _map(piece: Piece, known: Mapping[str, Band], width: int, ascii: bool) -> list[str]:
    return piece_map(piece, known, width=max(width, NARROWEST), ascii=ascii)


def day_words(view: View, recital: Recital) -> str:
    """ "4 Apr, in 12 days"."""
    return f"{day_word(recital.day)}, {countdown(view.day, recital.day)}"


def with_music(view: View, recital: Recital) -> tuple[str, ...]:
    """The pieces that are not played from memory."""
    items = [item for item in recital.programme if item.from_memory == "no"]
    titles = [view.decks[item.deck].title for item in items if item.deck in view.decks]
    return (f"With music: {', '.join(titles)}.",) if titles else ()


COLUMNS = (
    "piece", "open", "closed", "untried", "would_catch_you", "drilled", "as_it_is",
    "all_hold", "id",
)  # fmt: skip
AS_IT_IS = (
    "Starts likely to fail at the recital. Drilled: if you follow the plan. As it is: with no "
    "more practice. All hold: the chance that none fails with no more practice."
)


def _row(view: View, piece: PieceReadiness) -> tuple[Cell, ...]:
    starts = [s.id for s in view.decks[piece.deck].starts if s.id in view.open]
    caught = sum(view.retention(s).band == "holds" for s in starts)
    ahead = view.outlook
    kept = dict(ahead.by_deck).get(piece.deck) if ahead and not ahead.early else None
    all_hold = "" if piece.all_hold is None else percent(piece.all_hold)
    return (
        piece.title,
        piece.open,
        piece.closed,
        len(piece.untried),
        caught,
        None if kept is None else round(piece.open - kept, 1),
        round(piece.lost, 1),
        all_hold,
        piece.deck,
    )


def outlook_notes(view: View) -> tuple[str, ...]:
    """Whether the minutes will do, and what may be opened next."""
    found = view.outlook
    if found is None:
        return ()
    opening = f"Open next, once learned: {numbers(view, found.open_next)}."
    return (found.sentence, opening) if found.open_next else (found.sentence,)


def _stage_notes(view: View, ready: Readiness) -> list[str]:
    """The stages that are due by now, and the next one, as advice."""
    left = (ready.day - view.day).days
    due = [stage for stage in ready.stages if stage.days >= left]
    coming = [stage for stage in ready.stages if stage.days < left][:1]
    return [stage_note(view, stage) for stage in (*due, *coming)]


def stage_note(view: View, stage: Stage) -> str:
    if stage.met:
        return f"{stage.name.capitalize()}: {stage.asks} Reached."
    waiting = numbers(view, stage.waits_for)
    return (
        f"{stage.name.capitalize()}: {stage.asks} Waiting for {waiting or 'more starts to hold'}."
    )


def stuck_notes(view: View, deck: str | None = None) -> list[str]:
    """The starts that are stuck, and what to do; of one piece, or of all."""
    decks = [one for one in view.decks.values() if deck in (None, one.id)]
    mine = tuple(s.id for one in decks for s in one.starts if s.id in view.stuck)
    return [f"Stuck: {numbers(view, mine)}. {STUCK_ADVICE}"] if mine else []


STUCK_ADVICE = (
    "More attempts do not help such a start: take it apart, slowly, hands separately, or show "
    "your teacher. Then record that you worked on it: k on its page, `trainer own PIECE 4 "
    "--worked-on`."
)


def _weak_notes(view: View, ready: Readiness) -> list[str]:
    found = [place_words(view, place) for place in weakest(ready)]
    return ["Weakest: " + "; ".join(found) + "."] if found else []


def weakest(ready: Readiness) -> list[Place]:
    """The weakest starts and joins of the whole programme, the weakest first."""
    places = (place for piece in ready.pieces for place in piece.weakest)
    return sorted(places, key=lambda place: place.retention.chance or 0.0)[:WEAKEST]


def place_words(view: View, place: Place) -> str:
    """A start or join with its place and its figure: "Dance, start 5, b. 17: 31%", "Dance, into
    start 6, from b. 20: 31%"."""
    found = view.find(place.deck, place.start)
    assert found is not None
    piece, start = found
    if place.part == "start":
        what = f"start {start.number}, {where(piece, start, view.words)}"
    else:
        what = join_where(piece, start, view.words)
    kept = place.retention
    basis = (
        f"{kept.held} of {kept.tries}"
        if kept.tries < 3 or kept.chance is None
        else percent(kept.chance)
    )
    return f"{piece.deck.title}, {what}: {basis}"


def recovery_report(view: View, deck: str | None = None) -> Document:
    """For each phrase on the route: if the memory fails there, where the playing can be taken
    up again, and how many bars are lost, as things stand: on the next day, when all can be
    tried cold again, or on the recital's. A child's shows no chances."""
    rows: list[tuple[Cell, ...]] = []
    at = view.instant(min(1, (view.target - view.day).days))
    untried = []
    for deck_id in view.decks if deck is None else (deck,):
        if deck or any(view.beliefs.trace(start.id) for start in view.decks[deck_id].starts):
            rows += _recovery_rows(view, deck_id, at)
        else:
            untried.append(view.decks[deck_id].title)
    told = (f"Not tried yet: {joined(untried)}.",) if untried else ()
    return listed(
        "recovery",
        "If memory fails: where to go on, as things stand",
        Table(
            columns(
                "piece",
                "phrase",
                "in_bar",
                "go_on_at",
                "bars_lost",
                "chance",
                figures=("phrase", "bars_lost", "chance"),
                hidden=("chance",) if view.level == "child" else (),
                once=(),
            ),
            tuple(rows),
            over="piece",
        ),
        (*told, CHILD_NOTE if view.level == "child" else NOTE),
    )


def _recovery_rows(view: View, deck_id: str, at: datetime) -> list[tuple[Cell, ...]]:
    piece = view.pieces[deck_id]
    by_id = {start.id: start for start in piece.deck.starts}
    rows: list[tuple[Cell, ...]] = []
    tried = any(view.retention(start.id).tries for start in piece.deck.starts)
    passes = Counter[str]()
    seen = -1
    for catch in recovery(piece, view.beliefs, at):
        if catch.step == seen:
            continue  # one row a phrase: from its first bar, where most is lost
        seen = catch.step
        here = piece.deck.route[catch.step]
        passes[here] += 1
        bar = piece.score.bars[catch.bar]
        broken = "the upbeat" if bar.upbeat else f"{label(piece.score, bar)} on"
        again = f", {ordinal(passes[here])} time" if piece.deck.route.count(here) > 1 else ""
        back = by_id.get(catch.start)
        at_back = f"{back.number}, {where(piece, back, view.words)}" if back else ""
        rows.append(
            (
                piece.deck.title,
                by_id[here].number,
                f"{broken}{again}",
                at_back or ("no secure start ahead" if tried else "nothing tried yet"),
                catch.lost if back else None,
                percent(catch.chance) if back and catch.chance is not None else None,
            )
        )
    return rows
