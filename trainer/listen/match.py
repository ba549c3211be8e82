"""Notes as they come, against all starts of a piece at once. Pure.

    listener = Listener(waiting, asked, policy)
    listener.hear(note)   # after each key that goes down: Provisional, or None at first
    listener.end(time)    # when the listening is over: Verdict

The answer compares: the asked start's cheapest story against the best of any start, and the best
of any against what the same notes would cost in another order. A player was told where to begin,
so a near tie goes to the asked start, and starts that sound the same are equally right.
"""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

import numpy as np
from msgspec.structs import replace as replaced

from trainer.errors import TrainerError
from trainer.listen import story as read
from trainer.listen.alike import entry_at, identical, told_apart
from trainer.listen.lattice import FAR, TOGETHER, Lattice, Track
from trainer.listen.model import SURE, Policy, Provisional
from trainer.listen.verdict import Judged, describe, unknown

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.listen.lattice import Floats, Ints
    from trainer.listen.model import Answer, Heard, Verdict, Waiting
    from trainer.listen.story import Story

SHUFFLES = 4  # orders in which the same notes are tried, where there is doubt
DOUBTFUL = 0.2  # the share of the price of nothing but foreign notes above which there is doubt
PLAIN = 8.0  # a lead that settles the answer
SHIFTS = (-12, 12, *range(-6, 0), *range(1, 7))
TRIED = 60  # notes over which other octaves and keys are tried,
SOON = 16  # after so many of them only
LIKELY = 3  # of them
RIVALS = 4  # stories of equal price whose rhythms are compared
RHYTHM = 0.25  # how much better another start has to fit the rhythm to take a tie
EVEN = 1e-6  # costs nearer than this are the same


class Listener:
    """One attempt. `asked` is the id of a start in `waiting`; raises TrainerError for another."""

    def __init__(self, waiting: Waiting, asked: str, policy: Policy = Policy()) -> None:  # noqa: B008
        if not waiting.entries:
            raise TrainerError(
                "The notes of this piece are not known, so it cannot be heard: give it a file"
                " with `trainer add FILE --for PIECE`."
            )
        if asked not in (entry.id for entry in waiting.entries):
            raise TrainerError(
                f"There is no start {asked!r} to listen for; ask for one of the deck's starts."
            )
        self.waiting, self.asked, self.policy = waiting, asked, policy
        upbeat = policy.upbeat_ql if policy.upbeat == "accept" else 0.0
        self._lattice = Lattice(waiting, asked, policy.costs, upbeat)
        self._track = Track(self._lattice)
        self._notes: list[Heard] = []
        self._early: list[Heard] = []  # that were less than sure, before any that was sure
        self._told_apart = told_apart(waiting, asked)
        self._final: Provisional | None = None
        self._at: int | None = None

    @property
    def at(self) -> int | None:
        """The index of the chord where the cheapest story stands after the last note; None before
        `policy.first` notes, and where nothing of the piece is recognised."""
        return self._at

    def hear(self, note: Heard) -> Provisional | None:
        """Take one more note; what can be said now, None before `policy.first` notes. After
        `policy.most` notes nothing more is listened to."""
        if len(self._notes) >= self.policy.most:
            return self._final
        if not self._notes and note.chance < SURE:
            self._early.append(note)
            return None
        early = [one for one in self._early if note.time - one.time <= TOGETHER]
        self._early.clear()
        for one in (*early, note):
            self._notes.append(one)
            self._track.hear(one.pitch, one.time, one.chance)
        if len(self._notes) < self.policy.first:
            return None
        said = self._said()
        if said.final:
            self._final = said
        return said

    def _said(self) -> Provisional:
        lattice, track = self._lattice, self._track
        cost, edge = track.cost, lattice.any_from
        here = int(cost[:edge].argmin())
        asked = float(cost[here])
        other_cost = np.where(track.name[edge:] == lattice.asked, FAR, cost[edge:])
        there = edge + int(other_cost.argmin())
        lead = float(other_cost[there - edge]) - asked
        margin = self.policy.margin
        best = min(asked, float(other_cost[there - edge]))
        if best >= 0.6 * self.policy.costs.extra * track.weight:
            answer: Answer = "unsure"
        else:
            answer = "yes" if lead >= -margin else "no"
        story_at = here if lead >= -margin else there
        leading = lattice.names[int(track.name[story_at])]
        telling = self._told_apart.get(leading, 0)
        plain = bool(lattice.place[story_at] >= telling) or abs(lead) >= PLAIN
        final = answer != "unsure" and plain
        leading = leading if answer != "unsure" else ""
        self._at = int(lattice.place[story_at]) if leading else None
        return Provisional(len(self._notes), answer, leading, lead, final)

    def end(self, time: float | None = None, count: int | None = None) -> Verdict:
        """What was heard. `time` is when the listening ended, in the notes' seconds; by default
        with the last note. `count` is how many of the notes are judged, by default all. May be
        called at any moment; more notes may follow."""
        notes = self._notes[:count]
        while notes and notes[-1].chance < SURE:
            notes.pop()
        if not notes:
            return unknown(self.asked, 0, Judged(False, 0.0, 0.0), self.policy)
        verdict = self._verdict(notes, time)
        if verdict.played and verdict.accepted:
            return verdict
        return self._shifted(verdict, notes, time) or verdict

    def _verdict(self, notes: Sequence[Heard], time: float | None) -> Verdict:
        track = Track(self._lattice, keep=True)
        for note in notes:
            track.hear(note.pitch, note.time, note.chance)
        costs = track.final()
        edge = self._lattice.any_from
        asked, best = float(costs[:edge].min()), float(costs[edge:].min())
        best = min(best, asked)
        doubt = self._doubt(notes, best)
        margin = asked - best
        if best >= FAR or doubt > self.policy.doubt:
            return unknown(self.asked, len(notes), Judged(False, margin, doubt), self.policy)
        accepted = margin <= self.policy.margin
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
        judged, same = Judged(accepted, margin, doubt), self._same(track, costs, story)
        return describe(story, self.asked, judged, self.policy, same, time)

    def _is_same(self, story: Story) -> bool:
        """Whether the asked start is note for note the same over all that a story went through."""
        at = self.waiting.entries[story.entry].at
        count = max(story.places()) + 1 - at
        return identical(self.waiting, entry_at(self.waiting, self.asked), at, count)

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
        """How close what was heard is to random notes: its cost divided by the cost of the same
        notes shuffled, or by that of foreign notes. 0 to about 2."""
        foreign = best / (self.policy.costs.extra * sum(note.chance for note in notes))
        if foreign <= DOUBTFUL or best >= FAR:
            return foreign
        chance = Random(len(notes))
        prices = []
        for _ in range(SHUFFLES):
            pitches = [note.pitch for note in notes]
            chance.shuffle(pitches)
            track = Track(self._lattice)
            for pitch, note in zip(pitches, notes, strict=True):
                track.hear(pitch, note.time, note.chance)
            prices.append(float(track.final().min()))
        return foreign + best * SHUFFLES / sum(prices)

    def _shifted(
        self, plain: Verdict, notes: Sequence[Heard], time: float | None
    ) -> Verdict | None:
        """The same notes an octave off or transposed, if that explains them far better."""
        if plain.played and plain.sure.get("counts", 0) > 0.5:
            return None
        costs, head = self.policy.costs, notes[:TRIED]
        tracks = {shift: Track(self._lattice) for shift in SHIFTS}
        for number, note in enumerate(head):
            if number == SOON:
                best = sorted(tracks, key=lambda one: self._as_asked(tracks[one]))[:LIKELY]
                tracks = {shift: tracks[shift] for shift in best}
            for shift, track in tracks.items():
                track.hear(note.pitch - shift, note.time, note.chance)
        shift = min(tracks, key=lambda one: self._as_asked(tracks[one]))
        limit = 0.3 * costs.extra * sum(note.chance for note in head)
        if len(head) < 6 or self._as_asked(tracks[shift]) > limit:
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

    def _as_asked(self, track: Track) -> float:
        """The price of the cheapest story that begins where it was asked."""
        return float(track.final()[: self._lattice.any_from].min())


def _cheapest(costs: Floats, limit: float) -> Ints:
    """The columns that cost no more than a limit, the cheapest first, a few at most."""
    found = np.flatnonzero(costs <= limit + EVEN)
    return found[np.argsort(costs[found], kind="stable")][:RIVALS]
