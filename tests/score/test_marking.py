"""Start numbers in a MusicXML file: read back as the same starts, and nothing else changed."""

from __future__ import annotations

import re
import zipfile
from fractions import Fraction as F
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import TrainerError
from trainer.phrases.numbered import numbered
from trainer.phrases.segment import propose
from trainer.score import files
from trainer.score.marking import StartMark, marked
from trainer.score.model import Mark, Score
from trainer.score.read import read_file, read_score

SCORES = Path(__file__).parent.parent.parent / "demo_scores"
LANTERNS = SCORES / "lanterns-along-the-towpath.musicxml"
NOTE = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>{}</duration></note>"
GRACE = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch></note>"
REST = "<note><rest/><duration>{}</duration></note>"
TIMES = (
    "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
    "{}</attributes>"
)
MEASURE = st.lists(st.integers(1, 6), min_size=1, max_size=6)
DIRECTION = re.compile(rb"<direction placement=\"above\">.*?</direction>")


def text(*measures: str, extra: str = "") -> bytes:
    """A score of one part; the first measure has its divisions, 2 to a quarter."""
    inside = "".join(
        f'<measure number="{n}">{"" if n > 1 else TIMES.format(extra)}{one}</measure>'
        for n, one in enumerate(measures, 1)
    )
    return (
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name/></score-part>'
        f'</part-list><part id="P1">{inside}</part></score-partwise>'
    ).encode()


def read(data: bytes) -> Score:
    return read_file(files.opened("a.musicxml", data))


def put(data: bytes, *places: tuple[str, F], **how: bool) -> bytes:
    marks = [StartMark(onset, number) for number, onset in places]
    return marked(data, read(data), marks, "a.musicxml", **how)


def found(data: bytes) -> list[tuple[str, F]]:
    return [(mark.text, mark.onset) for mark in read(data).marks_of("rehearsal")]


def without(data: bytes) -> bytes:
    """The file without the directions that were put in, and what stood before the next tag."""
    return re.sub(DIRECTION.pattern + rb"\s*", b"", data)


@pytest.mark.parametrize("path", [LANTERNS, SCORES / "the-late-ferry.musicxml"], ids=str)
def test_a_marked_score_is_the_same_music_with_the_same_starts(path: Path) -> None:
    score = read_score(path)
    starts = [score.onsets[n] for n in range(0, len(score.onsets), 11)]
    marks = [StartMark(onset, str(n)) for n, onset in enumerate(starts, 4)]
    made = marked(path.read_bytes(), score, marks, path.name)
    copy = read_file(files.opened(path.name, made))
    assert [one.onset for one in propose(copy)] == starts
    assert list(numbered(copy)) == list(range(4, 4 + len(starts)))
    assert (copy.notes, copy.rests, copy.bars) == (score.notes, score.rests, score.bars)
    others = [mark for mark in copy.marks if mark.kind != "rehearsal"]
    assert others == [mark for mark in score.marks if mark.kind != "rehearsal"]
    assert DIRECTION.sub(b"", made).split() == path.read_bytes().split()
    assert marked(made, copy, marks, path.name) == made  # a second time changes nothing


def test_a_mark_stands_before_the_grace_notes_of_its_own_first_note() -> None:
    made = put(text(NOTE.format(4) + GRACE + NOTE.format(4)), ("1", F(0)), ("2", F(2)))
    assert re.search(rb">2</rehearsal></direction-type></direction><note><grace/>", made)


def test_a_mark_stands_where_only_another_voice_or_part_begins() -> None:
    lower = (REST.format(3) + NOTE.format(5)).replace("</duration>", "</duration><staff>2</staff>")
    upper = NOTE.format(8).replace("</duration>", "</duration><staff>1</staff>")
    back = "<backup><duration>8</duration></backup>"
    data = text(upper + back + lower, extra="<staves>2</staves>")
    made = put(data, ("1", F(0)), ("2", F(3, 2)))
    assert found(made) == [("1", F(0)), ("2", F(3, 2))]
    assert made.count(b"<staff>1</staff></direction>") == 2


def test_a_place_where_nothing_begins_is_marked_by_its_distance() -> None:
    made = put(text(NOTE.format(8)), ("1", F(0)), ("2", F(5, 2)))
    assert b"<offset>5</offset>" in made
    assert found(made) == [("1", F(0)), ("2", F(5, 2))]


def test_a_measure_in_the_order_of_time() -> None:
    inside = f'<part id="P1">{TIMES.format("")}{NOTE.format(8)}</part>'
    data = (
        '<score-timewise version="4.0"><part-list><score-part id="P1"><part-name/></score-part>'
        f'</part-list><measure number="1">{inside}</measure>'
        f'<measure number="2"><part id="P1">{NOTE.format(8)}</part></measure></score-timewise>'
    ).encode()
    assert found(put(data, ("1", F(0)), ("2", F(4)))) == [("1", F(0)), ("2", F(4))]


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-be", "latin-1", "utf-8-sig"])
def test_any_encoding_stays(encoding: str) -> None:
    name = {"utf-8-sig": "UTF-8"}.get(encoding, encoding[:6].upper() if "16" in encoding else "")
    head = f'<?xml version="1.0" encoding="{name or "ISO-8859-1"}"?>'
    plain = (
        text(NOTE.format(8), NOTE.format(8))
        .decode()
        .replace("<part-name/>", "<part-name>é</part-name>")
    )
    lead = "\ufeff" if encoding == "utf-16-be" else ""
    data = (lead + head + plain).encode(encoding)
    marks = [StartMark(F(0), "1", ("über ♭",)), StartMark(F(4), "2")]
    score = read(text(NOTE.format(8), NOTE.format(8)))
    made = files.decoded(marked(data, score, marks, "a.xml"))
    assert ">é<" in made
    assert "über ♭" in made or "&#9837;" in made
    assert made.count("<rehearsal") == 2


def test_numbers_of_its_own_are_refused_or_replaced() -> None:
    own = "<direction><direction-type><rehearsal>7</rehearsal></direction-type></direction>"
    letter = own.replace("7", "B")
    data = text(letter + NOTE.format(8), own + NOTE.format(8))
    with pytest.raises(TrainerError, match=r"mark 7 of its own at b\. 2: --instead"):
        put(data, ("1", F(0)), ("2", F(4)))
    made = put(data, ("1", F(0)), ("2", F(4)), instead=True)
    assert sorted(found(made)) == [("1", F(0)), ("2", F(4)), ("B", F(0))]
    beside = text(own.replace("</direction>", "<direction-type><words>x</words></direction-type>"
                              "</direction>") + NOTE.format(8))  # fmt: skip
    with pytest.raises(TrainerError, match="with other words in one sign"):
        put(beside, ("1", F(0)), instead=True)


def test_a_file_with_other_bars_is_refused() -> None:
    score = read(text(NOTE.format(8), NOTE.format(8)))
    with pytest.raises(TrainerError, match="has 1 measure, but the piece 2 bars"):
        marked(text(NOTE.format(8)), score, [StartMark(F(0), "1")], "a.xml")
    with pytest.raises(TrainerError, match="is not complete XML"):
        marked(b"<score-partwise><part>", score, [StartMark(F(0), "1")], "a.xml")


def test_words_are_escaped() -> None:
    data = text(NOTE.format(8))
    made = marked(data, read(data), [StartMark(F(0), "1", ("a < b & c",))], "a.xml")
    assert b"a &lt; b &amp; c" in made
    assert any(mark.text == "a < b & c" for mark in read(made).marks)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(st.integers(1, 6), min_size=1, max_size=6), min_size=1, max_size=5), st.data()
)
def test_all_else_stays_byte_for_byte(measures: list[list[int]], data: st.DataObject) -> None:
    """Any rhythm, marked at any of its notes: without the marks the file is the old one."""
    plain = text(*("".join(NOTE.format(n) for n in one) for one in measures))
    score, at = _rhythm(measures)
    chosen = sorted(data.draw(st.sets(st.sampled_from(at), min_size=1)))
    marks = [StartMark(onset, str(n)) for n, onset in enumerate(chosen, 1)]
    made = marked(plain, score, marks, "a.xml")
    assert without(made) == plain
    assert [int(n) for n in re.findall(rb">(\d+)</rehearsal>", made)] == list(
        range(1, len(marks) + 1)
    )
    for mark in marks:  # as many notes before each mark as before its place
        before = made.split(f">{mark.text}</rehearsal>".encode())[0]
        assert before.count(b"<note>") == at.index(mark.onset)


def _rhythm(measures: list[list[int]]) -> tuple[Score, list[F]]:
    """The bars of a rhythm in halves of a quarter, and where its notes begin."""
    from trainer.score.model import Bar, Meter

    bars, at, now = [], [], F(0)
    for index, one in enumerate(measures):
        bars.append(Bar(index, str(index + 1), now, F(sum(one), 2), Meter(4, 4)))
        for length in one:
            at.append(now)
            now += F(length, 2)
    return Score("", (), tuple(bars), ()), at


def test_a_packed_score_keeps_what_lies_beside_it() -> None:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w") as made:
        root = '<rootfile full-path="x/a.xml"/>'
        inside = f"<container><rootfiles>{root}</rootfiles></container>"
        made.writestr("META-INF/container.xml", inside)
        made.writestr("x/a.xml", text(NOTE.format(8)))
        made.writestr("x/picture.png", b"\x89PNG")
    new = files.with_score(packed.getvalue(), b"<score-partwise/>", "a.mxl")
    with zipfile.ZipFile(BytesIO(new)) as opened:
        assert opened.namelist() == ["META-INF/container.xml", "x/a.xml", "x/picture.png"]
        assert opened.read("x/a.xml") == b"<score-partwise/>"
    alone = files.with_score(text(NOTE.format(8)), text(NOTE.format(4)), "a.xml")
    assert files.opened("a.mxl", alone).data == text(NOTE.format(4))


def numbers(*places: tuple[str, int], bars: int = 40) -> Score:
    score = _rhythm([[4, 4]] * bars)[0]
    return Score("", (), score.bars, (), marks=tuple(
        Mark("rehearsal", F(4 * bar), text) for text, bar in places
    ))  # fmt: skip


def test_which_numbers_are_starts() -> None:
    assert numbered(numbers(("3", 0), ("A", 2), ("4", 5), ("5", 9), ("6", 14), ("7", 20)))
    assert not numbered(numbers(("1", 16), ("2", 32)))  # an edition's, far apart
    assert not numbered(numbers(("1", 0), ("2", 4), ("4", 8), ("5", 12), ("6", 16)))
    assert not numbered(numbers(("1", 0), ("2", 4), ("2", 8), ("3", 12), ("4", 16)))
    assert not numbered(numbers(("1", 0)))
    assert not numbered(numbers(("12345", 0), ("12346", 4), ("12347", 8), ("12348", 9)))
