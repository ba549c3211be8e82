"""The builder: whatever a text holds, it is read back as that text and nothing else."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.paper.build import HOSTILE, read
from trainer.paper.html import Element, el, plain, table
from trainer.paper.page import document

nasty = st.one_of(
    st.text(),
    st.text(alphabet="<>/&;\"'=!- abscript\x00\x1b\n\u202e\ud800"),
    st.sampled_from([HOSTILE, "</td>", "<!--", "]]>", "&#60;b&#62;", '" onload="x']),
)


@given(nasty, nasty, nasty)
def test_no_text_opens_a_tag_or_an_attribute(inside: str, value: str, after: str) -> None:
    made = el("div", el("span", inside, class_=value), after, aria_label=value)
    root = read(str(made))
    outer = root.all("div")[0]
    assert [node.tag for node in root.all()] == ["div", "span"]
    assert outer.attributes == {"aria-label": plain(value)}
    inner = outer.all("span")[0]
    assert inner.attributes == {"class": plain(value)}
    assert inner.text == plain(inside)
    assert outer.text.rstrip("\n") == (plain(inside) + plain(after)).rstrip("\n")


@given(nasty, nasty)
def test_a_page_has_the_tags_of_its_making_alone(title: str, about: str) -> None:
    page = document(title, el("p", about), about=about, foot=title)
    usual = document(
        "title", el("p", "about"), about="about" if about else "", foot="x" if title else ""
    )
    root = read(page)
    assert [node.tag for node in root.all()] == [node.tag for node in read(usual).all()]
    assert [node.text for node in root.all("title", "h1")] == [plain(title)] * 2
    page.encode()


@given(nasty)
def test_another_reader_finds_the_same(text: str) -> None:
    html5lib = pytest.importorskip("html5lib")
    parser = html5lib.HTMLParser(strict=True)
    tree = parser.parse(document(text, el("p", text, class_=text)))
    name = "{http://www.w3.org/1999/xhtml}"
    assert ["".join(p.itertext()) for p in tree.iter(f"{name}p")] == [plain(text)]
    assert [p.get("class") for p in tree.iter(f"{name}p")] == [plain(text)]
    assert [t.tag for t in tree.iter()].count(f"{name}script") == 0


@given(nasty)
def test_no_control_and_no_mark_of_direction_is_kept(text: str) -> None:
    kept = plain(text)
    assert not any(unicodedata.category(sign).startswith("C") for sign in kept)
    assert plain(kept) == kept


@pytest.mark.parametrize("name", ["", "a b", "x>", "on=1", 'a"', "é"])
def test_a_name_that_is_none_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="no name"):
        el(name)
    with pytest.raises(ValueError, match="no name"):
        el("p", **{name or "=": "x"})


def test_what_is_none_is_left_out_and_numbers_are_short() -> None:
    made = el("rect", None, "a", x=1.0, y=2.256, fill=None)
    assert made == Element("rect", (("x", "1"), ("y", "2.26")), ("a",))


def test_a_table_names_its_rows_and_columns() -> None:
    found = read(str(table("What it is", ["a", "b"], [["1", "2"], ["3", None]], figures=[1])))
    assert [(h.text.strip(), h.attributes["scope"]) for h in found.all("th")] == [
        ("a", "col"), ("b", "col"), ("1", "row"), ("3", "row"),
    ]  # fmt: skip
    assert [cell.text for cell in found.all("td")] == ["2", ""]
    assert found.all("caption")[0].text == "What it is"
