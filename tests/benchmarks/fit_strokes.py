"""Fit the network that hears keys in a sound, on music made here by chance. Run by hand only.

    python -m tests.benchmarks.fit_strokes --fonts FILE FILE --out trainer/sound/strokes.npz
        [--clips 210] [--rounds 4 5 12] [--apart FILE] [--seed 1]

Nothing is recorded and no piece is used: chords, scales, broken chords, tunes over a bass, repeated
notes and trills are drawn by chance, rendered (`piano_room.py`) and learned. --apart is a piano
that is not learned from, on which the result is tried. The weights that are kept were made with
the FluidR3, MuseScore General and TimGM6mb soundfonts, in this order, as Debian has them.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.piano_room import Played, Struck, dry, in_a_room
from trainer.sound.spectrum import FRAMES, Spectrum
from trainer.sound.strokes import KEYS, LAYERS, LOW_KEY, SIZE, Network, inputs, normal

Floats = NDArray[Any]
Signs = NDArray[np.int8]
Ints = NDArray[np.int64]
SECONDS = 30.0  # of one clip
MODES = ((0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 11), (0, 2, 3, 5, 7, 9, 10))
PROGRAMS = (0, 0, 0, 1)
NEAR = 4  # frames from a stroke in which none is learned to be absent


def music(rng: Random) -> Played:
    """Some seconds of music drawn by chance."""
    keys: list[Struck] = []
    time, home, mode = rng.uniform(1.0, 2.5), rng.randrange(12), rng.choice(MODES)
    scale = [p for p in range(21, 109) if (p - home) % 12 in mode]
    pace = rng.uniform(0.12, 0.6)
    loud = rng.uniform(45, 85)
    if rng.random() < 0.04:
        return Played((), least=SECONDS)
    while time < SECONDS - 2:
        kind = rng.choice(("chords", "broken", "scale", "tune", "tune", "repeats", "trill"))
        low = rng.triangular(4, len(scale) - 12, 18)
        length = rng.randint(4, 12)
        for step, strikes in enumerate(_figure(kind, scale, int(low), length, rng)):
            at = time + step * pace * rng.uniform(0.95, 1.05)
            for number, pitch in enumerate(strikes):
                begin = at + number * rng.uniform(0, 0.025) + rng.gauss(0, 0.006)
                held = pace * rng.choice((0.5, 0.9, 1, 1, 2, 4))
                power = int(min(120, max(22, rng.gauss(loud + (pitch - 60) * 0.15, 11))))
                keys.append(Struck(max(0.5, begin), begin + held, pitch, power))
        time += length * pace + rng.choice((0, 0, 0, pace, 1.0, 2.5))
        pace *= rng.uniform(0.75, 1.35)
        pace = min(0.9, max(0.09, pace))
    keys = _cut(keys)
    pedal: list[tuple[float, bool]] = []
    if rng.random() < 0.6:
        at = keys[0].on
        while at < keys[-1].on:
            pedal += [(at + 0.1, True), (at := at + rng.uniform(0.5, 2.2), False)]
            at += 0.03
    whole = rng.gauss(0, 8)  # cents that the measured tuning is off
    cents = [whole + rng.gauss(0, 3) for _ in range(12)]
    return Played(keys, pedal, cents, rng.choice(PROGRAMS))


def _figure(kind: str, scale: list[int], low: int, length: int, rng: Random) -> Iterator[list[int]]:
    place = low
    for step in range(length):
        if kind == "chords":
            place += rng.choice((-2, -1, 0, 1, 2, 3))
            place = min(len(scale) - 10, max(0, place))
            above = rng.sample((2, 4, 6, 7, 9), rng.randint(1, 4))
            yield [scale[place], *(scale[place + up] for up in sorted(above))]
        elif kind == "broken":
            bass = [scale[max(0, low - 7)]] if step % 4 == 0 else []
            yield [*bass, scale[low + (0, 2, 4, 7, 4, 2)[step % 6]]]
        elif kind == "scale":
            up = low + step
            both = rng.random() < 0.3
            yield [scale[up], scale[min(len(scale) - 1, up + 7)]] if both else [scale[up]]
        elif kind == "tune":
            place = min(len(scale) - 8, max(3, place + rng.choice((-2, -1, -1, 0, 1, 1, 2, 4))))
            under = [scale[max(0, place - rng.choice((7, 9, 11, 14)))]] if step % 2 == 0 else []
            third = [scale[place - 2]] if rng.random() < 0.3 else []
            yield [*under, *third, scale[place]]
        elif kind == "repeats":
            yield [scale[low + 2 * rng.randint(0, 1)], scale[low + 7]][: rng.randint(1, 2)]
        else:
            yield [scale[low + step % 2]]


def _cut(keys: list[Struck]) -> list[Struck]:
    """In order, each key up before it goes down again."""
    kept: list[Struck] = []
    following: dict[int, float] = {}
    for key in sorted(keys, key=lambda key: -key.on):
        later = following.get(key.pitch, 1e9)
        if later - key.on > 0.08:
            off = min(key.off, later - 0.02)
            kept.append(Struck(key.on, off, key.pitch, key.velocity))
            following[key.pitch] = key.on
    return kept[::-1]


def clips(seeds: range, fonts: list[Path]) -> Iterator[tuple[Floats, Signs]]:
    """For each clip its frames, and for each frame and key 1 for a stroke, -1 beside one."""
    for number, font in enumerate(fonts):
        own = seeds[number :: len(fonts)]
        played = [music(Random(seed)) for seed in own]
        for seed, clip, sound in zip(own, played, dry(played, font), strict=True):
            below = Random(seed).choice((40, 30, 25, 20, 20, 15))
            ear = Spectrum()
            heard = in_a_room(sound, clip, seed, below)
            frames = np.concatenate([ear.feed(heard), ear.flush()])
            yield frames, truth_of(clip, len(frames))


def truth_of(clip: Played, count: int) -> Signs:
    truth = np.zeros((count, KEYS), np.int8)
    for key in clip.keys:
        at = min(round(key.on * FRAMES), count - 1)
        beside = truth[max(0, at - NEAR) : at + NEAR + 1, key.pitch - LOW_KEY]
        beside[beside == 0] = -1
        truth[at, key.pitch - LOW_KEY] = 1
    return truth


def examples(frames: Floats, places: Ints) -> Floats:
    """What the network is given at some moments and keys of a clip."""
    patches = normal(frames.astype(np.float32))
    if not len(places):
        return np.zeros((0, SIZE), np.float16)
    parts = np.array_split(places, max(1, len(places) // 500))
    return np.concatenate([inputs(patches, at[:, 0], at[:, 1]).astype(np.float16) for at in parts])


def drawn(truth: Signs, rng: np.random.Generator) -> Ints:
    """Moments and keys without a stroke, most of them where something else is struck."""
    busy = np.convolve((truth == 1).any(axis=1), np.ones(5), "same") > 0
    chance = np.where(busy[:, None], 0.05, 0.003) * (truth == 0)
    return np.argwhere(rng.random(truth.shape) < chance)


def mistaken(frames: Floats, truth: Signs, network: Network) -> Ints:
    """Moments and keys that the network takes for a stroke, and there is none."""
    wrong = []
    for stroke in network.strokes(frames.astype(np.float32), 0.02):
        at, key = min(round(stroke.time * FRAMES), len(truth) - 1), stroke.pitch - LOW_KEY
        if truth[at, key] == 0:
            wrong.append((at, key))
    return np.array(wrong).reshape(-1, 2)


class Fit:
    """A network that is learned by Adam (Kingma and Ba, arXiv 1412.6980)."""

    def __init__(self, seed: int) -> None:
        self._dice = np.random.default_rng(seed)
        self.values: list[Floats] = []
        for a, b in pairwise((SIZE, *LAYERS, 1)):
            self.values += [self._dice.normal(0, np.sqrt(2 / a), (a, b)).astype(np.float32)]
            self.values += [np.zeros(b, np.float32)]

    @property
    def network(self) -> Network:
        return Network(list(zip(self.values[::2], self.values[1::2], strict=True)))

    def learn(self, x: Floats, y: Floats, rounds: int, most: float = 2e-3) -> None:
        """Some rounds through all examples, in steps that grow small."""
        first, second = ([np.zeros_like(v) for v in self.values] for _ in range(2))
        batches, step = len(x) // 1024, 0
        for one in range(rounds):
            order, lost = self._dice.permutation(len(x)), 0.0
            for some in np.array_split(order, batches):
                step += 1
                seen = x[np.sort(some)].astype(np.float32)
                seen *= self._dice.random(seen.shape, dtype=np.float32) > 0.02
                gradients, loss = _gradients(seen, y[np.sort(some)], self.values)
                lost += loss
                rate = most * 0.5 * (1 + np.cos(np.pi * step / (rounds * batches + 1)))
                for v, g, m, s in zip(self.values, gradients, first, second, strict=True):
                    m += 0.1 * (g + 1e-5 * v - m)
                    s += 0.001 * (g * g - s)
                    v -= rate * (m / (1 - 0.9**step)) / (np.sqrt(s / (1 - 0.999**step)) + 1e-8)
            print(f"round {one + 1}: {lost / batches:.4f}", flush=True)


def _gradients(x: Floats, y: Floats, values: list[Floats]) -> tuple[list[Floats], float]:
    """Of the cross entropy, and itself."""
    layers = [x]
    for w, b in zip(values[:-2:2], values[1:-2:2], strict=True):
        layers.append(np.maximum(layers[-1] @ w + b, 0))
    logit = (layers[-1] @ values[-2] + values[-1])[:, 0]
    p = 1 / (1 + np.exp(-np.clip(logit, -30, 30)))
    loss = float(-np.mean(y * np.log(p + 1e-9) + (1 - y) * np.log(1 - p + 1e-9)))
    back = ((p - y) / len(y))[:, None]
    found: list[Floats] = []
    for number in range(len(values) - 2, -1, -2):
        below = layers[number // 2]
        found = [below.T @ back, back.sum(axis=0), *found]
        back = (back @ values[number].T) * (below > 0)
    return found, loss


def tried(seeds: range, fonts: list[Path], network: Network) -> None:
    """How many strokes are found on clips that were not learned, and how many are none."""
    found, true, total = [], [], 0
    for frames, truth in clips(seeds, fonts):
        total += int((truth == 1).sum())
        for stroke in network.strokes(frames):
            at, key = round(stroke.time * FRAMES), stroke.pitch - LOW_KEY
            near = truth[max(0, at - NEAR) : at + NEAR + 1, key] == 1
            found.append(stroke.chance)
            true.append(bool(near.any()))
    chance, right = np.array(found), np.array(true)
    for least in (0.1, 0.2, 0.3, 0.5, 0.7, 0.9):
        kept = chance >= least
        print(
            f"chance {least}: of the told {right[kept].mean():.3f} are strokes,"
            f" of the strokes {right[kept].sum() / total:.3f} are told"
        )
    for low in np.arange(0.1, 1, 0.2):
        band = (chance >= low) & (chance < low + 0.2)
        print(f"told with {low:.1f} to {low + 0.2:.1f}: {right[band].mean():.2f} ({band.sum()})")


def main() -> None:
    parser = argparse.ArgumentParser(description="Fit the network that hears keys in a sound.")
    parser.add_argument("--fonts", type=Path, nargs="+", required=True)
    parser.add_argument("--apart", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--clips", type=int, default=210)
    parser.add_argument("--rounds", type=int, nargs="+", default=(4, 5, 12))
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    dice = np.random.default_rng(given.seed)
    seeds = range(given.seed * 10_000, given.seed * 10_000 + given.clips)
    made = [(f.astype(np.float16), t) for f, t in clips(seeds, given.fonts)]
    strokes = [np.argwhere(truth == 1) for _, truth in made]
    total = sum(len(some) for some in strokes)
    x = [examples(frames, some) for (frames, _), some in zip(made, strokes, strict=True)]
    x += [examples(frames, drawn(truth, dice)) for frames, truth in made]
    fit = Fit(given.seed)
    for number, rounds in enumerate(given.rounds):
        if number:  # what the network was mistaken in
            for frames, truth in made[number % 2 :: 2]:
                x.append(examples(frames, mistaken(frames, truth, fit.network)))
        all_x = np.concatenate(x)
        y = (np.arange(len(all_x)) < total).astype(np.float32)
        print(f"{len(y)} moments, {total} of them strokes", flush=True)
        fit.learn(all_x, y, rounds)
        fit.network.save(given.out)
    network = Network.kept(given.out)
    for name, fonts in (("pianos of the fit", given.fonts), ("another piano", [given.apart])):
        if fonts != [None]:
            print(name)
            tried(range(900_000, 900_018), fonts, network)


if __name__ == "__main__":
    main()
