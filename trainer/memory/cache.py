"""Beliefs as bytes, for a cache that can be dropped at any time.

Kept are the beliefs after whole practice days, with the place in the log up to which they go.
Where nothing before that place has changed they are gone on from with what came since, so that a
long log is not read again. Restored beliefs equal the replayed ones to the bit; whatever cannot
be read, was written in another form or rests on another log is no beliefs at all, and all is
replayed.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING

import msgspec

from trainer.deck.model import Deck
from trainer.memory.curve import DEFAULT, Law
from trainer.memory.evidence import Try, kinship, weigh
from trainer.memory.model import PARTS, Beliefs, Side, Spent, Trace, believe
from trainer.record.attempt import Attempt
from trainer.record.log import Log, Mark
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.memory.grid import Grid

FORM = 4  # raise it with every change of the model's numbers


class Basis(Frozen, frozen=True):
    """What kept beliefs rest on: the place in the log, and by deck what its tries' worth
    depends on besides (see `kinship`)."""

    form: int
    law: Law
    mark: Mark
    kin: dict[str, str]


class Remembered(Frozen, frozen=True):
    """Beliefs as they are kept: what they rest on, and the bytes."""

    basis: Basis
    content: bytes


class Onward(Frozen, frozen=True):
    """Beliefs to go on from, and the tries after them; `kept` are they where they were kept."""

    beliefs: Beliefs
    tries: tuple[Try, ...]
    kept: Remembered | None = None


class _Trace(Frozen, frozen=True):
    last: datetime
    tries: int
    held: int
    last_cold: datetime | None
    failing: int


class _Side(Frozen, frozen=True):
    """`arrays`: the half-lives, likelihoods and evidence of all traces, one after the other."""

    traces: dict[str, _Trace]
    arrays: tuple[bytes, bytes, bytes]
    student: bytes


class _Kept(Frozen, frozen=True):
    law: Law
    start: _Side | None
    join: _Side | None
    latency: tuple[float, float]
    confusions: list[tuple[str, str, int]]
    lenders: dict[str, str]
    spent: dict[str, Spent]


def keep(beliefs: Beliefs) -> bytes:
    """The beliefs as bytes."""
    start, join = (_packed(beliefs.side(part)) for part in PARTS)
    confusions = [(*pair, count) for pair, count in beliefs.confusions.items()]
    kept = _Kept(
        beliefs.law, start, join, beliefs.latency, confusions, beliefs.lenders, beliefs.spent
    )
    return msgspec.msgpack.encode(kept)


def find(data: bytes) -> Beliefs | None:
    """The beliefs that `keep` wrote; None where these are not they."""
    from trainer.memory.grid import grid

    try:
        kept = msgspec.msgpack.decode(data, type=_Kept)
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


def go_on(
    log: Log, decks: Mapping[str, Deck], kept: Remembered | None, law: Law = DEFAULT
) -> Onward:
    """The kept beliefs and the tries that came since; where they do not fit this log, nobody's
    beliefs and all its tries."""
    since = _since(log, decks, kept, law) if kept else None
    found = find(kept.content) if kept and since is not None else None
    if kept is None or found is None or since is None:
        return Onward(believe((), law), weigh(log.attempts, decks))
    return Onward(found, weigh(since, decks), kept)


def _since(
    log: Log, decks: Mapping[str, Deck], kept: Remembered, law: Law
) -> tuple[Attempt, ...] | None:
    """The attempts behind kept beliefs; None where these are not those of the log any more."""
    basis = kept.basis
    kin = {deck: kinship(decks.get(deck)) for deck in basis.kin}
    if (basis.form, basis.law, basis.kin) != (FORM, law, kin):
        return None
    since = log.since(basis.mark)
    if since is None or any(one.day <= basis.mark.day for one in since):
        return None  # what was tried on a day decides how its next tries count
    return since


def to_remember(
    log: Log, decks: Mapping[str, Deck], onward: Onward, settled: Beliefs, count: int
) -> Remembered | None:
    """The beliefs `settled` after the first so many tries of `onward`, as they are kept. None
    where a later one is of a day among theirs."""
    tries, kept = onward.tries[:count], onward.kept
    days = {one.attempt.day for one in tries} | ({kept.basis.mark.day} if kept else set())
    if not tries or any(one.attempt.day <= max(days) for one in onward.tries[count:]):
        return None
    seen = {one.attempt.deck for one in tries} | set(kept.basis.kin if kept else ())
    kin = {deck: kinship(decks.get(deck)) for deck in sorted(seen)}
    mark = log.mark(tries[-1].attempt, max(days))
    return Remembered(Basis(FORM, settled.law, mark, kin), keep(settled))


def _packed(side: Side | None) -> _Side | None:
    if side is None:
        return None
    traces = side.traces.values()
    arrays = (
        b"".join(t.half_life.tobytes() for t in traces),
        b"".join(t.seen.tobytes() for t in traces),
        b"".join(t.evidence.tobytes() for t in traces),
    )
    kept = {
        start: _Trace(t.last, t.tries, t.held, t.last_cold, t.failing)
        for start, t in side.traces.items()
    }
    return _Side(kept, arrays, side.student.tobytes())


def _unpacked(side: _Side | None, grid: Grid) -> Side | None:
    """Raises ValueError where the bytes are not as many numbers as there should be."""
    import numpy as np

    if side is None:
        return None
    shapes = (grid.fresh.shape, grid.fresh.shape, grid.student.shape)
    arrays = [
        np.frombuffer(data, dtype=np.float64).reshape(len(side.traces), *shape)
        for data, shape in zip(side.arrays, shapes, strict=True)
    ]
    traces = {
        start: Trace(h, seen, evidence, t.last, t.tries, t.held, t.last_cold, t.failing)
        for (start, t), h, seen, evidence in zip(side.traces.items(), *arrays, strict=True)
    }
    student = np.frombuffer(side.student, dtype=np.float64).reshape(grid.student.shape)
    return Side(traces, student)


def same(one: Beliefs, other: Beliefs) -> bool:
    """Whether two beliefs are equal to the bit."""
    return keep(one) == keep(other)
