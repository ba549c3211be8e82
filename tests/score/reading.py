"""Reads in this process, for the many small scores of the tests; `read_score` starts another."""

from __future__ import annotations

import warnings
from typing import Any

from trainer.score.files import Kind
from trainer.score.model import Score
from trainer.score.read import Limits, understand
from trainer.score.reading_process import Request


def read(text: str | bytes, kind: Kind = "MusicXML", *, movement: int = 1) -> Score:
    """The score in a text, as `read_score` would give it for a file "small.x"."""
    data = text.encode() if isinstance(text, str) else text
    request = Request("small.x", kind, "small", movement, Limits())
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # in the child they go nowhere
        return understand(request, data, lambda _: None)


def table(score: Score, *fields: str, of: str = "notes") -> list[Any]:
    """One field, or several, of each note; or `of` each rest, mark or bar."""
    rows = [tuple(getattr(value, name) for name in fields) for value in getattr(score, of)]
    return [row[0] for row in rows] if len(fields) == 1 else rows
