"""Prepare: the teacher corrects where phrases begin. Nothing is kept until it is said so."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from textual.app import ComposeResult

from trainer.deck import draft as drafts
from trainer.deck import edit
from trainer.deck.draft import Change, Draft
from trainer.deck.model import Likeness, Piece, Start
from trainer.draw.map import piece_map
from trainer.phrases.model import Density
from trainer.score.cite import place
from trainer.score.find import find
from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.screens.ask import AskScreen
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.screens.page import PageScreen, page_within
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

DENSITIES: tuple[Density, ...] = ("fewer", "usual", "more")
ABOUT = 4  # lines on the chosen start
MAP = 7  # lines of the map, on a screen of 24 and more
MAP_LOW = 5


class PrepareScreen(Room):
    """The starts of one piece. `start` is the id of the one to look at first."""

    ROOM = "prepare"
    BINDINGS = bindings("prepare")
    DEFAULT_CSS = """
    PrepareScreen > #map { height: 8; padding: 1 2 0 2; }
    PrepareScreen.-under24 > #map { height: 5; padding: 0 2; }
    PrepareScreen > #about { height: 5; padding: 0 2; }
    PrepareScreen > #page { height: 1fr; padding: 0 2; }
    """

    def __init__(self, piece: Piece, start: str = "") -> None:
        super().__init__()
        self._draft = drafts.begin(piece)
        self._at = start or piece.deck.starts[0].id
        self._density: Density = "usual"

    def body(self) -> ComposeResult:
        yield Sheet("map", fixed=True)
        yield Sheet("about", fixed=True, under=True)
        yield Sheet("page", fixed=True)

    @property
    def draft(self) -> Draft:
        return self._draft

    @property
    def piece(self) -> Piece:
        return self._draft.piece

    @property
    def start(self) -> Start:
        """The start that is looked at; where it is gone, the first."""
        for start in self.piece.deck.starts:
            if start.id == self._at:
                return start
        return self.piece.deck.starts[0]

    # What is shown

    def draw(self) -> None:
        count = len(self._draft.past)
        state = f"{count} not saved" if self._draft.changed else "saved"
        starts = f"{len(self.piece.deck.starts)} starts, {state}"
        self.show_title(f"Prepare: {self.piece.deck.title}", starts)
        low = self.room[1] < 24
        self.set_class(low, "-under24")
        self.sheet("map").show(self._map(MAP_LOW if low else MAP))
        self.sheet("about").show(list(self._about())[:ABOUT])
        self.show_strip()
        strip = self.sheet("strip").line_count
        height = self.room[1] - 1 - (5 if low else 8) - 5 - strip
        self.sheet("page").show(self._page(height))

    def _map(self, height: int) -> list[Line]:
        """The bars around the start; starts have their numbers, nothing is judged here."""
        ascii = self.trainer.ascii
        here = self.start.id
        text = piece_map(self.piece, {}, here=here, width=self.room[0], ascii=ascii)
        rows = [line.replace("? –", "").replace("?", " ") for line in text[:-1]]
        pointer = ">" if ascii else "▶"
        focus = next((at for at, line in enumerate(rows) if pointer in line), 0)
        return window([*rows], height, focus)

    def _about(self) -> Iterator[Line]:
        """The start's place and state, its reasons, its look-alikes, its advice."""
        from trainer.reports.view import where

        start = self.start
        is_open = start.id in self.trainer.view.open
        words = self.trainer.view.words
        head = said(f"Start {start.number}, {where(self.piece, start, words)}", "bold")
        yield row(head, ink("   open" if is_open else "   not open", "$faint"))
        why = "; ".join(reason.words for reason in start.reasons)
        yield from wrapped(f"Begins here: {why}.", self.room[0])[:2]
        alike = self.piece.deck.likenesses(start.id)
        if alike:
            yield from wrapped(f"Like {self._alike(alike)}.", self.room[0], "$accent")[:1]
        told = [*start.advice, start.fingering and f"Fingering: {start.fingering}"]
        if any(told):
            yield from wrapped(f"Advice: {' '.join(t for t in told if t)}", self.room[0])[:1]

    def _alike(self, alike: tuple[Likeness, ...]) -> str:
        numbers = {start.id: start.number for start in self.piece.deck.starts}
        told = []
        for like in alike:
            other = like.other if like.one == self.start.id else like.one
            parts = like.parts_from(self.start.id)
            words = self.trainer.view.words
            at = "" if parts is None else f" to {place(self.piece.score, parts, words=words)}"
            told.append(f"{numbers[other]}{at}")
        return ", ".join(told)

    def _page(self, height: int) -> list[Line]:
        if height < 3:
            return []
        lines, _ = page_within(self.piece, self.start, self.trainer.look(self.room[0]), height)
        return lines[:height]

    # What is done

    def _edit(self, change: Change, why: str) -> None:
        with self.minding():
            self._draft = drafts.edit(self._draft, change, why)
        self.draw()

    def action_move(self, by: int) -> None:
        ids = [start.id for start in self.piece.deck.starts]
        at = min(max(0, ids.index(self.start.id) + by), len(ids) - 1)
        self._at = ids[at]
        self.say("")
        self.draw()

    def action_shift(self, beats: int) -> None:
        """Move the start by beats, to a note that is struck there or next to it."""
        start = self.start
        bar = self.piece.score.bar_at(start.onset)
        self._shift_to(start, start.onset + beats * bar.meter.beat, beats)

    def action_shift_bar(self, bars: int) -> None:
        """Move the start by bars."""
        start = self.start
        bar = self.piece.score.bar_at(start.onset)
        self._shift_to(start, start.onset + bars * bar.meter.length, bars)

    def _shift_to(self, start: Start, wanted: Fraction, way: int) -> None:
        onsets = self.piece.score.onsets
        there = [o for o in onsets if (o >= wanted if way > 0 else o <= wanted)]
        goal = (min(there, default=None) if way > 0 else max(there, default=None)) or onsets[0]
        why = f"move {start.number} to {place(self.piece.score, goal)}"
        self._edit(lambda piece: edit.move(piece, start.number, goal), why)

    def action_add(self) -> None:
        self._ask(
            "A new start",
            "At which bar does the phrase begin? Write 23, or 23:2 for its second beat.",
            self._add,
            lambda text: find(self.piece.score, text),
        )

    def _add(self, text: str) -> None:
        new_id = self.trainer.desk.new_id()
        at = find(self.piece.score, text)
        inside = [start for start in self.piece.deck.starts if start.onset < at]
        parent = inside[-1].id if inside else ""
        self._edit(lambda piece: edit.add(piece, at, new_id, parent=parent), f"add {text}")
        if any(start.id == new_id for start in self.piece.deck.starts):
            self._at = new_id
            self.draw()

    def action_remove(self) -> None:
        number = self.start.number
        self._let_go(lambda piece: edit.remove(piece, number), f"remove {number}")

    def action_merge(self) -> None:
        number = self.start.number
        self._let_go(lambda piece: edit.merge(piece, number), f"merge {number}")

    def _let_go(self, change: Change, why: str) -> None:
        """An edit that takes the start away; then the one before it is looked at."""
        ids = [start.id for start in self.piece.deck.starts]
        at = ids.index(self.start.id)
        self._edit(change, why)
        if len(self.piece.deck.starts) < len(ids):
            self._at = ids[max(0, at - 1)] if at else ids[1]
            self.draw()

    def action_label(self) -> None:
        number = self.start.number
        self._ask(
            f"A name for start {number}",
            "Such as second theme. Empty takes the name away.",
            lambda text: self._edit(
                lambda piece: edit.relabel(piece, number, text), f"label {number}"
            ),
        )

    def action_advise(self) -> None:
        number = self.start.number
        self._ask(
            f"Advice for start {number}",
            "Your words; who gives the entry, in an ensemble. Empty takes them away.",
            lambda text: self._edit(
                lambda piece: edit.advise(piece, number, (text,) if text else ()),
                f"advise {number}",
            ),
        )

    def action_finger(self) -> None:
        number = self.start.number
        self._ask(
            f"Fingering for start {number}",
            "As you would write it: R 1-3-5, L 5-2. Never ask for a stretch.",
            lambda text: self._edit(
                lambda piece: edit.finger(piece, number, text), f"finger {number}"
            ),
        )

    def action_density(self) -> None:
        """Fewer, usual, more: what a person set stays."""
        from trainer.phrases.segment import propose

        at = (DENSITIES.index(self._density) + 1) % len(DENSITIES)
        self._density = DENSITIES[at]
        found = propose(self.piece.score, self._density)
        ids = [self.trainer.desk.new_id() for _ in found]
        self._edit(lambda piece: edit.respace(piece, found, ids), f"{self._density} starts")
        self.say(f"{self._density.capitalize()} starts; what was set by hand stays.")

    def action_alike(self) -> None:
        """Choose a pair of look-alikes to unlink, or another start to link."""
        deck, here = self.piece.deck, self.start
        numbers = {start.id: start.number for start in deck.starts}
        linked = {
            like.other if like.one == here.id else like.one: like
            for like in deck.likenesses(here.id)
        }
        choices = [
            Choice(other, numbers[other], f"unlink: {like.words or 'linked by a person'}")
            for other, like in linked.items()
        ]
        score, words = self.piece.score, self.trainer.view.words
        choices += [
            Choice(start.id, start.number, f"link, {place(score, start.onset, words=words)}")
            for start in deck.starts
            if start.id != here.id and start.id not in linked
        ]

        def chosen(other: str | None) -> None:
            if other is not None:
                number, wanted = numbers[other], other not in linked
                verb = "link" if wanted else "unlink"
                self._edit(
                    lambda piece: edit.link(piece, here.number, number, alike=wanted),
                    f"{verb} {here.number} and {number}",
                )

        question = f"Start {here.number}: easily taken for which other?"
        self.app.push_screen(ChooseScreen(question, choices), chosen)

    def action_open(self) -> None:
        """Open or close the start for the student. It is kept at once: it is no edit of the
        deck. A start that is not saved yet cannot be opened."""
        app, start = self.trainer, self.start
        with self.minding():
            number = next((s.number for s in self._draft.saved.starts if s.id == start.id), None)
            if number is None:
                self.say("This start is new: save first, then open it.")
                return
            opened = start.id not in app.view.open
            app.desk.set_open(app.view.student, self._draft.saved, [number], opened=opened)
            app.reload()
        self.draw()

    def action_page(self) -> None:
        self.app.push_screen(PageScreen(self.piece, self.start))

    def action_undo(self) -> None:
        self._draft = drafts.undo(self._draft)
        self.say("")
        self.draw()

    def action_redo(self) -> None:
        self._draft = drafts.redo(self._draft)
        self.say("")
        self.draw()

    def action_save(self) -> None:
        """Keep the deck as one edit, with what was done."""
        with self.minding():
            if self._draft.changed:
                desk = self.trainer.desk
                desk.save_deck(self._draft.saved, self.piece.deck, self._draft.why)
                self._draft = drafts.kept(self._draft)
                self.trainer.reload()
        self.draw()

    def action_back(self) -> None:
        if not self._draft.changed:
            self.dismiss(None)
            return
        choices = [
            Choice("save", 1, "save and leave"),
            Choice("drop", 2, "leave without saving"),
        ]

        def chosen(answer: str | None) -> None:
            if answer == "save":
                self.action_save()
            if answer == "drop" or (answer == "save" and not self._draft.changed):
                self.dismiss(None)

        self.app.push_screen(ChooseScreen("The changes are not saved.", choices), chosen)

    def _ask(
        self,
        title: str,
        question: str,
        take: Callable[[str], None],
        check: Callable[[str], object] = str,
    ) -> None:
        def answered(text: str | None) -> None:
            if text is not None and (text or check is str):
                take(text)

        self.app.push_screen(AskScreen(title, question, check), answered)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if not super().check_action(action, parameters):
            return False
        if action == "save":
            return self._draft.changed
        if action == "undo":
            return bool(self._draft.past)
        return bool(self._draft.ahead) if action == "redo" else True
