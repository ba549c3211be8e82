"""What the tests of the pages share: a reader of HTML, and a student with something to tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from fractions import Fraction
from html.parser import HTMLParser

from msgspec.structs import replace

from tests.memory.build import at, attempt
from tests.pieces import piece_of, tune
from trainer.deck.model import Likeness, Piece, identity
from trainer.record.attempt import Attempt, Outcome
from trainer.record.log import Written
from trainer.record.people import FromMemory, Level, Opening, ProgrammeItem, Recital, Student
from trainer.reports.view import View
from trainer.score.model import Mark

DAY = 20.0  # days after the first tries
HOSTILE = "</title></style><script>alert(1)</script><b a=\"x\" c='y'>&lt;&amp; \x1b[31m\u202e\x00 ♯"
VOID = {"meta", "br"}


@dataclass
class Node:
    """An element as a reader finds it."""

    tag: str
    attributes: dict[str, str]
    parent: Node | None = None
    children: list[Node | str] = field(default_factory=list)

    def all(self, *tags: str) -> list[Node]:
        found = []
        for child in self.children:
            if isinstance(child, Node):
                found += [child] if not tags or child.tag in tags else []
                found += child.all(*tags)
        return found

    @property
    def text(self) -> str:
        return "".join(child if isinstance(child, str) else child.text for child in self.children)


class Reader(HTMLParser):
    """Reads a page; an element that is not closed where it should be is an error."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = self.here = Node("", {})

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"an attribute twice in {tag}"
        node = Node(tag, {name: value or "" for name, value in attrs}, self.here)
        self.here.children.append(node)
        if tag not in VOID:
            self.here = node

    def handle_endtag(self, tag: str) -> None:
        assert self.here.tag == tag, f"{tag} is closed where {self.here.tag} is open"
        assert self.here.parent is not None
        self.here = self.here.parent

    def handle_data(self, data: str) -> None:
        self.here.children.append(data)

    def handle_comment(self, data: str) -> None:
        raise AssertionError(f"a comment: {data}")


def read(page: str) -> Node:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.here is reader.root, f"{reader.here.tag} is never closed"
    return reader.root


def study(
    deck: str, title: str = "Study", *, starts: int = 4, upbeat: bool = False, advice: str = ""
) -> Piece:
    """Starts every four bars; the first and third look alike, a page turns in the second phrase,
    and the second start has a word of advice and a fingering."""
    first = 1 if upbeat else 0
    onsets = [first + 12 * n for n in range(starts)]
    piece = piece_of(tune(4 * starts, upbeat=upbeat, title=title), onsets, deck)
    score = replace(piece.score, marks=(Mark("page", Fraction(first + 15)),))
    made = list(piece.deck.starts)
    made[1] = replace(made[1], advice=(advice or "Sing it first",), fingering="R 1-3-5")
    alike = Likeness(made[0].id, made[2].id, "same", Fraction(first + 6), Fraction(first + 30))
    deck_ = replace(piece.deck, score=identity(score), starts=tuple(made), alike=(alike,))
    return Piece(deck_, score)


def practice(piece: Piece, *, judge_on: float | None = None) -> list[Attempt]:
    """Three weeks of tries: the first start holds, the second fails, the third was taken for the
    first, the fourth was never tried."""
    one, two, three = (start.id for start in piece.deck.starts[:3])
    made = []
    for n, day in enumerate((0.0, 3.0, 6.0, 10.0, 14.0, 18.0)):
        made += [
            attempt(day, one),
            attempt(day + 0.01, two, Outcome.NOTHING if n else Outcome.THROUGH),
            attempt(day + 0.02, three, Outcome.ELSEWHERE, elsewhere=one)
            if n in (2, 4)
            else attempt(day + 0.02, three, Outcome.BROKE_OFF),
        ]
    if judge_on is not None:
        made.append(attempt(judge_on + 0.1, one, judge="teacher", id="heard"))
    return [replace(each, deck=piece.deck.id) for each in made]


def view_of(
    pieces: Sequence[Piece],
    attempts: Sequence[Attempt] = (),
    *,
    level: Level = "adult",
    recital: int | None = 12,
    played: Sequence[FromMemory] = (),
    name: str = "M.",
    concert: str = "Concert",
    now: float = DAY,
) -> View:
    """A view of these pieces, all their starts open; the recital is so many days off."""
    opened = tuple(
        Opening(f"o{start.id}", "p", piece.deck.id, start.id, True, "m", at(-1))
        for piece in pieces
        for start in piece.deck.starts
    )
    how = [*played, *("yes" for _ in pieces)]
    items = tuple(ProgrammeItem(p.deck.id, h) for p, h in zip(pieces, how, strict=False))  # type: ignore[arg-type]
    day = at(now).date() + timedelta(days=recital or 0)
    recitals = () if recital is None else (Recital("r1", "p", concert, day, items),)
    return View(
        Student("p", name, level=level),
        at(now),
        {piece.deck.id: piece.deck for piece in pieces},
        {piece.deck.id: piece for piece in pieces},
        Written(sorted(attempts, key=lambda one: one.at)),
        opened,
        recitals,
    )
