"""Telling people apart again who were taken for one student.

Where several people had a copy of one database with a student in it, they all went on under that
student's id, each on a machine of their own. The log is never rewritten, so the attempts of one
machine are put into it a second time, under a new student, and taken back where they were. Every
id and instant of what is added follows from what is there: who separates the same attempts again,
here or on another machine, adds the same events, so that records still merge.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from hashlib import sha256
from typing import TypeAlias, TypeVar

from msgspec.structs import replace

from trainer.record.attempt import Attempt, Retraction, standing
from trainer.record.layer import LayerEdit
from trainer.record.people import Opening
from trainer.values import Frozen

Event: TypeAlias = Attempt | Retraction | Opening | LayerEdit
Copied = TypeVar("Copied", Attempt, Opening, LayerEdit)


class Share(Frozen, frozen=True):
    """What one machine has of a student's attempts that stand: how many, from when to when."""

    machine: str
    attempts: int
    first: date
    last: date


def separate_id(student: str, machine: str) -> str:
    """The id of the student who gets the attempts of one machine."""
    return _digest("student", student, machine)


def separated(
    into: str,
    machine: str,
    attempts: Sequence[Attempt],
    retractions: Iterable[Retraction],
    openings: Iterable[Opening],
    layer: Iterable[LayerEdit],
) -> tuple[Event, ...]:
    """The events that make the attempts of one machine those of the student `into`: the attempts
    with what was taken back of them, the own changes made on that machine, and all that was said
    of open starts. Where they were, the attempts that stand are taken back, and of own changes
    the last one of the other machines counts again."""
    mine = {one.id: one for one in attempts if one.machine == machine}
    away = {id_: _digest("away", into, id_) for id_ in mine}
    before = [one for one in retractions if one.attempt in mine and one.id != away[one.attempt]]
    stand = standing(tuple(mine.values()), tuple(before))
    own, again = _own_changes(into, machine, layer)
    return (
        *(
            replace(_copy(one, into), amends=_digest("copy", into, one.amends))
            if one.amends in mine
            else _copy(one, into)
            for one in mine.values()
        ),
        *(
            Retraction(
                _digest("copy", into, one.id), _digest("copy", into, one.attempt), one.machine,
                one.at, into,
            )
            for one in before
        ),
        *(Retraction(away[one.id], one.id, one.machine, one.at, one.student) for one in stand),
        *(_copy(one, into) for one in openings),
        *(_copy(one, into) for one in own),
        *again,
    )  # fmt: skip


def _own_changes(
    into: str, machine: str, layer: Iterable[LayerEdit]
) -> tuple[list[LayerEdit], list[LayerEdit]]:
    """The own changes made on a machine, and what sets back those of them that are the last word,
    an instant later."""
    layer = list(layer)
    back = {
        _digest("away", into, one.id, other.value)
        for one in layer
        for other in layer
        if one.machine == machine and _about(one) == _about(other)
    } | {_digest("away", into, one.id, "") for one in layer}
    told = sorted((one for one in layer if one.id not in back), key=lambda one: (one.at, one.id))
    last = {_about(one): one for one in told}
    theirs = {_about(one): one.value for one in told if one.machine != machine}
    again = []
    for about, one in last.items():
        if one.machine == machine:
            value = theirs.get(about, "")
            id_ = _digest("away", into, one.id, value)
            again.append(replace(one, id=id_, value=value, at=one.at + timedelta.resolution))
    return [one for one in told if one.machine == machine], again


def _about(one: LayerEdit) -> tuple[str, str, str, str]:
    return one.student, one.deck, one.start, one.what


def _copy(event: Copied, into: str) -> Copied:
    return replace(event, id=_digest("copy", into, event.id), student=into)


def _digest(*told: str) -> str:
    return sha256(" ".join(told).encode()).hexdigest()[:32]
