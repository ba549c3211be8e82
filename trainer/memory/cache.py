"""Beliefs as bytes, for a cache that can be dropped at any time.

Kept are the beliefs after whole practice days, with the place in the log up to which they go.
Where nothing before that place has changed they are gone on from with what came since, so that a
long log is not read again. Restored beliefs equal the replayed ones to the bit; whatever cannot
be read, was written in another form or rests on another log is no beliefs at all, and all is
replayed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime

import msgspec
from msgspec import field

from trainer.deck.model import Deck
from trainer.memory.evidence import Try, kinship, weigh
from trainer.memory.model import NOTHING, Beliefs, Spent, Trace
from trainer.record.attempt import Attempt
from trainer.record.log import Log, Mark
from trainer.values import Frozen

FORM = 9  # raise it with every change of the model's numbers


class Basis(Frozen, frozen=True):
    """What kept beliefs rest on: the place in the log, and by deck what its tries' worth
    depends on besides (see `kinship`), and when starts were last worked on."""

    form: int
    mark: Mark
    kin: dict[str, str]
    worked_on: dict[str, datetime] = field(default_factory=dict)


class Remembered(Frozen, frozen=True):
    """Beliefs as they are kept: what they rest on, and the bytes."""

    basis: Basis
    content: bytes


class Onward(Frozen, frozen=True):
    """Beliefs to update, and the attempts made since; `kept` is the cached form, if any."""

    beliefs: Beliefs
    tries: tuple[Try, ...]
    kept: Remembered | None = None


class _Kept(Frozen, frozen=True):
    """`table` and `morning` are the bytes of their arrays; all else is as in `Beliefs`."""

    starts: dict[str, Trace]
    joins: dict[str, Trace]
    parts: tuple[int, ...]
    table: bytes
    morning: tuple[bytes, ...]
    pace: tuple[float, float]
    day: date | None
    told: tuple[tuple[int, float, float, float], ...]
    timed: tuple[tuple[float, float], ...]
    confusions: tuple[tuple[str, str, int], ...]
    lenders: dict[str, str]
    spent: dict[str, Spent]


def keep(beliefs: Beliefs) -> bytes:
    """The beliefs as bytes."""
    from trainer.memory.update import NOBODY

    *arrays, pace = beliefs.morning or NOBODY
    kept = _Kept(
        beliefs.starts,
        beliefs.joins,
        beliefs.parts,
        b"" if beliefs.table is None else beliefs.table.tobytes(),
        tuple(array.tobytes() for array in arrays),
        pace,
        beliefs.day,
        tuple((one.part, one.cells, one.share, one.held) for one in beliefs.told),
        tuple((one.seconds, one.logit) for one in beliefs.timed),
        tuple((*pair, count) for pair, count in beliefs.confusions.items()),
        beliefs.lenders,
        beliefs.spent,
    )
    return msgspec.msgpack.encode(kept)


def find(data: bytes) -> Beliefs | None:
    """The beliefs that `keep` wrote; None if the data are something else."""
    import numpy as np

    from trainer.memory.cells import COUNT
    from trainer.memory.update import NOBODY, Fact, Student, Timing

    try:
        kept = msgspec.msgpack.decode(data, type=_Kept)
        mix, own, known, told = (
            np.frombuffer(found).reshape(usual.shape)
            for found, usual in zip(kept.morning, NOBODY[:4], strict=True)
        )
        return Beliefs(
            kept.starts,
            kept.joins,
            kept.parts,
            np.frombuffer(kept.table).reshape(len(kept.parts), 2, COUNT),
            Student(mix, own, known, told, kept.pace),
            kept.day,
            tuple(Fact(*fact) for fact in kept.told),
            tuple(Timing(*one) for one in kept.timed),
            {(called, begun): count for called, begun, count in kept.confusions},
            kept.lenders,
            kept.spent,
        )
    except (msgspec.DecodeError, ValueError):
        return None


def go_on(
    log: Log,
    decks: Mapping[str, Deck],
    kept: Remembered | None,
    worked_on: Mapping[str, datetime] | None = None,
) -> Onward:
    """The kept beliefs and the tries that came since; where they do not fit this log, nobody's
    beliefs and all its tries."""
    on = dict(worked_on or {})
    since = _since(log, decks, kept, on) if kept else None
    found = find(kept.content) if kept and since is not None else None
    if kept is None or found is None or since is None:
        return Onward(replace(NOTHING, worked_on=on), weigh(log.attempts, decks))
    return Onward(replace(found, worked_on=on), weigh(since, decks), kept)


def _since(
    log: Log, decks: Mapping[str, Deck], kept: Remembered, worked_on: dict[str, datetime]
) -> tuple[Attempt, ...] | None:
    """The attempts behind kept beliefs; None if the log has changed since."""
    basis = kept.basis
    kin = {deck: kinship(decks.get(deck)) for deck in basis.kin}
    if (basis.form, basis.kin, basis.worked_on) != (FORM, kin, worked_on):
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
    return Remembered(Basis(FORM, mark, kin, dict(settled.worked_on)), keep(settled))


def same(one: Beliefs, other: Beliefs) -> bool:
    """Whether two beliefs are equal to the bit."""
    return keep(one) == keep(other)
