"""Signs of the player, worked out by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.listen.build import WAITING
from trainer.errors import TrainerError
from trainer.listen.port import Event
from trainer.listen.signs import LOW_KEY, Means, Signs, clashes, means_of


def read(
    means: Means, *events: tuple[float, int], end: float = 100.0
) -> tuple[list[str], list[int]]:
    """The signs in these events (seconds, pitch, or less a pedal), and the pitches of the rest."""
    signs = Signs(means)
    found, music = list[str | None](), list[Event]()
    for time, what in events:
        event = Event(what, time) if what > 0 else Event(0, time, 127, -what)
        found.append(signs.hear(event))
        music += signs.notes()
    found.append(signs.tick(end))
    music += signs.notes()
    assert signs.since is None
    assert [event.time for event in music] == sorted(event.time for event in music)
    return [sign for sign in found if sign], [event.pitch for event in music]


@pytest.mark.parametrize(
    ("events", "signs", "music"),
    [
        ([(1, 21)], ["next"], []),
        ([(1, 21), (1.3, 21)], ["again"], []),
        ([(1, 21), (1.3, 21), (1.6, 21)], ["stop"], []),
        ([(1, 21), (1.5, 21), (2.0, 21)], ["stop"], []),  # each within 0.6 s of the one before
        ([(1, 21), (1.7, 21)], ["next", "next"], []),
        ([(1, 60), (1.5, 21)], ["next"], [60]),
        ([(1, 21), (1.3, 60)], [], [21, 60]),  # played on: it was music
        ([(1, 21), (1.7, 60)], ["next"], [60]),
        ([(1, 21), (1.2, 21), (1.4, 60), (1.5, 21)], ["next"], [21, 21, 60]),
        ([(1, 21), (1.1, 21), (1.2, 21), (1.3, 21)], ["stop", "next"], []),
        ([(1, 21), (1.2, -67)], ["next"], []),  # no matter what the foot does
        ([(1, 60), (2, 61)], [], [60, 61]),
    ],
)
def test_a_low_key(events: list[tuple[float, int]], signs: list[str], music: list[int]) -> None:
    assert read(LOW_KEY, *events) == (signs, music)


@pytest.mark.parametrize(
    ("events", "signs", "music"),
    [
        ([(1, -67)], ["next"], []),
        ([(1, -67), (1.5, -67)], ["again"], []),
        ([(1, -67), (1.5, -67), (2.0, -67)], ["stop"], []),
        ([(1, -64), (2, -66)], [], []),  # other pedals
        ([(1, -67), (1.5, 60)], [], [60]),  # played on with it
        ([(1, -67), (1.5, -64)], ["next"], []),
        ([(1, 21), (2, -67)], ["next"], [21]),
    ],
)
def test_a_pedal(events: list[tuple[float, int]], signs: list[str], music: list[int]) -> None:
    assert read(Means(pedal=67), *events) == (signs, music)


@pytest.mark.parametrize(
    ("events", "signs", "music"),
    [
        ([(1, 36), (1.2, 36), (1.4, 40)], ["next"], []),
        ([(1, 36), (1.2, 36), (1.4, 36), (1.6, 40)], ["next"], [36]),  # begins within itself
        ([(1, 36), (1.2, 36)], [], [36, 36]),
        ([(1, 36), (1.2, 36), (1.9, 40)], [], [36, 36, 40]),  # too slow
        ([(1, 36), (1.2, 36), (1.4, 40), (1.6, 36), (1.8, 36), (2.0, 40)], ["again"], []),
        ([(1, 36), (1.2, 36), (1.4, 40), (1.6, 36)], [], [36, 36, 40, 36]),
        ([(1, 36), (1.2, 36), (1.4, 41)], [], [36, 36, 41]),
        ([(t / 5, (36, 36, 40)[t % 3]) for t in range(9)], ["stop"], []),
    ],
)
def test_a_run_of_notes(
    events: list[tuple[float, int]], signs: list[str], music: list[int]
) -> None:
    assert read(Means((36, 36, 40)), *events) == (signs, music)


def test_none() -> None:
    assert read(Means(), (1, 21), (1.1, 21), (2, -67)) == ([], [21, 21])


def test_what_is_held_back_is_told() -> None:
    signs = Signs()
    signs.hear(Event(60, 1.0))
    assert signs.since is None
    signs.hear(Event(21, 2.0))
    signs.hear(Event(21, 2.5))
    assert signs.since == 2.0
    assert signs.tick(3.0) is None
    assert signs.tick(3.1) == "again"
    assert signs.since is None


@given(
    st.lists(st.tuples(st.sampled_from((0.01, 0.3, 0.59, 0.61, 2.0)), st.sampled_from((1, 2, 3)))),
    st.lists(st.sampled_from((1, 2, 3)), min_size=1, max_size=4),
    st.lists(st.booleans(), max_size=20),
)
def test_every_key_is_music_or_of_a_sign_and_looking_changes_nothing(
    steps: list[tuple[float, int]], run: list[int], looks: list[bool]
) -> None:
    """Keys go in and come out in order, whenever it is asked in between."""
    told = []
    for looking in (True, False):
        signs, time, music, found = Signs(Means(tuple(run))), 0.0, list[Event](), list[str]()
        for number, (step, pitch) in enumerate(steps):
            if looking and number < len(looks) and looks[number]:
                found += filter(None, [signs.tick(time + step / 2)])
            time += step
            found += filter(None, [signs.hear(Event(pitch, time))])
            music += signs.notes()
        found += filter(None, [signs.tick(time + 9)])
        music += signs.notes()
        told.append((found, music))
        presses = sum(("next", "again", "stop").index(sign) + 1 for sign in found)
        assert len(music) + presses * len(run) == len(steps)
        assert [event.time for event in music] == sorted(event.time for event in music)
    assert told[0] == told[1]


@pytest.mark.parametrize(
    ("pitches", "clash"),
    [
        ((21,), False),
        ((72,), True),
        ((48, 72, 76, 55, 79), True),  # bar 1: chords of both hands
        ((48, 55, 43, 50), True),  # the left hand alone
        ((72, 76, 79, 76), True),  # the right hand alone
        ((72, 79), False),  # not one after the other
        ((48, 43), False),
        ((), False),
    ],
)
def test_what_a_piece_has_itself_is_no_sign(pitches: tuple[int, ...], clash: bool) -> None:
    assert clashes(Means(pitches), WAITING) is clash


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("A0", LOW_KEY),
        ("c4", Means((60,))),
        ("C2 Eb2 F#2", Means((36, 39, 42))),
        ("B♭1 C♯8", None),
        ("C8", Means((108,))),
        ("soft pedal", Means(pedal=67)),
        ("middle pedal", Means(pedal=66)),
        ("off", Means()),
        ("", Means()),
        ("damper pedal", None),
        ("G0", None),
        ("H4", None),
        ("C4 " * 9, None),
    ],
)
def test_a_sign_in_words(text: str, means: Means | None) -> None:
    if means is None:
        with pytest.raises(TrainerError, match=r"is not a signal; .*\.$"):
            means_of(text)
    else:
        assert means_of(text) == means
