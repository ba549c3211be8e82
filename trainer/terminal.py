"""The one way to the terminal: all that is printed or asked passes here, and no control with it.

A name, a title, a word of advice is data. What a terminal would obey in it is shown as its code
(`trainer.text`), in sentences and in JSON alike; JSON still reads back to the same value. Only
what the program itself draws (a picture, the line of a progress) is sent as it is.

Standard streams may be closed by the caller: nothing is printed then, and nothing can be read.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from textwrap import fill
from typing import Any

from trainer.text import in_json, visible

_SIGNS = "♯─█✓"


def begin() -> None:
    """Let a stream that the caller has closed lead nowhere."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115


def flush() -> None:
    """Raises OSError where what was printed cannot be written."""
    sys.stdout.flush()


def let_go() -> None:
    """Print no more: what still waits would fail once more at the very end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def close_errors() -> None:
    """Tell no more: nobody reads it."""
    sys.stderr.close()


@contextmanager
def quiet() -> Iterator[None]:
    """Leave out what libraries that are not Python's write where errors are told."""
    sys.stderr.flush()
    kept, nothing = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nothing)


# What the terminal is


def is_read() -> bool:
    """Whether a terminal shows what is printed."""
    return sys.stdout.isatty()


def is_typed() -> bool:
    """Whether somebody types at a terminal."""
    return sys.stdin.isatty()


def is_driven() -> bool:
    """Whether another program shows the screens, in a browser for instance, and drives them
    through pipes: it names the driver in TEXTUAL_DRIVER, as the library of the screens asks."""
    return bool(os.environ.get("TEXTUAL_DRIVER"))


def width() -> int:
    """The columns of the terminal, or 80 where there is none; lists read badly over 120."""
    return max(40, min(120, shutil.get_terminal_size((80, 24)).columns))


def plain_ascii() -> bool:
    """Whether the terminal's encoding lacks the signs, so that ASCII stands for them. What
    drives the screens through pipes is sent UTF-8."""
    if is_driven():
        return False
    try:
        _SIGNS.encode(_encoding("ascii"))
    except (UnicodeEncodeError, LookupError):
        return True
    return False


def _encoding(default: str = "utf-8") -> str:
    return sys.stdout.encoding or default


# What is printed


def say(lines: str | Iterable[str]) -> None:
    """Print lines as text, each on a line of its own; what is wider than a terminal that shows it
    is broken between words, which the terminal would not do."""
    columns = shutil.get_terminal_size((80, 24)).columns
    for line in [lines] if isinstance(lines, str) else lines:
        shown = _shown(line)
        if is_read() and len(shown) > columns:
            indent = shown[: len(shown) - len(shown.lstrip(" "))]
            shown = fill(shown, columns, subsequent_indent=indent, break_on_hyphens=False)
        sys.stdout.write(shown + "\n")
    sys.stdout.flush()


def put(text: str) -> None:
    """Print a text, and go on after it in the same line."""
    sys.stdout.write(_shown(text))
    sys.stdout.flush()


def _shown(text: str) -> str:
    name = _encoding()
    return visible(text).encode(name, "replace").decode(name)


def say_json(data: Any, default: Callable[[Any], Any] | None = None) -> None:
    """Print a value as JSON, in ASCII where the encoding may lack a letter."""
    ascii_ = _encoding("").lower().replace("-", "") != "utf8"
    text = json.dumps(data, default=default, ensure_ascii=ascii_, indent=1)
    sys.stdout.write(in_json(text) + "\n")
    sys.stdout.flush()


def say_bytes(content: bytes) -> None:
    """Print the bytes of a file made here, whose texts hold no control."""
    sys.stdout.flush()
    sys.stdout.buffer.write(content)
    sys.stdout.buffer.flush()


def tell(sentence: str) -> None:
    """Print a sentence where errors are told."""
    sys.stderr.write(visible(sentence) + "\n")
    sys.stderr.flush()


def progress(words: str) -> None:
    """Show on a terminal, and only there, how far long work has come; "" takes it away."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r\x1b[K{visible(words)}")
        sys.stderr.flush()


def bell() -> None:
    """Sound the terminal's bell, if there is a terminal."""
    if is_read():
        sys.stdout.write("\a")
        sys.stdout.flush()


def send(sequence: str) -> None:
    """Send a picture, as it was made here for this terminal, and go to the line after it."""
    sys.stdout.write(sequence + "\n")
    sys.stdout.flush()


# What is asked


def line(mark: str = "> ") -> str | None:
    """The next line that is typed, without its end; None at the end of the input."""
    put(mark)
    typed = sys.stdin.readline()
    end_line()
    return typed.removesuffix("\n") if typed else None


def end_line() -> None:
    """End the line of a mark where no terminal has done so with what was typed."""
    if not is_typed():
        sys.stdout.write("\n")


def confirm(question: str, *, abort: bool = False) -> bool:
    """Ask; yes or no. With `abort` a no raises click.Abort, as the end of the input always
    does."""
    import click

    return click.confirm(visible(question), abort=abort)


def choose(question: str, letters: Iterable[str]) -> str:
    """Ask for one of the letters. The end of the input raises click.Abort."""
    import click

    return str(click.prompt(visible(question), type=click.Choice([*letters], case_sensitive=False)))


def wait() -> None:
    """Wait for Enter; the end of what is typed, or Ctrl+C, will do as well."""
    try:
        line("Enter goes back. ")
    except KeyboardInterrupt:
        say("")
