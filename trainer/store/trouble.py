"""What went wrong with the database file, in one sentence that says what to do next."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from trainer.errors import TrainerError


class UnusableError(TrainerError):
    """The file at `path` is damaged (`damaged`), or is no database of this program."""

    def __init__(self, sentence: str, path: Path, *, damaged: bool) -> None:
        super().__init__(sentence)
        self.path = path
        self.damaged = damaged


IN_USE = "{path} is in use by another copy of the program; close that copy and try again."
SHUT = (
    "{path} cannot be opened; check that you may read and write the file and its folder, or name "
    "another file with --db."
)
FOREIGN = "{path} is not a database of this program: name another file with --db."
NOT_WRITABLE = (
    "{path} can only be read: ask for permission to write it, or copy it to a folder of your own"
    " and name that copy with --db."
)
LEFT_OPEN = (
    "{path} is in use, or was not closed, and cannot be read where its folder cannot be written:"
    " copy it together with the files -wal and -shm beside it to a folder of your own and name"
    " that copy with --db."
)
OLD_TO_READ = (
    "{path} is empty or from an older version, and can only be read: copy it to a folder of your"
    " own, where it can be brought up to date, and name that copy with --db."
)
NEWER = (
    "{path} is from a newer version of the program: install that version, or name another file"
    " with --db."
)
DAMAGED = "{path} is damaged ({error}); keep it as it is, and restore a backup."
LOST = (
    "{path} is missing or empty, but its journal or backups are still beside it, so no new "
    "database was made; see `trainer backup list` and `trainer backup restore`, or move them away "
    "to begin again."
)
UNWRITABLE = "{path} cannot keep a text with an invalid character; write the text again."

# What to say of the file {path}, by the beginning of SQLite's own name of the error.
_SENTENCES = {
    "SQLITE_BUSY": IN_USE,
    "SQLITE_LOCKED": IN_USE,
    "SQLITE_NOTADB": FOREIGN,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_FULL": "The disk is full and {path} did not keep the last entry; make room, then "
    "enter it again.",
    "SQLITE_READONLY": NOT_WRITABLE,
    "SQLITE_CANTOPEN": SHUT,
    "SQLITE_PERM": SHUT,
    "SQLITE_IOERR": "The disk failed to read or write {path} ({error}): see whether it is full or"
    " faulty, then try again.",
    "SQLITE_CONSTRAINT_FOREIGNKEY": "{path} does not know the student or the piece that the entry"
    " belongs to: add that one first.",
    "SQLITE_CONSTRAINT": "{path} refused the entry ({error}): nothing was changed; correct the "
    "entry.",
}


def name(error: sqlite3.Error) -> str:
    """SQLite's own name of an error, such as SQLITE_BUSY; empty where it gives none."""
    return getattr(error, "sqlite_errorname", None) or ""


def say(sentence: str, path: Path, error: BaseException | None = None) -> TrainerError:
    """The sentence about a file, without signs that do not print."""
    said = sentence.format(path=path, error=error)
    text = "".join(sign if sign.isprintable() else "\ufffd" for sign in said)
    if sentence in (DAMAGED, FOREIGN, LOST):
        return UnusableError(text, path, damaged=sentence != FOREIGN)
    return TrainerError(text)


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turns what SQLite says of the file into one sentence; a fault of ours stays as it is."""
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.InterfaceError):
        raise
    except sqlite3.Error as error:
        fits = [said for code, said in _SENTENCES.items() if name(error).startswith(code)]
        raise say(fits[0] if fits else DAMAGED, path, error) from error
    except UnicodeEncodeError as error:
        raise say(UNWRITABLE, path) from error
    except UnicodeDecodeError as error:
        raise say(DAMAGED, path, error) from error
