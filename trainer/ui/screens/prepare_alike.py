"""The look-alikes of a piece, pair by pair: a teacher accepts them or takes the link away."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Literal, NamedTuple

from textual.app import ComposeResult

from trainer.deck import draft as drafts
from trainer.deck import edit
from trainer.deck.draft import Change, Draft
from trainer.deck.model import Deck, Likeness, Piece, Start
from trainer.reports.lookalikes import KINDS, NONE, unknown
from trainer.score.cite import Words, counted, place
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Sheet, ink, row, said, wrapped

State = Literal["found", "accepted", "not alike"]
ABOUT = 4  # lines on the marked pair


class Pair(NamedTuple):
    """Two starts, how they are alike (None where a person says that they are not), and who
    says so."""

    one: Start
    other: Start
    like: Likeness | None
    state: State

    @property
    def name(self) -> str:
        return f"{self.one.number} and {self.other.number}"

    @property
    def in_shape(self) -> bool:
        return self.like is not None and self.like.kind == "shape"


def pairs_of(deck: Deck) -> list[Pair]:
    """All pairs that were found or told of, in the order of the score; those alike in shape
    only come last."""
    starts = {start.id: start for start in deck.starts}
    told = {frozenset((one.one, one.other)): one.alike for one in deck.told}
    pairs = [
        Pair(
            starts[like.one],
            starts[like.other],
            like,
            "accepted" if frozenset((like.one, like.other)) in told else "found",
        )
        for like in deck.alike
    ]
    for sides, alike in told.items():
        if not alike and sides <= starts.keys():
            one, other = sorted((starts[side] for side in sides), key=lambda start: start.onset)
            pairs.append(Pair(one, other, None, "not alike"))
    return sorted(pairs, key=lambda pair: (pair.in_shape, pair.one.onset, pair.other.onset))


class AlikeScreen(Room):
    """Works on a draft of its own, which whoever opened it takes over; `start` is the id of the
    start whose pairs are looked at first, `keep` is told of each edit."""

    ROOM = "alike"
    BINDINGS = bindings("alike")
    DEFAULT_CSS = """
    AlikeScreen > #about { height: 5; padding: 0 2; }
    """

    def __init__(
        self, draft: Draft, start: str, keep: Callable[[Draft], None] = lambda _: None
    ) -> None:
        super().__init__()
        self._keep = keep
        self.draft = draft
        self._start = start
        mine = [at for at, pair in enumerate(self._pairs) if start in (pair.one.id, pair.other.id)]
        self._at = mine[0] if mine else 0

    def body(self) -> ComposeResult:
        yield Rows("pairs")
        yield Sheet("about", fixed=True, under=True)

    @property
    def piece(self) -> Piece:
        return self.draft.piece

    @property
    def _pairs(self) -> list[Pair]:
        return pairs_of(self.draft.now.deck)

    # What is shown

    def draw(self) -> None:
        pairs = self._pairs
        self._at = min(self._at, max(0, len(pairs) - 1))
        self.show_title("Look-alikes", self.piece.deck.title)
        words = self.trainer.view.words
        told = list(_told(self.piece, pairs[self._at], words)) if pairs else []
        self.sheet("about").show(
            [line for text in told for line in wrapped(text, self.room[0])][:ABOUT]
        )
        self.show_strip()
        self.query_one(Rows).show(list(self._rows(pairs, words)), self._at)

    def _rows(self, pairs: list[Pair], words: Words) -> Iterator[ListRow]:
        if not pairs:
            none = wrapped(unknown([self.piece]) or NONE, self.room[0])
            yield ListRow(None, none)
        widest = max((len(pair.name) for pair in pairs), default=0)
        for at, pair in enumerate(pairs):
            mark, style = (">", "bold $accent") if at == self._at else (" ", "")
            how = "unlinked" if pair.like is None else _how(self.piece, pair.like, words)
            state = "   accepted" if pair.state == "accepted" else ""
            head = ink(f"{mark} {pair.name:<{widest}}   ", style)
            yield ListRow(at, [row(head, said(how, style), ink(state, "bold"))])

    # What is done

    def action_move(self, by: int) -> None:
        self._at = min(max(0, self._at + by), max(0, len(self._pairs) - 1))
        self.say("")
        self.draw()

    def on_rows_picked(self, message: Rows.Picked) -> None:
        """A click marks a pair; what is done with it has a key on the strip."""
        self.action_move(message.at - self._at)

    def action_accept(self) -> None:
        pair = self._pairs[self._at]
        self._edit(
            lambda piece: edit.link(piece, pair.one.number, pair.other.number), f"link {pair.name}"
        )
        self.action_move(1)

    def action_unlink(self) -> None:
        pair = self._pairs[self._at]
        self._edit(
            lambda piece: edit.link(piece, pair.one.number, pair.other.number, alike=False),
            f"unlink {pair.name}",
        )

    def action_accept_all(self) -> None:
        found = self._acceptable()
        why = f"accept {counted(len(found), 'look-alike')}"
        self._edit(lambda piece: edit.accept(piece, found), why)

    def _acceptable(self) -> list[Likeness]:
        """Where one figure goes through a piece nearly all is alike in shape: not those."""
        return [p.like for p in self._pairs if p.like and p.state == "found" and not p.in_shape]

    def action_link(self) -> None:
        """Link the start that was looked at to another one."""
        deck, words = self.piece.deck, self.trainer.view.words
        here = deck.start(self._start)
        choices = [
            Choice(
                str(start.number), start.number, place(self.piece.score, start.onset, words=words)
            )
            for start in deck.starts
            if start.id != here.id
        ]

        def chosen(other: str | None) -> None:
            if other is not None:
                self._edit(
                    lambda piece: edit.link(piece, here.number, int(other)),
                    f"link {here.number} and {other}",
                )

        question = f"Start {here.number}: easily confused with which other?"
        self.app.push_screen(ChooseScreen(question, choices), chosen)

    def _edit(self, change: Change, why: str) -> None:
        with self.minding():
            self.draft = drafts.edit(self.draft, change, why, why.removeprefix("un"))
            self._keep(self.draft)
        self.draw()

    def action_undo(self) -> None:
        """Take the last change back, and look at the pair that it was about."""
        before = self._pairs
        self.draft = drafts.undo(self.draft)
        with self.minding():
            self._keep(self.draft)
        changed = [at for at, pair in enumerate(self._pairs) if pair not in before]
        self._at = changed[0] if changed else self._at
        self.draw()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if not super().check_action(action, parameters):
            return False
        pairs = self._pairs
        state = pairs[min(self._at, len(pairs) - 1)].state if pairs else None
        match action:
            case "accept":
                return state in ("found", "not alike")
            case "unlink":
                return state in ("found", "accepted")
            case "accept_all":
                return bool(self._acceptable())
            case "link":
                return len(self.piece.deck.starts) > 1
            case "undo":
                return bool(self.draft.past)
        return True


def _how(piece: Piece, like: Likeness, words: Words) -> str:
    """How two starts are alike, and up to where in the first of them."""
    end = like.parts_one
    return KINDS[like.kind] + (f" to {place(piece.score, end, words=words)}" if end else "")


def _told(piece: Piece, pair: Pair, words: Words) -> Iterator[str]:
    """Where the two go their own ways, and how."""
    places = [place(piece.score, start.onset, words=words) for start in (pair.one, pair.other)]
    yield f"Start {pair.one.number}, {places[0]}; start {pair.other.number}, {places[1]}."
    like = pair.like
    if like is None:
        yield "Somebody marked them as not alike."
        return
    if like.parts_one is not None and like.parts_other is not None:
        one, other = (
            place(piece.score, at, words=words) for at in (like.parts_one, like.parts_other)
        )
        yield f"They part at {one} and {other}: {like.words}."
    elif like.words:
        yield f"{like.words[0].upper()}{like.words[1:]}."
