"""All checks, in the order of their cost: `python -m tests`. Arguments go to pytest."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
BIN = Path(sys.executable).parent
WORKERS = (os.cpu_count() or 1) + 1  # some tests wait, for a terminal or for a piano

CHECKS = (
    ("lint", [str(BIN / "ruff"), "check", "trainer", "tests"]),
    ("format", [str(BIN / "ruff"), "format", "--check", "--quiet", "trainer", "tests"]),
    ("import rule", [str(BIN / "lint-imports")]),
    ("types", [sys.executable, "-m", "mypy"]),
    ("tests", [sys.executable, "-m", "pytest", "-n", str(WORKERS), *sys.argv[1:]]),
)


def main() -> int:
    """0 if every check passes; the first that fails ends the run."""
    for name, command in CHECKS:
        print(f"== {name}", flush=True)
        code = subprocess.run(command, cwd=ROOT, check=False).returncode
        if code:
            print(f"{name} failed.", file=sys.stderr)
            return code
    return 0


if __name__ == "__main__":
    sys.exit(main())
