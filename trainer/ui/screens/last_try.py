"""What stands above the call of a drill: the last try in words, and its page, with what was heard
of it where an instrument listens."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.deck.model import Piece, Start
from trainer.draw.words import outcome_sentence
from trainer.practice.drills import drill_kind
from trainer.practice.session import Session
from trainer.record.attempt import Attempt
from trainer.reports.lookalikes import parting
from trainer.score.cite import place
from trainer.ui.room import Room
from trainer.ui.screens.heard import from_the_break, heard_lines, struck
from trainer.ui.screens.page import page_within, within
from trainer.ui.widgets.sheet import Line, ink, row, wrapped

if TYPE_CHECKING:
    from trainer.desk.hearing import Tried


class LastTry:
    """Draws for one drill's screen. `tried` is what was heard of the try with that id."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._pages: dict[tuple[str, str, tuple[int, int]], tuple[list[Line], bool]] = {}
        self.tried: tuple[str, Tried] | None = None

    def lines(self, session: Session, height: int, *, music: bool = True) -> list[Line]:
        """The last try in words, and as much of its music as there is room for; without it where
        the same start is called again."""
        attempt = session.last
        found = self._room.trainer.view.find(attempt.deck, attempt.start) if attempt else None
        if attempt is None or found is None:
            return []
        head = self.words(session, *found, attempt)
        if not music:
            return head
        page, whole = self._heard_page(attempt, height - len(head))
        if not page:
            page, whole = self.page(session, *found, height - len(head))
        if not whole:
            page = [*page, ink("… v shows all of it", "$faint")]
        return [*head, *page]

    def page(
        self, session: Session, piece: Piece, start: Start, height: int
    ) -> tuple[list[Line], bool]:
        """The page of a start in so many lines, drawn once for a size, and whether it is all."""
        size = (self._room.room[0], height)
        key = (piece.deck.id, start.id, size)
        if key not in self._pages:
            look = self._room.trainer.look(size[0])
            joins = drill_kind(session.drill).begins == "before the join"
            self._pages[key] = page_within(piece, start, look, height, join=joins)
        return self._pages[key]

    def _heard_page(self, attempt: Attempt, height: int) -> tuple[list[Line], bool]:
        """What was heard of a try on its page; nothing where nothing was recognised."""
        tried = self.heard_of(attempt)
        if tried is None:
            return [], True
        look = self._room.trainer.look(self._room.room[0])
        lines, whole = within(lambda form: heard_lines(tried, look, form), height)
        if whole:
            return lines, True
        return within(lambda form: from_the_break(tried, look, form), height)[0], False

    def words(self, session: Session, piece: Piece, start: Start, attempt: Attempt) -> list[Line]:
        """The last try in words."""
        wide = self._room.room[0]
        first, *others = wrapped(self._sentence(session, piece, start, attempt), wide - 6)
        told = self._heard_words(attempt) or parting(self._room.trainer.view, attempt)
        return [
            row(ink("Last: ", "$faint"), first),
            *(row(" " * 6, line) for line in others),
            *wrapped(told, wide, "$accent"),
        ]

    def _sentence(self, session: Session, piece: Piece, start: Start, attempt: Attempt) -> str:
        """The last try in a sentence, with its piece where the drill has several."""
        several = len({call.deck for call in session.calls}) > 1
        title = piece.deck.title if several else ""
        numbers = {other.id: other.number for other in piece.deck.starts}
        at, words = attempt.broke_at, self._room.trainer.view.words
        broke = "" if at is None else place(piece.score, at, words=words)
        other = numbers.get(attempt.elsewhere)
        return outcome_sentence(
            start.number,
            attempt.outcome,
            piece=title,
            place=broke,
            other=other,
            into=session.last_call.into if session.last_call else "",
        )

    def _heard_words(self, attempt: Attempt) -> str:
        """What was heard, and why it comes to its outcome; "" where nothing was."""
        tried = self.heard_of(attempt)
        if tried is None:
            return ""
        outcome = tried.proposal.outcome
        word = f" {outcome.value}:" if outcome and outcome is not attempt.outcome else ""
        return f"Heard:{word} {tried.proposal.why} {tried.notes}".rstrip()

    def heard_of(self, attempt: Attempt) -> Tried | None:
        """What was heard of a try, also where the player said otherwise."""
        known = self.tried
        return known[1] if known and known[0] in (attempt.id, attempt.amends) else None

    def strikes(self, attempt: Attempt) -> Sequence[tuple[float, int]]:
        """The keys of a try as they were struck: seconds, and MIDI note numbers."""
        tried = self.heard_of(attempt)
        return struck(tried) if tried else ()
