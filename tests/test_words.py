"""The words of the product: one word for one thing, as people say it.

Every text of `trainer/` that a person may read is scanned, the docstrings of commands included,
for words that readers stumbled over. A new kin of one is found here too.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PATHS = sorted((ROOT / "trainer").rglob("*.py"))
PAGES = (ROOT / "README.md", ROOT / "decks" / "FORMAT.md")

# What readers stumbled over, and what is said instead.
STUMBLES = {
    r"\btries\b": "attempts",
    r"\b(?:a|an|the|last|first|next|cold|no|each|this|every|recorded|\d+) (?:cold )?try\b"
    r"(?! (?:to|it|each|again)\b)": "attempt",
    r"(?<!there )\bis no (?:start|day|date|number|letter|signal|calendar|score|place|file)\b": (
        "is not a ..."
    ),
    r"\bon the day\b(?! of)|\bto the day\b|\bstudent's day\b": "the recital, or today",
    r"\bby lot\b": "random",
    r"\bway back\b(?! in\b)": "recovery",
    r"\binitials (?:will )?do\b": "initials are enough",
    r"\b(?:taken?|take it) in\b(?! whole)": "import",
    r"\bis there already\b": "exists already",
    r"\b(?:\d+|control) signs\b": "characters",
    r"\btaken for each\b": "confused",
    r"\bthe judge\b": "the teacher marks",
    r"\banew\b": "again",
    r"\bforetold\b": "forecast",
    r"\bwrite over\b": "replace",
    r"\bwithout a question\b": "without asking",
    r"\bhands alone\b": "hands separately",
    r"\b(?:whole|at the|needed the|written) page\b": "the music",
}
COMMANDS = re.compile(r"\.(?:command|group)\(")
SQL = re.compile(r"\b[A-Z]{6}\b")


def read_by_people(tree: ast.AST) -> Iterator[str]:
    """Each text of a module that has more than one word, holes as {}; no docstrings but those of
    commands, no SQL."""
    silent, parts = set[int](), set[int]()
    for node in ast.walk(tree):
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)):
            made = " ".join(ast.unparse(one) for one in getattr(node, "decorator_list", ()))
            first = node.body[0] if node.body else None
            if isinstance(first, ast.Expr) and not COMMANDS.search(made):
                silent.add(id(first.value))
        elif isinstance(node, ast.JoinedStr):
            parts |= {id(one) for one in node.values}
            yield "".join(
                str(one.value) if isinstance(one, ast.Constant) else "{}" for one in node.values
            )
        elif isinstance(node, ast.Assert) and node.msg:  # for programmers
            silent.add(id(node.msg))
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        if id(node) not in silent | parts and not SQL.search(node.value):
            yield node.value


def stumbles(text: str) -> list[str]:
    """What a reader stumbles over in a text, each with what is said instead."""
    plain = " ".join(text.split())
    found = ((one, say) for one, say in STUMBLES.items() if " " in plain)
    return [f"{m[0]!r} ({say}): {plain[:80]}" for one, say in found
            if (m := re.search(one, plain, re.IGNORECASE))]  # fmt: skip


@pytest.mark.parametrize("path", PATHS, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_people_read_is_said_plainly(path: Path) -> None:
    texts = read_by_people(ast.parse(path.read_text(encoding="utf-8")))
    assert [one for text in texts for one in stumbles(text)] == []


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_the_pages_are_said_plainly(path: Path) -> None:
    parts = path.read_text(encoding="utf-8").split("\n\n")
    assert [one for part in parts for one in stumbles(part)] == []


@pytest.mark.parametrize(
    ("text", "clean"),
    [
        ("2 tries", False),
        ("no cold try yet", False),
        ("'Aug' is no day", False),
        ("There is no start 9.", True),
        ("Type it, then try it again; each try to begin", True),
        ("A spot check, drawn by lot.", False),
        ("It was taken in.", False),
        ("up to 40 signs", False),
        ("Take it apart, hands separately.", True),
    ],
)
def test_what_is_a_stumble(text: str, clean: bool) -> None:
    assert (not stumbles(text)) == clean


def test_commands_are_read_and_code_is_not() -> None:
    code = '''
@main.command()
def one():
    """The last try."""
def two():
    """The last try."""
    say(f"{count} tries"); run("SELECT tries FROM belief")
'''
    assert list(read_by_people(ast.parse(code))) == ["{} tries", "The last try."]
