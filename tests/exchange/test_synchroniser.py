"""A watched folder that a program keeps alike with others: nothing taken in twice or by half.

The program here writes as such programs do: under another name first, hidden or not, or in place,
block by block over what was there, with the file's old time set back; it makes copies where two
machines wrote at once, removes late, brings again what it removed, and writes while it is read.
It never rests within a file that it overwrites for as long as the watch waits: a longer rest is
what the watch cannot tell from the end.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from random import Random

import pytest

from tests.exchange.build import PIECE, machine, with_piece
from trainer.cli import records, watch
from trainer.desk import Desk
from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Outcome
from trainer.record.file import parse_record
from trainer.record.people import Opening, Student

BLOCK = 256
ROUNDS = 14
Hook = Iterator[None]


class Synchroniser:
    """Brings files into a folder in little steps; `now` is the clock of the machine there."""

    def __init__(self, folder: Path, rng: Random) -> None:
        self.folder, self.rng = folder, rng
        self.rested = 0.0  # seconds since the last step
        self._under_way: dict[str, Hook] = {}
        self._brought: dict[str, tuple[bytes, int]] = {}
        self.ways: set[str] = set()

    def now(self) -> float:
        times = [path.lstat().st_ctime for path in self.folder.iterdir()]
        return max(times, default=0.0) + self.rested

    def bring(self, name: str, data: bytes) -> None:
        """Begin to bring a file; where another form of it is still under way, that first or this
        one as a copy."""
        if name in self._under_way and self.rng.random() < 0.4:
            stem, _, ending = name.rpartition(".")
            name = f"{stem} (conflict copy {self.rng.randrange(2, 5)}).{ending}"
        self._end(name)
        at = 1_700_000_000_000_000_000 + self.rng.randrange(3)
        self._brought[name] = (data, at)
        self._begin(name, data, at)

    def again(self) -> None:
        """Remove a file, late, and bring it again as it was."""
        here = sorted(name for name in self._brought if name not in self._under_way)
        if here:
            name = self.rng.choice(here)
            (self.folder / name).unlink()
            self._begin(name, *self._brought[name])

    def step(self) -> None:
        """Write a block of something that is under way."""
        if self._under_way:
            name = self.rng.choice(sorted(self._under_way))
            if next(self._under_way[name], self) is self:
                del self._under_way[name]
            self.rested = self.rng.uniform(0.0, 0.9 * watch.QUIET)

    def rest(self) -> None:
        """Write all that is under way, and then nothing for a while."""
        for name in sorted(self._under_way):
            self._end(name)
        self.rested = 2 * watch.QUIET

    def _end(self, name: str) -> None:
        for _ in self._under_way.pop(name, iter(())):
            pass

    def _begin(self, name: str, data: bytes, at: int) -> None:
        way = self.rng.choice(("hidden", "beside", "in place", "in place", "made long first"))
        self.ways.add(way)
        path = self.folder / name
        if way in ("hidden", "beside"):
            part = path.with_name(f".sync.{name}.tmp" if way == "hidden" else f"{name}.tmp")
            self._under_way[name] = self._beside(part, path, data, at)
        else:
            self._under_way[name] = self._in_place(path, data, at, long=way != "in place")

    @staticmethod
    def _beside(part: Path, path: Path, data: bytes, at: int) -> Hook:
        with part.open("wb", buffering=0) as file:
            for begin in range(0, len(data), BLOCK):
                file.write(data[begin : begin + BLOCK])
                yield
        os.utime(part, ns=(at, at))
        part.replace(path)

    @staticmethod
    def _in_place(path: Path, data: bytes, at: int, *, long: bool) -> Hook:
        with path.open("r+b" if path.exists() else "w+b", buffering=0) as file:
            if long:
                file.truncate(len(data))
            for begin in range(0, len(data), BLOCK):
                file.seek(begin)
                file.write(data[begin : begin + BLOCK])
                os.utime(path, ns=(at, at))
                yield
            file.truncate(len(data))
        os.utime(path, ns=(at, at))


def mixed(data: bytes, true: dict[str, Attempt]) -> bool:
    """Whether bytes read as a record with an attempt that nobody made."""
    try:
        found = parse_record(data, "x").attempts
    except TrainerError:
        return False
    return any(true.get(one.id) != one for one in found)


class Shared:
    """A pupil with two machines, another with one, and a teacher who watches their folder."""

    def __init__(self, folder: Path, stack: ExitStack, rng: Random) -> None:
        self.rng, self.folder = rng, folder / "shared"
        self.folder.mkdir()
        self.sync = Synchroniser(self.folder, rng)
        names = ("laptop", "tablet", "others", "taught")
        desks = [
            with_piece(stack.enter_context(machine(folder / f"{name}.db", name))) for name in names
        ]
        *self.homes, self.teacher = desks
        first = self.homes[0].students.add("A.")
        text = self.homes[0].records.write(first).encode()
        self.homes[1].records.take_in(text, "x")
        self.pupils = [first, first, self.homes[2].students.add("B.")]
        self.watch = watch.Watch(self.folder)
        self.told = 0  # attempts that were said to be taken in

    def true(self) -> dict[str, Attempt]:
        pairs = zip(self.homes, self.pupils, strict=True)
        return {one.id: one for desk, who in pairs for one in desk.store.log.attempts(who.id)}

    def practise(self, number: int) -> None:
        desk, pupil = self.homes[number], self.pupils[number]
        view = desk.views.of(pupil)
        for _ in range(self.rng.randrange(1, 12)):
            outcome = self.rng.choice((Outcome.THROUGH, Outcome.STOPPED))
            desk.attempts.add(view, view.decks[PIECE.deck.id], self.rng.randrange(1, 5), outcome)
        if self.rng.random() < 0.5:  # what comes before the attempts in the file
            opened = self.rng.random() < 0.5
            desk.pieces.set_open(pupil, PIECE.deck, [self.rng.randrange(1, 5)], opened=opened)
        self.sync.bring(f"{pupil.name}json", desk.records.write(pupil).encode())

    def look(self) -> None:
        true = self.true()
        for told in records._look(self.teacher, self.watch, last=False):
            if "refused" in told:
                assert "is not whole" in told["refused"]
            else:
                self.told += told["attempts"]
        for student in self.teacher.store.students.all():
            for one in self.teacher.store.log.attempts(student.id):
                assert one == true[one.id]


def events(desk: Desk, student: Student) -> dict[str, Attempt | Opening]:
    record = desk.store.records.of(student.id)
    kept: list[Attempt | Opening] = [*record.attempts, *record.openings]
    return {one.id: one for one in kept}


def play(shared: Shared, rng: Random) -> None:
    for _ in range(ROUNDS):
        shared.practise(rng.randrange(3))
        for _ in range(rng.randrange(30)):
            shared.sync.step()
            if rng.random() < 0.2:
                shared.look()
        if rng.random() < 0.4:
            shared.sync.rest()
            shared.practise(rng.randrange(3))  # written while the others are read
            shared.look()
            if rng.random() < 0.5:
                shared.sync.again()
    for number in range(3):
        shared.practise(number)
        shared.sync.rest()
        shared.look()


def test_nothing_is_taken_in_twice_or_by_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read, ways = Path.read_bytes, set[str]()
    for seed in range(3):
        rng = Random(seed)
        (tmp_path / str(seed)).mkdir()
        with ExitStack() as stack:
            shared = Shared(tmp_path / str(seed), stack, rng)
            monkeypatch.setattr("trainer.cli.watch.time.time", shared.sync.now)

            def meanwhile(path: Path, shared: Shared = shared, rng: Random = rng) -> bytes:
                """Half of a file is read before the synchroniser's next step, half after it."""
                half = path.stat().st_size // 2
                with path.open("rb") as file:
                    first = file.read(half)
                    for _ in range(rng.choice((0, 0, 1, 3, 40))):
                        shared.sync.step()
                    return first + file.read()

            with monkeypatch.context() as patch:
                patch.setattr(Path, "read_bytes", meanwhile)
                play(shared, rng)
            assert Path.read_bytes is read
            true: dict[str, Attempt | Opening] = {}
            for desk, pupil in zip(shared.homes, shared.pupils, strict=True):
                true |= events(desk, pupil)
            found: dict[str, Attempt | Opening] = {}
            for student in shared.teacher.store.students.all():
                found |= events(shared.teacher, student)
            assert found == true
            assert shared.told == len(shared.true())
            ways |= shared.sync.ways
    assert ways == {"hidden", "beside", "in place", "made long first"}


def test_the_beginning_of_one_with_the_end_of_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Overwritten in place by a record of the same length, a file reads as a whole on the way,
    with an attempt that nobody made. Its old time is set back after every block."""
    with machine(tmp_path / "a.db", "laptop") as desk:
        pupil = with_piece(desk).students.add("A.")
        view = desk.views.of(pupil)
        for _ in range(9):
            desk.attempts.add(view, view.decks[PIECE.deck.id], 2, Outcome.THROUGH)
        old = desk.records.write(pupil)
    new = re.sub(r'^( *){"id":"laptop-', r'\1{"id":"tablet-', old, flags=re.MULTILINE)
    new = new.replace('"through"', '"stopped"')
    line = new.rindex('"stopped"', 0, len(new) * 3 // 4)
    both = (new[:line] + old[line:]).encode()
    true = {one.id: one for text in (old, new) for one in parse_record(text.encode(), "x").attempts}
    assert len(old) == len(new)
    assert mixed(both, true)
    folder = tmp_path / "shared"
    folder.mkdir()
    path, seen = folder / "A.json", watch.Watch(folder)

    def write(data: bytes) -> None:
        path.write_bytes(data)
        os.utime(path, ns=(1, 1))

    def look(after: float) -> list[bytes | TrainerError]:
        at = path.lstat().st_ctime + after * watch.QUIET
        monkeypatch.setattr("trainer.cli.watch.time.time", lambda: at)
        return [found for _, found in seen.new()]

    write(old.encode())
    assert look(2) == [old.encode()]
    write(both)
    assert (look(0.5), seen.waiting) == ([], ["A.json"])
    write(new.encode())
    with monkeypatch.context() as patch:  # it begins again while it is read

        def meanwhile(_: Path) -> bytes:
            write(both)
            return both

        patch.setattr(Path, "read_bytes", meanwhile)
        assert (look(2), seen.waiting) == ([], ["A.json"])
    write(new.encode())
    assert (look(2), seen.waiting) == ([new.encode()], [])
    assert look(3) == []


def test_a_refusal_is_told_once_and_tried_again(tmp_path: Path) -> None:
    """The reason may pass, as where a file may not be read for a while; one that goes while the
    folder is looked at is nobody's concern."""
    seen = watch.Watch(tmp_path)
    (tmp_path / "A.json").write_text('{"format":"trainer record","version":1,"record":{}}')
    os.utime(tmp_path / "A.json", ns=(1, 1))
    (tmp_path / "B.json").write_text("going")
    watch_time = (tmp_path / "B.json").lstat().st_ctime + 2 * watch.QUIET
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("trainer.cli.watch.time.time", lambda: watch_time)
        looked = seen.new()
        name, _ = next(looked)
        (tmp_path / "B.json").unlink()
        assert list(looked) == []
        assert seen.refused(name, "another copy of the program")
        assert [name for name, _ in seen.new()] == ["A.json"]
        assert not seen.refused(name, "another copy of the program")
        assert [name for name, _ in seen.new()] == ["A.json"]
        seen.taken(name)
        assert list(seen.new()) == []
        assert seen.refused(name, "another copy of the program")


def test_a_database_in_the_folder_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Open, it changes at every look: nobody would be told that the folder is done."""
    with machine(tmp_path / "a.db", "laptop") as desk:
        with_piece(desk).students.add("A.")
        newest = max(path.lstat().st_ctime for path in tmp_path.iterdir())
        before = newest + 2 * watch.QUIET
        monkeypatch.setattr("trainer.cli.watch.time.time", lambda: before)
        seen = watch.Watch(tmp_path)
        for path in tmp_path.glob("a.db-*"):
            os.utime(path, (before, before))
        assert [path.name for path in tmp_path.glob("a.db-wal")] == ["a.db-wal"]
        assert (list(seen.new()), seen.waiting) == ([], [])
