"""The first two fenced shell lines of the README: `python tests/readme_commands.py demo|test`."""

from __future__ import annotations

import re
import sys
from pathlib import Path

README = Path(__file__).parent.parent / "README.md"


def commands() -> dict[str, str]:
    """The README's two commands, each a single line."""
    blocks = re.findall(r"^```(?:sh|bash|shell)\n(.*?)^```", README.read_text("utf-8"), re.M | re.S)
    demo, test = (block.strip() for block in blocks[:2])
    return {"demo": demo, "test": test}


if __name__ == "__main__":
    print(commands()[sys.argv[1]])
