"""Adding a score: it is read in a process of its own, and the screen stays alive meanwhile."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.message import Message

from trainer.errors import TrainerError
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.sheet import Sheet, ink, wrapped

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.deck.original import Original
    from trainer.desk import Desk
    from trainer.score.read import Stop


class Told(Message):
    """How far the reading has come."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.words = words


class Read(Message):
    """The reading has ended: with a piece and its file, or with what was wrong."""

    def __init__(self, found: tuple[Piece, Original] | None, error: str = "") -> None:
        super().__init__()
        self.found = found
        self.error = error


class AddingScreen(Room):
    """Reads one file, keeps it as a piece with the proposed starts, and gives the deck's id."""

    ROOM = "adding"
    BINDINGS = bindings("adding")
    DEFAULT_CSS = """
    AddingScreen > #state { height: 1fr; padding: 1 2; }
    """

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        self._words = "reading"
        self._over = False
        self._stop: Stop | None = None

    def body(self) -> ComposeResult:
        yield Sheet("state", fixed=True)

    def on_mount(self) -> None:
        super().on_mount()
        from trainer.score.read import Stop

        desk, self._stop = self.trainer.desk, Stop()
        self.run_worker(lambda: self._read(desk), thread=True, exclusive=True, group="adding")

    def on_unmount(self) -> None:
        if self._stop is not None:
            self._stop()

    def _read(self, desk: Desk) -> None:
        """In another thread: the store is not touched here."""
        from trainer.deck.original import original
        from trainer.score.files import content
        from trainer.score.read import read_score

        try:
            score = read_score(
                self._path, progress=lambda words: self._tell(Told(words)), stop=self._stop
            )
            self._tell(Told("finding the phrases"))
            kept = original(self._path.name, content(self._path))
            self._tell(Read((desk.pieces.propose(score), kept)))
        except TrainerError as error:
            self._tell(Read(None, str(error)))

    def _tell(self, message: Message) -> None:
        self.post_message(message)

    def draw(self) -> None:
        self.show_title("A new piece", self._path.name)
        waits = [] if self._over else [ink(f"{self._words} …", "$faint")]
        about = wrapped("Starts will be proposed; you can correct them next.", self.room[0])
        self.sheet("state").show([*about, "", *waits])
        self.show_strip()

    def on_told(self, message: Told) -> None:
        self._words = message.words
        self.draw()

    def on_read(self, message: Read) -> None:
        self._over = True
        self.draw()
        if message.found is None:
            self.say(message.error)
            return
        with self.minding():
            self._ask_whether_again(*message.found)

    def _ask_whether_again(self, piece: Piece, file: Original) -> None:
        """Keep a piece; where the same music is here already, only if that is wanted."""
        from trainer.ui.screens.choose import Choice, ChooseScreen

        same = self.trainer.desk.store.pieces.same_music(piece.score)
        if not same:
            self._ask_whether_on_paper(piece, file)
            return

        def chosen(answer: str | None) -> None:
            if answer == "again":
                with self.minding():
                    self._keep(piece, file)
            else:
                self.dismiss(same[0].id if answer else None)

        here = f"No: open piece {same[0].number}, {same[0].title}"
        choices = (
            Choice("here", None, here),
            Choice("again", None, "Yes: as a second piece, with its own starts"),
        )
        question = "This music is here already. Add it again?"
        self.app.push_screen(ChooseScreen(question, choices), chosen)

    def _ask_whether_on_paper(self, piece: Piece, file: Original) -> None:
        """Keep a piece, or let it take one over that was on paper so far, if it fits one."""
        from trainer.score.cite import counted
        from trainer.ui.screens.choose import Choice, ChooseScreen

        desk = self.trainer.desk
        waiting = {
            str(n): one for n, one in enumerate(desk.takeovers.fitting(piece.score, file), 1)
        }
        if not waiting:
            self._keep(piece, file)
            return

        def chosen(answer: str | None) -> None:
            with self.minding():
                if answer == "new":
                    self._keep(piece, file)
                elif answer is None:
                    self.dismiss(None)
                else:
                    desk.takeovers.take_over(waiting[answer])
                    self.dismiss(waiting[answer].after.deck.id)

        choices = [
            Choice(
                name,
                int(name),
                f"Yes: {one.after.deck.title}; its starts and attempts stay"
                + (f" (the file has {counted(len(one.more), 'bar')} more)" if one.more else ""),
            )
            for name, one in waiting.items()
        ]
        choices.append(Choice("new", None, "No: a piece of its own"))
        question = "Is this the file of a piece on paper?"
        self.app.push_screen(ChooseScreen(question, choices), chosen)

    def _keep(self, piece: Piece, file: Original) -> None:
        self.trainer.desk.pieces.keep(piece, f"read from {self._path.name}", file)
        self.dismiss(piece.deck.id)
