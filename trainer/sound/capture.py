"""From a microphone to keys struck, in a process of its own.

The libraries of a sound system write to the terminal and may hang or fall; and to listen takes a
few hundredths of a core. So a child process holds the microphone and answers in lines of JSON on
its standard output: first {"hears": NAME} or {"trouble": SENTENCE}; then, as they come,
{"struck": [[seconds, key, chance], ...]} on the clock of `perf_counter`, and about once a second
{"level": decibels, "room": decibels, "cents": number or null}. Nothing is written to any file, and
no sound is kept for longer than a second. It stops when its input is closed.

In the environment, TRAINER_MICROPHONE names a sound file that stands for the device: whenever the
file is there anew it is heard once, and silence before and after.
"""

from __future__ import annotations

import json
import os
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from queue import Empty, SimpleQueue
from threading import Event, Thread
from time import perf_counter, sleep
from typing import TYPE_CHECKING, Any

from trainer.extras import advice

if TYPE_CHECKING:
    import numpy as np

    from trainer.sound.spectrum import Wave

STANDS_FOR = "TRAINER_MICROPHONE"
PORTION = 0.05  # seconds of sound taken at once
REPORT = 1.0  # seconds between two reports
GONE = 2.0  # seconds without a sample after which the microphone is taken to be gone
RETUNE = 5.0  # cents that the tuning is off before the ear is tuned anew
WINDOW = 20  # reports that the level and the room are taken from

NO_LIBRARY = advice("No microphone can be heard", "sound")
NO_DEVICE = "No microphone was found: connect one, or use the letters."
NOT_FOUND = "The microphone {!r} is not connected; there is {}."

Part = tuple[float, "Wave"]  # when its last sample came, and samples


def names() -> tuple[str, ...]:
    """The microphones that are there. To ask may write to the terminal."""
    try:
        import miniaudio

        return tuple(one["name"] for one in miniaudio.Devices().get_captures())
    except Exception:  # no library, no system of sound, or none that answers
        return ()


def child(wanted: str = "") -> None:
    """What the process does."""
    over = Event()
    Thread(target=_until_closed, args=(over,), daemon=True).start()
    stands = os.environ.get(STANDS_FOR, "")
    try:
        parts = _from_file(Path(stands), over) if stands else _from_device(wanted, over)
        listen(parts)
    except LookupError as error:
        _say(trouble=str(error.args[0]))
    except BrokenPipeError:
        pass
    os._exit(0)  # a library's own threads may hang


def _say(**what: Any) -> None:
    print(json.dumps(what), flush=True)


def _until_closed(over: Event) -> None:
    os.read(0, 1)
    over.set()


def _from_device(wanted: str, over: Event) -> Iterator[Part]:
    """What the microphone hears. Raises LookupError with the sentence why it cannot."""
    try:
        import miniaudio
        import numpy as np

        from trainer.sound.spectrum import RATE
    except ImportError:
        raise LookupError(NO_LIBRARY) from None
    came: SimpleQueue[Part] = SimpleQueue()

    def taking() -> Any:
        while True:
            data = yield
            came.put((perf_counter(), np.frombuffer(data, np.float32)))

    try:
        found = miniaudio.Devices().get_captures()
        named = [one for one in found if one["name"].casefold().startswith(wanted.casefold())]
        if not named:
            there = ", ".join(one["name"] for one in found)
            raise LookupError(NOT_FOUND.format(wanted, there) if there else NO_DEVICE)
        device = miniaudio.CaptureDevice(
            miniaudio.SampleFormat.FLOAT32,
            1,
            RATE,
            round(1000 * PORTION),
            named[0]["id"] if wanted else None,
            app_name="trainer",
        )
        take = taking()
        next(take)
        device.start(take)
    except miniaudio.MiniaudioError:
        raise LookupError(NO_DEVICE) from None
    _say(hears=named[0]["name"])
    while not over.is_set():
        try:
            yield came.get(timeout=GONE)
        except Empty:
            return


def _from_file(file: Path, over: Event) -> Iterator[Part]:
    import numpy as np

    from trainer.sound.decode import read_sound
    from trainer.sound.spectrum import RATE

    size, known, sound = round(PORTION * RATE), 0.0, np.zeros(0, np.float32)
    began, count = perf_counter(), 0
    _say(hears=file.name)
    while not over.is_set():
        changed = file.stat().st_mtime if file.exists() else 0.0
        if changed and changed != known:
            known, sound = changed, read_sound(file)
        part, sound = sound[:size], sound[size:]
        count += size
        sleep(max(0.0, began + count / RATE - perf_counter()))
        hiss = np.random.default_rng(count).normal(0, 1e-4, size).astype(np.float32)
        hiss[: len(part)] += part
        yield began + count / RATE, hiss


def listen(parts: Iterator[Part]) -> None:
    """Tell what is struck, and how well it is heard, as long as sound comes."""
    import numpy as np

    from trainer.sound.spectrum import RATE
    from trainer.sound.strokes import Finder, Network
    from trainer.sound.tuning import Tuning

    network, tuning = Network.kept(), Tuning()
    finder, zero, count = Finder(0.0, network), 0.0, 0  # zero: when its first sample came
    cents, reported = 0.0, 0.0
    levels: deque[float] = deque(maxlen=round(WINDOW / PORTION))
    for now, samples in parts:
        count += len(samples)
        zero = (
            min(zero + len(samples) / RATE * 1e-4, now - count / RATE)
            if zero
            else now - count / RATE
        )
        levels.append(_decibels(samples))
        tuning.feed(samples)
        struck = finder.feed(samples)
        if struck:
            _say(struck=[[zero + one.time, one.pitch, one.chance] for one in struck])
        if now - reported >= REPORT:
            reported, found = now, tuning.cents
            level, room = np.quantile(levels, (0.95, 0.1))
            _say(level=round(float(level), 1), room=round(float(room), 1), cents=found)
            if found is not None and abs(found - cents) > RETUNE and not struck:
                cents, zero, count = found, 0.0, 0
                finder = Finder(cents, network)


def _decibels(samples: np.ndarray[Any, Any]) -> float:
    """Of full scale."""
    import numpy as np

    return float(10 * np.log10(np.mean(np.square(samples, dtype=np.float64)) + 1e-12))
