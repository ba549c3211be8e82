"""Keys and pedal to the sound of a piano in a room, as a microphone hears it. Run by hand only.

Needs the program `fluidsynth` and a soundfont with a piano; nothing else here does. What is made:
a piano out of tune as a whole and from key to key, a room with its echo, a tone that is bright or
dull, the noise of a fan, hum, thumps of the pedal, and a microphone that hears no lowest and no
highest tones. What is not: a piano out of tune within one key, a real microphone's own control of
its level, other instruments.
"""

from __future__ import annotations

import subprocess
import tempfile
import wave
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import mido
import numpy as np

from trainer.sound.spectrum import RATE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Wave = NDArray[Any]

CHANNELS = [channel for channel in range(16) if channel != 9][:12]  # one for each pitch class
TAIL = 1.0  # seconds that are rendered after the last key
GAP = 2.0  # seconds between clips


@dataclass(frozen=True)
class Struck:
    """A key: seconds down and up, MIDI number, velocity."""

    on: float
    off: float
    pitch: int
    velocity: int


@dataclass(frozen=True)
class Played:
    """What is rendered: keys, the seconds at which the pedal goes down (True) and up, how many
    cents each pitch class is off, and which piano of the soundfont."""

    keys: Sequence[Struck]
    pedal: Sequence[tuple[float, bool]] = ()
    cents: Sequence[float] = (0.0,) * 12
    program: int = 0
    least: float = 3.0  # seconds

    @property
    def seconds(self) -> float:
        return max((key.off for key in self.keys), default=self.least) + TAIL


def dry(clips: Sequence[Played], font: Path) -> list[Wave]:
    """The sound of the soundfont alone, for each clip; all in one rendering."""
    events: list[tuple[float, int, mido.Message]] = []
    begins, begin = [], 0.0
    for clip in clips:
        begins.append(begin)
        events += ((begin + at, order, message) for at, order, message in _messages(clip))
        begin += clip.seconds + GAP
    file = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000)])
    file.tracks.append(track)
    last = 0
    for at, _, message in sorted(events, key=lambda event: event[:2]):
        tick = round(at * 1000)
        track.append(message.copy(time=tick - last))
        last = tick
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder, "a.mid"), Path(folder, "a.wav")
        file.save(score)
        program = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.5"]
        made = ["-r", str(RATE), "-F", str(sound), str(font), str(score)]
        subprocess.run([*program, *made], check=True, capture_output=True)
        with wave.open(str(sound)) as read:
            data = np.frombuffer(read.readframes(read.getnframes()), np.int16)
    mono = np.pad(data.reshape(-1, 2).mean(axis=1) / 32768, (0, round(GAP * RATE)))
    cuts = (
        (round(at * RATE), round(clip.seconds * RATE))
        for at, clip in zip(begins, clips, strict=True)
    )
    return [mono[first : first + count].astype(np.float32) for first, count in cuts]


def _messages(clip: Played) -> Iterator[tuple[float, int, mido.Message]]:
    """What a synthesizer is told, with the second and the order within it."""
    for number, channel in enumerate(CHANNELS):
        bend = round(clip.cents[number] / 200 * 8192)
        yield 0, 0, mido.Message("program_change", channel=channel, program=clip.program)
        yield 0, 1, mido.Message("pitchwheel", channel=channel, pitch=bend)
        for at, down in (*clip.pedal, (clip.seconds, False)):
            value = 127 if down else 0
            yield at, 2, mido.Message("control_change", channel=channel, control=64, value=value)
        yield clip.seconds, 5, mido.Message("control_change", channel=channel, control=120)
    for key in clip.keys:
        note = {"channel": CHANNELS[key.pitch % 12], "note": key.pitch}
        yield key.on, 4, mido.Message("note_on", velocity=key.velocity, **note)
        yield max(key.off, key.on + 0.03), 3, mido.Message("note_off", **note)


def in_a_room(sound: Wave, played: Played, seed: int, below: float) -> Wave:
    """The same in a room, with noise `below` decibels under the music."""
    dice = np.random.default_rng(seed)
    wet = _convolved(sound, _echo(dice))[: len(sound)]
    level = _loudness(wet) if played.keys else 0.02
    for at, _ in played.pedal:
        _add(wet, _thump(dice) * level * dice.uniform(0.05, 0.4), at)
    if dice.random() < 0.35:  # somebody speaks, or something falls
        loud = 10 ** (-dice.uniform(0, 12) / 20) * level
        _add(wet, voice(dice) * 3 * loud, dice.uniform(0, 1.5))
        _add(wet, _thump(dice) * 3 * loud, dice.uniform(0, played.seconds - 1))
    wet = wet + _noise(len(wet), dice) * level * 10 ** (-below / 20)
    wet = _coloured(wet, dice)
    if dice.random() < 0.3:  # a microphone that raises what is soft
        wet = _levelled(wet, dice.uniform(0.2, 0.6))
    peak = 10 ** (dice.uniform(-30, -6) / 20)
    made: Wave = (wet * (peak / (np.abs(wet).max() + 1e-9))).astype(np.float32)
    return made


def _convolved(a: Wave, b: Wave) -> Wave:
    size = 1 << (len(a) + len(b) - 1).bit_length()
    found: Wave = np.fft.irfft(np.fft.rfft(a, size) * np.fft.rfft(b, size), size)
    return found


def _echo(dice: np.random.Generator) -> Wave:
    """What a room makes of one knock: the knock, early echoes, a tail that grows dull."""
    seconds, direct = dice.uniform(0.2, 0.9), dice.uniform(-3, 10)
    times = np.arange(round(seconds * RATE)) / RATE
    spectrum = np.fft.rfft(dice.standard_normal(len(times)))
    hz = np.fft.rfftfreq(len(times), 1 / RATE)
    tail = np.zeros(len(times))
    for low, high, shorter in ((50, 400, 1.2), (400, 2500, 1.0), (2500, 9000, 0.55)):
        band = np.fft.irfft(spectrum * ((hz >= low) & (hz < high)), len(times))
        tail += band * 10 ** (-3 * times / (seconds * shorter))
    tail[: round(0.004 * RATE)] = 0
    for _ in range(6):
        tail[round(dice.uniform(0.002, 0.03) * RATE)] += dice.choice([-1, 1]) * dice.uniform(1, 6)
    tail *= 10 ** (-direct / 20) / np.sqrt((tail**2).sum())
    tail[0] += 1
    return tail


def _noise(count: int, dice: np.random.Generator) -> Wave:
    """Of deviation 1: hiss that falls with the pitch, and the hum of the mains."""
    hz = np.fft.rfftfreq(count, 1 / RATE)
    falls = np.maximum(hz, 40) ** -dice.uniform(0.3, 0.7)
    hiss = np.fft.irfft(np.fft.rfft(dice.standard_normal(count)) * falls, count)
    hiss /= hiss.std()
    times = np.arange(count) / RATE
    mains = dice.choice([50, 60])
    for number in (1, 2, 3):
        phase = 2 * np.pi * mains * number * times + dice.uniform(0, 6)
        hiss = hiss + dice.uniform(0, 0.35) * np.sin(phase)
    made: Wave = hiss / hiss.std()
    return made


def voice(dice: np.random.Generator) -> Wave:
    """Like a word or two, or a bark: a buzz whose pitch glides, through three formants."""
    parts = []
    for _ in range(dice.integers(1, 5)):
        count = round(dice.uniform(0.12, 0.35) * RATE)
        times = np.linspace(0, 1, count)
        pitch = dice.uniform(90, 320) * 2 ** (dice.uniform(-0.5, 0.3) * times)
        phase = np.cumsum(pitch) / RATE
        buzz = np.where(np.diff(np.floor(phase), prepend=0) > 0, 1.0, 0.0)
        buzz = buzz + dice.uniform(0, 0.1) * dice.standard_normal(count)
        hz = np.fft.rfftfreq(count, 1 / RATE)
        formants = dice.uniform((250, 800, 2000), (850, 2200, 3200))
        gain = sum(1 / (1 + ((hz - one) / 90) ** 2) for one in formants)
        said = np.fft.irfft(np.fft.rfft(buzz) * gain, count) * np.sin(np.pi * times) ** 0.5
        parts += [said / (np.abs(said).max() + 1e-9), np.zeros(round(dice.uniform(0, 0.3) * RATE))]
    return np.concatenate(parts)


def _thump(dice: np.random.Generator) -> Wave:
    times = np.arange(round(0.12 * RATE)) / RATE
    knock = np.sin(2 * np.pi * dice.uniform(45, 90) * times) * np.exp(-times / 0.03)
    hit = np.convolve(dice.standard_normal(len(times)), np.ones(12) / 12, "same")
    return knock + hit * np.exp(-times / 0.015)


def _add(sound: Wave, more: Wave, at: float) -> None:
    part = sound[round(at * RATE) :][: len(more)]
    part += more[: len(part)]


def _coloured(sound: Wave, dice: np.random.Generator) -> Wave:
    """As a piano of another tone, and a microphone without the lowest and the highest."""
    count = len(sound)
    hz = np.maximum(np.fft.rfftfreq(count, 1 / RATE), 1)
    low, high = dice.uniform(60, 190), dice.uniform(5500, 10_500)
    octaves = np.log2(hz / 50)
    decibels = np.interp(octaves, np.arange(9), dice.normal(0, 3, 9))
    decibels += dice.uniform(-2, 1.5) * (octaves - 4)
    gain = 10 ** (decibels / 20) / np.sqrt(1 + (low / hz) ** 4) / np.sqrt(1 + (hz / high) ** 4)
    return np.fft.irfft(np.fft.rfft(sound) * gain, count)


def _levelled(sound: Wave, share: float) -> Wave:
    falls = np.exp(-np.arange(RATE // 2) / (RATE / 10))
    power = np.abs(_convolved(sound**2, falls / falls.sum()))[: len(sound)]
    return sound / np.sqrt(np.maximum(power, 1e-8)) ** share


def _loudness(sound: Wave) -> float:
    size = RATE // 20
    power = np.sort((sound[: len(sound) // size * size].reshape(-1, size) ** 2).mean(axis=1))
    return float(np.sqrt(power[len(power) // 2 :].mean()) + 1e-9)
