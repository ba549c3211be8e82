"""Pieces: scores, decks, and every edit of a deck."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from hashlib import sha256
from typing import Literal

from msgspec import Raw, Struct
from msgspec.structs import replace

from trainer.deck.history import DeckEdit, standing
from trainer.deck.model import Deck, Piece, identity, revision
from trainer.deck.original import Original
from trainer.errors import TrainerError
from trainer.score.model import Bar, Score, Staff
from trainer.store.base import Part, find, shown
from trainer.store.connection import Row
from trainer.store.rows import Differing, instant, moment
from trainer.values import Frozen, decode, encode


class PieceEntry(Frozen, frozen=True):
    """A line of the list of pieces. `number` is their place in it, from 1; 0 for one that was
    removed. `starts` is how many starts the deck has."""

    number: int
    id: str
    title: str
    revision: str
    starts: int


class _Frame(Struct, frozen=True):
    """What of a score tells where a place is; all else is passed over unread."""

    title: str
    staves: tuple[Staff, ...]
    bars: tuple[Bar, ...]


class _Written(Struct, frozen=True):
    """What is written in a score, as the canonical text of each of its lists."""

    staves: Raw
    bars: Raw
    notes: Raw
    rests: Raw = Raw(b"[]")
    marks: Raw = Raw(b"[]")


_IN_ORDER = "ORDER BY place IS NULL, place, deck.seq"
_EDIT = "id, deck, revision, parent, machine, at, utc_offset, why, undoes, merged"


class Pieces(Part):
    """A deck's contents are kept under their revision and never overwritten; which revision is
    current moves, and each move is logged."""

    def all(self) -> tuple[PieceEntry, ...]:
        """All pieces but those removed, in the order in which a person put them, the others after
        them as they were added; no score is read for it."""
        return self._connection.read(
            lambda rows: tuple(PieceEntry(number, *row) for number, row in enumerate(rows, 1)),
            "SELECT deck.id, title, current, starts FROM deck JOIN deck_revision"
            f" ON deck = deck.id AND revision = current WHERE NOT removed {_IN_ORDER}",
        )

    def removed(self) -> tuple[PieceEntry, ...]:
        """The pieces that were removed, in the order in which they were added."""
        return self._connection.read(
            lambda rows: tuple(PieceEntry(0, *row) for row in rows),
            "SELECT deck.id, title, current, starts FROM deck JOIN deck_revision"
            " ON deck = deck.id AND revision = current WHERE removed ORDER BY deck.seq",
        )

    def find_removed(self, text: str) -> PieceEntry:
        """The removed piece that a title, or the beginning of a title or id, means."""
        entries = self.removed()
        return find("removed piece", text, [(one.id, one.title, one) for one in entries])

    def remove(self, deck_id: str, *, removed: bool = True) -> None:
        """Put a piece out of sight, or bring it back to where it was. All is kept."""
        with self._connection.writing() as run:
            run("UPDATE deck SET removed = ? WHERE id = ?", (removed, deck_id))

    def put_in_order(self, deck_ids: Sequence[str]) -> None:
        """Put the pieces in this order; others come after them."""
        with self._connection.writing() as run:
            run("UPDATE deck SET place = NULL")
            for place, deck_id in enumerate(deck_ids, 1):
                run("UPDATE deck SET place = ? WHERE id = ?", (place, deck_id))

    def find(self, text: str) -> PieceEntry:
        """The piece that a number, a title, or the beginning of a title or id means."""
        return find("piece", text, [(entry.id, entry.title, entry) for entry in self.all()])

    def same_music(self, score: Score) -> tuple[PieceEntry, ...]:
        """The pieces whose score is this one, whatever its title, its file's name and what was
        said when it was read. Where the notes are not here, nobody can tell."""
        if not score.notes:
            return ()
        music = _music(encode(score))
        found = self._connection.read(
            lambda rows: {str(id_) for id_, content in rows if _music(content) == music},
            "SELECT deck.id, score.content FROM deck JOIN deck_revision"
            " ON deck = deck.id AND revision = current JOIN score ON score.id = score",
        )
        every = (*self.all(), *self.removed())
        return tuple(entry for entry in every if entry.id in found)

    def get(self, deck_id: str) -> Piece:
        """The deck as it is now, with its score, which is decoded anew each time. Where the
        notes were not handed on, the score's frame stands for it."""
        deck = self.deck(deck_id)
        content = self._score(deck)
        return Piece(deck, decode(content, Score, f"A score in {self._connection.path}"))

    def frame(self, deck_id: str) -> Score:
        """The staves and bars of a deck's score alone, which is a fraction of the work: enough
        to say where a place is."""
        content = self._score(self.deck(deck_id))
        frame = decode(content, _Frame, f"A score in {self._connection.path}")
        return Score(frame.title, frame.staves, frame.bars, ())

    def _score(self, deck: Deck) -> str:
        row = self._connection.row(
            "SELECT content FROM score WHERE id = ?1 UNION ALL SELECT content FROM score_frame"
            " JOIN score ON id = frame WHERE score = ?1 LIMIT 1",
            (deck.score,),
        )
        if row is None:
            raise TrainerError(
                f"The score of the deck {shown(deck.title)} is not here; add the piece from its "
                "score."
            )
        return str(row[0])

    def original(self, score: str) -> Original | None:
        """The file that a score was read from, None where it is not here."""
        row = self._connection.row("SELECT name, content FROM original WHERE score = ?", (score,))
        return None if row is None else Original(str(row[0]), bytes(row[1]))

    def keep_original(self, score: str, original: Original) -> None:
        """Keep the file that a score was read from, in place of one that is kept."""
        with self._connection.writing() as run:
            run(
                "INSERT INTO original (score, name, content) VALUES (?, ?, ?) ON CONFLICT (score)"
                " DO UPDATE SET name = excluded.name, content = excluded.content",
                (score, original.name, original.content),
            )

    def decks(self) -> dict[str, Deck]:
        """The decks of all pieces as they are now, by id, in the order of `pieces`."""
        what = f"A deck in {self._connection.path}"
        return self._connection.read(
            lambda rows: {str(id_): _deck(str(content), what) for id_, content in rows},
            "SELECT deck.id, content FROM deck JOIN deck_revision"
            f" ON deck = deck.id AND revision = current WHERE NOT removed {_IN_ORDER}",
        )

    def deck(self, deck_id: str, at_revision: str = "") -> Deck:
        """A deck as it is now, or as it was at a revision."""
        wanted = at_revision or self._current(deck_id)
        row = self._connection.row(
            "SELECT content FROM deck_revision WHERE deck = ? AND revision = ?", (deck_id, wanted)
        )
        if row is None:
            raise TrainerError(
                f"The deck {shown(deck_id)} has no revision {shown(wanted)} here:"
                " choose one from its history."
            )
        return _deck(str(row[0]), f"A deck in {self._connection.path}")

    def history(self, deck_id: str) -> tuple[DeckEdit, ...]:
        """Every edit of a deck in the order in which they were made or came in."""
        sql = f"SELECT {_EDIT} FROM deck_edit WHERE deck = ? ORDER BY seq"
        return self._connection.read(_edits, sql, (deck_id,))

    def add(self, piece: Piece, why: str, edits: Sequence[DeckEdit] = ()) -> None:
        """Keep a new piece. The same piece once more changes nothing. `edits` are what is told
        of how it came about, the last one current. Raises TrainerError where its deck is known
        in another form: an edit goes through `save`."""
        deck = piece.deck
        told = edits or (self._edit(deck.id, revision(deck), "", why),)
        with self._connection.writing() as run:
            known = run("SELECT current FROM deck WHERE id = ?", (deck.id,)).fetchone()
            if known is None:
                run("INSERT INTO deck (id, current) VALUES (?, ?)", (deck.id, revision(deck)))
                self._keep(deck, piece.score)
                self._log(deck.id, told)
            elif known[0] != revision(deck):
                raise TrainerError(
                    f"The deck {shown(deck.title)} is already kept in another version; save this "
                    "one as an edit of it."
                )

    def follow(self, piece: Piece, edits: Sequence[DeckEdit], *, parent: str) -> None:
        """Go on to a form of a deck that was made from the one here, on another machine: what
        it tells of its edits is kept, the last one is current. Raises TrainerError where the
        current revision is not `parent` any more."""
        with self._connection.writing():
            self._still(piece.deck, parent)
            self._keep(piece.deck, piece.score)
            self._log(piece.deck.id, edits)

    def settle(
        self,
        piece: Piece,
        edits: Sequence[DeckEdit],
        *,
        parent: str,
        take: Literal["file", "here"],
    ) -> None:
        """Let two lines of edits of one deck meet. Both forms are kept, and the choice is an
        edit of its own. Raises TrainerError where the current revision is not `parent`."""
        other = revision(piece.deck)
        with self._connection.writing():
            self._still(piece.deck, parent)
            self._keep(piece.deck, piece.score)
            now, why = (
                (other, "two edits met: the one in the file was kept")
                if take == "file"
                else (parent, "two edits met: the one here was kept")
            )
            choice = self._edit(piece.deck.id, now, parent, why)
            self._log(piece.deck.id, (*edits, replace(choice, merged=other)))

    def save(self, deck: Deck, *, parent: str, why: str, score: Score | None = None) -> str:
        """Keep an edit of a deck, made from the revision `parent`, as the current one.

        `score` is needed only where the deck now stands on another one. Gives the new
        revision. Raises TrainerError where the current revision is not `parent` any more:
        somebody else has edited the deck.
        """
        edit = self._edit(deck.id, revision(deck), parent, why)
        with self._connection.writing():
            self._still(deck, parent)
            if edit.revision != parent:
                self._keep(deck, score)
                self._log(deck.id, (edit,))
        return edit.revision

    def differing_edits(self, deck: str, edits: Sequence[DeckEdit]) -> tuple[str, ...]:
        """The ids of those edits that are kept here with other contents, which stays so. What
        differs is kept beside the log."""
        kept = {one.id: one for one in self.history(deck)}
        other = [one for one in edits if one.id in kept and not _same(one, kept[one.id], deck)]
        if other:
            told = [Differing("", "", "deck edit", one.id, encode(one)) for one in other]
            with self._connection.writing():
                self._keep_differing(told)
        return tuple(one.id for one in other)

    def _still(self, deck: Deck, parent: str) -> None:
        if self._current(deck.id) != parent:
            raise TrainerError(
                f"The deck {shown(deck.title)} was edited by another copy of "
                "the program meanwhile; look at it again and repeat the edit."
            )

    def undo(self, deck_id: str) -> DeckEdit:
        """Take the last edit back that still counts. That is logged as an edit of its own."""
        with self._connection.writing():
            now = self._current(deck_id)
            last = standing(self.history(deck_id))
            if not last.parent or not self.has(deck_id, last.parent):
                raise TrainerError(
                    f"The deck {shown(self.deck(deck_id).title)} has no edit to take back."
                )
            edit = self._edit(deck_id, last.parent, now, f"undo: {last.why}", undoes=last.id)
            self._log(deck_id, (edit,))
        return edit

    def _current(self, deck_id: str) -> str:
        row = self._connection.row("SELECT current FROM deck WHERE id = ?", (deck_id,))
        if row is None:
            raise TrainerError(
                f"There is no deck {shown(deck_id)}; list the pieces with `trainer pieces`."
            )
        return str(row[0])

    def _edit(self, deck: str, now: str, parent: str, why: str, undoes: str = "") -> DeckEdit:
        id_, at = self._new_id(), self._now()
        return DeckEdit(id_, now, parent, self.machine, at, why, undoes, deck=deck)

    def has(self, deck: str, at_revision: str) -> bool:
        sql = "SELECT 1 FROM deck_revision WHERE deck = ? AND revision = ?"
        return self._connection.row(sql, (deck, at_revision)) is not None

    def _keep(self, deck: Deck, score: Score | None) -> None:
        """Put down a deck's contents, and its score where given. Inside a transaction."""
        run = self._connection.execute
        if score is not None:
            self._keep_score(deck, score)
        known = "SELECT 1 FROM score WHERE id = ?1 UNION SELECT 1 FROM score_frame WHERE score = ?1"
        if not run(known, (deck.score,)).fetchone():
            raise TrainerError(
                f"The deck {shown(deck.title)} is for a score that is not here: add that too."
            )
        key = (deck.id, revision(deck))
        if not self.has(*key):
            run(
                "INSERT INTO deck_revision (deck, revision, score, title, starts, content)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                (*key, deck.score, deck.title, len(deck.starts), encode(deck)),
            )

    def _keep_score(self, deck: Deck, score: Score) -> None:
        """Put down a deck's score, or the frame of it where its notes are left out."""
        run = self._connection.execute
        id_ = identity(score)
        if id_ != deck.score and score.notes:
            raise TrainerError(
                f"The deck {shown(deck.title)} does not belong to the score {shown(score.title)}:"
                " give it the score it was made from."
            )
        if not run("SELECT 1 FROM score WHERE id = ?", (id_,)).fetchone():
            row = (id_, score.title, encode(score))
            run("INSERT INTO score (id, title, content) VALUES (?, ?, ?)", row)
        if id_ != deck.score:
            sql = "INSERT INTO score_frame (score, frame) VALUES (?, ?) ON CONFLICT DO NOTHING"
            run(sql, (deck.score, id_))

    def _log(self, deck: str, edits: Sequence[DeckEdit]) -> None:
        """Log those edits that are not known yet, and make the last one's revision current; where
        the log ends elsewhere, that move is an edit of its own. Inside a transaction. Raises
        TrainerError for an edit that belongs to another deck."""
        run = self._connection.execute
        for edit in edits:
            known = run("SELECT deck FROM deck_edit WHERE id = ?", (edit.id,)).fetchone()
            if known is None:
                self._log_one(deck, edit)
            elif known[0] != deck:
                raise TrainerError(
                    f"The edit {shown(edit.id)} belongs to another deck: ask for a new file."
                )
        goal = edits[-1].revision
        sql = "SELECT revision FROM deck_edit WHERE deck = ? ORDER BY seq DESC LIMIT 1"
        (last,) = run(sql, (deck,)).fetchone()
        if last != goal:
            self._log_one(deck, self._edit(deck, goal, last, "imported again"))
        run("UPDATE deck SET current = ? WHERE id = ?", (goal, deck))

    def _log_one(self, deck: str, edit: DeckEdit) -> None:
        head = (edit.id, deck, edit.revision, edit.parent, edit.machine)
        self._connection.execute(
            f"INSERT INTO deck_edit ({_EDIT}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (*head, *instant(edit.at), edit.why, edit.undoes, edit.merged),
        )


def _same(edit: DeckEdit, kept: DeckEdit, deck: str) -> bool:
    """Whether an edit that came in again is the one that is kept. One that stands for a file
    that tells no edits has the instant at which the file was read."""
    at = edit.at if edit.machine else kept.at
    return replace(edit, deck=deck, at=moment(*instant(at))) == kept


def _music(content: str) -> str:
    """A digest of the music in a score's text, whatever its title, its file's name and what was
    said when it was read. Raises TrainerError."""
    of = decode(content, _Written, "A score in the database")
    lists = (of.staves, of.bars, of.notes, of.rests, of.marks)
    return sha256(b"\n".join(map(bytes, lists))).hexdigest()


@lru_cache(maxsize=64)
def _deck(content: str, what: str) -> Deck:
    """The deck that a content is; each is read once."""
    return decode(content, Deck, what)


def _edits(rows: Iterable[Row]) -> tuple[DeckEdit, ...]:
    return tuple(
        DeckEdit(id_, rev, parent, machine, moment(at, offset), why, undoes, merged, deck)
        for id_, deck, rev, parent, machine, at, offset, why, undoes, merged in rows
    )
