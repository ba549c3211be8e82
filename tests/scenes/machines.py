"""Machines that share nothing but files: each has a database and a clock of its own, and is asked
by the command line only."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

from tests.command import called

NOON = datetime(2026, 3, 2, 16, 0, tzinfo=timezone(timedelta(hours=1)))


class Machine:
    """`hours` is how wrong its clock is, `zone` where it stands, in hours east of UTC."""

    def __init__(self, path: Path, hours: float = 0.0, zone: float = 1.0) -> None:
        self.path = path
        self._wrong = timedelta(hours=hours)
        self._zone = timezone(timedelta(hours=zone))

    def __call__(self, *words: object, typed: str = "", at: datetime = NOON) -> tuple[int, str]:
        """Run `trainer WORDS` at an instant: the exit code, and what was said."""
        ticking = at + self._wrong

        def now() -> datetime:
            nonlocal ticking
            ticking += timedelta(seconds=1)
            return ticking.astimezone(self._zone)

        with pytest.MonkeyPatch.context() as patch, _said() as said:
            patch.setattr("trainer.cli.common.local_now", now)
            patch.setenv("TRAINER_DB", str(self.path))
            patch.setenv("COLUMNS", "80")
            code = called(patch, *words, typed=typed)
        return code, said.getvalue().decode()

    def do(self, *words: object, typed: str = "", at: datetime = NOON) -> str:
        """The same for what must go well; runs of spaces and lines are one space."""
        code, said = self(*words, typed=typed, at=at)
        assert code == 0, said
        return " ".join(said.split())

    def told(self, *words: object, at: datetime = NOON) -> Any:
        """What `trainer WORDS --json` tells; sentences on standard error may stand after it."""
        code, said = self(*words, "--json", at=at)
        assert code == 0, said
        told, _ = json.JSONDecoder().raw_decode(said)
        return told

    def rows(self, *words: object, at: datetime = NOON) -> list[dict[str, Any]]:
        """The rows of a list."""
        found: list[dict[str, Any]] = self.told(*words, at=at)["rows"]
        return found


@contextmanager
def _said() -> Iterator[io.BytesIO]:
    """What is written to the output and to the errors meanwhile."""
    kept = io.BytesIO()
    stream = io.TextIOWrapper(kept, encoding="utf-8", write_through=True)
    before = sys.stdout, sys.stderr
    sys.stdout = sys.stderr = stream
    try:
        yield kept
    finally:
        sys.stdout, sys.stderr = before
        stream.detach()
