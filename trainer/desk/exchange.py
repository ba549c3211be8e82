"""Records on their way between machines, and which entries are one person."""

from __future__ import annotations

from trainer.desk.people import People
from trainer.errors import TrainerError
from trainer.record.file import Record, parse_record, write_record
from trainer.record.people import Student
from trainer.store.records import Taken


class Exchange(People):
    def record_out(self, student: Student) -> str:
        """The text of a student's record file. Raises TrainerError where nothing is kept yet."""
        record = self.store.record(student.id)
        if not record.students:
            raise TrainerError(
                "There is no student yet, so that there is no record: add one with"
                " `trainer student add NAME`, or take a deck in and practise it first."
            )
        return write_record(record)

    def record_in(self, data: bytes, what: str, *, join: bool = False) -> tuple[Record, Taken]:
        """Take the record in a file's bytes in, whole or not at all, after a backup where it
        brings anything. `join` is a person's word that its joinings are right."""
        record = parse_record(data, what)
        if not self.store.erased(record.ids) and not self.store.brings(record):
            return record, Taken()
        if self.store.may_take(record, join=join):
            self.store.back_up("before a record", unless_recent=True)
        return record, self.store.take_in(record, join=join)

    def join(self, one: Student, into: Student) -> None:
        """Say that two entries are one person; `part` takes it back."""
        self.store.join(one, into)
        if self.store.setting("student") == one.id:
            self.choose(into)

    def part(self, one: Student) -> None:
        """Say that an entry that was joined to another one is a person of their own."""
        last = [told for told in self.store.joinings() if told.student == one.id]
        if not last or not last[-1].joined:
            raise TrainerError(f"{one.name} is not joined to another entry.")
        known = {each.id: each for each in self.store.entries()}
        target = known.get(last[-1].into) or Student(last[-1].into, "?")  # who may arrive later
        self.store.join(one, target, joined=False)
