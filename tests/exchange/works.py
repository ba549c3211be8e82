"""A teacher's folder, and commands on it that must be done whole or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from fractions import Fraction
from pathlib import Path
from random import Random

from tests.exchange.build import PIECE
from tests.pieces import piece_of, tune
from tests.store.build import NOON, attempt, open_store
from tests.store.test_care import PUPIL, furnish
from trainer.deck import edit
from trainer.deck.file import write_deck
from trainer.desk import Desk
from trainer.record.attempt import Outcome, Witness
from trainer.record.file import write_record
from trainer.record.people import ProgrammeItem, Recital
from trainer.score.on_paper import on_paper, places
from trainer.store import schema

OLD = "what was there before"
NAME = PUPIL.name
WORKS: dict[str, list[str]] = {
    # In
    "record in": ["records", "in", "{}/record.json"],
    "record in, joined": ["records", "in", "{}/joined.json", "--join"],
    "combine": ["records", "combine", "Other-Name", NAME],
    "separate": ["records", "separate", NAME, "--machine", "machine-1", "--name", "Quillon-two"],
    "folder": ["records", "watch", "{}/shared", "--once"],
    "deck in": ["deck", "in", "{}/newer.json", "--yes"],
    "deck in, new": ["deck", "in", "{}/other.json"],
    "deck in, file": ["deck", "in", "{}/apart.json", "--keep", "file"],
    "deck in, here": ["deck", "in", "{}/apart.json", "--keep", "here"],
    "add": ["add", "{}/score.musicxml"],
    "add, learned": ["add", "{}/score.musicxml", "--learned", "-s", NAME],
    "add, on paper": [
        "add",
        "--paper",
        "Air",
        "--bars",
        "9",
        "--starts",
        "1,5",
        "--learned",
        "-s",
        NAME,
    ],
    "add, for paper": ["add", "{}/score.musicxml", "--for", "Printed"],
    # Out
    "record out": ["records", "out", "{}/out/file.json", "--replace", "-s", NAME],
    "deck out": ["deck", "out", "Study", "{}/out/file.json", "--replace"],
    "deck out, bare": ["deck", "out", "Study", "{}/out/file.json", "--replace", "--without-notes"],
    "sheet": ["print", "sheet", "Study", "--out", "{}/out/file.html", "--replace"],
    "sheet, own": ["print", "sheet", "1", "--out", "{}/out/file.html", "--replace", "-s", NAME],
    "recital": ["print", "recital", "--out", "{}/out/file.html", "--replace", "-s", NAME],
    "term": ["print", "term", "--out", "{}/out/file.html", "--replace", "-s", NAME],
    "lesson": ["print", "lesson", "--out", "{}/out/file.html", "--replace", "-s", NAME],
    "calendar": ["calendar", "--out", "{}/out/file.ics", "--replace", "-s", NAME],
    # The student's own, and what a teacher says
    "own": ["own", "Study", "2", "--words", "sing", "--tempo", "60", "--leave-out", "-s", NAME],
    "own start": ["own", "Study", "--add", "3", "-s", NAME],
    "note": ["note", "softer", "-s", NAME],
    "open": ["open", "Study", "all", "-s", NAME],
    "try": ["record", "Study", "2", "through", "-s", NAME],
    "recital set": ["recital", "set", "Summer", "2030-06-21", "Study", "-s", NAME],
    "split": ["start", "split", "Study", "2", "6"],
    "undo": ["start", "undo", "Study"],
    # Care
    "back up": ["backup", "make"],
    "go back": ["backup", "restore", "{}/older.db", "--yes"],
    "repair": ["check", "--repair"],
    "erase": ["erase", NAME, "--yes"],
    "erase, record first": ["erase", NAME, "--yes", "--out", "{}/out/new.json"],
}
CACHES = ("belief", "plan", "glance")


@contextmanager
def desk_of(path: Path, name: str = "teacher") -> Iterator[Desk]:
    with open_store(path) as store:
        yield Desk(store, store._now, store._new_id, Random(name))


def studio(folder: Path) -> Path:
    """A folder with a database that has something of everything, an earlier form of it and a
    backup, records and decks that wait to be taken in, and files that are to be replaced."""
    folder.mkdir()
    path = folder / "trainer.db"
    with desk_of(path) as desk:
        furnish(desk.store, 12)
        desk.pieces.keep(PIECE, "new")
        desk.pieces.set_open(PUPIL, PIECE.deck, [1, 2], opened=True)
        _printed(desk)
        items = (ProgrammeItem(PIECE.deck.id),)
        day = NOON.date() + timedelta(days=50)
        desk.store.recitals.save(Recital("rec-3", PUPIL.id, "Spring-of-Q", day, items))
        view = desk.views.of(PUPIL)
        for number in (1, 2, 1):
            desk.attempts.add(view, view.decks[PIECE.deck.id], number, Outcome.THROUGH)
        made = desk.store.backups.make("by hand")
        assert made
        (path.with_name("trainer.db.backups") / made.name).rename(folder / "older.db")
        desk.pieces.edit(PIECE.deck.id, lambda piece: edit.relabel(piece, 1, "first"), "label 1")
        desk.store.backups.make("by hand")
        handed = desk.pieces.hand_out(PIECE.deck.id)
        record = write_record(desk.store.records.of(PUPIL.id))
    _at_home(folder, record)
    _at_another_teacher(folder, handed)
    with desk_of(path) as desk:  # edited further, so that the other teacher's is apart from it
        desk.pieces.edit(
            PIECE.deck.id, lambda piece: edit.advise(piece, 1, ["breathe"]), "advise 1"
        )
        (folder / "newer.json").write_text(
            _edited(desk.pieces.hand_out(PIECE.deck.id), folder, "newer")
        )
    (folder / "shared").mkdir()
    (folder / "shared" / "record.json").write_text((folder / "record.json").read_text())
    (folder / "shared" / "half.json").write_text(record[: len(record) // 2])
    (folder / "out").mkdir()
    for ending in ("json", "html", "ics"):
        (folder / "out" / f"file.{ending}").write_text(OLD)
    return folder


def _printed(desk: Desk) -> None:
    """A piece on paper, of the bars of the score that is read; its upbeat is not in that."""
    score = on_paper("Printed", 20, "3/4", "1")
    deck = desk.pieces.add_on_paper(score, places(score, "1,9,17"), PUPIL).deck
    desk.own.add(desk.views.of(PUPIL), deck.id, Fraction(13))


def _at_home(folder: Path, record: str) -> None:
    """The pupil goes on at home: tries that were heard, words and a start of their own, and an
    entry that they had before."""
    with desk_of(folder / "home.db", "home") as desk:
        desk.pieces.keep(PIECE, "new")
        desk.records.take_in(record.encode(), "x", join=True)
        heard = Witness(Outcome.STOPPED, "s", Fraction(3), 1, 2, 3, 40, 0.5)
        desk.store.log.append(
            *(attempt(n, id=f"home-{n}", student=PUPIL.id, heard=heard) for n in range(9))
        )
        deck = desk.store.pieces.deck(PIECE.deck.id)
        desk.own.set(PUPIL, deck, deck.starts[1], {"fingering": "R 1-2", "left out": "yes"})
        desk.own.add(desk.views.of(PUPIL), deck.id, Fraction(18))
        desk.attempts.take_back(desk.store.log.attempts(PUPIL.id)[-1])
        desk.store.recitals.remove("rec-1")
        (folder / "record.json").write_text(desk.records.write(PUPIL))
        alone = desk.students.add("Quillon-alone")
        desk.records.combine(alone, PUPIL)
        (folder / "joined.json").write_text(desk.records.write(PUPIL))
    _remove(folder / "home.db")


def _at_another_teacher(folder: Path, handed: str) -> None:
    (folder / "apart.json").write_text(_edited(handed, folder, "apart"))
    other = piece_of(tune(16, title="Other"), [0, 12], "other")
    (folder / "other.json").write_text(write_deck(other))


def _edited(handed: str, folder: Path, name: str) -> str:
    """A deck file, edited on another machine."""
    file = folder / "handed.json"
    file.write_text(handed)
    with desk_of(folder / f"{name}.db", name) as desk:
        desk.pieces.take_in(desk.pieces.look_at(file))
        desk.pieces.edit(
            PIECE.deck.id, lambda piece: edit.relabel(piece, 2, name), f"label 2 {name}"
        )
        text = desk.pieces.hand_out(PIECE.deck.id)
    file.unlink()
    _remove(folder / f"{name}.db")
    return text


def _remove(path: Path) -> None:
    for file in path.parent.glob(f"{path.name}*"):
        if file.is_file():
            file.unlink()
        else:
            for one in file.iterdir():
                one.unlink()
            file.rmdir()


def kept(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """All that a database holds, by table: its rows without their order of arrival, and the names
    of its tables, indexes and triggers. Caches are left out, and so is which ids of its own the
    database has had, for every copy has another one."""
    with closing(sqlite3.connect(path)) as raw:
        tables = raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        names = raw.execute("SELECT name FROM sqlite_master ORDER BY name").fetchall()
        found: dict[str, list[tuple[object, ...]]] = {"what there is": names}
        own = {row[0]: "its own id" for row in raw.execute("SELECT id FROM machine")}
        for (table,) in tables:
            if table.startswith(("sqlite_", "_sqlite")) or table in (*CACHES, "machine", "place"):
                continue
            columns = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
            chosen = ", ".join(name for name in columns if name != "seq")
            rows = raw.execute(f"SELECT {chosen} FROM {table}").fetchall()
            told = [tuple(own.get(cell, cell) for cell in row) for row in rows]
            found[table] = sorted(told, key=repr)
    return found


def sound(path: Path) -> None:
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert raw.execute("PRAGMA foreign_key_check").fetchall() == []


# Databases of earlier versions

_ROWS: tuple[tuple[str, str], ...] = (  # the step from which a row can be there, and the row
    ("first", "INSERT INTO student (seq, id, content, edited) VALUES (1, 'student-1',"
     ' \'{"id":"student-1","name":"Quillon"}\', 5), (2, \'student-2\','
     ' \'{"id":"student-2","name":"B"}\', 5)'),
    ("first", "INSERT INTO machine (seq, id) VALUES (1, 'old-machine')"),
    ("first", "INSERT INTO score (seq, id, title, content) VALUES (1, 'score-1', 'T', 'x')"),
    ("first", "INSERT INTO deck (seq, id, current) VALUES (1, 'deck-1', 'rev')"),
    ("first", "INSERT INTO deck_revision (seq, deck, revision, score, title, starts, content)"
     " VALUES (1, 'deck-1', 'rev', 'score-1', 'T', 1, 'x')"),
    ("first", "INSERT INTO deck_edit (seq, id, deck, revision, parent, machine, at, utc_offset,"
     " why, undoes, merged) VALUES (1, 'e', 'deck-1', 'rev', '', 'm', 0, 0, 'new', '', '')"),
    ("first", "INSERT INTO recital (seq, id, student, name, day, edited)"
     " VALUES (1, 'r', 'student-1', 'Spring', '2026-05-01', 0)"),
    ("first", "INSERT INTO programme (recital, position, deck, from_memory)"
     " VALUES ('r', 0, 'deck-1', 'yes')"),
    ("first", "INSERT INTO setting (seq, key, student, value, edited)"
     " VALUES (1, 'names', 'student-1', 'german', 0)"),
    ("first", "INSERT INTO tombstone (seq, id, machine, at) VALUES (1, 'student-0', 'm', 0)"),
    *(("first", "INSERT INTO attempt (seq, id, student, deck, revision, start, machine, at,"
       " utc_offset, day, outcome, drill, judge, hands, tempo, hints, elsewhere, broke_at, seconds,"
       f" latency, amends) VALUES ({n}, 'a{n}', 'student-{n % 2 + 1}', 'deck-1', 'rev', 's', 'm',"
       f" {n}, 60, '1970-01-01', 'through', 'cold', 'self', 'both', NULL, '[]', '', NULL, NULL,"
       " NULL, '')") for n in range(1, 41)),
    ("first", "INSERT INTO retraction (seq, id, attempt, machine, at, utc_offset)"
     " VALUES (1, 'r1', 'a1', 'm', 0, 0)"),
    ("first", "INSERT INTO opening (seq, id, student, deck, start, open, machine, at, utc_offset)"
     " VALUES (1, 'o', 'student-1', 'deck-1', 's', 1, 'm', 0, 0)"),
    ("beliefs", "INSERT INTO belief (student, tries, basis, content)"
     " VALUES ('student-1', 3, 'b', x'00')"),
    ("exchange", "INSERT INTO joining (seq, id, student, target, joined, machine, at, utc_offset)"
     " VALUES (1, 'j', 'student-2', 'student-9', 1, 'm', 0, 0)"),
    ("exchange", "INSERT INTO score_frame (score, frame) VALUES ('full', 'score-1')"),
    ("plans", "INSERT INTO plan (student, content) VALUES ('student-1', 'x')"),
    ("notes", "INSERT INTO note (seq, id, student, day, text, machine, at, utc_offset, replaces)"
     " VALUES (1, 'n', 'student-1', '2026-05-01', 'Quillon was late', 'm', 0, 0, '')"),
    ("layer", "INSERT INTO layer_edit (seq, id, student, deck, start, what, value, machine, at,"
     " utc_offset) VALUES (1, 'l', 'student-1', 'deck-1', 's', 'words', 'sing', 'm', 0, 0)"),
    ("glance", "INSERT INTO glance (student, basis, content) VALUES ('student-1', 'b', 'x')"),
    ("originals", "INSERT INTO original (seq, score, name, content)"
     " VALUES (1, 'score-1', 'a.xml', x'00')"),
    ("differing", "INSERT INTO differing (seq, id, student, kind, event, content, at)"
     " VALUES (1, 'd', 'student-1', 'attempt', 'a1', '{}', 0)"),
    ("drafts", "INSERT INTO draft (deck, place, id, student, content)"
     " VALUES ('deck-1', 0, 'draft-1', 'student-1', 'x'), ('deck-1', 1, 'draft-1', 'student-1',"
     " 'y')"),
    ("drafts", "INSERT INTO draft_at (deck, student, here, edited)"
     " VALUES ('deck-1', 'student-1', 1, 0)"),
    ("worked on", "INSERT INTO layer_edit (seq, id, student, deck, start, what, value, machine,"
     " at, utc_offset) VALUES (2, 'w', 'student-1', 'deck-1', 's', 'worked on', 'yes', 'm', 1, 0)"),
    ("homework", "INSERT INTO layer_edit (seq, id, student, deck, start, what, value, machine,"
     " at, utc_offset) VALUES (3, 'h', 'student-1', 'deck-1', 's', 'homework', '2026-03-09', 'm',"
     " 1, 0)"),
)  # fmt: skip
VERSIONS = tuple(name for name, _ in schema.STEPS)


def database_of(path: Path, last: str) -> None:
    """A database as the program left it whose last migration was `last`, with a row in every
    table that it had."""
    from sqlite_utils import Database, Migrations

    had = VERSIONS[: VERSIONS.index(last) + 1]
    before = Migrations("trainer")
    for name, step in schema.STEPS[: len(had)]:
        before(name=name)(step)
    db = Database(path, execute_plugins=False, strict=True)
    before.apply(db)
    db.conn.commit()
    db.execute("BEGIN")
    for since, row in _ROWS:
        if since in had:
            db.execute(row)
    db.execute("COMMIT")
    db.close()


def carried(path: Path, columns: dict[str, list[str]]) -> dict[str, list[tuple[object, ...]]]:
    """The rows of a database in those tables and columns; of its own ids the first."""
    first = {"machine": " WHERE seq = 1"}
    with closing(sqlite3.connect(path)) as raw:
        return {
            table: sorted(
                raw.execute(f"SELECT {', '.join(names)} FROM {table}{first.get(table, '')}"),
                key=repr,
            )
            for table, names in columns.items()
        }


def columns_of(path: Path) -> dict[str, list[str]]:
    with closing(sqlite3.connect(path)) as raw:
        tables = raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        return {
            table: [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
            for (table,) in tables
            if not table.startswith(("sqlite_", "_sqlite")) and table != "place"
        }


def steps_in(path: Path) -> tuple[str, ...]:
    """The migrations that a database has seen."""
    with closing(sqlite3.connect(path)) as raw:
        rows = raw.execute("SELECT name FROM _sqlite_migrations ORDER BY id").fetchall()
    return tuple(row[0] for row in rows)
