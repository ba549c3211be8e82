"""From the story that was chosen to all that is said of the attempt. Pure."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.listen import story as read
from trainer.listen.alike import entry_at, parting
from trainer.listen.marks import marks
from trainer.listen.model import Jump, Verdict

if TYPE_CHECKING:
    from trainer.listen.model import Answer, Entry, Policy, Waiting
    from trainer.listen.story import Story

STOP = 0.6  # seconds before a beginning that make it a new one
NEAR = 8  # chords after a start that show whether both hands play
CLOSE = 0.5  # how near the margin an answer is not sure, in the units of the prices
THIN = 3  # notes that have to belong for an answer to be sure


@dataclass(frozen=True)
class Judged:
    """Why a story was chosen. `accepted`: it begins where it was asked. `margin`: how much dearer
    the asked start is than the best; `doubt`: how much it is like notes in any order."""

    accepted: bool
    margin: float
    doubt: float


def unknown(asked: str, notes: int, judged: Judged, policy: Policy) -> Verdict:
    """The verdict where nothing of the piece was recognised."""
    sure = {"answer": chance(6 * (judged.doubt - policy.doubt)) if notes else 1.0}
    return Verdict(asked, "no", False, "", notes=notes, sure=sure)


def describe(
    story: Story,
    asked: str,
    judged: Judged,
    policy: Policy,
    same: tuple[str, ...],
    end: float | None,
) -> Verdict:
    """The verdict on a story. `same` are the starts that sound like it, `end` the seconds at
    which the listening ended."""
    waiting, lattice = story.lattice.waiting, story.lattice
    entry = waiting.entries[story.entry]
    places = story.places()
    notes = [step.note for step in story.steps]
    first = read.begun(story)
    by_sound = any(note.chance < 1 for note in notes)
    found = () if by_sound else marks(story)
    counted = Counter(mark.kind for mark in found)
    tempo, steadiness = read.pace(story)
    jump, left = read.jump(story, lattice.names)
    pauses = read.pauses(story, policy.hesitation)
    silence = 0.0 if end is None else end - notes[-1].time
    stopped = silence >= policy.silence and places[-1] + 1 < len(waiting.clusters)
    broke = None
    if jump:
        broke = story.onset(left)
    elif stopped:
        broke = waiting.clusters[places[-1]].onset
    elif pauses:
        broke = max(pauses, key=lambda pause: pause.seconds).onset
    again = read.restarts(story, STOP)
    if by_sound:  # a voice or a chair before the beginning is no false start
        again = [(time, at) for time, at in again if at != read.BEFORE]
    joined = read.reached(story, min(entry.join, len(waiting.clusters) - 1))
    accepted = judged.accepted and not (
        policy.one_hand == "reject" and story.hands != "both" and _two_handed(waiting, entry)
    )
    matched = read.matched(story)
    return Verdict(
        asked=asked,
        answer=_answer(accepted, judged, matched, policy),
        accepted=accepted,
        played=entry.id,
        same=same,
        notes=len(notes),
        latency=round(notes[first].time, 4),
        upbeat=places[0] < entry.at,
        wrong=counted["wrong"],
        missed=counted["missed"],
        extra=counted["extra"],
        restarts=tuple(time for time, _ in again),
        left=tuple(None if at == read.BEFORE else story.onset(at) for _, at in again),
        stopped=stopped,
        pauses=pauses,
        jump=_named(jump, story, left),
        broke_at=broke,
        reached=waiting.clusters[places[-1]].onset,
        join_reached=joined is not None,
        joined=joined,
        tempo=tempo and round(tempo, 1),
        steadiness=steadiness and round(steadiness, 3),
        hands=story.hands,
        parts=None if judged.accepted else _parts(waiting, asked, entry),
        marks=found,
        counted=not by_sound,
        sure=_sure(story, judged, policy, silence, jump),
    )


def _answer(accepted: bool, judged: Judged, matched: int, policy: Policy) -> Answer:
    """The answer, or that the evidence does not carry one."""
    close = judged.margin > 0 and abs(judged.margin - policy.margin) < CLOSE
    if matched < THIN or close or judged.doubt > policy.doubt - 0.05:
        return "unsure"
    return "yes" if accepted else "no"


def _sure(
    story: Story, judged: Judged, policy: Policy, silence: float, jump: Jump | None
) -> dict[str, float]:
    """How sure each finding is, 0 to 1. Rules of thumb: the distance from what would have made
    it otherwise, as odds."""
    matched = read.matched(story)
    distance = abs(policy.margin - judged.margin) if judged.margin > 0 else policy.margin
    answer = chance(min(2 * distance, 6 * (policy.doubt - judged.doubt), matched - 1))
    after = sum(step.note.time >= jump.time for step in story.steps) if jump else 6
    return {
        "answer": answer,
        "played": answer,
        "counts": chance(4 * (0.6 - judged.doubt)),
        "restarts": chance(4 - 4 * judged.doubt),
        "stopped": chance(2 * abs(silence - policy.silence)),
        "jump": chance(0.5 * after),
        "tempo": chance(0.5 * (len(set(story.places())) - 3)),
        "hands": chance(0.5 * matched - 1),
    }


def _named(jump: Jump | None, story: Story, left: int) -> Jump | None:
    """The jump with all starts that sound the same from there to the end; named is the next of them
    after the column that was left, where there is one."""
    if jump is None:
        return None
    waiting = story.lattice.waiting
    home = entry_at(waiting, jump.to)
    length = max(story.places(since=jump.time)) - home + 1
    alike = [
        entry.id
        for entry in waiting.entries
        if (depth := parting(waiting, home, entry.at)) is None or depth >= length
    ]
    here = int(story.lattice.place[left])
    after = (one.id for one in waiting.entries if one.id in alike and one.at > here)
    return Jump(jump.time, next(after, jump.to), tuple(alike))


def _parts(waiting: Waiting, asked: str, played: Entry) -> float | None:
    """The position, along the asked start, where the played one goes another way."""
    home = entry_at(waiting, asked)
    depth = parting(waiting, home, played.at)
    if depth is None or home + depth >= len(waiting.clusters):
        return None
    return waiting.clusters[home + depth].onset


def _two_handed(waiting: Waiting, entry: Entry) -> bool:
    """Whether both hands play in the chords after a start."""
    near = waiting.clusters[entry.at : entry.at + NEAR]
    return any(cluster.left for cluster in near) and any(cluster.right for cluster in near)


def chance(evidence: float) -> float:
    """Evidence in natural logarithms of the odds to a chance of being right, 0 to 1."""
    return round(1 / (1 + math.exp(-max(-20.0, min(20.0, evidence)))), 3)
