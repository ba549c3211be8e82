"""No "1 minutes": a number that may be one is told with `counted`."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.build import ROOT
from trainer.score.cite import counted

THINGS = frozenset(
    [
        "attempts",
        "backups",
        "bars",
        "beats",
        "bytes",
        "calls",
        "characters",
        "copies",
        "days",
        "edits",
        "entries",
        "events",
        "files",
        "hours",
        "joins",
        "lines",
        "look-alikes",
        "minutes",
        "months",
        "notes",
        "pages",
        "phrases",
        "pieces",
        "places",
        "retractions",
        "seconds",
        "signs",
        "slips",
        "starts",
        "students",
        "times",
        "tries",
        "tunes",
        "weeks",
        "years",
    ]
)
NEVER_ONE = {
    # More than one wherever it is told.
    "abs(alter) times": "names of single and double signs are words",
    "bars bars": "one is told before",
    "days days": "one is yesterday",
    "left days": "one is tomorrow",
    "ago days": "from IDLE_DAYS on",
    "(day - opened).days days": "from OPENED_DAYS on",
    "found.tries tries": "from FIGURES_FROM on",
    "self.tries tries": "from FIGURES_FROM on",
    "times times": "one is told before, or it is from two on",
    "one.times times": "one is once",
    "count times": "one is once",
    "number times": "one is once",
    "trace.failing times": "one is told before",
    "count slips": "one is told before",
    "count backups": "one is told before",
    "self.fewer starts": "one is told before",
    "len(found) entries": "too many",
    "len(plain) characters": "too many",
    "most characters": "a bound",
    "tunes tunes": "one is not told",
    "self.tries attempts": "counts only under three",
    "found.tries attempts": "counts only under three",
    # Not counts of those things.
    "at seconds": "instants",
    "sign calls": "what calls the first start",
    "density starts": "more or fewer",
    "own.tempo beats": "from SLOWEST on",
    "notes notes": "a score that is refused has thousands",
}


def told(tree: ast.AST) -> Iterator[str]:
    """Each "{number} things" in the texts of a module."""
    for text in (node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr)):
        for number, after in zip(text.values, text.values[1:], strict=False):
            if not isinstance(number, ast.FormattedValue) or not isinstance(after, ast.Constant):
                continue
            found = re.match(r" ([a-z-]+)", str(after.value))
            if found and found[1] in THINGS and not constant(number):
                yield f"{ast.unparse(number.value)} {found[1]}"


def constant(number: ast.FormattedValue) -> bool:
    """One of the bounds that stand in capitals, or a figure with decimals: "1.0 seconds"."""
    name = ast.unparse(number.value).rsplit(".")[-1].split("[")[0]
    decimals = number.format_spec and re.search(r"\.[1-9]f", ast.unparse(number.format_spec))
    return name.lstrip("_").isupper() or bool(decimals)


@pytest.mark.parametrize(
    "path", sorted((ROOT / "trainer").rglob("*.py")), ids=lambda path: path.stem
)
def test_a_number_that_may_be_one_is_counted(path: Path) -> None:
    assert [one for one in told(ast.parse(path.read_text())) if one not in NEVER_ONE] == []


def test_one_and_many() -> None:
    assert [counted(n, "minute") for n in (0, 1, 1.0, 1.5, 2, 20.0)] == [
        "0 minutes", "1 minute", "1 minute", "1.5 minutes", "2 minutes", "20 minutes",
    ]  # fmt: skip
    assert counted(1200, "try", "tries") == "1,200 tries"
