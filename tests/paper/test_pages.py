"""The pages: what stands on them, and the rules that all of them keep."""

from __future__ import annotations

import re
from dataclasses import replace as with_fields
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from msgspec.structs import replace

from tests.memory.build import at, attempt
from tests.paper.build import DAY, HOSTILE, Node, practice, read, study, view_of
from tests.pieces import named
from trainer.dates import in_full
from trainer.deck.edit import merge, move, split
from trainer.deck.history import DeckEdit
from trainer.deck.model import Deck, Piece, revision
from trainer.draw.words import BAND_SIGNS, percent
from trainer.errors import TrainerError
from trainer.memory.model import FIGURES_FROM
from trainer.paper import page as page_module
from trainer.paper.drawing import GREYS
from trainer.paper.recital import recital
from trainer.paper.sheet import form_before, sheet
from trainer.paper.written import written
from trainer.reports.countdown import last_days
from trainer.reports.lesson import lesson
from trainer.reports.lesson_page import LINES, document
from trainer.reports.readiness import CHILD_NOTE, NOTE
from trainer.reports.start import ways_back
from trainer.reports.term import as_of
from trainer.reports.term import report as term
from trainer.reports.view import View

TODAY = at(DAY).date()
ADULT = view_of(
    [study("a", "Air"), study("b", "Bourrée")], practice(study("a")), played=("yes", "no")
)
CHILD = view_of([study("a", "Air")], practice(study("a")), level="child")
BAD = view_of(
    [study("a", HOSTILE, advice=HOSTILE, upbeat=True)],
    practice(study("a", upbeat=True), judge_on=15),
    name=HOSTILE,
    concert=HOSTILE,
)
NEW = view_of([study("a", "Air")], recital=200)


def pages() -> dict[str, str]:
    """Every kind of page, of several students."""
    made = {}
    for name, view in {"adult": ADULT, "child": CHILD, "bad": BAD, "new": NEW}.items():
        piece = view.pieces["a"]
        made[f"{name} sheet"] = sheet(piece, TODAY, before=split_of(piece))
        made[f"{name} recital"] = recital(view)
        made[f"{name} term"] = written(term(view))
        made[f"{name} lesson"] = written(document(lesson(view)), size="tight", paper="letter")
    return made


def split_of(piece: Piece) -> Piece:
    """The piece with one start more."""
    return Piece(split(piece, 2, Fraction(18), "new"), piece.score)


PAGES = pages()
every_page = pytest.mark.parametrize("made", PAGES.values(), ids=PAGES)


@every_page
def test_a_page_is_one_file_that_asks_for_nothing(made: str) -> None:
    assert made.startswith("<!DOCTYPE html>")
    root = read(made)
    assert root.all("html")[0].attributes["lang"] == "en"
    assert not root.all("script", "link", "img", "iframe", "object", "form", "a", "base")
    names = {name for node in root.all() for name in node.attributes}
    assert not {name for name in names if name.startswith("on")}
    assert not names & {"src", "href", "style", "srcset"}
    style = root.all("style")
    assert len(style) == 1
    assert not re.search(r"url\(|@import|http", style[0].text)
    assert root.all("title")[0].text == root.all("h1")[0].text != ""


@every_page
def test_headings_come_in_order_and_tables_name_their_cells(made: str) -> None:
    root = read(made)
    levels = [int(node.tag[1]) for node in root.all("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(node.text.strip() for node in root.all("h1", "h2", "h3"))
    for found in root.all("table"):
        assert found.all("caption")[0].text
        heads = found.all("thead")[0].all("th")
        assert all(head.attributes["scope"] == "col" and head.text for head in heads)
        for row in found.all("tbody")[0].all("tr"):
            assert [cell.attributes.get("scope") for cell in row.all("th")] == ["row"]
            assert len(row.all("th", "td")) == len(heads)


@every_page
def test_drawings_have_words(made: str) -> None:
    for drawn in read(made).all("svg"):
        assert drawn.attributes["aria-hidden"] == "true"
    for drawn in read(made).all("div"):
        if drawn.attributes.get("role") == "img":
            assert len(drawn.attributes["aria-label"]) > 20


@every_page
def test_a_strict_reader_has_nothing_to_say(made: str) -> None:
    html5lib = pytest.importorskip("html5lib")
    html5lib.HTMLParser(strict=True).parse(made)


def test_bad_text_stays_text() -> None:
    for name, made in PAGES.items():
        root = read(made)
        assert not root.all("script", "b2")
        assert "\x1b" not in made
        assert "\u202e" not in made
        if name.startswith("bad"):
            assert "<script>alert(1)</script>" in root.text


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@every_page
def test_text_has_contrast_on_paper_and_screen(made: str) -> None:
    root = read(made)
    style = root.all("style")[0].text
    colours = set(re.findall(r"(?<![-\w])color: (#\w+)", style))
    colours |= {node.attributes["fill"] for node in root.all("text")}
    assert {page_module.INK, page_module.SOFT} <= colours
    assert re.findall(r"background[^:]*: ([^;]+)", style) == ["#fff"]
    assert all(contrast(colour, "#fff") >= 7 for colour in colours)


def test_shades_can_be_told_apart_in_grey_and_each_has_its_sign() -> None:
    greys = sorted(luminance(grey) for grey in GREYS.values())
    assert all((high + 0.05) / (low + 0.05) >= 1.5 for low, high in pairwise(greys))
    assert len(set(BAND_SIGNS.values())) == len(GREYS)


# The sheet for the music stand


def rows(root: Node, at: int = 0) -> list[list[str]]:
    body = root.all("table")[at].all("tbody")[0]
    return [[" ".join(c.text.split()) for c in row.all("th", "td")] for row in body.all("tr")]


def test_the_sheet_tells_what_is_kept_of_each_start() -> None:
    found = rows(read(sheet(study("a"), TODAY)))
    assert [row[0] for row in found] == ["1", "2", "3", "4"]
    assert [row[1] for row in found] == ["b. 1", "b. 5", "b. 9", "b. 13"]
    assert found[0][2] == "Like 3; they part at b. 3"
    assert found[1][2] == "Fingering: R 1-3-5 Sing it first The page turns at b. 6"
    assert found[2][2] == "Like 1; they part at b. 11"


def test_starts_alike_in_shape_only_are_no_look_alikes_on_the_sheet() -> None:
    piece = study("a")
    (like,) = piece.deck.alike
    deck = replace(piece.deck, alike=(replace(like, kind="shape"),))
    assert "Like" not in read(sheet(Piece(deck, piece.score), TODAY)).all("table")[0].text


def test_the_sheet_is_in_large_print() -> None:
    root = read(sheet(study("a"), TODAY))
    style = root.all("style")[0].text
    assert root.all("body")[0].attributes["class"] == "large"
    size = float(re.findall(r"\.large \{ font-size: ([\d.]+)pt", style)[0])
    assert size >= 14
    smaller = re.findall(r"\.large [^{]*\{ font-size: ([\d.]+)em", style)
    assert all(float(part) >= 1 for part in smaller)
    # 1000 units of the drawing are the width of the text, 178 mm on A4.
    point = 1000 / (178 / 25.4 * 72)
    assert all(float(t.attributes["font-size"]) >= 14 * point for t in root.all("text"))


def test_old_numbers_stand_beside_the_new_ones() -> None:
    before = study("a")
    after = Piece(split(before, 2, Fraction(18), "new"), before.score)
    after = Piece(move(after, 4, Fraction(27)), after.score)
    after = Piece(merge(after, 5), after.score)
    root = read(sheet(after, TODAY, before=before))
    assert [row[:2] for row in rows(root)] == [["1", "1"], ["2", "2"], ["3", "new"], ["4", "3"]]
    changed = root.all("ul")[0].text
    assert "Start 3: new at b. 7, split from start 2" in changed
    assert "Old start 4: merged into start 4" in changed
    assert "Start 4: moved to b. 10" in changed


def test_where_no_number_changed_there_is_no_old_one() -> None:
    before = study("a")
    after = study("a", advice="Other words")
    assert sheet(after, TODAY, before=before) == sheet(after, TODAY)


def test_the_order_of_play_is_told_where_it_is_not_that_of_the_score() -> None:
    piece = study("a")
    one, two, three, four = (start.id for start in piece.deck.starts)
    again = replace(piece.deck, route=(one, two, one, two, three, four, one))
    assert "Order of play: 1-2, 1-4, 1." in sheet(Piece(again, piece.score), TODAY)
    assert "Order of play" not in sheet(piece, TODAY)


def history(*forms: tuple[float, Deck]) -> tuple[list[DeckEdit], dict[str, Deck]]:
    edits = [
        DeckEdit(f"e{n}", revision(deck), "", "m", at(day), "")
        for n, (day, deck) in enumerate(forms)
    ]
    return edits, {revision(deck): deck for _, deck in forms}


def before_of(
    forms: tuple[list[DeckEdit], dict[str, Deck]], since: date | None = None
) -> Deck | None:
    edits, decks = forms

    def numbers(name: str) -> dict[str, int] | None:
        deck = decks.get(name)
        return {start.id: start.number for start in deck.starts} if deck else None

    return decks.get(form_before(edits, numbers, since))


def test_old_numbers_are_those_before_the_last_day_of_change() -> None:
    piece = study("a")
    first = piece.deck
    one = split(piece, 1, Fraction(6), "n1")
    two = split(Piece(one, piece.score), 3, Fraction(21), "n2")
    word = replace(two, starts=(replace(two.starts[0], advice=("now",)), *two.starts[1:]))
    told = history((0, first), (5, one), (5.1, two), (9, word))
    assert before_of(told) == first
    assert before_of(told, at(9).date()) == two
    assert before_of(told, at(-3).date()) == first, "before it was there: as it was first"
    assert before_of(history((0, first), (0.1, one))) is None, "made and corrected on one day"
    assert before_of(history((0, first))) is None
    assert before_of(([], {})) is None


def test_a_form_that_never_came_here_is_passed_over() -> None:
    first, one = study("a").deck, split(study("a"), 1, Fraction(6), "n1")
    edits, decks = history((0, first), (5, one))
    del decks[revision(first)]
    assert before_of((edits, decks)) is None


# The recital


def test_the_recital_tells_each_start_by_shade_sign_and_number() -> None:
    root = read(recital(ADULT))
    drawn = next(node for node in root.all("div") if node.attributes.get("class") == "map")
    words = [" ".join(text.text.split()) for text in drawn.all("text")]
    for start in ADULT.decks["a"].starts:
        sign = BAND_SIGNS[ADULT.retention(start.id).band]
        assert any(word.startswith(f"{start.number} {sign}") for word in words)
    used = {rect.attributes["fill"] for rect in drawn.all("rect")}
    assert {GREYS[ADULT.retention(s.id).band] for s in ADULT.decks["a"].starts} <= used
    assert NOTE in root.text


def test_a_piece_with_music_is_in_the_programme_alone() -> None:
    root = read(recital(ADULT))
    programme = rows(root)
    assert [row[:2] for row in programme] == [["Air", "from memory"], ["Bourrée", "with music"]]
    assert set(programme[1][2:]) == {""}
    assert [h.text for h in root.all("h2") if h.text in ("Air", "Bourrée")] == ["Air"]


def test_the_map_tells_each_chance_of_today_and_of_the_recital() -> None:
    drawn = next(n for n in read(recital(ADULT)).all("div") if n.attributes.get("class") == "map")
    tags = [" ".join(text.text.split()) for text in drawn.all("text")]
    for start in ADULT.decks["a"].starts:
        now, then = ADULT.retention(start.id), ADULT.retention(start.id, on=ADULT.target)
        if now.tries >= FIGURES_FROM:
            assert now.chance is not None
            assert then.chance is not None
            one, other = percent(now.chance), percent(then.chance)
            told = one if one == other else f"{one.rstrip('%')}→{other}"
            assert f"{start.number} {BAND_SIGNS[now.band]} {told}" in tags


def test_where_tries_are_few_counts_stand_for_percentages() -> None:
    piece = study("a", "Air")
    view = view_of([piece], [attempt(15.0, piece.deck.starts[1].id, deck="a")])
    root = read(recital(view))
    drawn = " ".join(root.all("svg")[n].text for n in range(len(root.all("svg"))))
    assert "1 of 1" in drawn
    assert "%" not in drawn


def way_back(view: View) -> list[tuple[list[int], int, str]]:
    """The rows of a page's way back: phrases, their pass, and the number to go on at or ""."""
    root = read(recital(view))
    listed = next(n for n in root.all("ul") if n.attributes.get("class") == "onward")
    found = []
    for item in listed.all("li"):
        told, _, onward = " ".join(item.text.split()).partition(": ")
        parts = re.fullmatch(r"([\d, ]+)(?: to (\d+))?(?: \((\d+)\w\w time\))?", told)
        assert parts
        numbers = [int(number) for number in parts[1].split(", ")]
        numbers += range(numbers[0] + 1, int(parts[2]) + 1) if parts[2] else []
        back = re.fullmatch(
            r"go on at start (\d+), (upbeat to )?b\. .+|play on as best you can", onward
        )
        assert back
        found.append((numbers, int(parts[3] or 1), back[1] or ""))
    return found


@pytest.mark.parametrize("times", [1, 2, 3])
@pytest.mark.parametrize("holding", [(0,), (3,), (1, 3)])
def test_the_way_back_is_that_of_the_recovery_map(times: int, holding: tuple[int, ...]) -> None:
    piece = study("a", "Air", starts=6)
    ids = [start.id for start in piece.deck.starts]
    again = Piece(replace(piece.deck, route=tuple(ids * times)), piece.score)
    days = (0.0, 3.0, 6.0, 10.0, 14.0, 18.0)
    view = view_of(
        [again], [attempt(d + at_ / 99, ids[at_], deck="a") for d in days for at_ in holding]
    )
    assert {s.number - 1 for s in again.deck.starts if view.retention(s.id).band == "holds"} == {
        *holding
    }
    told = way_back(view)
    number = {start.id: str(start.number) for start in piece.deck.starts}
    expected = {
        catch.step: (int(number[again.deck.route[catch.step]]), number.get(catch.start, ""))
        for catch in ways_back(view, "a")
    }
    assert [(n, back) for numbers, _, back in told for n in numbers] == list(expected.values())
    assert [time for numbers, time, _ in told for _ in numbers] == [
        step // len(ids) + 1 for step in expected
    ]
    # Who fails in the very phrase that holds goes on there at its next pass: told apart.
    assert all(back not in map(str, numbers[1:]) for numbers, _, back in told)


def test_a_child_sees_no_chances_and_nothing_foretold() -> None:
    root = read(recital(CHILD))
    shown = root.all("body")[0].text
    assert "%" not in shown
    assert not re.search(r"\d of \d", shown)
    assert CHILD_NOTE in shown
    assert not {h.text for h in root.all("h2", "h3")} & {"The stages", "The last two weeks"}


def test_an_adult_sees_stages_and_the_last_two_weeks() -> None:
    root = read(recital(ADULT))
    heads = [h.text for h in root.all("h2")]
    assert heads[-2:] == ["The stages", "The last two weeks"]
    assert set(last_days(ADULT).notes) <= {one.text.strip() for one in root.all("li")}


def test_without_a_recital_there_is_no_report() -> None:
    with pytest.raises(TrainerError, match="recital set"):
        recital(view_of([study("a")], recital=None))


# The term


def test_the_term_counts_days_and_tries_and_names_what_holds() -> None:
    view = ADULT
    found = term(view)
    holds = [s.number for s in view.decks["a"].starts if view.retention(s.id).band == "holds"]
    assert holds
    air = named(found)[0]
    assert air["places_that_hold"] == len(holds)
    assert re.findall(r"\d+", str(air["numbers"])) == [str(number) for number in holds]
    assert air["being_learned"] == 4 - len(holds)
    assert air["new"] == 3
    assert found.notes[0].startswith("On 6 days M. practised")
    assert "18 times in all" in found.notes[0]


@pytest.mark.parametrize("view", [ADULT, CHILD, NEW, BAD])
def test_the_term_has_no_figure_that_judges(view: View) -> None:
    shown = read(written(term(view))).all("main")[0].text
    assert "%" not in shown
    assert not re.search(r"\d of \d|weak|fail|fading|best|worst|only", shown)


def test_a_term_that_is_over_is_told_as_it_was() -> None:
    last = at(7).date()
    found = term(ADULT, first=at(2).date(), last=last)
    assert found.notes[0].startswith("On 2 days M.")
    assert "6 times in all" in found.notes[0]
    assert named(found)[0]["new"] == 0
    then = as_of(ADULT, last)
    assert then.day == last
    assert max(one.day for one in then.attempts) <= last
    for until in (last, at(6).date()):  # the first day is of it, and so is the last
        assert term(ADULT, first=at(3).date(), last=until).notes[0].startswith("On 2 days")
    assert as_of(ADULT, TODAY + timedelta(days=3)) is ADULT


def test_a_term_without_practice_blames_nobody() -> None:
    shown = read(written(term(NEW))).text
    assert "No drills were recorded in this period" in shown


def test_a_term_is_twelve_weeks_and_ends_after_it_begins() -> None:
    since = TODAY - timedelta(days=83)
    assert term(ADULT).aside == f"{in_full(since)} to {in_full(TODAY)}"
    with pytest.raises(TrainerError, match="is after"):
        term(ADULT, first=TODAY, last=TODAY - timedelta(days=1))


# The lesson


def test_the_lesson_page_tells_what_the_lesson_is() -> None:
    view = view_of([study("a", "Air")], practice(study("a"), judge_on=15))
    found = lesson(view)
    root = read(written(document(found)))
    shown = root.all("main")[0].text
    assert all(f"{one.piece} {one.number}, {one.place}: " in shown for one in found.weakest)
    assert found.one_thing in shown
    assert "Air: 4" in shown
    assert "played 1 instead of 3, twice" in shown
    assert "Practised since the lesson of" in shown
    assert len([n for n in root.all("div") if n.attributes.get("class") == "rule"]) == LINES


def test_the_lesson_page_of_someone_new_has_room_for_notes() -> None:
    shown = read(written(document(lesson(with_fields(NEW, openings=())))))
    assert "No start is open yet" in shown.text
    assert [h.text for h in shown.all("h2")][-1] == "Notes"
