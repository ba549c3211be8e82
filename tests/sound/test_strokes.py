"""Keys heard in sounds that are made of partials here, and nothing where nothing is struck."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from random import Random

import numpy as np
import pytest
from numpy.typing import NDArray

from trainer.sound.spectrum import BINS, HOP, RATE, Spectrum
from trainer.sound.strokes import SIZE, Finder, Network, Stroke, inputs, normal
from trainer.sound.tones import frequency
from trainer.sound.tuning import Tuning

Wave = NDArray[np.float32]
SCALE = (48, 50, 52, 53, 55, 57, 59, 60, 64, 67, 72)


def piano(strikes: list[tuple[float, int]], seconds: float, cents: float = 0.0) -> Wave:
    """Strings that are struck: twelve partials, the higher the weaker and the sooner gone, a
    little sharp; and a faint hiss. Not a piano, and near enough to one."""
    dice = np.random.default_rng(3)
    sound = dice.normal(0, 3e-4, round(seconds * RATE))
    for at, pitch in strikes:
        first = round(at * RATE)
        times = np.arange(min(2 * RATE, len(sound) - first)) / RATE
        hz = frequency(pitch) * 2 ** (cents / 1200)
        for n in range(1, 13):
            own = n * hz * (1 + 3e-4 * n * n) ** 0.5
            if own < 9000:
                fade = np.exp(-times * (0.8 + 0.35 * n) * (hz / 262) ** 0.4)
                part = 0.45 ** (n - 1) * fade * np.sin(2 * np.pi * own * times + dice.uniform(0, 6))
                sound[first : first + len(times)] += 0.08 * np.minimum(1, times / 0.003) * part
        knock = dice.normal(0, 1, 400) * np.exp(-np.arange(400) / 90)
        sound[first : first + 400] += 0.01 * knock[: len(sound) - first]
    return sound.astype(np.float32)


def heard(sound: Wave, cents: float = 0.0) -> list[Stroke]:
    finder = Finder(cents)
    return [*finder.feed(sound), *finder.flush()]


def some(strikes: list[tuple[float, int]], found: list[Stroke], least: float) -> tuple[int, int]:
    """How many of the strikes were found, and how many others."""
    told = [stroke for stroke in found if stroke.chance >= least]
    right = [
        any(one.pitch == pitch and abs(one.time - at) < 0.05 for one in told)
        for at, pitch in strikes
    ]
    return sum(right), len(told) - sum(right)


def test_single_keys_are_heard_where_they_are_struck() -> None:
    strikes = [(1.0 + 0.6 * i, pitch) for i, pitch in enumerate(SCALE)]
    right, others = some(strikes, heard(piano(strikes, 9.0)), 0.7)
    assert right >= len(SCALE) - 1
    assert others <= 2


def test_chords_are_mostly_heard() -> None:
    rng = Random(1)
    strikes = [(1 + 0.7 * i, p) for i in range(8) for p in rng.sample(SCALE, 3)]
    right, others = some(strikes, heard(piano(strikes, 8.0)), 0.7)
    assert right >= 0.7 * len(strikes)
    assert others <= 0.3 * len(strikes)


@pytest.mark.parametrize("loud", [0.0, 1e-4, 0.05])
def test_nothing_is_struck_in_silence_or_noise(loud: float) -> None:
    noise = np.random.default_rng(1).normal(0, loud, 4 * RATE).astype(np.float32)
    assert [stroke for stroke in heard(noise) if stroke.chance >= 0.5] == []


def test_it_does_not_matter_in_what_portions_a_sound_comes() -> None:
    sound = piano([(0.5, 60), (1.0, 64), (1.4, 67)], 2.5)
    whole, finder, rng = heard(sound), Finder(), Random(2)
    cuts = [0, *sorted(rng.sample(range(len(sound)), 25)), len(sound)]
    parts = [one for a, b in pairwise(cuts) for one in finder.feed(sound[a:b])]
    parts += finder.flush()
    assert [(one.pitch, round(one.time, 3)) for one in parts] == [
        (one.pitch, round(one.time, 3)) for one in whole
    ]
    assert [one.chance for one in parts] == pytest.approx([one.chance for one in whole], abs=1e-3)


def test_loudness_does_not_matter() -> None:
    sound = piano([(0.5, 60), (1.0, 64)], 2.0)
    soft, loud = ([s.pitch for s in heard(x) if s.chance >= 0.5] for x in (sound * 0.05, sound))
    assert soft == loud


@pytest.mark.parametrize("cents", [-40, -15, 0, 22, 45])
def test_the_tuning_is_measured(cents: float) -> None:
    tuning = Tuning()
    tuning.feed(piano([(0.2 + 0.5 * i, pitch) for i, pitch in enumerate(SCALE[:6])], 4.0, cents))
    assert tuning.cents == pytest.approx(cents, abs=5)


def test_without_tones_no_tuning_is_told() -> None:
    tuning = Tuning()
    tuning.feed(np.zeros(3 * RATE, np.float32))
    assert tuning.cents is None


def test_a_spectrum_has_a_frame_for_each_hop_and_its_peak_where_the_tone_is() -> None:
    times = np.arange(2 * RATE) / RATE
    sound = np.sin(2 * np.pi * 440 * times).astype(np.float32)
    spectrum = Spectrum()
    frames = np.concatenate([spectrum.feed(sound), spectrum.flush()])
    assert abs(len(frames) - len(sound) / HOP) <= 1
    assert int(frames[80].argmax()) == (69 - 9) * 3
    assert frames[80].max() == pytest.approx(0, abs=3)  # decibels of a full tone


def test_what_the_network_sees_is_within_its_range() -> None:
    frames = np.random.default_rng(1).normal(-60, 30, (40, BINS))
    x = inputs(normal(frames.astype(np.float32)), np.arange(40), np.arange(40))
    assert x.shape == (40, SIZE)
    assert np.abs(x).max() <= 1


def test_weights_are_kept_as_they_were(tmp_path: Path) -> None:
    kept, x = Network.kept(), np.full((3, SIZE), 0.3, np.float32)
    kept.save(tmp_path / "again.npy")
    assert Network.kept(tmp_path / "again.npy").logits(x) == pytest.approx(kept.logits(x))
