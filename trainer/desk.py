"""The desk: where what is kept and what follows from it come together.

Screens and command line both work through it and own no rule. Its edges (the store, the
clock, fresh ids, chance) are given to it; everything else it asks of the pure rooms.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Literal

from trainer.deck import edit
from trainer.deck.compare import Change, compare
from trainer.deck.file import read_deck_file, write_deck
from trainer.deck.history import DeckEdit, Relation, relation
from trainer.deck.model import Deck, Piece, Start, revision
from trainer.deck.page import before_join
from trainer.deck.sound import MOST_TEXT
from trainer.draw.hints import hint_names
from trainer.draw.text import clean
from trainer.errors import TrainerError
from trainer.memory.cache import FORM, Basis, Remembered
from trainer.memory.curve import DEFAULT, Law
from trainer.practice import run as runs
from trainer.practice import session as drill
from trainer.practice import slip as slips
from trainer.practice.drills import Begins, Draws, drill_kind
from trainer.practice.order import Spot, shuffled
from trainer.record.attempt import Attempt, Judge, Outcome, Retraction, practice_day
from trainer.record.file import Record, parse_record, write_record
from trainer.record.layer import (
    Layer,
    LayerEdit,
    What,
    fault,
    layers,
    reaches_beyond,
    with_layer,
)
from trainer.record.lesson import LessonNote, standing_notes
from trainer.record.log import Written
from trainer.record.people import Opening, ProgrammeItem, Recital, Student
from trainer.record.plan import KeptPlans
from trainer.reports import settings as choices
from trainer.reports.view import View, where
from trainer.score.cite import BRITISH, Words, place
from trainer.store.records import Taken
from trainer.values import decode, encode

if TYPE_CHECKING:
    from trainer.reports.studio import Glance, Studio
    from trainer.reports.table import Table
    from trainer.score.model import Score
    from trainer.store.store import PieceEntry, Store

Edit = Callable[[Piece], Deck]
Take = Literal["theirs", "mine"]


@dataclass(frozen=True)
class Incoming:
    """What a deck file brings: its piece and history, how that stands to the deck here
    (`before`, None where there is none), and every difference to it."""

    piece: Piece
    edits: tuple[DeckEdit, ...]
    relation: Relation
    before: Piece | None
    changes: tuple[Change, ...]


class Shelf(Mapping[str, Piece]):
    """The pieces by deck id, with a student's own `layers` over them; a score is read from the
    store when it is first looked at."""

    def __init__(self, store: Store, ids: Iterable[str], layers: Mapping[str, Layer]) -> None:
        self._store = store
        self._layers = layers
        self._pieces: dict[str, Piece | None] = dict.fromkeys(ids)

    def __getitem__(self, deck_id: str) -> Piece:
        piece = self._pieces[deck_id]
        if piece is None:
            piece = self._store.piece(deck_id)
            if layer := self._layers.get(deck_id):
                piece = Piece(with_layer(piece.deck, layer, piece.score.end), piece.score)
            self._pieces[deck_id] = piece
        return piece

    def deck(self, deck_id: str) -> Deck:
        """The deck alone; its score is read only where a start was added after its last one."""
        deck, layer = self._store.deck(deck_id), self._layers.get(deck_id)
        if layer is None:
            return deck
        return self[deck_id].deck if reaches_beyond(deck, layer) else with_layer(deck, layer)

    def __iter__(self) -> Iterator[str]:
        return iter(self._pieces)

    def __len__(self) -> int:
        return len(self._pieces)


class Desk:
    """`clock` gives the aware local instant, `new_id` a fresh global id."""

    def __init__(
        self, store: Store, clock: Callable[[], datetime], new_id: Callable[[], str], rng: Random
    ) -> None:
        self.store = store
        self.clock = clock
        self.new_id = new_id
        self.rng = rng

    # Students

    def student(self, text: str = "") -> Student:
        """The student meant: the one named, else the one last chosen, else the only one. On a
        new database it is a student called "me"."""
        if text:
            return self.store.student(text)
        students = self.store.students()
        if not students:
            return self.add_student("me")
        chosen = self.store.head_of(self.store.setting("student") or "")
        known = {student.id: student for student in students}
        if chosen in known:
            return known[chosen]
        if len(students) == 1:
            return students[0]
        names = ", ".join(student.name for student in students)
        raise TrainerError(f"There are several students ({names}): say which with --student.")

    def choose(self, student: Student) -> None:
        """Make a student the one meant where none is named."""
        self.store.set_setting("student", student.id)

    def add_student(self, name: str, **fields: object) -> Student:
        """A new student; initials will do for a name."""
        if not name.strip():
            raise TrainerError("A student needs a name; initials will do.")
        if any(known.name == name for known in self.store.students()):
            raise TrainerError(f"There is a student {name} already; choose another name.")
        student = Student(self.new_id(), name, **fields)  # type: ignore[arg-type]
        self.store.save_student(student)
        return student

    def view(self, student: Student, *, seconds: float | None = None, log: bool = True) -> View:
        """All that there is to know of a student now; without the `log`, as if nothing was ever
        tried."""
        entries = self.store.pieces()
        mine = layers(self.store.layer_edits(student.id))
        left_out = {start_id for layer in mine.values() for start_id in layer.left_out}
        shelf = Shelf(self.store, (entry.id for entry in entries), mine)
        return View(
            student=student,
            now=self.clock(),
            decks={entry.id: shelf.deck(entry.id) for entry in entries},
            pieces=shelf,
            log=self.store.log_of(student.id) if log else Written(),
            # A start that is left out counts as one that is not open.
            openings=tuple(o for o in self.store.openings(student.id) if o.start not in left_out),
            recitals=self.store.recitals(student.id),
            names=choices.naming(self._kept(student)("names")),
            words=choices.words(self._kept(student)("words")),
            law=self._law(student),
            kept=self._kept_beliefs(student) if log else None,
            kept_plans=self._kept_plans(student) if log else None,
            seconds=seconds,
            lesson_notes=self.store.lesson_notes(student.id),
            layers=mine,
            masters={entry.id: self.store.deck(entry.id) for entry in entries if entry.id in mine},
            revisions={entry.id: entry.revision for entry in entries},
        )

    def _law(self, student: Student) -> Law:
        told = self.store.setting("law", student.id)
        return decode(told, Law, "The setting of the memory's constants") if told else DEFAULT

    def settings(self, student: Student) -> Table:
        """All settings as they stand for a student."""
        return choices.report(student, self._kept(student))

    def setting(self, student: Student, name: str) -> str:
        """How one setting stands for a student."""
        return choices.setting(name).told(student, self._kept(student)(name))

    def change_setting(self, student: Student, name: str, text: str) -> Student:
        """Change a setting; gives the student as they are then. Raises TrainerError."""
        chosen = choices.setting(name)
        made = chosen.put(student, text)
        if isinstance(made, Student):
            self.store.save_student(made)
            return made
        self.store.set_setting(chosen.name, made, student.id if chosen.alone else "")
        return student

    def _kept(self, student: Student) -> choices.Kept:
        """What was kept under a setting's name: this student's own, else everyone's."""
        get = self.store.setting
        return lambda name: get(name, student.id) or get(name) or ""

    def fit(self, student: Student) -> bool:
        """Fit the memory's constants to a student's own log; whether they foretell better than
        the usual ones and are used from now on. Takes up to a minute."""
        from trainer.memory.calibration import refit

        law = refit(self.view(student).tries)
        self.store.set_setting("law", encode(law), student.id)
        return law != DEFAULT

    def remember(self, view: View) -> None:
        """Keep what a view has worked out, where that will save time the next time."""
        if self.store.read_only:
            return
        beliefs, plans = view.to_keep
        if beliefs:
            self._keep_beliefs(view.student, beliefs)
        if plans:
            self.store.keep_plans(view.student.id, encode(plans))

    def _kept_beliefs(self, student: Student) -> Remembered | None:
        told = self.store.beliefs(student.id)
        try:
            return Remembered(decode(told[0], Basis, "Kept beliefs"), told[1]) if told else None
        except TrainerError:
            return None  # written in another form: made anew

    def _kept_plans(self, student: Student) -> KeptPlans | None:
        told = self.store.plans(student.id)
        try:
            return decode(told, KeptPlans, "The kept plans") if told else None
        except TrainerError:
            return None  # written in another form: made anew

    # The studio

    def beside(self) -> Desk:
        """Another desk over the same database, for another thread; its store is to be closed."""
        from trainer.store.store import Store

        store = Store.open(self.store.path, now=self.clock, new_id=self.new_id)
        return Desk(store, self.clock, self.new_id, Random())

    def studio(self, progress: Callable[[int, int], None] | None = None) -> Studio:
        """Every student by what they need, and every programme to come.

        What is seen of a student is kept as long as nothing new is logged; `progress` is told,
        of how many students that is known by now, and of how many in all.
        """
        from trainer.reports import studio as studios

        day = practice_day(self.clock())
        students = self.store.students()
        logged = self.store.logged(day - timedelta(days=studios.IDLE_DAYS - 1))
        kept = self.store.glances()
        known, fresh = [], {}
        try:
            for number, student in enumerate(students):
                if progress:
                    progress(number, len(students))
                log = logged[student.id]
                near = studios.near(self.store.recitals(student.id), day)
                basis = f"{FORM} {log.mark} {','.join(one.id for one in near)}"
                told = kept.get(student.id)
                seen = self._glanced(told[1]) if told and told[0] == basis else None
                if seen is None:
                    view = self.view(student, log=bool(near))
                    seen = studios.glance(view)
                    fresh[student.id] = (basis, encode(seen))
                    if near and view.beliefs_to_keep and not self.store.read_only:
                        self._keep_beliefs(student, view.beliefs_to_keep)
                known.append((student, log, seen))
        finally:  # also where it is broken off
            if fresh and not self.store.read_only:
                self.store.keep_glances(fresh)
        return studios.studio(day, known)

    @staticmethod
    def _glanced(text: str) -> Glance | None:
        from trainer.reports.studio import Glance

        try:
            return decode(text, Glance, "What was seen of a student")
        except TrainerError:
            return None  # written in another form: made anew

    def _keep_beliefs(self, student: Student, found: Remembered) -> None:
        tries = found.basis.mark.attempts
        self.store.keep_beliefs(student.id, tries, encode(found.basis), found.content)

    def is_past(self, view: View) -> bool:
        """Whether a view's practice day is over: it has to be made again."""
        return practice_day(self.clock()) != view.day

    # Pieces and their starts

    def find(self, text: str = "") -> PieceEntry:
        """The piece that a number, a title's beginning or an id names; the only one if empty."""
        entries = self.store.pieces()
        if text or len(entries) > 1:
            if not text:
                titles = ", ".join(entry.title for entry in entries)
                raise TrainerError(f"There are several pieces ({titles}): say which.")
            return self.store.find_piece(text)
        if not entries:
            raise TrainerError("There is no piece yet; add a score with `trainer add FILE`.")
        return entries[0]

    def add_score(
        self, path: Path, *, density: str = "usual", progress: Callable[[str], None] | None = None
    ) -> Piece:
        """Read a score, propose its starts, and keep both as a new piece."""
        from trainer.score.read import read_score

        piece = self.propose(read_score(path, progress=progress), density=density)
        self.store.add_piece(piece, f"read from {path.name}")
        return piece

    def propose(self, score: Score, *, density: str = "usual") -> Piece:
        """A piece with the proposed starts of a score, not yet kept."""
        from trainer.phrases.segment import propose

        found = propose(score, density)  # type: ignore[arg-type]
        places = [(proposal.onset, proposal.reasons) for proposal in found]
        ids = [self.new_id() for _ in range(len(places) + 1)]
        return Piece(edit.new_deck(score, places, ids), score)

    def keep(self, piece: Piece, why: str) -> None:
        """Keep a piece that was made here."""
        self.store.add_piece(piece, why)

    def look_at(self, path: Path) -> Incoming:
        """What a deck file brings and would change; nothing is kept."""
        found = read_deck_file(path)
        piece, edits = found.piece, found.history(self.clock())
        mine = self.store.deck_history(piece.deck.id)
        before = self.store.piece(piece.deck.id) if mine else None
        changes = compare(before, piece) if before else ()
        return Incoming(piece, edits, relation(mine, edits), before, changes)

    def take_in(self, incoming: Incoming, *, take: Take | None = None) -> None:
        """Keep what a deck file brings. Raises TrainerError for an older form of the deck, and
        for one of another line of edits unless it is said which of the two to `take`."""
        piece, edits, title = incoming.piece, incoming.edits, incoming.piece.deck.title
        if incoming.before is None:
            self.store.add_piece(piece, "", edits)
            return
        parent = revision(incoming.before.deck)
        if incoming.relation == "older":
            raise TrainerError(
                f"{title}: this is an older form of the deck that is here; to go back to it, use"
                " `trainer start undo`, which is logged."
            )
        if incoming.relation != "apart":
            self.store.follow(piece, edits, parent=parent)
        elif take:
            self.store.settle(piece, edits, parent=parent, take=take)
        else:
            raise TrainerError(
                f"{title}: this deck and the one here were edited apart from each other; choose"
                " with --take theirs or --take mine, and enter the other's edits anew."
            )

    def hand_out(self, deck_id: str, *, notes: bool = True) -> str:
        """The text of a piece's deck file, with the notes or without."""
        history = self.store.deck_history(deck_id)
        return write_deck(self.store.piece(deck_id), history, notes=notes)

    def edit(self, deck_id: str, change: Edit, why: str) -> Piece:
        """Make one edit of a deck and keep it; every earlier form is kept beside it."""
        piece = self.store.piece(deck_id)
        deck = change(piece)
        if deck != piece.deck:
            self.store.save_deck(deck, parent=revision(piece.deck), why=why)
        return Piece(deck, piece.score)

    def save_deck(self, before: Deck, after: Deck, why: str) -> None:
        """Keep a prepared deck as one edit of the deck that it was made from."""
        self.store.save_deck(after, parent=revision(before), why=why)

    def set_open(
        self, student: Student, deck: Deck, numbers: Sequence[int], *, opened: bool
    ) -> None:
        """Open starts, or close them, for one student."""
        self.store.append(
            *(
                Opening(
                    self.new_id(),
                    student.id,
                    deck.id,
                    edit.numbered(deck, number).id,
                    opened,
                    self.store.machine,
                    self.clock(),
                )
                for number in numbers
            )
        )

    # One student's own layer over a deck

    def set_own(
        self, student: Student, deck: Deck, start: Start, words: Mapping[What, str]
    ) -> None:
        """Say what is a student's own at a start of a deck; "" takes it back. Raises TrainerError
        for a value that will not do, and then nothing is changed."""
        known = self.store.layer_edits(student.id)
        said = {
            one.what: one.value for one in known if (one.deck, one.start) == (deck.id, start.id)
        }
        # Later than the word before it, even where the clock was put back meanwhile.
        at = max([self.clock(), *(one.at + timedelta(microseconds=1) for one in known[-1:])])
        edits = []
        for what, text in words.items():
            value, ids = clean(text), (self.new_id(), student.id, deck.id, start.id)
            word = LayerEdit(*ids, what, value, self.store.machine, at)
            if wrong := fault(word):
                raise TrainerError(f"Start {start.number} {wrong}: nothing was changed.")
            if value != said.get(what, ""):
                edits.append(word)
        if edits:
            self.store.append(*edits)

    def add_own(self, view: View, deck_id: str, onset: Fraction) -> str:
        """Add a start for one student alone; gives its id. It is open where the phrase that it
        divides is. The same place again is the same start again, with its tries.

        Raises TrainerError for a place outside the piece, or where a start begins already.
        """
        piece, student = view.pieces[deck_id], view.student
        edit.add(piece, onset, "")  # refuses a place where no start can be
        value = str(onset)
        known = {start.id for start in piece.deck.starts} | {one.id for one in piece.deck.former}
        again = [
            one.start
            for one in self.store.layer_edits(student.id)
            if (one.deck, one.what, one.value) == (deck_id, "added", value)
            and one.start not in known
        ]
        start = Start(again[0] if again else self.new_id(), 0, onset)
        self.set_own(student, piece.deck, start, {"added": value})
        now = self.view(student)
        added = now.decks[deck_id].start(start.id)
        if added.parent in now.open:
            self.set_open(student, now.decks[deck_id], [added.number], opened=True)
        return start.id

    def take_back_own(self, view: View, deck_id: str, start: Start) -> None:
        """Take back all that is a student's own at a start; a start of their own goes with it."""
        own, deck = view.own(deck_id, start.id), view.decks[deck_id]
        everything: dict[What, str] = {"fingering": "", "words": "", "tempo": "", "left out": ""}
        alone: dict[What, str] = {"added": ""}
        self.set_own(view.student, deck, start, everything if own.added is None else alone)

    # Records on their way between machines

    def record_out(self, student: Student) -> str:
        """The text of a student's record file."""
        return write_record(self.store.record(student.id))

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
        target = {each.id: each for each in self.store.entries()}[last[-1].into]
        self.store.join(one, target, joined=False)

    # Recitals

    def save_recital(self, recital: Recital) -> None:
        self.store.save_recital(recital)

    def set_recital(
        self, student: Student, name: str, day: date, programme: Sequence[ProgrammeItem]
    ) -> Recital:
        """Set a student's recital of that name, or change the one there is. Raises TrainerError
        for a name that is empty and for a day that is over."""
        name = name.strip()
        if not name:
            raise TrainerError("A recital needs a name, such as School concert.")
        today = practice_day(self.clock())
        if day < today:
            raise TrainerError(
                f"{day} is over; today is {today}. Give the day of a recital to come."
            )
        known = {one.name: one.id for one in self.store.recitals(student.id)}
        recital = Recital(known.get(name) or self.new_id(), student.id, name, day, tuple(programme))
        self.store.save_recital(recital)
        return recital

    # The lesson

    def write_note(self, student: Student, text: str, *, day: date | None = None) -> LessonNote:
        """Write the teacher's note of a lesson, by default today's; it stands for the one there
        was of that day, and an empty text takes that away. It never leaves this database.

        Raises TrainerError for a text that is too long, and where there is nothing to take away.
        """
        now = self.clock()
        day = day or practice_day(now)
        plain = clean(text)
        if len(plain) > MOST_TEXT:
            raise TrainerError(f"A note has at most {MOST_TEXT} characters; this has {len(plain)}.")
        before = self.note_of(student, day)
        if not plain and before is None:
            raise TrainerError(f"There is no note of {day} to take away.")
        machine, replaced = self.store.machine, before.id if before else ""
        note = LessonNote(self.new_id(), student.id, day, plain, machine, now, replaced)
        self.store.append(note)
        return note

    def note_of(self, student: Student, day: date | None = None) -> LessonNote | None:
        """The teacher's note of a day, by default today; None where there is none."""
        day = day or practice_day(self.clock())
        notes = standing_notes(self.store.lesson_notes(student.id))
        return next((note for note in notes if note.day == day), None)

    # The drill

    def begin(
        self,
        view: View,
        *,
        kind: str = "cold",
        deck: str | None = None,
        judge: Judge = "self",
        only: Sequence[tuple[str, str]] | None = None,
    ) -> drill.Session:
        """A drill of one kind, of all pieces or of one, in an order of its own; or of `only`
        these starts, by ids of deck and start, in the order in which they are given."""
        chosen = drill_kind(kind)
        if only is None:
            found = self._drawn(view, chosen.draws, deck)
        else:
            found = [one for ids in only if (one := view.find(*ids)) is not None]
        spots = [spot(piece, start) for piece, start in found]
        known = dict(zip((one.id for one in spots), found, strict=True))
        order = (
            chosen.arrange(spots, self._previous(view), self.rng) if only is None else tuple(spots)
        )
        calls = tuple(
            call(*known[one.id], chosen.begins, view.words, view.revision_of(known[one.id][0].deck))
            for one in order
        )
        now = self.clock()
        return drill.begin(
            view.student.id,
            self.store.machine,
            kind,
            calls,
            now,
            judge=judge,
            drilled=drill.drilled_lately(view.today, now),
        )

    def _drawn(self, view: View, draws: Draws, deck: str | None) -> list[tuple[Piece, Start]]:
        """The starts that a drill draws on: those of the plan, or every open one in order."""
        if draws == "plan":
            slots = [slot for slot in view.plan.slots if deck in (None, slot.deck)]
            found = [view.find(slot.deck, slot.start) for slot in slots]
            return [one for one in found if one is not None]
        return [
            (piece, start)
            for piece, start in view.starts(deck)
            if start.id in view.open
            and (draws == "open" or view.open.intersection(piece.deck.kin(start.id)))
        ]

    def act(
        self,
        session: drill.Session,
        act: drill.Act,
        *,
        start: str = "",
        broke_at: Fraction | None = None,
    ) -> drill.Session:
        """Do an act in a drill. What it records is on the disk when this returns."""
        ids = (self.new_id(), self.new_id())
        action = drill.Action(act, self.clock(), ids, start, broke_at)
        after, records = drill.step(session, action)
        if records:
            self.store.append(*records)
        return after

    # Playing on: the run-through, and going on after a slip

    def begin_run(self, view: View, deck_id: str, *, judge: Judge = "self") -> runs.Run:
        """A run-through of a whole piece."""
        deck, machine = view.decks[deck_id], self.store.machine
        made_of = view.revision_of(deck)
        return runs.Run(view.student.id, machine, deck, self.clock(), judge, revision=made_of)

    def in_run(
        self,
        run: runs.Run,
        act: runs.RunAct,
        *,
        broke_at: Fraction | None = None,
        resumed: str = "",
        which: int = -1,
    ) -> runs.Run:
        """Do an act in a run-through. What it records is on the disk when this returns."""
        ids = (self.new_id(), self.new_id())
        action = runs.RunAction(act, self.clock(), ids, broke_at, resumed, which)
        after, records = runs.step(run, action)
        if records:
            self.store.append(*records)
        return after

    def begin_rehearsal(
        self, view: View, deck_id: str, *, times: int = 5, judge: Judge = "self"
    ) -> slips.Rehearsal:
        """So many interruptions in one piece, at its open starts or, where none is open, at any.
        Raises TrainerError where no start leads to another."""
        piece = view.pieces[deck_id]
        able = [start for start in piece.deck.starts if piece.deck.following(start.id)]
        able = [start for start in able if start.id in view.open] or able
        if not able:
            raise TrainerError(f"{piece.deck.title} has one start only: there is none to go on to.")
        order = self._in_turn(piece, able, times)
        calls = tuple(self._slip_call(view, piece, start) for start in order)
        return slips.Rehearsal(
            view.student.id,
            self.store.machine,
            deck_id,
            view.revision_of(piece.deck),
            calls,
            self.clock(),
            judge,
        )

    def _in_turn(self, piece: Piece, starts: Sequence[Start], times: int) -> list[Start]:
        """Round after round of the starts, each in a random order that cues nothing."""
        by_id = {start.id: start for start in starts}
        order: list[Spot] = []
        while len(order) < times:
            spots = [spot(piece, start) for start in starts]
            order += shuffled(spots, order[-1] if order else None, self.rng)
        return [by_id[one.id] for one in order[:times]]

    def _slip_call(self, view: View, piece: Piece, start: Start) -> slips.SlipCall:
        marks = [m for m in piece.score.marks_of("tempo") if m.onset <= start.onset and m.value]
        tempo = marks[-1].value if marks else None
        if own := view.own(piece.deck.id, start.id).tempo:
            tempo = own * float(piece.score.bar_at(start.onset).meter.beat)
        seconds = slips.wait(start.onset, piece.end_of(start), tempo, self.rng)
        following = piece.deck.following(start.id)
        at = where(piece, start, view.words)
        return slips.SlipCall(start.id, start.number, at, following, seconds)

    def in_rehearsal(
        self, rehearsal: slips.Rehearsal, act: slips.SlipAct, *, start: str = ""
    ) -> slips.Rehearsal:
        """Do an act in a rehearsal. What it records is on the disk when this returns."""
        action = slips.SlipAction(act, self.clock(), self.new_id(), start)
        after, records = slips.step(rehearsal, action)
        if records:
            self.store.append(*records)
        return after

    def note(
        self, view: View, deck: Deck, number: int, outcome: Outcome, **fields: object
    ) -> Attempt:
        """Record one try outside a drill, as a teacher does at a lesson."""
        now = self.clock()
        attempt = Attempt(
            id=self.new_id(),
            student=view.student.id,
            deck=deck.id,
            revision=view.revision_of(deck),
            start=edit.numbered(deck, number).id,
            machine=self.store.machine,
            at=now,
            day=practice_day(now),
            outcome=outcome,
            **fields,  # type: ignore[arg-type]
        )
        self.store.append(attempt)
        return attempt

    def take_back(self, attempt: Attempt) -> None:
        """Retract an attempt; the log keeps both."""
        now, machine = self.clock(), self.store.machine
        self.store.append(Retraction(self.new_id(), attempt.id, machine, now, attempt.student))

    def _previous(self, view: View) -> Spot | None:
        """What was drilled last on this day: the first call must not be cued by it."""
        last = view.today[-1] if view.today else None
        found = view.find(last.deck, last.start) if last else None
        return spot(*found) if found else None


def spot(piece: Piece, start: Start) -> Spot:
    """What the order of calls needs to know: where the start leads, on the route and in number."""
    after = set(piece.deck.following(start.id))
    after |= {other.id for other in piece.deck.starts if other.number == start.number + 1}
    return Spot(start.id, frozenset(after - {start.id}), frozenset(piece.deck.kin(start.id)))


def begun_instead(piece: Piece, start_id: str) -> tuple[Start, ...]:
    """The starts that may have been begun in place of the one called: its look-alikes first,
    then the others in score order."""
    kin = piece.deck.kin(start_id)
    others = [start for start in piece.deck.starts if start.id != start_id]
    likely = [start for like in kin for start in others if start.id == like]
    return (*likely, *(start for start in others if start.id not in kin))


def call(
    piece: Piece,
    start: Start,
    begins: Begins = "start",
    words: Words = BRITISH,
    made_of: str = "",
) -> drill.Call:
    """The call of a start: number and place, and the names of its hints. `made_of` is the
    revision that its try names, by default that of the deck."""
    joins = begins == "before the join"
    return drill.Call(
        spot(piece, start),
        piece.deck.id,
        made_of or revision(piece.deck),
        piece.deck.title,
        start.number,
        place(piece.score, before_join(piece, start), words=words)
        if joins
        else where(piece, start, words),
        hint_names(piece, start),
    )
