"""The sheet for the music stand: every start of a piece by its bar, in large print.

After the starts have changed it shows old and new numbers side by side, so that what is
pencilled into the score can be found again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date

from trainer.dates import in_full
from trainer.deck.compare import Change, compare, sentence
from trainer.deck.history import DeckEdit
from trainer.deck.model import Deck, Piece, Start
from trainer.draw.hints import hint_text
from trainer.draw.names import Naming
from trainer.draw.words import counted
from trainer.paper.drawing import Tag, piece_map
from trainer.paper.html import Element, el, p, section, sentences, span, table
from trainer.paper.page import Paper, document
from trainer.record.attempt import practice_day
from trainer.reports.view import where
from trainer.score.cite import BRITISH, Words, bar_count, place

ALIKE = 3  # look-alikes that are named at one start
TOLD = ("fingering", "cue", "advice", "page turn")  # the hints that stand on the sheet, in order
_CHANGES = {"added", "split", "came back", "moved", "merged", "removed"}


def sheet(
    piece: Piece,
    made: date,
    *,
    before: Piece | None = None,
    names: Naming = "english",
    words: Words = BRITISH,
    paper: Paper | None = None,
) -> str:
    """The sheet of a piece as it is. `before` is an earlier form of it, whose numbers stand
    beside the new ones."""
    deck = piece.deck
    old = _numbers(before.deck) if before else {}
    changed = before is not None and old != _numbers(deck)
    starts = sorted(deck.starts, key=lambda start: start.onset)
    rows: list[list[Element | str | None]] = [
        [
            span("number", str(start.number)),
            *((_old(start, old),) if changed else ()),
            el("div", where(piece, start, words), class_="place"),
            _at(piece, start, names, words),
        ]
        for start in starts
    ]
    heads = ["start", *(("old number",) if changed else ()), "place", "at the start"]
    played = _route(deck)
    return document(
        deck.title,
        p(f"Order of play: {played}.") if played else None,
        piece_map(
            piece,
            {start.id: Tag(start.number) for start in starts},
            None,
            label="A map of the piece: its bars in rows, and where each start is. The table below "
            "says the same.",
            size=44,
            turns=True,
        ),
        table("Every start, in the order of the score", heads, rows, class_="starts"),
        section(2, "What has changed", sentences(_changes(before, piece))) if changed else None,
        about=f"{counted(len(starts), 'start')}, {counted(bar_count(piece.score), 'bar')}",
        foot=f"Made on {in_full(made)}. Begin anywhere; after a slip go on at the next start.",
        size="large",
        paper=paper,
    )


def _numbers(deck: Deck) -> dict[str, int]:
    return {start.id: start.number for start in deck.starts}


def _old(start: Start, old: Mapping[str, int]) -> str:
    return str(old[start.id]) if start.id in old else "new"


def _at(piece: Piece, start: Start, names: Naming, words: Words) -> Element:
    """What is worth knowing at the start, a line each."""
    told = ((name, hint_text(piece, start, name, names, words)) for name in TOLD)
    lines = [_told(name, text) for name, text in told if text]
    return el("div", *(el("div", line) for line in (*lines, *_alike(piece, start, words))))


def _told(name: str, text: str) -> str:
    return f"Fingering: {text}" if name == "fingering" else text[0].upper() + text[1:]


def _alike(piece: Piece, start: Start, words: Words) -> Iterator[str]:
    """The starts that are taken for this one: "Like 11; they part at b. 29"."""
    numbers = _numbers(piece.deck)
    likes = [like for like in piece.deck.likenesses(start.id) if like.kind != "shape"]
    for like in likes[:ALIKE]:
        other = like.other if start.id == like.one else like.one
        at = like.parts_from(start.id)
        parts = f"; they part at {place(piece.score, at, words=words)}" if at is not None else ""
        yield f"Like {numbers[other]}{parts}"
    if len(likes) > ALIKE:
        yield f"And like {counted(len(likes) - ALIKE, 'more start')}"


def _route(deck: Deck) -> str:
    """The numbers in the order of play, "1-4, 1-8", empty where that is the order of the score."""
    numbers = _numbers(deck)
    played = [numbers[start_id] for start_id in deck.route]
    if played == sorted(numbers.values()):
        return ""
    runs: list[list[int]] = []
    for number in played:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def _changes(before: Piece | None, after: Piece) -> Iterable[str]:
    """Each start that came, went or was moved; what only has another number now stands in the
    table."""
    for change in compare(before, after) if before else ():
        if change.kind in _CHANGES:
            yield _said(change)


def _said(change: Change) -> str:
    text = sentence(change)
    return text[0].upper() + text[1:]


def form_before(
    history: Sequence[DeckEdit],
    numbers: Callable[[str], Mapping[str, int] | None],
    since: date | None = None,
) -> str:
    """The revision whose numbers are the old ones, "" where there is none.

    That is the deck as it stood before the day `since`, or as it was first; by default as it
    stood before the last day on which a number changed, so that all edits of one day are one
    change. `numbers` gives the numbers of a revision by the starts' ids, None where its contents
    are not here.
    """
    day = since or _last_change(history, numbers)
    earlier = [edit for edit in history if day and practice_day(edit.at) < day]
    earlier = earlier or list(history[:1] if since else ())
    return earlier[-1].revision if earlier and numbers(earlier[-1].revision) is not None else ""


def _last_change(
    history: Sequence[DeckEdit], numbers: Callable[[str], Mapping[str, int] | None]
) -> date | None:
    """The last practice day on which the numbers became others."""
    for was, now in zip(reversed(history[:-1]), reversed(history), strict=False):
        if was.revision != now.revision and numbers(was.revision) != numbers(now.revision):
            return practice_day(now.at)
    return None
