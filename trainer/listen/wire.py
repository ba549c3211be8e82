"""Raw MIDI bytes to keys and pedals. Pure, with no library.

Source for the bytes: The Complete MIDI 1.0 Detailed Specification, 1996, "Running Status",
"System Real Time Messages" and, for what a pedal's value means, "Switch Controllers" (64 to 127
is on).
"""

from __future__ import annotations

from collections.abc import Iterator

from trainer.values import Frozen

DAMPER, SOSTENUTO, SOFT = PEDALS = (64, 66, 67)  # the pedals' controllers


class Key(Frozen, frozen=True):
    """A key that went down, or up where `velocity` is 0."""

    pitch: int
    velocity: int


class Pedal(Frozen, frozen=True):
    """A pedal that moved: its `controller`, one of PEDALS, and how far down it is, 0 to 127."""

    controller: int
    value: int


class Parser:
    """Raw MIDI bytes to keys and pedals; bytes may come in any portions.

    A message without a status byte of its own has that of the one before (running status).
    Clock and active sensing may stand anywhere, even inside a message, and change nothing; any
    other system message ends the running status. A note on with velocity 0 is a note off.
    """

    def __init__(self) -> None:
        self._status = 0  # 0: none is running, and data is passed over
        self._data: list[int] = []

    def feed(self, data: bytes) -> tuple[Key | Pedal, ...]:
        """The keys and pedals that these bytes complete."""
        return tuple(moved for byte in data for moved in self._byte(byte))

    def _byte(self, byte: int) -> Iterator[Key | Pedal]:
        if byte >= 0xF8:  # real time
            return
        if byte >= 0x80:
            self._status = byte if byte < 0xF0 else 0
            self._data = []
            return
        if not self._status:
            return
        self._data.append(byte)
        if len(self._data) < _length(self._status):
            return
        data, self._data = self._data, []
        kind = self._status & 0xF0
        if kind in (0x80, 0x90):
            yield Key(data[0], data[1] if kind == 0x90 else 0)
        elif kind == 0xB0 and data[0] in PEDALS:
            yield Pedal(data[0], data[1])


def _length(status: int) -> int:
    """The data bytes of a channel message."""
    return 1 if status & 0xF0 in (0xC0, 0xD0) else 2
