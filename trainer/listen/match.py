"""Notes as they come, against all starts of a piece at once. Pure.

    listener = Listener(waiting, asked, policy)
    listener.hear(note)   # after each key that goes down: Provisional, or None at first
    listener.end(time)    # when the listening is over: Verdict

The answer compares: the asked start's cheapest story against the best of any start, and the best
of any against what the same notes would cost in another order. A player was told where to begin,
so a near tie goes to the asked start, and start that sound the same are equally right.
"""

from __future__ import annotations

import math
from random import Random
from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace as replaced

from trainer.errors import TrainerError
from trainer.listen import story as read
from trainer.listen.lattice import FAR, Lattice, Track
from trainer.listen.model import Jump, Policy, Provisional, Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.listen.lattice import Floats, Ints
    from trainer.listen.model import Answer, Heard, Waiting
    from trainer.listen.story import Story

SHUFFLES = 4  # orders in which the same notes are tried, where there is doubt
DOUBTFUL = 0.2  # the share of the price of nothing but foreign notes above which there is doubt
DEPTH = 64  # chords compared to find where two starts part
PLAIN = 8.0  # a lead that settles the answer
SHIFTS = (-12, 12, *range(-6, 0), *range(1, 7))
TRIED = 60  # notes over which other octaves and keys are tried
RIVALS = 4  # stories of equal price whose rhythms are compared
RHYTHM = 0.25  # how much better another start has to fit the rhythm to take a tie
EVEN = 1e-6  # costs nearer than this are the same


class Listener:
    """One attempt. `asked` is the id of a start in `waiting`; raises TrainerError for another."""

    def __init__(self, waiting: Waiting, asked: str, policy: Policy = Policy()) -> None:  # noqa: B008
        if asked not in (entry.id for entry in waiting.entries):
            raise TrainerError(
                f"There is no start {asked!r} to listen for; ask for one of the deck's starts."
            )
        self.waiting, self.asked, self.policy = waiting, asked, policy
        upbeat = policy.upbeat_ql if policy.upbeat == "accept" else 0.0
        self._lattice = Lattice(waiting, asked, policy.costs, upbeat)
        self._track = Track(self._lattice)
        self._notes: list[Heard] = []
        self._told_apart = self._partings()
        self._final: Provisional | None = None

    def hear(self, note: Heard) -> Provisional | None:
        """Take one more note; what can be said now, None before `policy.first` notes. After
        `policy.most` notes nothing more is listened to."""
        if len(self._notes) >= self.policy.most:
            return self._final
        self._notes.append(note)
        self._track.hear(note.pitch, note.time)
        if len(self._notes) < self.policy.first:
            return None
        said = self._said()
        if said.final:
            self._final = said
        return said

    def _said(self) -> Provisional:
        lattice, track, count = self._lattice, self._track, len(self._notes)
        cost, edge = track.cost, lattice.any_from
        here = int(cost[:edge].argmin())
        asked = float(cost[here])
        other_cost = np.where(track.name[edge:] == lattice.asked, FAR, cost[edge:])
        there = edge + int(other_cost.argmin())
        lead = float(other_cost[there - edge]) - asked
        margin = self.policy.margin
        best = min(asked, float(other_cost[there - edge]))
        if best >= 0.6 * self.policy.costs.extra * count:
            answer: Answer = "unsure"
        else:
            answer = "yes" if lead >= -margin else "no"
        story_at = here if lead >= -margin else there
        name = int(track.name[story_at])
        far_enough = lattice.place[story_at] >= self._told_apart.get(name, 0)
        final = answer != "unsure" and bool(far_enough or abs(lead) >= PLAIN)
        leading = lattice.names[name] if best < FAR and answer != "unsure" else ""
        return Provisional(count, answer, leading, lead, final)

    def _partings(self) -> dict[int, int]:
        """For each start, the cluster that tells it from the asked one; for the asked start, the
        one that tells it from all others that are alike at first."""
        found: dict[int, int] = {}
        at = {number: entry.at for number, entry in enumerate(self.waiting.entries)}
        home = at[self._lattice.asked]
        deepest = 0
        for number, other in at.items():
            depth = parting(self.waiting, home, other)
            if depth is None or other == home:
                continue
            found[number] = other + depth
            deepest = max(deepest, depth)
        found[self._lattice.asked] = home + deepest
        return found

    def end(self, time: float | None = None) -> Verdict:
        """What was heard. `time` is when the listening ended, in the notes' seconds; by default
        with the last note. May be called at any moment; more notes may follow."""
        if not self._notes:
            return Verdict(self.asked, "no", False, "", sure={"answer": 1.0})
        verdict = self._verdict(self._notes, time)
        if verdict.played and verdict.accepted:
            return verdict
        return self._shifted(verdict, time) or verdict

    def _verdict(self, notes: Sequence[Heard], time: float | None) -> Verdict:
        track = Track(self._lattice, keep=True)
        for note in notes:
            track.hear(note.pitch, note.time)
        costs = track.final()
        edge = self._lattice.any_from
        asked, best = float(costs[:edge].min()), float(costs[edge:].min())
        best = min(best, asked)
        doubt = self._doubt(notes, best)
        margin = asked - best
        known = best < FAR and doubt <= self.policy.doubt
        accepted = known and margin <= self.policy.margin
        if not known:
            return Verdict(
                self.asked, "no", False, "", notes=len(notes),
                sure={"answer": _chance(6 * (doubt - self.policy.doubt))},
            )  # fmt: skip
        limit = asked if accepted else best
        rivals = self._told(track, notes, edge + _cheapest(costs[edge:], limit))
        story = min(rivals, key=read.unevenness, default=None)
        if story is not None and not accepted and asked < FAR and self._is_same(story):
            accepted, margin = True, 0.0
        if accepted:
            own = self._told(track, notes, _cheapest(costs[:edge], asked)[:1])[0]
            if story is None or read.unevenness(story) + RHYTHM >= read.unevenness(own):
                story = own
            accepted = story is own
        assert story is not None
        return self._describe(story, accepted, margin, doubt, self._same(track, costs, story), time)

    def _is_same(self, story: Story) -> bool:
        """Whether the asked start is note for note the same over all that a story went through;
        grace notes aside."""
        entry = self.waiting.entries[story.entry]
        last = max(int(self._lattice.place[s.column]) for s in story.steps if s.column >= 0)
        return identical(self.waiting, self._entry_at(self.asked), entry.at, last + 1 - entry.at)

    def _told(self, track: Track, notes: Sequence[Heard], columns: Ints) -> list[Story]:
        """The stories that end in these columns."""
        cost = track.final()
        return [read.told(track, notes, int(c), float(cost[c])) for c in columns]

    def _same(self, track: Track, costs: Floats, story: Story) -> tuple[str, ...]:
        """All starts whose stories cost the same as the one told."""
        edge, names = self._lattice.any_from, self._lattice.names
        even = edge + np.flatnonzero(costs[edge:] <= story.cost + EVEN)
        found = {story.entry, *(int(track.name[column]) for column in even)}
        return tuple(names[number] for number in sorted(found))

    def _doubt(self, notes: Sequence[Heard], best: float) -> float:
        """How much what was heard is like notes in any order: the share of the price of the same
        notes shuffled, and of that of foreign notes. 0 to about 2."""
        foreign = best / (self.policy.costs.extra * len(notes))
        if foreign <= DOUBTFUL or best >= FAR:
            return foreign
        chance = Random(len(notes))
        prices = []
        for _ in range(SHUFFLES):
            pitches = [note.pitch for note in notes]
            chance.shuffle(pitches)
            track = Track(self._lattice)
            for pitch, note in zip(pitches, notes, strict=True):
                track.hear(pitch, note.time)
            prices.append(float(track.final().min()))
        return foreign + best * SHUFFLES / sum(prices)

    def _describe(
        self,
        story: Story,
        accepted: bool,
        margin: float,
        doubt: float,
        same: tuple[str, ...],
        time: float | None,
    ) -> Verdict:
        lattice, policy = self._lattice, self.policy
        notes = [step.note for step in story.steps]
        first = read.begun(story)
        wrong, missed, extra = read.counts(story)
        tempo, steadiness = read.pace(story)
        jump, left = read.jump(story, lattice.names)
        again = read.restarts(story, 0.6)
        holes = read.pauses(story, policy.hesitation)
        silence = 0.0 if time is None else time - notes[-1].time
        last = story.steps[-1].column
        entry = self.waiting.entries[story.entry]
        stopped = silence >= policy.silence and int(lattice.place[last]) + 1 < len(
            self.waiting.clusters
        )
        broke = None
        if jump:
            broke = story.onset(left)
        elif stopped:
            broke = story.onset(last)
        elif holes:
            broke = max(holes, key=lambda hole: hole.seconds).onset
        places = [
            int(lattice.place[step.column]) for step in story.steps if step.column != read.BEFORE
        ]
        began = int(lattice.place[story.steps[first].column])
        played = lattice.names[story.entry]
        hands = story.hands
        refused = accepted and (
            hands != "both" and policy.one_hand == "reject" and self._two_handed(entry.at)
        )
        matched = read.matched(story)
        answer = self._answer(accepted and not refused, margin, doubt, matched)
        parts = None
        if not accepted:
            depth = parting(self.waiting, self._entry_at(self.asked), entry.at)
            home = self._entry_at(self.asked)
            if depth is not None and home + depth < len(self.waiting.clusters):
                parts = self.waiting.clusters[home + depth].onset
        distance = abs(policy.margin - margin) if margin > 0 else policy.margin
        sure = _chance(min(2 * distance, 6 * (policy.doubt - doubt), matched - 1))
        return Verdict(
            asked=self.asked,
            answer=answer,
            accepted=accepted and not refused,
            played=played,
            same=same,
            notes=len(notes),
            latency=round(notes[first].time, 4),
            upbeat=began < entry.at,
            wrong=wrong,
            missed=missed,
            extra=extra,
            restarts=again,
            stopped=stopped,
            pauses=holes,
            jump=self._named(jump, story),
            broke_at=broke,
            reached=self.waiting.clusters[places[-1]].onset,
            join_reached=jump is None and max(places) >= entry.join,
            tempo=tempo and round(tempo, 1),
            steadiness=steadiness and round(steadiness, 3),
            hands=hands,
            parts=parts,
            sure={
                "answer": sure,
                "played": sure,
                "counts": _chance(4 * (0.6 - doubt)),
                "restarts": _chance(3.0 if again else 4.0),
                "stopped": _chance(2 * abs(silence - policy.silence)),
                "jump": _chance(
                    0.5 * sum(s.note.time >= jump.time for s in story.steps) if jump else 3.0
                ),
                "tempo": _chance(0.5 * (len(set(places)) - 3)),
                "hands": _chance(0.5 * matched - 1),
            },
        )

    def _named(self, jump: Jump | None, story: Story) -> Jump | None:
        """The jump with all starts that sound the same from there to the end."""
        if jump is None:
            return None
        after = [
            s.column for s in story.steps if s.note.time >= jump.time and s.column != read.BEFORE
        ]
        home = self._entry_at(jump.to)
        length = int(self._lattice.place[max(after)]) - home + 1
        alike = [
            entry.id
            for entry in self.waiting.entries
            if (depth := parting(self.waiting, home, entry.at)) is None or depth >= length
        ]
        return Jump(jump.time, jump.to, tuple(alike))

    def _entry_at(self, name: str) -> int:
        return next(entry.at for entry in self.waiting.entries if entry.id == name)

    def _two_handed(self, at: int) -> bool:
        """Whether both hands play in the chords after a start."""
        near = self.waiting.clusters[at : at + 8]
        return any(cluster.left for cluster in near) and any(cluster.right for cluster in near)

    def _answer(self, accepted: bool, margin: float, doubt: float, matched: int) -> Answer:
        """The answer, or that the evidence does not carry one."""
        policy = self.policy
        close = 0 < abs(margin - policy.margin) < 0.5 and margin > 0
        if matched < 3 or close or policy.doubt - 0.05 < doubt:
            return "unsure"
        return "yes" if accepted else "no"

    def _shifted(self, plain: Verdict, time: float | None) -> Verdict | None:
        """The same notes an octave off or transposed, if that explains them far better."""
        if plain.played and plain.sure.get("counts", 0) > 0.5:
            return None
        notes = self._notes
        head = notes[:TRIED]
        costs = self.policy.costs
        prices = {}
        for shift in SHIFTS:
            track = Track(self._lattice)
            for note in head:
                track.hear(note.pitch - shift, note.time)
            prices[shift] = float(track.final()[: self._lattice.any_from].min())
        shift = min(prices, key=lambda one: prices[one])
        if len(head) < 6 or prices[shift] > 0.3 * costs.extra * len(head):
            return None
        moved = [replaced(note, pitch=note.pitch - shift) for note in notes]
        found = self._verdict(moved, time)
        if not found.accepted:
            return None
        octave = shift % 12 == 0
        passes = self.policy.octave if octave else self.policy.transposed
        if passes == "accept":
            return replaced(found, shift=shift)
        return replaced(found, answer="no", accepted=False, shift=shift)


def identical(waiting: Waiting, one: int, other: int, count: int) -> bool:
    """Whether that many chords are struck alike from two places on, at the same distances."""
    a, b = waiting.clusters[one : one + count], waiting.clusters[other : other + count]
    return len(a) == len(b) and all(
        x.right == y.right and x.left == y.left and x.onset - a[0].onset == y.onset - b[0].onset
        for x, y in zip(a, b, strict=True)
    )


def _cheapest(costs: Floats, limit: float) -> Ints:
    """The columns that cost no more than a limit, the cheapest first, a few at most."""
    found = np.flatnonzero(costs <= limit + EVEN)
    return found[np.argsort(costs[found], kind="stable")][:RIVALS]


def parting(waiting: Waiting, one: int, other: int) -> int | None:
    """How many chords two places have in common, with their distances left aside; None where
    they do not part within DEPTH chords or before the end."""
    clusters = waiting.clusters
    for depth in range(DEPTH):
        a, b = one + depth, other + depth
        if a >= len(clusters) or b >= len(clusters):
            return None if a == b else depth
        if clusters[a].of("both") != clusters[b].of("both"):
            return depth
    return None


def _chance(evidence: float) -> float:
    """Evidence in natural logarithms of the odds to a chance of being right, 0 to 1."""
    return round(1 / (1 + math.exp(-max(-20.0, min(20.0, evidence)))), 3)
