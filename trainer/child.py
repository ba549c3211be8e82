"""A part of the program in a process of its own."""

from __future__ import annotations

import json
import sys


def command(code: str, *words: str) -> list[str]:
    """The words that run Python code in another process, which finds the modules that this one
    finds. `words` are its sys.argv from 2 on."""
    paths = "import sys, json; sys.path[:] = json.loads(sys.argv[1]);"
    return [sys.executable, "-P", "-c", paths + code, json.dumps(sys.path), *words]
