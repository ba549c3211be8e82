"""Taking records in is a union: again, in any order, through any number of machines.

A model checker plays with several machines whose clocks are wrong by days. They record,
retract, open, join, part, say what is a student's own, renumber their decks, and carry records
about, late, twice, in any order, and in pieces. At the end, when everybody has heard of
everything, all hold the same; and at every moment each holds at least what it held and has heard.
"""

from __future__ import annotations

import os
import shutil
from contextlib import ExitStack
from datetime import timedelta
from fractions import Fraction
from itertools import permutations
from pathlib import Path
from tempfile import mkdtemp

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule
from msgspec.structs import replace

from tests.exchange.build import PIECE, machine, with_piece
from tests.pieces import NOON
from trainer.deck import edit
from trainer.desk import Desk
from trainer.errors import TrainerError
from trainer.record.attempt import Outcome, Witness, standing
from trainer.record.file import Record, parse_record, write_record
from trainer.record.join import Joining, joined_into
from trainer.record.layer import What, layers
from trainer.record.people import Opening, ProgrammeItem, Recital

MACHINES = 3
HOURS = (0.0, -60.0, 40.0)
which = st.integers(0, MACHINES - 1)
who = st.integers(0, 2)
own_words: st.SearchStrategy[tuple[What, str]] = st.one_of(
    st.tuples(st.just("fingering"), st.sampled_from(["R 1-2-4", "R 1-3-5", ""])),
    st.tuples(st.just("words"), st.sampled_from(["let go early", ""])),
    st.tuples(st.just("tempo"), st.sampled_from(["72", "60.5", ""])),
    st.tuples(st.just("left out"), st.sampled_from(["yes", ""])),
)


def state(desk: Desk) -> dict[str, object]:
    """All that travels, for comparison."""
    store = desk.store
    return {
        "entries": sorted(store.students.kept(), key=lambda kept: kept.student.id),
        "joinings": store.log.joinings(),
        **{one.id: store.records.of(one.id) for one in store.students.entries()},
        "own": {one.id: layers(store.log.layer_edits(one.id)) for one in store.students.all()},
        "standing": {
            one.id: standing(store.log.attempts(one.id), store.log.retractions(one.id))
            for one in store.students.all()
        },
    }


class Exchange(RuleBasedStateMachine):
    """Machines, the records that are under way, and the ids of events that each must hold."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(mkdtemp())
        self.stack = ExitStack()
        self.machines = [
            with_piece(
                self.stack.enter_context(machine(self.folder / f"{n}.db", f"m{n}", hours=HOURS[n]))
            )
            for n in range(MACHINES)
        ]
        self.under_way: list[str] = []
        self.must: list[set[str]] = [set() for _ in range(MACHINES)]

    @initialize()
    def begin(self) -> None:
        for number, desk in enumerate(self.machines):
            desk.students.add(f"S{number}")

    def _student(self, number: int, of: int) -> str:
        entries = self.machines[number].store.students.all()
        return entries[of % len(entries)].id

    @rule(number=which, of=who, start=st.integers(0, 3), days=st.integers(0, 9))
    def records(self, number: int, of: int, start: int, days: int) -> None:
        desk = self.machines[number]
        view = desk.views.of(desk.students.find(self._student(number, of)))
        deck = view.decks[PIECE.deck.id]
        outcome = list(Outcome)[days % 5]
        wanted = deck.starts[start % len(deck.starts)].number
        heard = Witness(Outcome.STOPPED, wrong=days, notes=20, sure=days / 9) if start else None
        self.must[number].add(desk.attempts.add(view, deck, wanted, outcome, heard=heard).id)

    @rule(number=which, of=who, pick=st.integers(0, 99))
    def retracts(self, number: int, of: int, pick: int) -> None:
        desk = self.machines[number]
        if tries := desk.store.log.attempts(self._student(number, of)):
            desk.attempts.take_back(tries[pick % len(tries)])

    @rule(number=which, of=who, start=st.integers(0, 3), opened=st.booleans())
    def opens(self, number: int, of: int, start: int, opened: bool) -> None:
        desk = self.machines[number]
        deck = desk.store.pieces.deck(PIECE.deck.id)
        numbers = [deck.starts[start % len(deck.starts)].number]
        desk.pieces.set_open(
            desk.students.find(self._student(number, of)), deck, numbers, opened=opened
        )

    @rule(number=which, of=who, start=st.integers(0, 3), said=own_words)
    def says_what_is_own(self, number: int, of: int, start: int, said: tuple[What, str]) -> None:
        desk = self.machines[number]
        student = desk.students.find(self._student(number, of))
        deck = desk.views.of(student).decks[PIECE.deck.id]
        desk.own.set(student, deck, deck.starts[start % len(deck.starts)], dict([said]))

    @rule(number=which, of=who, quarter=st.integers(1, 47), gone=st.booleans())
    def adds_a_start(self, number: int, of: int, quarter: int, gone: bool) -> None:
        desk = self.machines[number]
        view = desk.views.of(desk.students.find(self._student(number, of)))
        deck = view.decks[PIECE.deck.id]
        mine = [start for start in deck.starts if view.own(deck.id, start.id).added is not None]
        if gone and mine:
            desk.own.take_back(view, deck.id, mine[quarter % len(mine)])
        elif all(start.onset != quarter for start in deck.starts):
            desk.own.add(view, deck.id, Fraction(quarter))

    @rule(number=which, of=who, name=st.sampled_from("AB"), gone=st.booleans())
    def sets_a_recital(self, number: int, of: int, name: str, gone: bool) -> None:
        desk, student = self.machines[number], self._student(number, of)
        known = desk.store.recitals.of(student)
        if gone and known:
            desk.store.recitals.remove(known[0].id)
            return
        id_ = known[0].id if known else desk.new_id()
        owner = known[0].student if known else student
        items = (ProgrammeItem(PIECE.deck.id), ProgrammeItem("a-deck-that-is-not-here"))
        desk.store.recitals.save(Recital(id_, owner, name, NOON.date(), items))

    @rule(number=which, of=who, minutes=st.integers(1, 20))
    def changes_a_student(self, number: int, of: int, minutes: int) -> None:
        desk = self.machines[number]
        student = desk.students.find(self._student(number, of))
        desk.store.students.save(replace(student, minutes=float(minutes)))

    @rule(number=which, first=st.integers(2, 40))
    def renumbers(self, number: int, first: int) -> None:
        desk = self.machines[number]
        desk.pieces.edit(PIECE.deck.id, lambda piece: edit.renumber(piece, first), "renumber")

    @rule(number=which, one=who, other=who)
    def joins(self, number: int, one: int, other: int) -> None:
        desk = self.machines[number]
        ids = self._student(number, one), self._student(number, other)
        if ids[0] != ids[1]:
            desk.records.combine(desk.students.find(ids[0]), desk.students.find(ids[1]))

    @rule(number=which, pick=st.integers(0, 9))
    def parts(self, number: int, pick: int) -> None:
        desk = self.machines[number]
        joined = [
            one
            for one in desk.store.students.entries()
            if desk.store.students.head_of(one.id) != one.id
        ]
        if joined:
            desk.records.take_apart(joined[pick % len(joined)])

    @rule(number=which, of=who)
    def sends(self, number: int, of: int) -> None:
        desk = self.machines[number]
        self.under_way.append(desk.records.write(desk.students.find(self._student(number, of))))

    @precondition(lambda self: self.under_way)
    @rule(number=which, pick=st.integers(0, 99), lose=st.booleans(), part=st.integers(0, 3))
    def receives(self, number: int, pick: int, lose: bool, part: int) -> None:
        """Any record under way, early or late, whole or in a part: only its retractions, only
        half of its attempts."""
        text = self.under_way[pick % len(self.under_way)]
        if lose:
            self.under_way.remove(text)
            self.under_way.append(text)
        record = parse_record(text.encode(), "x")
        if part == 1:
            record = replace(record, attempts=())
        elif part == 2:
            record = replace(record, retractions=(), attempts=record.attempts[::2])
        elif part == 3:
            record = replace(record, layer=record.layer[1::2])
        desk = self.machines[number]
        desk.records.take_in(write_record(record).encode(), "x", join=True)
        self.must[number] |= {one.id for one in record.attempts}
        again = state(desk)
        _, taken = desk.records.take_in(write_record(record).encode(), "x", join=True)
        assert not taken.anything  # idempotent
        assert state(desk) == again

    def _holds(self, number: int) -> set[str]:
        store = self.machines[number].store
        return {try_.id for one in store.students.entries() for try_ in store.log.attempts(one.id)}

    def teardown(self) -> None:
        try:
            for number in range(MACHINES):
                assert self.must[number] <= self._holds(number)  # nothing is ever lost
            for _ in range(MACHINES):
                everything = [
                    desk.records.write(one)
                    for desk in self.machines
                    for one in desk.store.students.all()
                ]
                for turn, desk in enumerate(self.machines):
                    for text in everything[turn:] + everything[:turn]:
                        desk.records.take_in(text.encode(), "x", join=True)
            states = [state(desk) for desk in self.machines]
            assert states[0] == states[1] == states[2]
        finally:
            self.stack.close()
            shutil.rmtree(self.folder)


TestExchange = pytest.mark.filterwarnings("ignore")(Exchange.TestCase)
TestExchange.settings = settings(
    max_examples=int(os.environ.get("EXCHANGES", "10")),
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)


def three_records(folder: Path) -> list[Record]:
    """Records of one student from three machines, with a retraction of another one's try."""
    records = []
    shared = b""
    for number in range(3):
        with machine(folder / f"{number}.db", f"m{number}", hours=HOURS[number]) as desk:
            with_piece(desk)
            if shared:
                desk.records.take_in(shared, "x")
            student = desk.students.find() if shared else desk.students.add("S")
            view = desk.views.of(student)
            deck = view.decks[PIECE.deck.id]
            heard = Witness(Outcome.BROKE_OFF, broke_at=Fraction(7, 2), missed=number)
            for start in (1, 2, 3):
                desk.attempts.add(view, deck, start, Outcome.THROUGH, heard=heard)
            desk.attempts.take_back(desk.store.log.attempts(student.id)[0])
            desk.pieces.set_open(student, deck, [1, number + 1], opened=number != 1)
            desk.own.set(student, deck, deck.starts[1], {"words": f"from {number}"})
            desk.own.add(desk.views.of(student), deck.id, Fraction(14 + number))
            desk.store.students.save(replace(student, minutes=5.0 + number))
            shared = shared or desk.records.write(student).encode()
            records.append(desk.store.records.of(student.id))
    return records


def test_commutative_and_associative(tmp_path: Path) -> None:
    """All orders of three records, and all ways to bracket them through a machine between."""
    one, two, three = three_records(tmp_path)
    found = []
    for turn, order in enumerate(permutations((one, two, three))):
        with machine(tmp_path / f"plain{turn}.db", f"p{turn}") as desk:
            for record in order:
                desk.store.records.take_in(record)
            found.append(desk.store.records.of("m0-00003"))
        with machine(tmp_path / f"between{turn}.db", f"b{turn}") as between:
            between.store.records.take_in(order[1])
            between.store.records.take_in(order[2])
            pair = between.store.records.of("m0-00003")
        with machine(tmp_path / f"bracket{turn}.db", f"q{turn}") as desk:
            desk.store.records.take_in(order[0])
            desk.store.records.take_in(pair)
            found.append(desk.store.records.of("m0-00003"))
    assert len(found) == 12
    assert all(record == found[0] for record in found)
    assert len(found[0].attempts) == 9
    assert len(found[0].layer) == 6
    assert write_record(found[0]) == write_record(found[-1])


def test_a_retraction_that_comes_before_its_attempt(tmp_path: Path) -> None:
    with machine(tmp_path / "a.db", "a") as desk:
        with_piece(desk)
        student = desk.students.add("S")
        view = desk.views.of(student)
        desk.attempts.take_back(
            desk.attempts.add(view, view.decks[PIECE.deck.id], 1, Outcome.THROUGH)
        )
        record = desk.store.records.of(student.id)
    with machine(tmp_path / "b.db", "b") as middle:
        middle.store.records.take_in(replace(record, attempts=()))
        carried = middle.store.records.of(student.id)
        assert carried.retractions == record.retractions  # it travels on without its attempt
    with machine(tmp_path / "c.db", "c") as last:
        last.store.records.take_in(carried)
        last.store.records.take_in(replace(record, retractions=()))
        assert desk_view(last, student.id) == ()


def desk_view(desk: Desk, student: str) -> tuple[object, ...]:
    return desk.views.of(desk.students.find(student)).attempts


def test_a_record_touches_nobody_else(tmp_path: Path) -> None:
    """A stranger's record that names another student's events changes nothing of theirs."""
    with machine(tmp_path / "a.db", "a") as desk:
        with_piece(desk)
        mine, other = desk.students.add("A"), desk.students.add("B")
        view = desk.views.of(mine)
        deck = view.decks[PIECE.deck.id]
        kept = desk.attempts.add(view, deck, 1, Outcome.THROUGH)
        desk.pieces.set_open(mine, deck, [1], opened=True)
        desk.own.set(mine, deck, deck.starts[0], {"words": "mine"})
        desk.store.recitals.save(Recital("r", mine.id, "Spring", NOON.date()))
        before = desk.store.records.of(mine.id)
        hostile = desk.store.records.of(other.id)
        desk.attempts.take_back(kept)
        retraction = replace(desk.store.log.retractions(mine.id)[0], id="evil", student=other.id)
        with pytest.raises(TrainerError, match=r"record\.retractions\[0\]\.attempt is"):
            desk.store.records.take_in(replace(hostile, retractions=(retraction,)))
        for changes in (
            {"attempts": (replace(kept, student=other.id),)},
            {"openings": (replace(before.openings[0], student=other.id),)},
            {"layer": (replace(before.layer[0], student=other.id),)},
        ):
            with pytest.raises(TrainerError, match="another student's"):
                desk.store.records.take_in(replace(hostile, **changes))
        taken = replace(before.recitals[0].recital, student=other.id, name="Stolen")
        late = NOON + timedelta(days=999)
        stolen = replace(before.recitals[0], recital=taken, edited=late)
        with pytest.raises(TrainerError, match="another student's"):
            desk.store.records.take_in(replace(hostile, recitals=(stolen,)))
        assert [one.name for one in desk.store.recitals.of(mine.id)] == ["Spring"]
        join = Joining("j", mine.id, other.id, True, "m", NOON)
        both = replace(hostile, students=(*hostile.students, *before.students), joinings=(join,))
        with pytest.raises(TrainerError, match="--join"):
            desk.store.records.take_in(both)
        assert len(desk.store.students.all()) == 2


def test_a_pupil_who_began_alone_is_joined_and_parted(tmp_path: Path) -> None:
    with machine(tmp_path / "pupil.db", "p") as pupil, machine(tmp_path / "t.db", "t") as teacher:
        with_piece(pupil)
        with_piece(teacher)
        alone = pupil.students.find()
        view = pupil.views.of(alone)
        for start in (1, 2):
            pupil.attempts.add(view, view.decks[PIECE.deck.id], start, Outcome.THROUGH)
        entry = teacher.students.add("A. T.")
        teacher.records.take_in(pupil.records.write(alone).encode(), "x")
        assert len(teacher.store.students.all()) == 2
        teacher.records.combine(teacher.students.find("me"), entry)
        assert [one.name for one in teacher.store.students.all()] == ["A. T."]
        assert len(teacher.views.of(entry).attempts) == 2
        # Back on the pupil's machine, by a person's word, the log goes on under the one entry.
        text = teacher.records.write(entry).encode()
        with pytest.raises(TrainerError, match="--join"):
            pupil.records.take_in(text, "x")
        pupil.records.take_in(text, "x", join=True)
        assert pupil.students.find().name == "A. T."
        again = pupil.views.of(pupil.students.find())
        pupil.attempts.add(again, again.decks[PIECE.deck.id], 3, Outcome.LOOKED)
        teacher.records.take_in(pupil.records.write(pupil.students.find()).encode(), "x")
        assert len(teacher.views.of(entry).attempts) == 3
        teacher.records.take_apart(teacher.store.students.find_entry("me"))
        assert [len(teacher.views.of(one).attempts) for one in teacher.store.students.all()] == [
            1,
            2,
        ]
        with pytest.raises(TrainerError, match="not combined"):
            teacher.records.take_apart(teacher.store.students.find_entry("me"))
        parted = teacher.records.write(teacher.store.students.find_entry("me")).encode()
        with pytest.raises(TrainerError, match="separates the entries"):
            pupil.records.take_in(parted, "x")
        pupil.records.take_in(parted, "x", join=True)
        assert len(pupil.store.students.all()) == 2


ids = st.sampled_from("abcd")
joinings = st.lists(
    st.builds(
        Joining,
        st.uuids().map(str),
        ids,
        ids,
        st.booleans(),
        st.just("m"),
        st.integers(0, 9).map(lambda hours: NOON + timedelta(hours=hours)),
    ),
    max_size=8,
)


@given(joinings, st.randoms())
def test_joinings_mean_the_same_in_any_order(told: list[Joining], rng: object) -> None:
    shuffled = list(told)
    rng.shuffle(shuffled)  # type: ignore[attr-defined]
    into = joined_into(told, "abc")
    assert joined_into(shuffled, "abc") == into
    assert not set(into.values()) & set(into)  # who stands for others stands for themselves
    assert set(into.values()) <= set("abc")  # and is there


@given(st.lists(st.booleans(), min_size=1, max_size=6))
def test_the_last_word_on_an_opening_counts_whatever_order_it_came_in(words: list[bool]) -> None:
    from trainer.record.people import open_starts

    told = [
        Opening(f"o{n}", "s", "d", "start", word, "m", NOON + timedelta(hours=n))
        for n, word in enumerate(words)
    ]
    assert open_starts(tuple(reversed(told))) == open_starts(tuple(told))
    assert ("start" in open_starts(tuple(told))) == words[-1]
