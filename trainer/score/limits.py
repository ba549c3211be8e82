"""What one reading may cost, and the process that keeps to it. music21 is not known here.

What a file may cost follows from the notes in it, so that a small file which would take minutes
or gigabytes (a metre of 9,999 beats, a note of a million quarters) ends after seconds.
"""

from __future__ import annotations

import re
import time
from math import ceil

from msgspec.structs import replace

from trainer.score.files import Kind, decoded
from trainer.values import Frozen

SMALL = 20_000
"""Notes; up to here a reading takes at most 20 s and 700 MB on a machine of usual speed."""
_SECONDS, _SECONDS_A_NOTE, _SECONDS_A_NOTE_MORE = 6.0, 0.0007, 0.005
"""Measured: at most .0005 s a note, of **kern; a file of many notes has more to spare."""
_MEMORY, _MEMORY_A_NOTE = 300, 0.02
"""MB. Measured: 80 without notes, and .009 a note."""
_MEASURES = 2_000
"""Measures that music21 may make beyond one a byte of the file."""


class Limits(Frozen, frozen=True):
    """What one reading may cost at most, however large the file is.

    `seconds` go by the clock, and by the processor where the system can tell. `memory` is in MB
    of address space, where the system has such a limit (not on Windows); `notes` counts written
    notes before anything is read.
    """

    seconds: float = 120.0
    memory: int = 2000
    notes: int = 150_000

    def suiting(self, notes: int) -> Limits:
        """The limits for a file of about so many notes."""
        seconds = _SECONDS + _SECONDS_A_NOTE * min(notes, SMALL)
        seconds += _SECONDS_A_NOTE_MORE * max(0, notes - SMALL)
        return replace(
            self,
            seconds=min(self.seconds, seconds),
            memory=min(self.memory, _MEMORY + ceil(_MEMORY_A_NOTE * notes)),
        )


def most_measures(size: int) -> int:
    """How many measures music21 may make of a file of so many bytes."""
    return _MEASURES + size


def about(kind: Kind, data: bytes) -> int:
    """About how many notes a file holds, told by its signs alone; rather too many than too few."""
    if kind == "MIDI":  # of six bytes at least: two times a wait, a key and a force
        return max(len(data) // 8, sum(data.count(0x90 + channel) for channel in range(16)))
    text = decoded(data)
    if kind == "ABC":
        return len(re.findall("[A-Ga-g]", text))
    if kind == "kern":
        return len(re.findall(r"\d[.]*[A-Ga-g]", text))
    return len(re.findall(r"<(?:\w+:)?note\b", text))


def hold(limits: Limits, *, spent: float = 0.0) -> None:
    """Hold this process to its limits, where the system can; `spent` seconds do not count."""
    try:
        import resource
    except ImportError:  # Windows has none
        return
    wanted = (
        (resource.RLIMIT_AS, limits.memory * 1_000_000),
        (resource.RLIMIT_CPU, ceil(spent + limits.seconds)),
        (resource.RLIMIT_CORE, 0),
    )
    for what, amount in wanted:
        try:
            _, hard = resource.getrlimit(what)
            most = amount if hard == resource.RLIM_INFINITY else min(amount, hard)
            resource.setrlimit(what, (most, hard))
        except (ValueError, OSError):
            continue  # a system that refuses one limit may still keep the others


def hold_from_now(most: Limits, suiting: Limits) -> None:
    """As `hold`, where all that the process has spent so far went into loading. Loading takes
    about a second; a machine on which it takes longer has so many times the seconds."""
    spent = time.process_time()
    seconds = min(most.seconds, suiting.seconds * max(1.0, spent))
    hold(replace(suiting, seconds=seconds), spent=spent)
