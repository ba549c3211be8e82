"""Text from a score or a file's name: data to show, never a control sequence."""

from __future__ import annotations

import unicodedata

LONGEST = 200
"""Characters of one text that are kept."""


def clean(text: object, longest: int = LONGEST) -> str:
    """The text on one line, without control characters, direction overrides or lone surrogates.

    Brackets and right-to-left letters stay. White space is made single blanks, and what goes
    beyond `longest` characters is cut with an ellipsis.
    """
    kept = "".join(
        " " if character.isspace() else character
        for character in str(text)
        if character.isspace() or unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co")
    )
    line = " ".join(kept.split())
    return line if len(line) <= longest else line[: longest - 1] + "…"
