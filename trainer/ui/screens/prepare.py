"""Prepare: the teacher corrects where phrases begin. The deck stays as it is until it is said so;
what is not saved yet is kept beside it, and offered again."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from msgspec.structs import replace
from textual.app import ComposeResult

from trainer.deck import draft as drafts
from trainer.deck import edit
from trainer.deck.draft import Change, Draft
from trainer.deck.model import Piece, Start
from trainer.draw.map import piece_map
from trainer.draw.text import cut
from trainer.errors import TrainerError
from trainer.phrases.model import Density, Proposal
from trainer.score.cite import counted, entry, place
from trainer.score.find import find
from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.screens.ask import AskScreen
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.screens.page import PageScreen, page_within
from trainer.ui.screens.prepare_about import about
from trainer.ui.screens.prepare_alike import AlikeScreen
from trainer.ui.widgets.sheet import Line, Sheet

DENSITIES: tuple[Density, ...] = ("fewer", "usual", "more")
ABOUT = 4  # lines on the chosen start
TURNS = 6  # page turns that are told of
TOLD = 200  # cells of what was done, where it has to be done anew
TOO_LATE = (
    "Changes of {when} were not saved, and the piece has been edited since ({why}): make them "
    "again; your first change replaces them."
)


class PrepareScreen(Room):
    """The starts of one piece. `start` is the id of the one to look at first."""

    ROOM = "prepare"
    BINDINGS = bindings("prepare")
    DEFAULT_CSS = """
    PrepareScreen > #map { height: 8; padding: 1 2 0 2; }
    PrepareScreen.-under24 > #map { padding: 0 2; }
    PrepareScreen > #about { height: 5; padding: 0 2; }
    PrepareScreen > #page { height: 1fr; padding: 0 2; }
    """

    def __init__(self, piece: Piece, start: str = "") -> None:
        super().__init__()
        self._piece = piece
        self._begun: Draft | None = None
        ids = [one.id for one in piece.deck.starts]
        self._at = start if start in ids else ids[0]
        self._found: dict[str, tuple[Proposal, ...]] = {}
        self._draft_id = ""  # of the draft that is kept

    def on_mount(self) -> None:
        self._draft_id = self.trainer.desk.new_id()
        self.call_after_refresh(self._offer)

    def body(self) -> ComposeResult:
        yield Sheet("map", fixed=True)
        yield Sheet("about", fixed=True, under=True)
        yield Sheet("page", fixed=True)

    @property
    def draft(self) -> Draft:
        """What has been made of the piece; begun when the screen is first drawn."""
        if self._begun is None:
            self._begun = drafts.begin(self._piece, self.trainer.view.open)
        return self._begun

    @property
    def piece(self) -> Piece:
        return self.draft.piece

    @property
    def start(self) -> Start:
        """The start that is looked at."""
        return self.piece.deck.start(self._at)

    # What is shown

    def draw(self) -> None:
        count = len(self.draft.past)
        state = f"{count} not saved" if self.draft.changed else "saved"
        starts = f"{counted(len(self.piece.deck.starts), 'start')}, {state}"
        self.show_title(f"Prepare: {self.piece.deck.title}", starts)
        width, height = self.room
        low = height < 24
        self.set_class(low, "-under24")
        rows = height // 3 - 1
        self.sheet("map").styles.height = rows if low else rows + 1
        self.sheet("map").show(self._map(rows))
        self.sheet("about").show(
            about(
                self.piece,
                self.start,
                opened=self._at in self.draft.now.open,
                words=self.trainer.view.words,
                size=(width, ABOUT),
            )
        )
        self.show_strip()
        taken = 1 + rows + (not low) + 1 + ABOUT + self.sheet("strip").line_count
        self.sheet("page").show(self._page(height - taken))

    def _map(self, height: int) -> list[Line]:
        """The bars around the start; starts have their numbers, nothing is judged here."""
        ascii = self.trainer.ascii
        rows = piece_map(self.piece, None, here=self._at, width=self.room[0], ascii=ascii)
        pointer = ">" if ascii else "▶"
        focus = next((at for at, line in enumerate(rows) if pointer in line), 0)
        return window([*rows], height, focus)

    def _page(self, height: int) -> list[Line]:
        if height < 3:
            return []
        lines, _ = page_within(self.piece, self.start, self.trainer.look(self.room[0]), height)
        return lines[:height]

    # What is not saved yet

    def _keep(self, draft: Draft) -> None:
        """Keep the draft as it grows; where that cannot be done it is said, and goes on here."""
        try:
            self.trainer.desk.drafts.keep(self._draft_id, self.trainer.view.student, draft)
        except TrainerError as error:
            self.say(str(error))

    def _offer(self) -> None:
        """Offer what was left unsaved the last time."""
        app = self.trainer
        with self.minding():
            left = app.desk.drafts.unsaved(self._piece, app.view.student, app.view.open)
            if left is None:
                return
            at = left.edited.astimezone(app.view.now.tzinfo)
            when = f"{at.day} {at:%B, %H:%M}"
            if left.fits:
                count = counted(len(left.draft.past), "change")
                self._ask_whether_to_go_on(left.draft, f"{count}, last {when}: not saved yet.")
            else:
                self.say(
                    TOO_LATE.format(
                        when=when, why=cut(left.draft.why, TOLD) or "starts opened or closed"
                    )
                )

    def _ask_whether_to_go_on(self, draft: Draft, question: str) -> None:
        choices = [Choice("on", 1, "go on with them"), Choice("drop", 2, "discard them")]

        def chosen(answer: str | None) -> None:
            if answer == "on":
                self._take(draft)
            elif answer == "drop":
                with self.minding():
                    self.trainer.desk.drafts.drop(draft.now.deck.id)
            else:
                self.dismiss(None)  # they stay, and are offered the next time

        self.app.push_screen(ChooseScreen(question, choices), chosen)

    # What is done

    def _edit(self, change: Change, why: str, about: str = "") -> None:
        with self.minding():
            self._take(drafts.edit(self.draft, change, why, about))

    def _take(self, draft: Draft) -> None:
        """Go on with a draft, looking at the one start that is new or changed, or at
        the one before a start that is gone."""
        self._keep(draft)
        before = {start.id: replace(start, number=0) for start in self.piece.deck.starts}
        was = self.start.onset
        self._begun = draft
        starts = draft.now.deck.starts
        new = [start.id for start in starts if replace(start, number=0) != before.get(start.id)]
        if len(new) == 1:
            self._at = new[0]
        elif self._at not in {start.id for start in starts}:
            earlier = [start.id for start in starts if start.onset <= was]
            self._at = earlier[-1] if earlier else starts[0].id
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
        there = [o for o in onsets if (o >= wanted if way > 0 else o <= wanted)] or [wanted]
        goal = min(there) if way > 0 else max(there)
        self._edit(
            lambda piece: edit.move(piece, start.number, goal),
            f"move {start.number} to {place(self.piece.score, goal)}",
            f"move {start.id}",
        )

    def action_add(self) -> None:
        score, words = self.piece.score, self.trainer.view.words
        turns = [entry(score, mark.onset, words=words) for mark in score.marks_of("page")]
        told = f" Page turn at {', '.join(turns[:TURNS])}." if turns else ""
        self._ask(
            "A new start",
            f"At which bar does the phrase begin? Write 23, or 23:2 for its second beat.{told}",
            self._add,
            check=lambda text: find(score, text),
        )

    def _add(self, text: str) -> None:
        if text:
            new_id = self.trainer.desk.new_id()
            at = find(self.piece.score, text)
            parent = edit.inside(self.piece.deck, at)
            self._edit(lambda piece: edit.add(piece, at, new_id, parent=parent), f"add {text}")

    def action_remove(self) -> None:
        number = self.start.number
        self._edit(lambda piece: edit.remove(piece, number), f"remove {number}")

    def action_merge(self) -> None:
        number = self.start.number
        self._edit(lambda piece: edit.merge(piece, number), f"merge {number}")

    def action_label(self) -> None:
        number = self.start.number
        self._ask(
            f"A name for start {number}",
            "For example second theme. Leave it empty to remove the name.",
            lambda text: self._edit(
                lambda piece: edit.relabel(piece, number, text), f"label {number}"
            ),
            self.start.label,
        )

    def action_advise(self) -> None:
        number = self.start.number
        self._ask(
            f"Advice for start {number}",
            "Your words for it. Leave it empty to remove them.",
            lambda text: self._edit(
                lambda piece: edit.advise(piece, number, (text,) if text else ()),
                f"advise {number}",
            ),
            " ".join(self.start.advice),
        )

    def action_finger(self) -> None:
        number = self.start.number
        self._ask(
            f"Fingering for start {number}",
            "As you would write it: R 1-3-5, L 5-2. Never ask for a stretch.",
            lambda text: self._edit(
                lambda piece: edit.finger(piece, number, text), f"finger {number}"
            ),
            self.start.fingering,
        )

    def action_cue(self) -> None:
        number = self.start.number
        self._ask(
            f"Cue of start {number}",
            "Who gives the entry, in an ensemble. Leave it empty to remove it.",
            lambda text: self._edit(lambda piece: edit.cue(piece, number, text), f"cue {number}"),
            self.start.cue,
        )

    def action_density(self) -> None:
        """Fewer, usual, more: what a person set stays."""
        found = {density: self._proposed(density) for density in DENSITIES}
        if not any(found.values()):
            with self.minding():
                edit.respace(self.piece, (), ())  # says why nothing is proposed
            return
        here = tuple(start.onset for start in self.piece.deck.starts)
        now = [one for one in DENSITIES if tuple(p.onset for p in found[one]) == here]
        choices = [
            Choice(density, n, f"{density}: {len(found[density])} proposed")
            for n, density in enumerate(DENSITIES, 1)
        ]

        def chosen(density: str | None) -> None:
            if density is not None:
                proposals = self._proposed(density)
                ids = [self.trainer.desk.new_id() for _ in proposals]
                self._edit(lambda piece: edit.respace(piece, proposals, ids), f"{density} starts")

        question = "How many starts? Those you set yourself stay."
        self.app.push_screen(ChooseScreen(question, choices, (now or ["usual"])[0]), chosen)

    def _proposed(self, density: str) -> tuple[Proposal, ...]:
        """What is proposed at a density, worked out once."""
        from trainer.phrases.segment import propose

        if density not in self._found:
            self._found[density] = propose(self.piece.score, density)  # type: ignore[arg-type]
        return self._found[density]

    def action_alike(self) -> None:
        """Accept look-alikes, unlink them, or link others."""
        screen = AlikeScreen(self.draft, self._at, self._keep)
        self.app.push_screen(screen, lambda _: self._take(screen.draft))

    def action_open(self) -> None:
        """Open or close the start for the student, once it is saved."""
        self._take(drafts.turn(self.draft, self._at))

    def action_page(self) -> None:
        self.app.push_screen(PageScreen(self.piece, self.start))

    def action_undo(self) -> None:
        self.say("")
        self._take(drafts.undo(self.draft))

    def action_redo(self) -> None:
        self.say("")
        self._take(drafts.redo(self.draft))

    def action_save(self) -> None:
        """Keep the deck as one edit, with what was done, and what was opened or closed."""
        app, draft = self.trainer, self.draft
        with self.minding():
            app.desk.drafts.save(app.view.student, draft)
            self._begun = drafts.kept(draft)
            app.reload()
        self.draw()

    def action_back(self) -> None:
        if not self.draft.changed:
            self.dismiss(None)
            return
        choices = [
            Choice("save", 1, "save and leave"),
            Choice("drop", 2, "leave without saving"),
        ]

        def chosen(answer: str | None) -> None:
            if answer == "save":
                self.action_save()
            if answer == "drop":
                with self.minding():
                    self.trainer.desk.drafts.drop(self.piece.deck.id)
            if answer == "drop" or (answer == "save" and not self.draft.changed):
                self.dismiss(None)

        self.app.push_screen(ChooseScreen("The changes are not saved.", choices), chosen)

    def _ask(
        self,
        title: str,
        question: str,
        take: Callable[[str], None],
        text: str = "",
        *,
        check: Callable[[str], object] | None = None,
    ) -> None:
        """Ask for words, which may be taken away; or, with a check, for an answer."""

        def answered(text: str | None) -> None:
            if text is not None:
                take(text)

        asked = AskScreen(title, question, check or str, text=text, optional=check is None)
        self.app.push_screen(asked, answered)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if not super().check_action(action, parameters):
            return False
        if action == "save":
            return self.draft.changed
        if action == "undo":
            return bool(self.draft.past)
        return bool(self.draft.ahead) if action == "redo" else True
