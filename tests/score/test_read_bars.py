"""Bars as printed: pickups, split bars, endings, repeats, metres, and parts out of step."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.score.reading import read
from tests.score.test_formats import mei_of
from tests.score.written import bar, ending, repeat, score, words
from trainer.errors import TrainerError
from trainer.score.model import Meter
from trainer.score.route import bar_route

FULL = "C4/1 D4/1 E4/1 F4/1"
HALF = Fraction(1, 2)


def test_bars_follow_each_other_with_their_labels() -> None:
    found = read(score([bar(FULL, 1, time="4/4", key=-3), bar(FULL, 2), bar(FULL, "3b")]))
    assert [b.label for b in found.bars] == ["1", "2", "3b"]
    assert [b.start for b in found.bars] == [0, 4, 8]
    assert {b.fifths for b in found.bars} == {-3}
    assert found.end == 12


@pytest.mark.parametrize(("number", "implicit"), [(0, True), (0, False), (1, False), ("X1", True)])
def test_a_short_first_bar_is_a_pickup_however_it_is_numbered(
    number: str | int, implicit: bool
) -> None:
    first = bar("G4/1", number, time="3/4", implicit=implicit)
    found = read(score([first, bar("C5/3", 2), bar("C5/2", 3)]))
    assert found.bars[0].upbeat
    assert found.bars[0].lead == 2
    assert found.bars[0].beat_at(Fraction(0)) == 3
    assert [b.upbeat for b in found.bars[1:]] == [False, False]
    assert found.bars[2].length == 2


def test_a_full_first_bar_is_no_pickup() -> None:
    assert not read(score([bar("r/2 G4/1", 1, time="3/4"), bar("C5/3", 2)])).bars[0].upbeat


@pytest.mark.parametrize(
    ("number", "implicit", "label"),
    [("X1", True, "2"), ("2a", False, "2"), ("2", False, "2"), ("3", False, "3"), ("0", True, "2")],
)
def test_the_second_half_of_a_split_bar(number: str, implicit: bool, label: str) -> None:
    bars = [
        bar(FULL, 1, time="4/4"),
        bar("C4/3", 2, after=repeat("backward")),
        bar("D4/1", number, implicit=implicit),
        bar(FULL, 4),
    ]
    half = read(score(bars)).bars[2]
    assert half.continues
    assert half.lead == 3
    assert half.label == label
    assert half.beat_at(half.start) == 4


def test_short_bars_without_a_sign_of_a_split_stay_bars() -> None:
    bars = [bar(FULL, 1, time="4/4"), bar("C4/2", 2), bar("D4/2", 3), bar(FULL, 4)]
    assert not any(b.continues or b.upbeat for b in read(score(bars)).bars)


def test_short_endings_are_not_halves_of_one_bar() -> None:
    bars = [
        bar("G4/2", 0, time="4/4"),
        bar(FULL, 1),
        bar("C4/2", 2, before=ending("1"), after=ending("1", stop=True, back=True)),
        bar("C4/2", 3, before=ending("2"), after=ending("2", stop=True)),
    ]
    found = read(score(bars)).bars
    assert [b.endings for b in found] == [(), (), (1,), (2,)]
    assert not any(b.continues for b in found)
    assert found[2].repeat_times == 2


def test_repeats_endings_and_double_bars() -> None:
    thin = '<barline location="right"><bar-style>light-light</bar-style></barline>'
    final = '<barline location="right"><bar-style>light-heavy</bar-style></barline>'
    bars = [
        bar(FULL, 1, time="4/4", after=thin),
        bar(FULL, 2, before=repeat("forward")),
        bar(FULL, 3, after=repeat("backward", 3)),
        bar(FULL, 4, before=ending("1, 2"), after=ending("1, 2", stop=True, back=True)),
        bar(FULL, 5, before=ending("3"), after=ending("3", stop=True)),
        bar(FULL, 6, after=final),
    ]
    found = read(score(bars)).bars
    assert [b.double for b in found] == [True, False, False, False, False, False]
    assert [b.repeat_start for b in found] == [False, True, False, False, False, False]
    assert [b.repeat_times for b in found] == [0, 0, 3, 2, 0, 0]
    assert [b.endings for b in found] == [(), (), (), (1, 2), (3,), ()]
    assert [b.final for b in found] == [False] * 5 + [True]


@pytest.mark.parametrize("length", [1, 2, 3, 4, 6])
def test_all_bars_of_an_ending_belong_to_it(length: int) -> None:
    """However many stand under one bracket, in each staff; and none after it."""
    bars = [bar(FULL, 1, time="4/4")]
    for number in (1, 2):
        for at in range(length):
            first, last = at == 0, at == length - 1
            bars.append(
                bar(
                    FULL,
                    len(bars) + 1,
                    before=ending(str(number)) if first else "",
                    after=ending(str(number), stop=True, back=number == 1) if last else "",
                )
            )
    bars.append(bar(FULL, len(bars) + 1))
    found = read(score(bars))
    assert [b.endings for b in found.bars] == [(), *[(1,)] * length, *[(2,)] * length, ()]
    played = [visit.bar for visit in bar_route(found)]
    firsts, seconds = range(1, length + 1), range(length + 1, 2 * length + 1)
    assert played == [0, *firsts, 0, *seconds, 2 * length + 1]


def test_jumps_stand_in_the_bar_they_belong_to() -> None:
    bars = [
        bar(
            FULL,
            1,
            time="4/4",
            before="<direction><direction-type><segno/></direction-type></direction>",
        ),
        bar(FULL, 2, after=words("Fine")),
        bar(FULL, 3, before=words("To Coda")),
        bar(FULL, 4, after=words("D.S. al Fine")),
    ]
    found = read(score(bars))
    jumps = {mark.text: found.bar_at(mark.onset).label for mark in found.marks_of("jump")}
    assert jumps == {"segno": "1", "fine": "2", "to coda": "3", "dal segno": "4"}


def test_metre_and_key_change() -> None:
    bars = [bar("C4/3", 1, time="6/8", key=0), bar(FULL, 2, time="4/4", key=2)]
    found = read(score(bars)).bars
    assert [str(b.meter) for b in found] == ["6/8", "4/4"]
    assert [b.fifths for b in found] == [0, 2]
    assert found[0].meter.beat == Fraction(3, 2)


def test_an_overfull_bar_is_kept_long_and_said() -> None:
    found = read(score([bar(FULL, 1, time="4/4"), bar("C4/5", 2), bar(FULL, 3)]))
    assert [b.length for b in found.bars] == [4, 5, 4]
    assert "b. 2" in " ".join(found.warnings)


def test_parts_out_of_step_are_put_right() -> None:
    upper = [bar(FULL, 1, time="4/4"), bar(FULL + " G4/1", 2), bar("A4/4", 3)]
    lower = [bar("C3/4", 1, time="4/4"), bar("D3/4", 2), bar("E3/4", 3)]
    found = read(score(upper, lower))
    last = found.notes_between(found.bars[2].start, found.end)
    assert [note.pitch for note in last] == [69, 52]
    assert {note.onset for note in last} == {found.bars[2].start}


def test_parts_with_different_numbers_of_bars() -> None:
    found = read(score([bar(FULL, 1, time="4/4"), bar(FULL, 2)], [bar("C3/4", 1, time="4/4")]))
    assert len(found.bars) == 2
    assert any("different numbers of bars" in warning for warning in found.warnings)


def test_a_rest_never_makes_a_bar_longer() -> None:
    found = read(score([bar("r/4", 1, time="3/4"), bar("C4/3", 2)]))
    assert [b.length for b in found.bars] == [3, 3]
    assert [rest.length for rest in found.rests] == [3]


def test_bars_without_a_metre_are_as_long_as_their_notes() -> None:
    found = read(score([bar("C4/5", 1), bar("C4/3.5", 2)]))
    assert [b.meter for b in found.bars] == [Meter(5, 4), Meter(7, 8)]
    assert any("time signature" in warning for warning in found.warnings)


def test_an_absurd_duration_is_refused_with_its_place() -> None:
    with pytest.raises(TrainerError, match=r"Bar 2 .*impossible .*length"):
        read(score([bar(FULL, 1, time="4/4"), bar("C4/999999999999", 2)]))
    with pytest.raises(TrainerError, match=r"Bar 2 .*quarter notes long"):
        read(score([bar(FULL, 1, time="4/4"), bar("C4/1200", 2)]))


def test_timewise_scores_are_read_too() -> None:
    written = score([bar(FULL, 1, time="4/4"), bar("A4/4", 2)])
    partwise = read(written)
    measures = written.split("<measure ")[1:]
    timewise = "".join(
        f"<measure {one.partition('>')[0]}><part id='P0'>"
        f"{one.partition('>')[2].partition('</measure>')[0]}</part></measure>"
        for one in measures
    )
    head = written.partition('<part id="P0">')[0].replace("partwise", "timewise")
    assert read(f"{head}{timewise}</score-timewise>") == partwise


def test_of_two_coda_signs_the_first_is_left_from() -> None:
    coda = "<direction><direction-type><coda/></direction-type></direction>"
    bars = [
        bar(FULL, 1, time="4/4", after=coda),
        bar(FULL, 2, after=words("D.C. al Coda")),
        bar(FULL, 3, before=coda),
    ]
    found = read(score(bars))
    jumps = [(mark.text, found.bar_at(mark.onset).label) for mark in found.marks_of("jump")]
    assert jumps == [("to coda", "1"), ("da capo", "2"), ("coda", "3")]


def endings_of(*bars: tuple[str, str]) -> list[tuple[int, ...]]:
    """The endings that are read of bars with these signs before and after their notes."""
    written = [
        bar(FULL, n, time="4/4" if n == 1 else "", before=before, after=after)
        for n, (before, after) in enumerate(bars, 1)
    ]
    return [found.endings for found in read(score(written)).bars]


def test_an_ending_holds_all_its_bars() -> None:
    """music21 names the first and the last bar of an ending only."""
    plain = ("", "")
    first = [(ending("1"), ""), *[plain] * 3, ("", ending("1", stop=True, back=True))]
    second = [(ending("2"), ""), plain, ("", ending("2", stop=True))]
    assert endings_of(plain, *first, *second, plain) == [
        (),
        *[(1,)] * 5,
        *[(2,)] * 3,
        (),
    ]


def test_an_ending_that_is_never_closed_goes_up_to_the_repeat_sign() -> None:
    back = repeat("backward")
    assert endings_of((ending("1"), ""), ("", back), (ending("2"), ""), ("", "")) == [
        (1,),
        (1,),
        (2,),
        (),
    ]


def test_an_ending_has_the_passes_that_are_printed() -> None:
    printed = ending("1").replace('type="start"/>', 'type="start">2.</ending>')
    assert endings_of((printed, ending("1", stop=True))) == [(2,)]
    assert endings_of((ending("1-3"), ending("1-3", stop=True))) == [(1, 2, 3)]
    assert endings_of((ending("x"), ending("x", stop=True))) == [(1,)]


def test_an_ending_in_mei_holds_all_its_bars() -> None:
    bars = [
        f'<measure n="{n}"><staff n="1"><layer n="1">{WHOLE}</layer></staff></measure>'
        for n in range(1, 7)
    ]
    text = mei_of("", WHOLE, WHOLE)
    body = "".join([bars[0], '<ending n="1">', *bars[1:5], "</ending>", bars[5]])
    text = text[: text.index("<section>") + 9] + body + text[text.index("</section>") :]
    assert [found.endings for found in read(text, "MEI").bars] == [(), *[(1,)] * 4, ()]


WHOLE = '<note pname="d" oct="5" dur="1"/>'


def test_an_upbeat_in_the_middle_that_is_numbered_0_is_an_upbeat() -> None:
    first = [bar("G4/1", 0, time="3/4"), bar("C4/3", 1), bar("C4/2", 2, after=repeat("backward"))]
    second = [bar("G4/1", 0), bar("C4/3", 1), bar("C4/2", 2)]
    found = read(score([*first, *second])).bars
    assert [(b.label, b.upbeat, b.continues) for b in found] == [
        ("0", True, False),
        ("1", False, False),
        ("2", False, False),
        ("0", True, False),
        ("1", False, False),
        ("2", False, False),
    ]


def test_short_bars_in_the_middle_stay_short() -> None:
    found = read(score([bar(FULL, 1, time="4/4"), bar("C4/3", 2), bar(FULL, 3)])).bars
    assert [b.length for b in found] == [4, 3, 4]


@pytest.mark.parametrize(("number", "label"), [("1X5", "1"), ("X5", "1")])
def test_an_inner_name_of_the_file_is_never_printed(number: str, label: str) -> None:
    found = read(score([bar(FULL, 1, time="4/4"), bar(FULL, number), bar(FULL, 3)])).bars
    assert [b.label for b in found] == ["1", label, "3"]
