"""Files that are handed out: written whole, or not at all."""

from __future__ import annotations

import glob
import os
import time
from contextlib import suppress
from pathlib import Path
from uuid import uuid4

from trainer.errors import TrainerError

PART = ".part"  # the end of the name of a file that is being written
STALE = 3600.0  # seconds after which nobody writes it any more


def write_file(path: Path, content: str | bytes, *, replace: bool) -> None:
    """Write a text or bytes to a file. At every moment there is the old file or the whole new one.

    Raises TrainerError where a file is there and is not to be replaced, and where it cannot be
    written; nothing is left behind then.
    """
    part = path.with_name(f".{path.name[:40]}.{uuid4().hex[:8]}{PART}")
    try:
        if path.exists() and not replace:
            raise FileExistsError
        try:
            _write(part, content.encode() if isinstance(content, str) else content)
            part.replace(path)
            _tidy(path)
        finally:
            part.unlink(missing_ok=True)
    except FileExistsError:
        raise TrainerError(f"{path.name} is there already; choose another or --replace.") from None
    except UnicodeEncodeError as error:
        raise TrainerError(f"{path.name} would hold a broken letter: write it anew.") from error
    except OSError as error:
        raise TrainerError(f"{path.name} cannot be written: {error.strerror}.") from error


def _tidy(path: Path) -> None:
    """Remove what a process has left behind that was killed while it wrote this file."""
    parts = path.parent.glob(f".{glob.escape(path.name[:40])}.????????{PART}")
    for part in parts:
        with suppress(OSError):
            if time.time() - part.stat().st_mtime > STALE:
                part.unlink()


def _write(path: Path, content: bytes) -> None:
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
