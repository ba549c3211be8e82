"""A deck while it is being prepared: edits that can be undone, and nothing kept until said so."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from msgspec.structs import replace

from trainer.deck.model import Deck, Piece
from trainer.score.model import Score
from trainer.values import Frozen

Change = Callable[[Piece], Deck]


class Form(Frozen, frozen=True):
    """How a deck stands, and the ids of the starts that are open for the student."""

    deck: Deck
    open: frozenset[str]


class Step(Frozen, frozen=True):
    """One edit: the form on its other side, and what was done in a few words, none where the
    deck stayed as it is. Steps in a row `about` one thing are told of as one, by the last."""

    form: Form
    why: str
    about: str


class Draft(Frozen, frozen=True):
    """`saved` is the form that is kept, `now` the one that has been made of it; `past` are the
    edits between them, oldest first, `ahead` those that were undone, the next one last."""

    saved: Form
    now: Form
    score: Score
    past: tuple[Step, ...] = ()
    ahead: tuple[Step, ...] = ()

    @property
    def piece(self) -> Piece:
        return Piece(self.now.deck, self.score)

    @property
    def changed(self) -> bool:
        return self.now != self.saved

    @property
    def opened(self) -> frozenset[str]:
        """The starts there are that are to be opened."""
        return (self.now.open - self.saved.open) & {start.id for start in self.now.deck.starts}

    @property
    def closed(self) -> frozenset[str]:
        """The starts there are that are to be closed."""
        return (self.saved.open - self.now.open) & {start.id for start in self.now.deck.starts}

    @property
    def why(self) -> str:
        """All that was done to the deck, for the log of edits."""
        told = [one for one, after in pairwise(self.past) if one.about != after.about]
        return "; ".join(step.why for step in (*told, *self.past[-1:]) if step.why)


def begin(piece: Piece, open_: frozenset[str] = frozenset()) -> Draft:
    """A draft of a piece, `open_` of whose starts are open."""
    form = Form(piece.deck, open_)
    return Draft(form, form, piece.score)


def edit(draft: Draft, change: Change, why: str, about: str = "") -> Draft:
    """The draft after one more edit; one that changes nothing is none. Raises what the edit
    raises, and the draft is as before."""
    deck, open_ = change(draft.piece), draft.now.open
    form = Form(deck, open_ | split_off(draft.now.deck, deck, open_))
    return _after(draft, form, why, about or f"step {len(draft.past)}")


def split_off(before: Deck, after: Deck, open_: frozenset[str]) -> frozenset[str]:
    """The starts that are new in a form of a deck and divide a phrase that is open: of one that
    has been learned both parts have."""
    known = {one.id for one in before.starts} | {one.id for one in before.former}
    found: frozenset[str] = frozenset()
    for start in after.starts:  # a parent comes before its parts
        if start.id not in known and start.parent in open_ | found:
            found |= {start.id}
    return found


def turn(draft: Draft, start_id: str) -> Draft:
    """The draft with one start opened, or closed if it was open."""
    form = Form(draft.now.deck, draft.now.open ^ {start_id})
    return _after(draft, form, "", f"step {len(draft.past)}")


def _after(draft: Draft, form: Form, why: str, about: str) -> Draft:
    if form == draft.now:
        return draft
    step = Step(draft.now, why, about)
    return replace(draft, now=form, past=(*draft.past, step), ahead=())


def undo(draft: Draft) -> Draft:
    """The draft before its last edit; itself where there is none."""
    if not draft.past:
        return draft
    last = draft.past[-1]
    ahead = (*draft.ahead, replace(last, form=draft.now))
    return replace(draft, now=last.form, past=draft.past[:-1], ahead=ahead)


def redo(draft: Draft) -> Draft:
    """The draft with the last undone edit done again; itself where there is none."""
    if not draft.ahead:
        return draft
    again = draft.ahead[-1]
    past = (*draft.past, replace(again, form=draft.now))
    return replace(draft, now=again.form, past=past, ahead=draft.ahead[:-1])


def kept(draft: Draft) -> Draft:
    """The draft once all of it has been kept."""
    return begin(draft.piece, draft.now.open)


class Stand(Frozen, frozen=True):
    """A form as it is kept while nothing is saved yet, and what was done to come to it."""

    form: Form
    why: str = ""
    about: str = ""


def stands(draft: Draft) -> tuple[Stand, ...]:
    """All forms of a draft in the order of its edits, the one it began with first, those that
    were undone last. The place of the present one is the number of its past edits."""
    steps = (*draft.past, *reversed(draft.ahead))
    forms = (
        *(step.form for step in draft.past),
        draft.now,
        *(step.form for step in reversed(draft.ahead)),
    )
    told = (("", ""), *((step.why, step.about) for step in steps))
    return tuple(Stand(form, *words) for form, words in zip(forms, told, strict=True))


def again(kept: Sequence[Stand], here: int, score: Score) -> Draft:
    """The draft whose forms were kept, at the place `here` among them."""
    past = tuple(Step(one.form, to.why, to.about) for one, to in pairwise(kept[: here + 1]))
    ahead = tuple(Step(one.form, one.why, one.about) for one in reversed(kept[here + 1 :]))
    return Draft(kept[0].form, kept[here].form, score, past, ahead)


def for_another(kept: Sequence[Stand], open_: frozenset[str]) -> tuple[Stand, ...]:
    """The same forms for another student, of whom `open_` starts are open: which starts were to
    be opened or closed concerned the first one alone."""
    return tuple(replace(one, form=replace(one.form, open=open_)) for one in kept)
