"""Pieces: scores and decks in and out, edits of a deck, and which starts are open."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from msgspec.structs import replace

from trainer.deck import edit
from trainer.deck.compare import Change, compare
from trainer.deck.draft import split_off
from trainer.deck.exchange import quoted
from trainer.deck.file import read_deck_file, write_deck
from trainer.deck.history import DeckEdit, Relation, relation
from trainer.deck.model import Deck, Piece, revision
from trainer.desk.base import Part
from trainer.errors import TrainerError
from trainer.record.people import Opening, Student, open_starts

if TYPE_CHECKING:
    from trainer.deck.original import Original
    from trainer.score.model import Score
    from trainer.store.store import PieceEntry

NOT_KEPT = (
    "The score file of {title} is not kept here: name it once, with `trainer mark PIECE SCORE --out"
    " FILE`."
)
Edit = Callable[[Piece], Deck]
Take = Literal["file", "here"]


@dataclass(frozen=True)
class Incoming:
    """What a deck file brings: its piece and history, how that stands to the deck here
    (`before`, None where there is none), and every difference to it."""

    piece: Piece
    edits: tuple[DeckEdit, ...]
    relation: Relation
    before: Piece | None
    changes: tuple[Change, ...]
    original: Original | None = None


class Pieces(Part):
    def find(self, text: str = "") -> PieceEntry:
        """The piece that a number, a title's beginning or an id names; the only one if empty."""
        entries = self.store.pieces.all()
        if text or len(entries) > 1:
            if not text:
                titles = ", ".join(entry.title for entry in entries)
                raise TrainerError(f"There are several pieces ({titles}): say which.")
            return self.store.pieces.find(text)
        if not entries:
            raise TrainerError("There are no pieces yet; add a score with `trainer add FILE`.")
        return entries[0]

    def add(
        self,
        path: Path,
        *,
        density: str = "usual",
        again: bool = False,
        learned_by: Student | None = None,
        progress: Callable[[str], None] | None = None,
    ) -> Piece:
        """Read a score, propose its starts, and keep both as a new piece, with all its starts
        open for a student who has learned it. Raises TrainerError where the same music is here
        already, unless it is wanted `again`."""
        from trainer.deck.original import original
        from trainer.score import files
        from trainer.score.read import read_file

        kept = original(path.name, files.content(path))
        score = read_file(kept.file(), progress=progress)
        if not again and (known := self.known(score)):
            raise TrainerError(
                f"{known}: nothing was added. Give --again to add it as a second piece."
            )
        piece = self.propose(score, density=density)
        with self.store.together():
            self.store.pieces.add(piece, f"read from {path.name}")
            self.store.pieces.keep_original(piece.deck.score, kept)
            self._learned(piece, learned_by)
        return piece

    def add_on_paper(
        self, score: Score, starts: Sequence[Fraction], learned_by: Student | None = None
    ) -> Piece:
        """Keep a piece of bars alone, with these starts, all open for a student who has learned
        it."""
        ids = [self.new_id() for _ in range(len(starts) + 1)]
        deck = edit.new_deck(score, [(at, (edit.BY_HAND,)) for at in starts], ids)
        piece = Piece(deck, score)
        with self.store.together():
            self.store.pieces.add(piece, "added without a file")
            self._learned(piece, learned_by)
        return piece

    def _learned(self, piece: Piece, student: Student | None) -> None:
        if student:
            every = [start.number for start in piece.deck.starts]
            self.set_open(student, piece.deck, every, opened=True)

    def known(self, score: Score) -> str:
        """A sentence that names the piece with the same music; empty if there is none."""
        for same in self.store.pieces.same_music(score)[:1]:
            if not same.number:
                back = f"`trainer piece restore {same.title!r}` brings it back"
                return f"This music is here already, as {same.title}, which was removed ({back})"
            return f"This music is here already, as piece {same.number}, {same.title}"
        return ""

    def propose(self, score: Score, *, density: str = "usual") -> Piece:
        """A piece with the proposed starts of a score, not yet kept."""
        from trainer.phrases.numbered import numbered
        from trainer.phrases.segment import propose

        found = propose(score, density)  # type: ignore[arg-type]
        places = [(proposal.onset, proposal.reasons) for proposal in found]
        ids = [self.new_id() for _ in range(len(places) + 1)]
        piece = Piece(edit.new_deck(score, places, ids), score)
        told = numbered(score)
        return Piece(edit.renumber(piece, min(told)), score) if told else piece

    def rename(self, deck_id: str, title: str) -> Piece:
        """Give a piece another title, as an edit of its deck. Raises TrainerError."""
        return self.edit(deck_id, lambda piece: edit.rename(piece, title), f"renamed to {title}")

    def order(self, deck_id: str, number: int) -> None:
        """Let a piece be the one of that number in the list. Raises TrainerError."""
        others = [entry.id for entry in self.store.pieces.all() if entry.id != deck_id]
        if not 1 <= number <= len(others) + 1:
            raise TrainerError(
                f"{number} is not a place in the list: choose one from 1 to {len(others) + 1}."
            )
        self.store.pieces.put_in_order([*others[: number - 1], deck_id, *others[number - 1 :]])

    def keep(self, piece: Piece, why: str, original: Original | None = None) -> None:
        """Keep a piece that was made here, with the file that it was read from."""
        with self.store.together():
            self.store.pieces.add(piece, why)
            if original is not None:
                self.store.pieces.keep_original(piece.deck.score, original)

    def look_at(self, path: Path) -> Incoming:
        """What a deck file brings and would change; nothing is kept."""
        found = read_deck_file(path)
        piece, edits = found.piece, found.history(self.clock())
        mine = self.store.pieces.history(piece.deck.id)
        before = self.store.pieces.get(piece.deck.id) if mine else None
        changes = compare(before, piece) if before else ()
        return Incoming(piece, edits, relation(mine, edits), before, changes, found.original)

    def take_in(self, incoming: Incoming, *, take: Take | None = None) -> tuple[str, ...]:
        """Keep what a deck file brings. Gives the ids of its edits that are kept here with other
        contents. Raises TrainerError for an older form of the deck, and for one of another line
        of edits unless it is said which of the two to `take`."""
        differing = self.store.pieces.differing_edits(incoming.piece.deck.id, incoming.edits)
        if differing and incoming.edits[-1].id in differing and incoming.changes:
            raise TrainerError(
                f"{incoming.piece.deck.title}: the last edit of this deck,"
                f" {quoted(differing[-1])}, is kept here with other contents: the deck here was "
                "not changed. Check where the file comes from."
            )
        with self.store.together():
            self._take_in(incoming, take)
            self.store.pieces.remove(incoming.piece.deck.id, removed=False)
            if incoming.original is not None:
                self.store.pieces.keep_original(incoming.piece.deck.score, incoming.original)
        return differing

    def _take_in(self, incoming: Incoming, take: Take | None) -> None:
        piece, edits, title = incoming.piece, incoming.edits, incoming.piece.deck.title
        if incoming.before is None:
            self.store.pieces.add(piece, "", edits)
            return
        parent = revision(incoming.before.deck)
        if incoming.relation == "older":
            raise TrainerError(
                f"{title}: this is an older version of the deck that is here; to go back to it, "
                "use `trainer start undo`, which is logged."
            )
        if incoming.relation != "apart":
            self.store.pieces.follow(piece, edits, parent=parent)
        elif take:
            self.store.pieces.settle(piece, edits, parent=parent, take=take)
        else:
            raise TrainerError(
                f"{title}: this deck and the one here were edited separately; choose one with "
                "--keep file or --keep here, and make the other's edits again."
            )
        if take != "here":
            self.open_parts(incoming.before.deck, piece.deck)

    def hand_out(self, deck_id: str, *, notes: bool = True, with_score: bool = False) -> str:
        """The text of a piece's deck file, with the notes or without, and with the score file
        that it was read from. Raises TrainerError where that is not here."""
        history = self.store.pieces.history(deck_id)
        piece = self.store.pieces.get(deck_id)
        kept = self.store.pieces.original(piece.deck.score) if with_score else None
        if with_score and kept is None:
            raise TrainerError(NOT_KEPT.format(title=piece.deck.title))
        return write_deck(piece, history, notes=notes, original=kept)

    def edit(self, deck_id: str, change: Edit, why: str) -> Piece:
        """Make one edit of a deck and keep it; every earlier form is kept beside it."""
        piece = self.store.pieces.get(deck_id)
        deck = change(piece)
        if deck != piece.deck:
            with self.store.together():
                self.save(piece.deck, deck, why)
                self.open_parts(piece.deck, deck)
        return Piece(deck, piece.score)

    def open_parts(self, before: Deck, after: Deck, but: str = "") -> None:
        """Let the parts of a phrase be open for every student for whom the whole was, `but` for
        one: as of the word that opened it, which every machine tells in the same way. What was
        said of a part itself counts more."""
        if not split_off(before, after, frozenset(one.id for one in before.starts)):
            return
        for student in self.store.students.entries():
            last = {one.start: one for one in self.store.log.openings(student.id)}
            is_open = open_starts(tuple(last.values()))
            parts = split_off(before, after, is_open) - last.keys()
            for part in (one for one in after.starts if one.id in parts and student.id != but):
                whole = last[part.parent]
                id_ = sha256(f"{whole.id} {part.id}".encode()).hexdigest()[:32]
                last[part.id] = replace(whole, id=id_, start=part.id)
                self.store.log.append(last[part.id])

    def save(self, before: Deck, after: Deck, why: str) -> None:
        """Keep a prepared deck as one edit of the deck that it was made from."""
        self.store.pieces.save(after, parent=revision(before), why=why)

    def set_open(
        self, student: Student, deck: Deck, numbers: Sequence[int], *, opened: bool
    ) -> None:
        """Open starts, or close them, for one student."""
        self.store.log.append(
            *(
                Opening(
                    self.new_id(),
                    student.id,
                    deck.id,
                    edit.numbered(deck, number).id,
                    opened,
                    self.store.machine,
                    self.clock(),
                )
                for number in numbers
            )
        )
