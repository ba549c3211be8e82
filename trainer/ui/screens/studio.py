"""The studio: every student by what they need, and the recitals to come."""

from __future__ import annotations

from contextlib import closing
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.message import Message
from textual.worker import get_current_worker

from trainer.draw.text import cells, clean, fit
from trainer.draw.words import counted
from trainer.errors import TrainerError
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Line, ink, row, wrapped

if TYPE_CHECKING:
    from trainer.desk import Desk
    from trainer.reports.studio import Member, Studio

DAYS = 11  # columns: "364 days   "


class Stopped(Exception):
    """Nobody waits for it any more."""


class Counted(Message):
    """So many students of so many have been looked at."""

    def __init__(self, done: int, of: int) -> None:
        super().__init__()
        self.done = done
        self.of = of


class Seen(Message):
    """All have been looked at; or what went wrong."""

    def __init__(self, studio: Studio | None, error: str = "") -> None:
        super().__init__()
        self.studio = studio
        self.error = error


class StudioScreen(Room):
    """Gives the id of the student chosen, or None."""

    ROOM = "studio"
    BINDINGS = bindings("studio")

    def __init__(self) -> None:
        super().__init__()
        self._studio: Studio | None = None
        self._told = ""
        self._at = 0
        self._recitals = False

    def body(self) -> ComposeResult:
        yield Rows("studio")

    def on_mount(self) -> None:
        super().on_mount()
        self._look()

    def on_screen_resume(self) -> None:
        """Back from a lesson: what was done there is looked at again."""
        super().on_screen_resume()
        if self._studio is not None:
            self._look()

    def _look(self) -> None:
        desk = self.trainer.desk
        self.run_worker(lambda: self._work(desk), thread=True, exclusive=True, group="studio")

    def _work(self, desk: Desk) -> None:
        """In another thread, with a store of its own."""
        worker = get_current_worker()

        def progress(done: int, of: int) -> None:
            if worker.is_cancelled:
                raise Stopped
            self.post_message(Counted(done, of))

        try:
            beside = desk.beside()
            with closing(beside.store):
                self.post_message(Seen(beside.views.studio(progress)))
        except TrainerError as error:
            self.post_message(Seen(None, str(error)))
        except Stopped:
            pass

    def on_unmount(self) -> None:
        self.workers.cancel_node(self)

    def on_counted(self, message: Counted) -> None:
        self._told = f"{message.done} of {message.of}"
        self.draw()

    def on_seen(self, message: Seen) -> None:
        marked = self._marked
        self._told = ""
        if message.studio is None:
            self.say(message.error)
        else:
            self._studio = message.studio
            ids = [one.student for one in message.studio.members]
            self._at = ids.index(marked.student) if marked and marked.student in ids else 0
        self.draw()

    @property
    def _marked(self) -> Member | None:
        found = self._studio.members if self._studio else ()
        return found[self._at] if found else None

    # What is shown

    def draw(self) -> None:
        known = counted(len(self._studio.members), "student") if self._studio else "…"
        title = "Recitals to come" if self._recitals else "The studio"
        self.show_title(title, self._told or known)
        self.show_strip()
        if self._studio is None:
            rows = [ListRow(None, [ink("Looking at every student …", "$faint")])]
        elif self._recitals:
            rows = [ListRow(n, [line]) for n, line in enumerate(self._playing(self._studio))]
        else:
            rows = self._members(self._studio)
        self.query_one(Rows).show(rows, self._at)

    def _members(self, found: Studio) -> list[ListRow]:
        """The students under the headings of their groups."""
        width = self.room[0]
        if not found.members:
            return [ListRow(None, [ink("There are no students yet.", "bold")])]
        one = min(max(cells(clean(member.name)) for member in found.members), width // 4)
        rows: list[ListRow] = []
        before = ""
        for at, member in enumerate(found.members):
            if member.group != before:
                head = ink(member.group.capitalize(), "bold")
                rows.append(ListRow(None, ["", head] if rows else [head]))
                before = member.group
            style = "bold $accent" if at == self._at else ""
            mark = ">" if at == self._at else " "
            name = fit(clean(member.name), one, ascii=self.trainer.ascii)
            first, *others = wrapped(member.why, width - one - DAYS - 4)
            line = row(ink(f"{mark} {name}  {_ago(member.days):{DAYS}}", style), first)
            below = [row(" " * (one + DAYS + 4), other) for other in others]
            rows.append(ListRow(at, [line, *below]))
        return rows

    def _playing(self, found: Studio) -> list[Line]:
        from trainer.document.lines import laid
        from trainer.reports.studio import programmes_table

        document = programmes_table(found)
        assert document.table is not None
        heads, rows = laid(document.table, width=self.room[0], ascii=self.trainer.ascii)
        lines: list[Line] = [ink(line, "$faint") for line in heads] if rows else []
        for one in rows:
            lines += [ink(one.over, "bold")] if one.over else []
            lines += one.lines
        lines += [""] if rows else []
        return [
            *lines,
            *(ln for note in document.notes for ln in wrapped(note, self.room[0], "$faint")),
        ]

    # What is done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        does = self._studio is not None
        if action in ("take", "lesson"):
            does = self._marked is not None and not self._recitals
        elif action == "back":
            does = True
        return does and super().check_action(action, parameters)

    def action_move(self, by: int) -> None:
        """Another student; or another line of the recitals."""
        found = self._studio
        if found is not None:
            count = len(self._playing(found)) if self._recitals else len(found.members)
            self._at = max(0, min(self._at + by, count - 1))
            self.draw()

    def on_rows_picked(self, message: Rows.Picked) -> None:
        if message.at == self._at and not self._recitals:
            self.action_take()
        else:
            self.action_move(message.at - self._at)

    def action_leaf(self, by: int) -> None:
        self.action_move(by * (self.room[1] - 8))

    def action_turn(self) -> None:
        """The students, or the recitals."""
        self._recitals, self._at = not self._recitals, 0
        self.draw()

    def action_take(self) -> None:
        marked = self._marked
        self.dismiss(marked.student if marked else None)

    def action_lesson(self) -> None:
        """The page before the lesson of the marked student."""
        from trainer.ui.screens.students import open_lesson

        if self._marked:
            open_lesson(self, self._marked.student)


def _ago(days: int | None) -> str:
    if days is None:
        return "never"
    return "today" if days == 0 else counted(days, "day")
