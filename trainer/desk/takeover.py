"""A score file that takes over a piece which has no notes yet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.deck.compare import Change, compare
from trainer.deck.model import Piece, Start, revision
from trainer.deck.takeover import Fit, more_bars, taken_over
from trainer.desk.base import Part
from trainer.desk.own import Own
from trainer.desk.pieces import Pieces
from trainer.errors import TrainerError
from trainer.record.layer import layers

if TYPE_CHECKING:
    from trainer.deck.original import Original
    from trainer.score.model import Score


@dataclass(frozen=True)
class Takeover:
    """A piece as it is and as it would be with a file; `more` are the file's bars after its last
    one, as printed, and `changes` every difference."""

    before: Piece
    after: Piece
    original: Original
    more: Sequence[str]
    changes: Sequence[Change]


def _takeover(before: Piece, score: Score, original: Original) -> Takeover:
    after = taken_over(before, score)
    return Takeover(before, after, original, more_bars(before, score), compare(before, after))


@dataclass
class Takeovers(Part):
    pieces: Pieces
    own: Own

    def look_at(
        self,
        deck_id: str,
        path: Path,
        *,
        again: bool = False,
        progress: Callable[[str], None] | None = None,
    ) -> Takeover:
        """What a score file would make of a piece without notes; nothing is kept. Raises
        TrainerError where the file does not fit it, and where its music is here already, unless
        it is wanted `again`."""
        from trainer.deck.original import original
        from trainer.score import files
        from trainer.score.read import read_file

        before = self.store.pieces.get(deck_id)
        if before.score.notes:
            raise TrainerError(
                f"{before.deck.title} has its notes already: add the file as a piece of its own,"
                " without --for."
            )
        kept = original(path.name, files.content(path))
        score = read_file(kept.file(), progress=progress)
        if not again and (known := self.pieces.known(score)):
            raise TrainerError(
                f"{known}: nothing was changed. With --again it takes {before.deck.title} over too."
            )
        return _takeover(before, score, kept)

    def fitting(self, score: Score, original: Original) -> list[Takeover]:
        """What a score would make of each piece without notes that it fits."""
        found = []
        for entry in self.store.pieces.all():
            before = self.store.pieces.get(entry.id)
            if not before.score.notes:
                with suppress(TrainerError):
                    found.append(_takeover(before, score, original))
        return found

    def take_over(self, found: Takeover) -> None:
        """Let a file take its piece over, as one edit of the deck. The starts keep their ids and
        all attempts, and students' own starts the places of theirs."""
        before, after = found.before, found.after
        fits = Fit(before, after.score)
        with self.store.together():
            self.store.pieces.save(
                after.deck,
                parent=revision(before.deck),
                why=f"the notes came from {found.original.name}",
                score=after.score,
            )
            self.store.pieces.keep_original(after.deck.score, found.original)
            for student in self.store.students.all():
                layer = layers(self.store.log.layer_edits(student.id)).get(after.deck.id)
                for own in layer.owns if layer else ():
                    if own.added is not None and own.added < before.score.end:
                        onset = fits.near(own.added)
                        start = Start(own.start, 0, onset)
                        self.own.set(student, after.deck, start, {"added": str(onset)})
