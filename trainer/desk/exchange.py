"""Records on their way between machines, and which entries are one person."""

from __future__ import annotations

from dataclasses import dataclass

from msgspec.structs import replace

from trainer.desk.base import Part
from trainer.desk.people import Students
from trainer.desk.pieces import Pieces
from trainer.errors import TrainerError
from trainer.record.file import Record, parse_record, write_record
from trainer.record.people import Student
from trainer.record.separate import separate_id, separated
from trainer.reports.view import View
from trainer.store.records import Taken


@dataclass
class Records(Part):
    students: Students
    pieces: Pieces

    def write(self, student: Student) -> str:
        """The text of a student's record file. Raises TrainerError where nothing is kept yet."""
        record = self.store.records.of(student.id)
        if not record.students:
            raise TrainerError(
                "There is no student yet, so there is no record. Add one with `trainer student "
                "add NAME`, or import a deck and practise it first."
            )
        return write_record(record)

    def to_hand_out(self, view: View, *, notes: bool = True) -> dict[str, str]:
        """All that a student needs, the text of each file by its name: the decks of their pieces,
        their record, and a page for the family."""
        from trainer.paper.written import written
        from trainer.reports.family import deck_files, record_file, report

        return {
            **{
                name: self.pieces.hand_out(deck, notes=notes)
                for deck, name in deck_files(view).items()
            },
            record_file(view): self.write(view.student),
            "for-the-family.html": written(report(view), size="tight"),
        }

    def take_in(self, data: bytes, what: str, *, join: bool = False) -> tuple[Record, Taken]:
        """Take the record in a file's bytes in, whole or not at all, after a backup where it
        brings anything. `join` is a person's word that its joinings are right."""
        record = parse_record(data, what)
        if not self.store.records.erased(record.ids) and not self.store.records.brings(record):
            return record, Taken()
        if self.store.records.may_take(record, join=join):
            self.store.backups.make("before a record", unless_recent=True)
        return record, self.store.records.take_in(record, join=join)

    def combine(self, one: Student, into: Student) -> None:
        """Say that two entries are one person; `take_apart` takes it back."""
        self.store.records.combine(one, into)
        if self.store.settings.get("student") == one.id:
            self.students.choose(into)

    def separate(self, student: Student, machine: str, name: str) -> tuple[Student, int]:
        """Make the attempts of one machine those of another student, who is called so, where
        several people were taken for one; `machine` is the beginning of its id. Gives that
        student, and how many attempts are theirs. Again, it adds what has come since.

        Raises TrainerError where no such machine, or no other one, has attempts of this student.
        """
        shares = self.store.log.machines_of(student.id)
        met = [one.machine for one in shares if machine and one.machine.startswith(machine)]
        if len(met) != 1:
            raise TrainerError(
                f"{machine} begins the id of {'several machines' if met else 'no machine'} with"
                f" attempts of {student.name}: `trainer records separate {student.name}` lists"
                " them."
            )
        if len(shares) == 1:
            raise TrainerError(
                f"All attempts of {student.name} come from one machine: there is nothing to"
                " separate."
            )
        id_ = separate_id(student.id, met[0])
        known = {one.id: one for one in self.store.students.all()}
        if id_ not in known and (not name.strip() or name in {one.name for one in known.values()}):
            raise TrainerError("The other student needs a name of their own; initials are enough.")
        other = known.get(id_) or replace(student, id=id_, name=name)
        self.store.backups.make("before separating")
        with self.store.together():
            if id_ not in known:
                self.store.students.save(other)
            events = separated(
                id_,
                met[0],
                self.store.log.attempts(student.id),
                self.store.log.retractions(student.id),
                self.store.log.openings(student.id),
                self.store.log.layer_edits(student.id),
            )
            self.store.log.append(*events)
        return other, sum(one.attempts for one in self.store.log.machines_of(id_))

    def combined_with(self, one: Student) -> str:
        """The id of the entry that this one was last combined with; empty where it is alone."""
        told = [told for told in self.store.log.joinings() if told.student == one.id]
        return told[-1].into if told and told[-1].joined else ""

    def take_apart(self, one: Student) -> None:
        """Say that an entry that was joined to another one is a person of their own. The other
        one may not have arrived here."""
        into = self.combined_with(one)
        if not into:
            raise TrainerError(f"{one.name} is not combined with another entry.")
        here = {each.id: each for each in self.store.students.entries()}
        self.store.records.combine(one, here.get(into) or Student(into, ""), joined=False)
