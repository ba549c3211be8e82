"""Students: whose day it is, who is added, and what is known of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult

from trainer.draw.text import cells, clean, fit
from trainer.score.cite import counted
from trainer.ui.keys import bindings
from trainer.ui.screens.choose import NumberedRoom
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Sheet, ink, row

if TYPE_CHECKING:
    from trainer.record.people import Student
    from trainer.ui.room import Room


class StudentsScreen(NumberedRoom):
    """Gives the id of the student chosen, or None."""

    ROOM = "students"
    BINDINGS = bindings("students")
    DEFAULT_CSS = """
    StudentsScreen > #typed { height: 1; padding: 0 2; color: $accent; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._at = -1  # not known yet

    def body(self) -> ComposeResult:
        yield Rows("students")
        yield Sheet("typed", fixed=True)

    @property
    def _students(self) -> tuple[Student, ...]:
        return self.trainer.desk.store.students.all()

    @property
    def _marked(self) -> Student | None:
        found = self._students
        return found[self._at] if self._at >= 0 and found else None

    def draw(self) -> None:
        found, width = self._students, self.room[0]
        self._mark(found)
        self.show_title("Who is practising?", counted(len(found), "student"))
        one = min(max((cells(clean(s.name)) for s in found), default=4), width // 3)
        digits = len(str(len(found)))
        self._typed.numbers = [str(n + 1) for n in range(len(found))]
        rows = []
        for at, student in enumerate(found):
            style = "bold $accent" if at == self._at else ""
            mark = ">" if at == self._at else " "
            name = fit(clean(student.name), one, ascii=self.trainer.ascii)
            head = f"{mark} {at + 1:>{digits}}  {name}"
            about = f"{student.level}, {self._minutes(student)}"
            line = row(ink(head, style), ink(f"  {about}", style or "$faint"))
            rows.append(ListRow(at, [line]))
        if not found:
            none = ink("No students yet. Press a to add one; initials are enough.", "bold")
            rows = [ListRow(None, [none])]
        self.query_one(Rows).show(rows, self._at)
        self.sheet("typed").show(self._typed.lines)
        self.show_strip()

    def _mark(self, found: tuple[Student, ...]) -> None:
        """Keep the mark on the list; at first it is on whose day it is."""
        if self._at < 0:
            here = self.trainer.student
            ids = [student.id for student in found]
            self._at = ids.index(here.id) if here and here.id in ids else 0
        self._at = min(self._at, max(0, len(found) - 1))

    @staticmethod
    def _minutes(student: Student) -> str:
        from trainer.reports.settings import minutes_text

        _, _, others = minutes_text(student).partition(", ")
        usual = counted(student.minutes, "minute")
        return f"{usual} a day" + (f", {others}" if others else "")

    # What is done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        needs_one = action in ("take", "level", "minutes", "move", "digit", "lesson", "studio")
        if needs_one and not self._students:
            return False
        if action in ("lesson", "studio") and len(self._students) < 2:  # for teachers
            return False
        return super().check_action(action, parameters)

    def action_take(self) -> None:
        with self.minding():
            self._typed.check()
            chosen = self._marked
            self.dismiss(chosen.id if chosen else None)

    def on_rows_picked(self, message: Rows.Picked) -> None:
        if message.at == self._at:
            self.action_take()
        else:
            self.action_move(message.at - self._at)

    def action_lesson(self) -> None:
        """The page before the lesson of the marked student."""
        if self._marked:
            open_lesson(self, self._marked.id)

    def action_studio(self) -> None:
        """All of them by what they need; one may be chosen there."""
        from trainer.ui.screens.studio import StudioScreen

        def chosen(student_id: str | None) -> None:
            if student_id is not None:
                self.dismiss(student_id)
            else:
                self.draw()

        self.app.push_screen(StudioScreen(), chosen)

    def action_add(self) -> None:
        from trainer.ui.screens.ask import AskScreen

        def named(text: str | None) -> None:
            if text:
                with self.minding():
                    self.trainer.desk.students.add(text)
                    self._at = len(self._students) - 1
                self.draw()

        question = "Name of the student? Initials are enough; everything stays on this computer."
        self.app.push_screen(AskScreen("A new student", question, self._check_name), named)

    def _check_name(self, name: str) -> None:
        from trainer.errors import TrainerError

        if any(known.name == name for known in self._students):
            raise TrainerError(f"There is already a student called {name}; choose another name.")

    def action_level(self) -> None:
        self._change("level")

    def action_minutes(self) -> None:
        self._change("minutes")

    def _change(self, name: str) -> None:
        """Ask for one setting of the marked student."""
        from trainer.ui.screens.settings import ask

        student = self._marked
        assert student is not None

        def answered(text: str | None) -> None:
            if text:
                with self.minding():
                    changed = self.trainer.desk.settings.change(student, name, text)
                    here = self.trainer.student
                    if here and here.id == changed.id:
                        self.trainer.go_on_as(changed)
                self.draw()

        ask(self, student, name, answered)


def open_lesson(room: Room, student_id: str) -> None:
    """Show the page before a student's lesson; it is their day until one comes back."""
    from trainer.ui.screens.lesson import LessonScreen

    app = room.trainer
    with room.minding():
        found = [one for one in app.desk.store.students.all() if one.id == student_id]
        if found:
            before = app.student
            app.go_on_as(found[0])

            def over(_: object) -> None:
                if before is not None and before.id != student_id:
                    app.go_on_as(before)

            app.push_screen(LessonScreen(), over)
