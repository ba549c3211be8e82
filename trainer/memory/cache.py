"""Beliefs as bytes, for a cache that can be dropped at any time.

Restored beliefs equal the replayed ones to the bit; whatever cannot be read, was written in
another form or rests on another log is no beliefs at all, and the caller replays.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

import msgspec

from trainer.memory.curve import DEFAULT, Law
from trainer.memory.evidence import Try
from trainer.memory.model import Beliefs, Side, Spent, Trace, believe
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.memory.grid import Array, Grid

FORM = 2  # raise it with every change of the model's numbers


class _Trace(Frozen, frozen=True):
    half_life: bytes
    seen: bytes
    last: datetime
    tries: int
    held: int
    last_cold: datetime | None
    failing: int


class _Side(Frozen, frozen=True):
    traces: dict[str, _Trace]
    student: bytes


class _Kept(Frozen, frozen=True):
    form: int
    basis: str
    law: Law
    start: _Side | None
    join: _Side | None
    latency: tuple[float, float]
    confusions: list[tuple[str, str, int]]
    lenders: dict[str, str]
    spent: dict[str, Spent]


def keep(beliefs: Beliefs, basis: str) -> bytes:
    """The beliefs as bytes. `basis` names the log that they rest on, in the caller's terms (a
    digest of the ids of the attempts and of the decks' revisions, for instance)."""
    kept = _Kept(
        FORM,
        basis,
        beliefs.law,
        _packed(beliefs.start),
        _packed(beliefs.join),
        beliefs.latency,
        [(*pair, count) for pair, count in beliefs.confusions.items()],
        beliefs.lenders,
        beliefs.spent,
    )
    return msgspec.msgpack.encode(kept)


def find(data: bytes, basis: str) -> Beliefs | None:
    """The beliefs that `keep` wrote for that basis; None where these are not they."""
    from trainer.memory.grid import grid

    try:
        kept = msgspec.msgpack.decode(data, type=_Kept)
        if kept.form != FORM or kept.basis != basis:
            return None
        cells = grid(kept.law)
        return Beliefs(
            kept.law,
            _unpacked(kept.start, cells),
            _unpacked(kept.join, cells),
            kept.latency,
            {(called, begun): count for called, begun, count in kept.confusions},
            kept.lenders,
            kept.spent,
        )
    except (msgspec.DecodeError, ValueError):
        return None


class Remembered(Frozen, frozen=True):
    """Beliefs as they are kept: after how many tries, the digest of those, and the bytes."""

    tries: int
    basis: str
    content: bytes


def basis_of(tries: Sequence[Try]) -> str:
    """A digest of what tries say and in which order: equal logs read alike give equal ones."""
    digest = sha256()
    for one in tries:
        words = (one.attempt.id, one.start, one.confused, *one.lent)
        digest.update(f"{words}{one.cold}{one.cued}{one.repeat}\n".encode())
    return digest.hexdigest()[:32]


def remembered(tries: Sequence[Try], kept: Remembered | None, law: Law = DEFAULT) -> Beliefs:
    """The beliefs after all tries under a law, from the kept ones where these rest on the first
    tries of the same log, else replayed. Either way the result is the same to the bit."""
    if kept is not None and kept.tries <= len(tries):
        basis = basis_of(tries[: kept.tries])
        found = find(kept.content, basis) if basis == kept.basis else None
        if found is not None and found.law == law:
            return found.taken(tries[kept.tries :])
    return believe(tries, law)


def to_remember(tries: Sequence[Try], beliefs: Beliefs) -> Remembered:
    basis = basis_of(tries)
    return Remembered(len(tries), basis, keep(beliefs, basis))


def _packed(side: Side | None) -> _Side | None:
    if side is None:
        return None
    traces = {
        start: _Trace(
            t.half_life.tobytes(),
            t.seen.tobytes(),
            t.last,
            t.tries,
            t.held,
            t.last_cold,
            t.failing,
        )
        for start, t in side.traces.items()
    }
    return _Side(traces, side.student.tobytes())


def _unpacked(side: _Side | None, grid: Grid) -> Side | None:
    if side is None:
        return None
    traces = {}
    for start, t in side.traces.items():
        seen = _array(t.seen, grid.fresh)
        traces[start] = Trace(
            _array(t.half_life, grid.fresh),
            seen,
            grid.evidence(seen),
            t.last,
            t.tries,
            t.held,
            t.last_cold,
            t.failing,
        )
    return Side(traces, _array(side.student, grid.student))


def _array(data: bytes, like: Array) -> Array:
    """Raises ValueError where the bytes are not that many numbers."""
    import numpy as np

    return np.frombuffer(data, dtype=np.float64).reshape(like.shape)


def same(one: Beliefs, other: Beliefs) -> bool:
    """Whether two beliefs are equal to the bit."""
    return keep(one, "") == keep(other, "")
