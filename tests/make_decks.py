"""Makes decks/ from demo_scores/: `python -m tests.make_decks`.

The starts are where the composer says that the phrases begin, with the reasons that phrase
finding gives for the same places. Ids are derived from names, so that the same scores give the
same decks.
"""

from __future__ import annotations

import json
import sys
from fractions import Fraction
from pathlib import Path
from uuid import NAMESPACE_URL, uuid5

from trainer.deck.edit import new_deck
from trainer.deck.file import write_deck
from trainer.deck.model import Piece
from trainer.phrases.model import Reason
from trainer.phrases.segment import propose
from trainer.score.read import read_score

ROOT = Path(__file__).parent.parent
SCORES, DECKS = ROOT / "demo_scores", ROOT / "decks"


def stable_id(*words: str) -> str:
    return uuid5(NAMESPACE_URL, "/".join(words)).hex


def make_deck(score_path: Path) -> Piece:
    """The piece of one demo score with the composer's starts."""
    stem = score_path.name.removesuffix(".musicxml")
    score = read_score(score_path)
    told = json.loads((score_path.parent / f"{stem}.starts.json").read_text())["starts"]
    found = {proposal.onset: proposal.reasons for proposal in propose(score, "more")}
    places: list[tuple[Fraction, tuple[Reason, ...]]] = []
    for start in told:
        onset = Fraction(start["offset_ql"]).limit_denominator(96)
        by_composer = Reason("composer", str(start["why"]))
        places.append((onset, (by_composer, *found.get(onset, ()))))
    ids = [stable_id(stem)] + [stable_id(stem, str(place)) for place, _ in sorted(places)]
    return Piece(new_deck(score, places, ids), score)


def main() -> None:
    DECKS.mkdir(exist_ok=True)
    for path in sorted(SCORES.glob("*.musicxml")):
        piece = make_deck(path)
        out = DECKS / path.name.replace(".musicxml", ".deck.json")
        out.write_text(write_deck(piece), encoding="utf-8")
        sys.stdout.write(f"{out.name}: {len(piece.deck.starts)} starts\n")


if __name__ == "__main__":
    main()
