"""Makes the JSON Schemas of the file formats: `python -m tests.make_schemas`."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from trainer.deck.file import DeckFile
from trainer.deck.schema import schema
from trainer.record.file import RecordFile
from trainer.values import Frozen

DECKS = Path(__file__).parent.parent / "decks"
SCHEMAS: dict[str, type[Frozen]] = {"deck.schema.json": DeckFile, "record.schema.json": RecordFile}


def written(name: str) -> str:
    """The text of one schema."""
    return json.dumps(schema(SCHEMAS[name]), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    for file in SCHEMAS:
        (DECKS / file).write_text(written(file), encoding="utf-8")
        sys.stdout.write(f"{file}\n")
