"""Edits of a deck: each takes a piece and gives the deck as it is afterwards.

Ids are stable and history follows them. Numbers run in score order from the deck's first
number and are set anew after each edit. A start that goes away is remembered as `Former`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from msgspec.structs import replace

from trainer.deck.alike import likenesses
from trainer.deck.model import Deck, Former, Likeness, Piece, Start, Told, identity
from trainer.deck.route import phrase_route
from trainer.errors import TrainerError
from trainer.phrases.model import Proposal, Reason
from trainer.score.cite import entry
from trainer.score.model import Score
from trainer.score.text import clean

MOST_TITLE = 200  # characters
BY_HAND = Reason("person", "set by hand")


def new_deck(
    score: Score, places: Sequence[tuple[Fraction, tuple[Reason, ...]]], ids: Sequence[str]
) -> Deck:
    """A deck with a start at each place. `ids` gives the deck's own id, then one a start."""
    starts = tuple(
        Start(start_id, number, onset, reasons)
        for number, (start_id, (onset, reasons)) in enumerate(
            zip(ids[1:], sorted(places), strict=True), 1
        )
    )
    return Deck(
        ids[0],
        score.title,
        identity(score),
        starts,
        phrase_route(score, starts),
        alike=likenesses(score, starts),
    )


def numbered(deck: Deck, number: int) -> Start:
    """The start with that number. Raises TrainerError where there is none."""
    for start in deck.starts:
        if start.number == number:
            return start
    numbers = f"{deck.starts[0].number} to {deck.starts[-1].number}" if deck.starts else "none"
    raise TrainerError(f"{deck.title} has no start {number}; its starts are {numbers}.")


def add(piece: Piece, onset: Fraction, new_id: str, *, parent: str = "") -> Deck:
    """Add a start. `parent` is the start whose phrase it divides, if it is to inherit."""
    _free(piece, onset)
    start = Start(new_id, 0, onset, (BY_HAND,), parent=parent)
    return _settled(piece, (*piece.deck.starts, start))


def split(piece: Piece, number: int, onset: Fraction, new_id: str) -> Deck:
    """Divide a phrase: its start keeps its id and its attempts; the new one knows its parent."""
    start = numbered(piece.deck, number)
    if not start.onset < onset < piece.end_of(start):
        raise TrainerError(
            f"{_where(piece, onset)} does not lie within phrase {number}, which begins at "
            f"{_where(piece, start.onset)}; choose a place inside it."
        )
    return add(piece, onset, new_id, parent=start.id)


def move(piece: Piece, number: int, onset: Fraction) -> Deck:
    """Let a start begin elsewhere; its id and its attempts stay with it."""
    start = numbered(piece.deck, number)
    if onset == start.onset:
        return piece.deck
    _free(piece, onset)
    moved = replace(start, onset=onset, reasons=(BY_HAND,))
    return _settled(piece, tuple(moved if s.id == start.id else s for s in piece.deck.starts))


def remove(piece: Piece, number: int) -> Deck:
    """Take a start away. Its attempts are kept, but it is called no more."""
    start = numbered(piece.deck, number)
    _not_the_last(piece.deck)
    former = Former(start.id, start.number, start.onset, "removed")
    return _without(piece, former)


def merge(piece: Piece, number: int) -> Deck:
    """Join a phrase to the one before it in score order, which inherits its attempts."""
    start = numbered(piece.deck, number)
    position = piece.deck.starts.index(start)
    if position == 0:
        raise TrainerError(
            f"Start {number} is the first of {piece.deck.title}: there is no phrase before it "
            "to merge it into."
        )
    into = piece.deck.starts[position - 1].id
    return _without(piece, Former(start.id, start.number, start.onset, "merged", into))


def renumber(piece: Piece, first: int) -> Deck:
    """Let the numbers run from `first`, as for a later movement of a longer piece."""
    if not 0 <= first <= 9000:
        raise TrainerError(f"{first} cannot be the first number; choose one from 0 to 9000.")
    return _settled(replace(piece, deck=replace(piece.deck, first=first)), piece.deck.starts)


def rename(piece: Piece, title: str) -> Deck:
    """Give the piece another title."""
    text = clean(title, MOST_TITLE).strip()
    if not text:
        raise TrainerError("A piece needs a title: give one with a letter or a figure in it.")
    return replace(piece.deck, title=text)


def relabel(piece: Piece, number: int, label: str) -> Deck:
    """Give a start a name of the teacher's own, such as "second theme"."""
    return _changed(piece, number, label=label)


def advise(piece: Piece, number: int, advice: Sequence[str]) -> Deck:
    """Set the words of advice for a start; none takes them away."""
    return _changed(piece, number, advice=tuple(advice))


def finger(piece: Piece, number: int, fingering: str) -> Deck:
    """Set the teacher's fingering for a start, in the teacher's own signs."""
    return _changed(piece, number, fingering=fingering)


def cue(piece: Piece, number: int, cue: str) -> Deck:
    """Say who gives the entry of a start in an ensemble."""
    return _changed(piece, number, cue=cue)


def respace(piece: Piece, proposals: Sequence[Proposal], ids: Sequence[str]) -> Deck:
    """Take the proposals of another density; `ids` are fresh, one a proposal.

    What a person did outranks them: a start that was set, named, advised, cued, fingered or
    linked by hand stays, none is set less than a bar from one placed by hand, and none where
    one was removed or merged by hand. Of the other starts those stay that are proposed; the rest
    are thinned out, and come back under their own ids once they are proposed again. Raises
    TrainerError where nothing is proposed, as in a deck without its notes.
    """
    deck = piece.deck
    if not proposals:
        raise TrainerError(
            f"No starts can be proposed for {deck.title}, because its notes are not in the deck; "
            "add starts by hand."
        )
    wanted = {proposal.onset for proposal in proposals if _welcome(piece, proposal.onset)}
    told = {start_id for pair in deck.told for start_id in (pair.one, pair.other)}
    kept = [s for s in deck.starts if s.onset in wanted or s.id in told or _by_a_person(s)]
    here = {start.onset for start in kept}
    thinned = {gone.onset: gone.id for gone in deck.former if gone.fate == "thinned"}
    new = [
        Start(thinned.get(proposal.onset, new_id), 0, proposal.onset, proposal.reasons)
        for new_id, proposal in zip(ids, proposals, strict=True)
        if proposal.onset in wanted - here
    ]
    starts = [*kept, *new] or [deck.starts[0]]  # a deck is never empty
    now = {start.id for start in starts}
    former = (
        *(gone for gone in deck.former if gone.id not in now),
        *(Former(s.id, s.number, s.onset, "thinned") for s in deck.starts if s.id not in now),
    )
    return _settled(replace(piece, deck=replace(deck, former=former)), starts)


def _by_a_person(start: Start) -> bool:
    return bool(_placed(start) or start.label or start.advice or start.fingering or start.cue)


def _placed(start: Start) -> bool:
    return any(reason.cue in (BY_HAND.cue, "composer") for reason in start.reasons)


def _welcome(piece: Piece, onset: Fraction) -> bool:
    """Whether a proposed place does not contradict what a person did."""
    deck = piece.deck
    if any(gone.onset == onset and gone.fate != "thinned" for gone in deck.former):
        return any(start.onset == onset for start in deck.starts)
    return not any(
        0 < abs(onset - start.onset) < piece.score.bar_at(start.onset).meter.length
        for start in deck.starts
        if _placed(start)
    )


def reroute(piece: Piece, numbers: Sequence[int]) -> Deck:
    """Set the order of play by hand, by the starts' numbers; none goes back to the score's."""
    deck = piece.deck
    if not numbers:
        return replace(deck, route=phrase_route(piece.score, deck.starts), route_by_hand=False)
    route = tuple(numbered(deck, number).id for number in numbers)
    return replace(deck, route=route, route_by_hand=True)


def link(piece: Piece, one: int, other: int, *, alike: bool = True) -> Deck:
    """Say that two starts are easily confused, or that they are not, whatever was found."""
    first, second = numbered(piece.deck, one), numbered(piece.deck, other)
    if first == second:
        raise TrainerError(f"Start {one} cannot be linked to itself; name another one.")
    return _told(piece, [Told(first.id, second.id, alike)])


def accept(piece: Piece, pairs: Sequence[Likeness]) -> Deck:
    """Say of pairs that were found alike that they are, whatever is found later."""
    return _told(piece, [Told(like.one, like.other, alike=True) for like in pairs])


def _told(piece: Piece, words: Sequence[Told]) -> Deck:
    """The deck after a person's words on pairs, which replace what was said of them before."""
    deck = piece.deck
    now = [{word.one, word.other} for word in words]
    told = (*(word for word in deck.told if {word.one, word.other} not in now), *words)
    return replace(deck, told=told, alike=likenesses(piece.score, deck.starts, told, deck.alike))


def _changed(piece: Piece, number: int, **fields: object) -> Deck:
    start = numbered(piece.deck, number)
    changed = replace(start, **fields)
    starts = tuple(changed if s.id == start.id else s for s in piece.deck.starts)
    return replace(piece.deck, starts=starts)


def _without(piece: Piece, former: Former) -> Deck:
    starts = tuple(s for s in piece.deck.starts if s.id != former.id)
    deck = replace(piece.deck, former=(*piece.deck.former, former))
    return _settled(replace(piece, deck=deck), starts)


def _settled(piece: Piece, starts: Sequence[Start]) -> Deck:
    """The deck with these starts in score order, numbered and routed."""
    deck = piece.deck
    ordered = tuple(
        replace(start, number=number)
        for number, start in enumerate(sorted(starts, key=lambda s: s.onset), deck.first)
    )
    route = _kept_route(deck, ordered) if deck.route_by_hand else phrase_route(piece.score, ordered)
    alike = likenesses(piece.score, ordered, deck.told, deck.alike)
    return replace(deck, starts=ordered, route=route, alike=alike)


def _kept_route(deck: Deck, starts: Sequence[Start]) -> tuple[str, ...]:
    """A hand-made route after an edit: what went is left out, what came follows its neighbour."""
    ids = [start.id for start in starts]
    route = [start_id for start_id in deck.route if start_id in ids]
    for position, start_id in enumerate(ids):
        if start_id in {start.id for start in deck.starts}:
            continue
        before = ids[position - 1] if position else None
        spots = [spot + 1 for spot, known in enumerate(route) if known == before] or [0]
        for spot in reversed(spots):
            route.insert(spot, start_id)
    return tuple(route)


def _free(piece: Piece, onset: Fraction) -> None:
    if not 0 <= onset < piece.score.end:
        raise TrainerError(
            f"That place is not in {piece.deck.title}; choose one from "
            f"{_where(piece, Fraction(0))} to {_where(piece, piece.score.bars[-1].start)}."
        )
    for start in piece.deck.starts:
        if start.onset == onset:
            raise TrainerError(
                f"Start {start.number} already begins at {_where(piece, onset)}; choose another "
                "place."
            )


def _not_the_last(deck: Deck) -> None:
    if len(deck.starts) == 1:
        raise TrainerError(
            f"Start {deck.starts[0].number} is the only one of {deck.title}; add another first."
        )


def _where(piece: Piece, onset: Fraction) -> str:
    return entry(piece.score, onset)
