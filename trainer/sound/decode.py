"""A recorded sound from a file, as samples, through miniaudio."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np

from trainer.errors import TrainerError
from trainer.extras import advice
from trainer.sound.spectrum import RATE

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.sound.spectrum import Wave

KINDS = (".wav", ".flac", ".ogg", ".mp3")
LONGEST = 600  # seconds of one attempt
LARGEST = 200_000_000  # bytes


def read_sound(file: Path) -> Wave:
    """The samples of a sound file, -1 to 1, one channel, RATE a second. Raises TrainerError for a
    file that gives none, or that is too long for one attempt."""
    if not find_spec("miniaudio"):
        raise TrainerError(advice("No sound file can be heard", "sound"))
    import miniaudio

    try:
        if file.stat().st_size > LARGEST:
            raise TrainerError(f"{file.name} is too large for one attempt; shorten it.")
        floats = miniaudio.SampleFormat.FLOAT32
        found = miniaudio.decode(file.read_bytes(), floats, nchannels=1, sample_rate=RATE)
    except OSError as error:
        raise TrainerError(
            f"{file.name} cannot be read ({error.strerror}); choose a sound file with the attempt."
        ) from error
    except miniaudio.MiniaudioError as error:
        raise TrainerError(
            f"{file.name} is not a sound that can be read; save it as .wav, .flac, .ogg or .mp3."
        ) from error
    if len(found.samples) > LONGEST * RATE:
        raise TrainerError(f"{file.name} is too long for one attempt; shorten it.")
    return np.nan_to_num(np.frombuffer(found.samples, np.float32))
