"""Beliefs as bytes, for a cache that can be dropped at any time.

Kept are the beliefs after whole practice days, with the place in the log up to which they go.
Where nothing before that place has changed they are gone on from with what came since, so that a
long log is not read again. Restored beliefs equal the replayed ones to the bit; whatever cannot
be read, was written in another form or rests on another log is no beliefs at all, and all is
replayed.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import msgspec

from trainer.deck.model import Deck
from trainer.memory.curve import DEFAULT, Law
from trainer.memory.evidence import Try, kinship, weigh
from trainer.memory.model import PARTS, Beliefs, Cells, Pace, Spent, Trace, nobody
from trainer.record.attempt import Attempt
from trainer.record.log import Log, Mark
from trainer.values import Frozen

FORM = 7  # raise it with every change of the model's numbers


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


class _Kept(Frozen, frozen=True):
    """`cells` are the bytes of `ln_h` and `seen`, alike ones once: many starts were tried once, in
    the same way. `places` say which of them each trace's row has; all else follows."""

    law: Law
    traces: tuple[dict[str, Trace], dict[str, Trace]]
    places: list[int]
    cells: bytes
    pace: tuple[float, float, date | None, float, bytes]
    confusions: list[tuple[str, str, int]]
    lenders: dict[str, str]
    spent: dict[str, Spent]


def keep(beliefs: Beliefs) -> bytes:
    """The beliefs as bytes."""
    start, join = (side.traces if (side := beliefs.side(part)) else {} for part in PARTS)
    places, cells = _packed(beliefs.cells) if beliefs.cells else ([], b"")
    pace = beliefs.pace
    student = pace.student.tobytes() if pace.student is not None else b""
    confusions = [(*pair, count) for pair, count in beliefs.confusions.items()]
    kept = _Kept(
        beliefs.law, (start, join), places, cells,
        (pace.mean, pace.variance, pace.day, pace.morning, student), confusions, beliefs.lenders,
        beliefs.spent,
    )  # fmt: skip
    return msgspec.msgpack.encode(kept)


def _packed(cells: Cells) -> tuple[list[int], bytes]:
    import numpy as np

    both = np.stack([cells.ln_h, cells.seen], axis=1)
    data, size = both.tobytes(), both[:1].nbytes
    rows = (data[begin : begin + size] for begin in range(0, len(data), size or 1))
    known: dict[bytes, int] = {}
    places = [known.setdefault(row, len(known)) for row in rows]
    return places, b"".join(known)


def find(data: bytes) -> Beliefs | None:
    """The beliefs that `keep` wrote; None where these are not they."""
    import numpy as np

    from trainer.memory.grid import CELLS, STUDENTS
    from trainer.memory.replay import sides

    try:
        kept = msgspec.msgpack.decode(data, type=_Kept)
        cells = np.frombuffer(kept.cells).reshape(-1, 2, *CELLS)
        morning = np.frombuffer(kept.pace[4]).reshape(STUDENTS) if kept.pace[4] else None
        return Beliefs(
            kept.law,
            *sides(kept.law, kept.traces, np.array(kept.places, dtype=np.intp), cells),
            Pace(*kept.pace[:4], morning),
            {(called, begun): count for called, begun, count in kept.confusions},
            kept.lenders,
            kept.spent,
        )
    except (msgspec.DecodeError, ValueError, IndexError):
        return None


def go_on(
    log: Log, decks: Mapping[str, Deck], kept: Remembered | None, law: Law = DEFAULT
) -> Onward:
    """The kept beliefs and the tries that came since; where they do not fit this log, nobody's
    beliefs and all its tries."""
    since = _since(log, decks, kept, law) if kept else None
    found = find(kept.content) if kept and since is not None else None
    if kept is None or found is None or since is None:
        return Onward(nobody(law), weigh(log.attempts, decks))
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


def same(one: Beliefs, other: Beliefs) -> bool:
    """Whether two beliefs are equal to the bit."""
    return keep(one) == keep(other)
