"""The demonstration scores are sound: full bars, playable hands, and starts that are true."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import combinations, zip_longest

import pytest

from tests.demo_scores.reading import FOLDER, STEMS, Head, Page, music_from, place, read, truth

OCTAVE = 12
BROKEN_CHORDS = "rain-on-the-skylight"
RONDO = "round-the-mill-wheel"


@pytest.fixture(params=STEMS)
def stem(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def page(stem: str) -> Page:
    return read(stem)


def test_there_are_six_pieces_each_with_its_starts() -> None:
    assert len(STEMS) == 6
    assert {path.name.removesuffix(".starts.json") for path in FOLDER.glob("*.json")} == set(STEMS)


def test_the_readme_has_every_title() -> None:
    words = (FOLDER / "README.md").read_text("utf-8")
    assert all(truth(stem)["title"] in words for stem in STEMS)


def test_the_title_is_the_file_name(stem: str, page: Page) -> None:
    title = page.root.findtext("work/work-title") or ""
    assert title == truth(stem)["title"]
    assert title.lower().replace(" ", "-") == stem


def test_every_voice_fills_its_bar(page: Page) -> None:
    for bar in page.bars:
        assert set(bar.fills) == {bar.length}, bar.label


def test_every_bar_is_full_but_pickups_and_split_bars(page: Page) -> None:
    bars = page.bars
    short = [index for index, bar in enumerate(bars) if bar.length != bar.full]
    pickup = bars[0].length if bars[0].implicit else Fraction(0)
    for index in short:
        bar = bars[index]
        halves = [other for other in bars if other.label == bar.label]
        whole = sum((half.length for half in halves), Fraction(0))
        gives_way = bar.length + pickup == bar.full  # to the upbeat it repeats to
        assert index == 0 or whole == bar.full or gives_way, bar.label


def test_no_hand_is_wider_than_an_octave(page: Page) -> None:
    hands: defaultdict[tuple[int, int], list[Head]] = defaultdict(list)
    for head in page.heads:
        hands[head.part, head.staff].append(head)
    for hand, heads in hands.items():
        for moment in {head.onset for head in heads}:
            down = [h.pitch for h in heads if h.onset <= moment < h.onset + h.length]
            assert max(down) - min(down) <= OCTAVE, (float(moment), hand)
            assert len(down) <= 5


def test_no_key_is_struck_while_it_is_held(page: Page) -> None:
    """Neither by the same hand nor by the other; parts do not share keys."""
    for part in {head.part for head in page.heads}:
        until: dict[int, Fraction] = {}
        for head in sorted(head for head in page.heads if head.part == part):
            if head.struck:
                assert until.get(head.pitch, Fraction(0)) <= head.onset, head
            until[head.pitch] = max(until.get(head.pitch, Fraction(0)), head.onset + head.length)


def test_a_tie_goes_on_from_the_same_note(page: Page) -> None:
    ends = {(head.part, head.staff, head.pitch, head.onset + head.length) for head in page.heads}
    tied = [head for head in page.heads if not head.struck]
    assert all((head.part, head.staff, head.pitch, head.onset) in ends for head in tied)


def test_starts_fall_on_an_onset_where_they_say(stem: str, page: Page) -> None:
    starts = truth(stem)["starts"]
    offsets = [Fraction(start["offset_ql"]) for start in starts]
    assert offsets == sorted(set(offsets))
    assert offsets[0] == 0
    for start, offset in zip(starts, offsets, strict=True):
        assert start["why"]
        assert place(page, start["bar"], start["beat"]) == offset
        assert offset in page.onsets


def test_look_alikes_part_where_they_say(stem: str, page: Page) -> None:
    starts = truth(stem)["starts"]
    for pair in truth(stem)["look_alikes"]:
        one, other = (Fraction(starts[number - 1]["offset_ql"]) for number in pair["starts"])
        parting = place(page, pair["part_at"]["bar"], pair["part_at"]["beat"]) - one
        together = zip_longest(music_from(page, one), music_from(page, other))
        first = next((a, b) for a, b in together if a != b)
        met = min(moment[0] for moment in first if moment is not None)
        assert met == parting > 0, pair


def test_every_pair_alike_for_a_bar_is_listed(stem: str, page: Page) -> None:
    offsets = [Fraction(start["offset_ql"]) for start in truth(stem)["starts"]]
    bar = page.bars[1].full
    openings = [
        [moment for moment in music_from(page, offset) if moment[0] < bar] for offset in offsets
    ]
    alike = {
        (one, other) for (one, a), (other, b) in combinations(enumerate(openings, 1), 2) if a == b
    }
    assert alike <= {tuple(pair["starts"]) for pair in truth(stem)["look_alikes"]}


def test_the_refrains_of_the_rondo_go_on_differently() -> None:
    """All three begin alike for two bars or more, and no two part after the same time."""
    page, pairs = read(RONDO), truth(RONDO)["look_alikes"]
    alike = {tuple(pair["starts"]): pair["part_at"]["bar"] for pair in pairs}
    refrains = [(1, 7), (1, 13), (7, 13)]
    begins = {1: 1, 7: 25, 13: 49}
    bars = [int(alike[pair]) - begins[pair[0]] for pair in refrains]
    assert min(bars) >= 2
    assert bars[0] != bars[1]
    assert len(page.bars) == 64


def test_the_broken_chords_have_nothing_but_notes() -> None:
    root = read(BROKEN_CHORDS).root
    for tag in ("rest", "slur", "fermata", "rehearsal", "breath-mark", "caesura"):
        assert root.find(f".//{tag}") is None, tag


def test_the_broken_chords_keep_one_figure() -> None:
    page = read(BROKEN_CHORDS)
    right = [head for head in page.heads if head.staff == 1]
    for bar in page.bars[:-1]:
        pitches = [h.pitch for h in right if bar.start <= h.onset < bar.start + bar.full]
        low, second, third, top = sorted(set(pitches))
        assert pitches == [low, second, third, top, second, third, top, third, second]


def test_the_set_has_what_scores_have() -> None:
    """Each of these is somewhere in the programme, so that the program can be shown on it."""
    wanted = {
        "grace": 2,
        "tied": 2,
        "fermata": 2,
        "ending": 1,
        "repeat": 1,
        "transpose": 1,
        "lyric": 1,
        "fingering": 5,
        "metronome": 6,
        "dynamics": 6,
        "print[@new-page='yes']": 2,
        "measure[@implicit='yes']": 1,
    }
    roots = [read(stem).root for stem in STEMS]
    for path, least in wanted.items():
        assert sum(root.find(f".//{path}") is not None for root in roots) >= least, path
