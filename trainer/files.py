"""Files that are handed out: written whole, or not at all."""

from __future__ import annotations

import os
import platform
import re
import sys
import time
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from uuid import uuid4

from trainer.errors import TrainerError

PART = ".part"  # the end of the name of a file that is being written
STALE = 3600.0  # seconds after which nobody writes it any more, on whatever machine
_OURS = re.compile(r"\.trainer-([0-9a-f]{8})-([0-9]+)-[0-9a-f]{8}\.part")


def write_file(path: Path, content: str | bytes, *, replace: bool) -> None:
    """Write a text or bytes to a file. At every moment there is the old file or the whole new one.

    Raises TrainerError where a file is there and is not to be replaced, and where it cannot be
    written; nothing is left behind then. What a killed process left in the folder is removed.
    """
    part = path.with_name(f".trainer-{_host()}-{os.getpid()}-{uuid4().hex[:8]}{PART}")
    try:
        if path.exists() and not replace:
            raise FileExistsError
        try:
            _write(part, content.encode() if isinstance(content, str) else content)
            part.replace(path)
            _tidy(path.parent)
        finally:
            part.unlink(missing_ok=True)
    except FileExistsError:
        told = f"{path.name} exists already; choose another name or give --replace."
        raise TrainerError(told) from None
    except UnicodeEncodeError as error:
        raise TrainerError(
            f"{path.name} would contain an invalid character; write the text again."
        ) from error
    except OSError as error:
        raise TrainerError(f"{path.name} cannot be written: {error.strerror}.") from error


def _host() -> str:
    """Tells machines apart that share a folder, without naming them."""
    return sha256(platform.node().encode()).hexdigest()[:8]


def _tidy(folder: Path) -> None:
    """Remove what processes have left in a folder that were killed while they wrote there."""
    for part in folder.glob(f".*{PART}"):
        with suppress(OSError):
            if (named := _OURS.fullmatch(part.name)) and _dead(part, *named.groups()):
                part.unlink()


def _dead(part: Path, host: str, process: str) -> bool:
    """Whether nobody writes this file any more."""
    if time.time() - part.stat().st_mtime > STALE:
        return True
    if host != _host():
        return False
    return not running(process)


def running(process: str) -> bool:
    """Whether a process, by its number, still runs on this machine."""
    if sys.platform == "win32":
        return False  # what is still open is not removed there
    try:
        os.kill(int(process), 0)  # asks, and does nothing
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def _for_its_owner(path: str, flags: int) -> int:
    """What is handed out is about a person: who else may read it is for its owner to say."""
    return os.open(path, flags, 0o600)


def _write(path: Path, content: bytes) -> None:
    with open(path, "xb", opener=_for_its_owner) as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
