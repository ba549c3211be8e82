"""Keys and pedals from raw bytes, worked out by hand from the Complete MIDI 1.0 Detailed
Specification (1996): running status, system real time."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.listen.wire import Key, Parser, Pedal

CLOCK, SENSING = b"\xf8", b"\xfe"


def moved(data: bytes) -> tuple[Key | Pedal, ...]:
    return Parser().feed(data)


def keys(data: bytes) -> list[Key]:
    return [one for one in moved(data) if isinstance(one, Key)]


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"\x90\x3c\x40\x80\x3c\x40", [(60, 64), (60, 0)]),
        (b"\x90\x3c\x40\x3e\x41\x3c\x00", [(60, 64), (62, 65), (60, 0)]),  # running status
        (b"\x9f\x3c\x40", [(60, 64)]),  # any channel
        (b"\x90" + CLOCK + b"\x3c" + SENSING + b"\x40" + CLOCK + b"\x3e\x41", [(60, 64), (62, 65)]),
        (b"\xb0\x40\x7f\x90\x3c\x40", [(60, 64)]),  # the pedal
        (b"\xb0\x40\x7f\x41\x00\x90\x3c\x40", [(60, 64)]),  # and more of the like
        (b"\xc0\x05\x07\x90\x3c\x40", [(60, 64)]),  # a message with one byte of data
        (b"\x90\x3c\x40\xf0\x7e\x3c\x40\xf7\x3e\x41", [(60, 64)]),  # ends the running status
        (b"\x90\x3c\x40\xf6\x3e\x41\x90\x3e\x41", [(60, 64), (62, 65)]),
        (b"\xf2\x3c\x40\x90\x3e\x41", [(62, 65)]),  # song position
        (b"\x3c\x40\x90\x3c\x40", [(60, 64)]),  # came in the middle
        (b"\x90\x3c\x90\x3e\x41", [(62, 65)]),  # broken off
        (b"", []),
    ],
)
def test_bytes_by_hand(data: bytes, expected: list[tuple[int, int]]) -> None:
    assert [(key.pitch, key.velocity) for key in keys(data)] == expected


def test_two_hundred_keys_with_clock_and_sensing_between_all_their_bytes() -> None:
    data = b"\x90" + b"".join(bytes([i % 128, 1 + i % 127]) for i in range(200))
    mixed = b"".join(bytes([byte]) + CLOCK + SENSING for byte in data)
    assert len(keys(mixed)) == 200
    assert keys(mixed) == keys(data)


def test_pedals_are_told_and_no_other_controller() -> None:
    data = b"\xb0\x40\x7f\x43\x00" + CLOCK + b"\x07\x64\x42\x40\x90\x3c\x40"
    assert moved(data) == (Pedal(64, 127), Pedal(67, 0), Pedal(66, 64), Key(60, 64))


@given(st.binary(max_size=200), st.integers(0, 200))
def test_the_portions_do_not_matter_and_keys_are_keys(data: bytes, cut: int) -> None:
    parser = Parser()
    assert parser.feed(data[:cut]) + parser.feed(data[cut:]) == moved(data)
    assert all(key.pitch < 128 and key.velocity < 128 for key in keys(data))
