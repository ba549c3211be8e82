"""A fault of the program itself: told in one sentence, whatever it was and wherever it came from.

A traceback may hold what people wrote, so none is shown and none is kept by itself. Where the
variable TRAINER_TRACE names a file, tracebacks are added to it, without the values of variables;
only its owner can read the file.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType

from trainer import terminal

CODE = 70  # of the process; "internal software error" in sysexits.h of BSD
TRACE = "TRAINER_TRACE"
_PACKAGE = Path(__file__).parents[1]


def sentence(error: BaseException, done: str = "ended it") -> str:
    """What happened, without a word from the error itself, and what to do next."""
    return (
        f"A fault in the program {done} ({type(error).__name__}{_place(error)}): all that was"
        " recorded is kept, start it again."
    )


def _place(error: BaseException) -> str:
    """The last line of this program that led to the error."""
    import traceback  # here and below: nearly every start of the program does without

    found = ""
    for frame in traceback.extract_tb(error.__traceback__):
        file = Path(frame.filename)
        if file.is_relative_to(_PACKAGE):
            found = f", {file.relative_to(_PACKAGE.parent).as_posix()}, line {frame.lineno}"
    return found


def keep(error: BaseException) -> None:
    """Add the traceback to the file that a developer named, if one did."""
    import traceback

    name = os.environ.get(TRACE)
    if not name:
        return
    with suppress(OSError):
        handle = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            file.writelines(traceback.format_exception(error))


@contextmanager
def told() -> Iterator[None]:
    """While it lasts, what goes wrong where nobody can catch it (in a thread, at the end of an
    object) shows no traceback either."""
    before = sys.excepthook, threading.excepthook, sys.unraisablehook

    def last(_: type[BaseException], error: BaseException, __: TracebackType | None) -> None:
        keep(error)
        terminal.tell(f"trainer: {sentence(error)}")

    def in_thread(one: threading.ExceptHookArgs) -> None:
        if one.exc_value is not None and not isinstance(one.exc_value, SystemExit):
            keep(one.exc_value)
            terminal.tell(f"trainer: {sentence(one.exc_value, 'stopped a part of it')}")

    def late(one: sys.UnraisableHookArgs) -> None:
        if one.exc_value is not None:
            keep(one.exc_value)

    sys.excepthook, threading.excepthook, sys.unraisablehook = last, in_thread, late
    try:
        yield
    finally:
        sys.excepthook, threading.excepthook, sys.unraisablehook = before
