"""The one builder of HTML: elements are values, and become text in one place.

Whatever a score, a deck or a person wrote goes in as a `str` and comes out as text: there is no
way in for ready-made markup. Names of tags and attributes come from the code alone.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

_NAME = re.compile(r"[a-zA-Z][a-zA-Z0-9-]*")
_VOID = frozenset({"meta", "br"})
_INLINE = frozenset({"b", "span", "strong", "tspan", "text", "br"})  # no line break after these


@dataclass(frozen=True)
class Element:
    """A tag with its attributes in order, and what stands inside it."""

    tag: str
    attributes: tuple[tuple[str, str], ...] = ()
    children: tuple[Element | str, ...] = ()

    def __str__(self) -> str:
        return "".join(_pieces(self))


def el(tag: str, *children: Element | str | None, **attributes: str | float | None) -> Element:
    """An element. `class_="x"` and `aria_label="y"` give class and aria-label; what is None is
    left out. Raises ValueError for a name that is none."""
    named = tuple(
        (name.rstrip("_").replace("_", "-"), _number(value))
        for name, value in attributes.items()
        if value is not None
    )
    for name in (tag, *(name for name, _ in named)):
        if not _NAME.fullmatch(name):
            raise ValueError(f"no name of a tag or an attribute: {name!r}")
    return Element(tag, named, tuple(child for child in children if child is not None))


def _number(value: str | float) -> str:
    return value if isinstance(value, str) else f"{round(value, 2):g}"


def _pieces(element: Element) -> Iterable[str]:
    yield f"<{element.tag}"
    for name, value in element.attributes:
        yield f' {name}="{escape(plain(value))}"'
    yield ">"
    if element.tag not in _VOID:
        for child in element.children:
            if isinstance(child, Element):
                yield from _pieces(child)
            else:
                yield escape(plain(child), quote=False)
        yield f"</{element.tag}>"
    if element.tag not in _INLINE:
        yield "\n"


def plain(text: str) -> str:
    """The text without control, formatting and unassigned characters; white space is blanks."""
    return "".join(
        " " if char.isspace() else char
        for char in text
        if char.isspace() or not unicodedata.category(char).startswith("C")
    )


def heading(level: int, *children: Element | str) -> Element:
    return el(f"h{level}", *children)


def p(*children: Element | str | None, class_: str | None = None) -> Element:
    return el("p", *children, class_=class_)


def strong(text: str) -> Element:
    return el("strong", text)


def span(class_: str, *children: Element | str) -> Element:
    return el("span", *children, class_=class_)


def sentences(items: Iterable[str | Element], class_: str | None = None) -> Element | None:
    """A list with one sentence an item, nothing where there is none."""
    found = [el("li", item) for item in items]
    return el("ul", *found, class_=class_) if found else None


def section(level: int, title: str, *children: Element | None) -> Element:
    """A heading with what belongs under it."""
    return el("section", heading(level, title), *children)


def table(
    caption: str,
    heads: Sequence[str],
    rows: Sequence[Sequence[Element | str | None]],
    *,
    head: int = 0,
    figures: Sequence[int] = (),
    class_: str | None = None,
) -> Element:
    """A table: `heads` name its columns, column `head` names each row; `figures` are the places
    of the columns that are set to the right."""

    def cell(at: int, content: Element | str | None) -> Element:
        kind = "figure" if at in figures else None
        if at == head:
            return el("th", content, scope="row", class_=kind)
        return el("td", content, class_=kind)

    top = [
        el("th", name, scope="col", class_="figure" if at in figures else None)
        for at, name in enumerate(heads)
    ]
    body = [el("tr", *(cell(at, content) for at, content in enumerate(row))) for row in rows]
    return el(
        "table",
        el("caption", caption),
        el("thead", el("tr", *top)),
        el("tbody", *body),
        class_=class_,
    )
