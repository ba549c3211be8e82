"""Do the prices of the listener hold for pieces they were not chosen on?

    python -m tests.benchmarks.hear_prices DIR [--settings 24] [--sway] [--jobs 2] [--json]

The folder is that of `hear_attempts`, with `labels.json` beside it. Each setting scales all prices
and both limits by chances of their own, from half to double. For each piece the setting that fails
least on the other pieces is taken, and judged on the piece that was left out: so no piece has a say
in the prices it is heard with. (The ranges lie around the prices as they are, which were chosen on
these pieces.) --sway instead moves one price after the other to 0.7 and 1.4 times itself, and tells
what fails more or less than with the prices as they are. A row has the failures of each bar.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random
from statistics import median
from typing import Any

from msgspec.structs import fields, replace

from tests.benchmarks.hear_attempts import clips, places, prediction
from trainer.listen.match import Listener
from trainer.listen.model import Costs, Heard, Policy
from trainer.listen.score import waiting_at
from trainer.score.read import read_score

CORE = ("true", "slow", "wrong", "hesitate", "restart", "false_start", "jump", "stop")
STUDENT = ("stutter", "selfcorrect", "heavy", "mix", "async", "right_hand", "left_hand")
PLAIN = ("true", "slow", "wrong")
BARS = {  # the share that is to be right, in percent; a false accept is wrong three times
    "core accepted": 99.5,
    "student accepted": 98.0,
    "heavy accepted": 93.0,
    "rejected": 99.5,
    "noisy rejected": 99.0,
    "which entry": 99.0,
    "restart heard": 98.0,
    "no false restart": 99.5,
    "jump named": 92.0,
    "wrong exact": 98.0,
    "missed exact": 98.0,
}
WEIGHTS = {"rejected": 3, "noisy rejected": 3, "student accepted": 2, "core accepted": 2}

Scales = Mapping[str, float]
Tally = dict[str, tuple[int, int]]  # for each bar: what failed, of how many


def policy(scales: Scales) -> Policy:
    """The policy as it is with some of its numbers scaled; nothing is said on the way."""
    plain = Policy(first=1_000_000)
    costs = {
        name: scale * getattr(Costs(), name) for name, scale in scales.items() if name in NAMES
    }
    return replace(
        plain,
        costs=replace(plain.costs, **costs),
        margin=plain.margin * scales.get("margin", 1.0),
        doubt=plain.doubt * scales.get("doubt", 1.0),
    )


NAMES = tuple(field.name for field in fields(Costs))


def judged(label: Mapping[str, Any], said: Mapping[str, Any]) -> Iterator[tuple[str, bool]]:
    """The bars that an attempt counts for, and whether what was said is right."""
    kind, accept = label["kind"], label["accept"]
    if kind in CORE:
        yield "core accepted", said["accepted"]
    if kind in STUDENT:
        yield "student accepted", said["accepted"]
    if kind == "heavy":
        yield "heavy accepted", said["accepted"]
    if accept is False:
        yield "rejected", not said["accepted"]
        if kind.endswith("_noisy"):
            yield "noisy rejected", not said["accepted"]
    if label["equiv"] and kind not in ("octave", "early"):
        yield "which entry", said["best_entry"] in label["equiv"]
    if kind in ("restart", "false_start"):
        yield "restart heard", said["restarted"]
    if kind in PLAIN:
        yield "no false restart", not said["restarted"]
    if kind == "jump":
        yield "jump named", said["jumped_to"] in label["jump_equiv"]
    if kind == "wrong":
        yield "wrong exact", said["wrong_notes"] == label["wrong"]
        yield "missed exact", said["missed_notes"] == label["missed"]


@dataclass(frozen=True)
class Folder:
    path: Path

    def pieces(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads((self.path / "pieces.json").read_text())
        return found


def piece_tally(folder: Folder, name: str, settings: Sequence[Scales]) -> list[Tally]:
    """What failed in one piece, with each setting."""
    piece = folder.pieces()[name]
    labels = json.loads((folder.path / "labels.json").read_text())
    score = read_score(folder.path / piece["score"])
    ready = waiting_at(score, places(score, piece["entries"]))
    tallies = []
    for setting in settings:
        failed, asked, chosen = Counter[str](), Counter[str](), policy(setting)
        for clip in clips(folder.path, name):
            listener = Listener(ready, clip["asked"], chosen)
            for on, _, pitch, velocity in clip["notes"]:
                listener.hear(Heard(pitch, on, velocity))
            said = prediction(score, listener.end(clip["listen_until"]))
            for bar, right in judged(labels[clip["id"]], said):
                asked[bar] += 1
                failed[bar] += not right
        tallies.append({bar: (failed[bar], asked[bar]) for bar in asked})
    return tallies


def fault(tallies: Sequence[Tally]) -> float:
    """How badly a setting does: the failures of all bars, weighed."""
    return sum(WEIGHTS.get(bar, 1) * bad for tally in tallies for bar, (bad, _) in tally.items())


def summed(tallies: Sequence[Tally]) -> Tally:
    return {
        bar: (
            sum(tally.get(bar, (0, 0))[0] for tally in tallies),
            sum(tally.get(bar, (0, 0))[1] for tally in tallies),
        )
        for bar in BARS
    }


def chance_settings(count: int) -> list[Scales]:
    """All numbers scaled by 0.5 to 2, the middle ones likelier."""
    rng = Random(5)
    return [
        {
            **{name: 2 ** max(-1.0, min(1.0, rng.gauss(0, 0.4))) for name in (*NAMES, "margin")},
            "doubt": 2 ** rng.uniform(-0.1, 0.1),
        }
        for _ in range(count)
    ]


def swayed() -> list[Scales]:
    """The prices as they are, then each number by itself."""
    single = [{name: scale} for name in (*NAMES, "margin") for scale in (0.7, 1.4)]
    return [{}, *single, {"doubt": 0.93}, {"doubt": 1.07}]


def left_out(table: Mapping[str, list[Tally]]) -> dict[str, tuple[int, Tally]]:
    """For each piece the setting that the others would choose, and how it does there."""
    count = len(next(iter(table.values())))
    found = {}
    for name, own in table.items():
        others = [tallies for other, tallies in table.items() if other != name]
        best = min(range(count), key=lambda k: fault([tallies[k] for tallies in others]))
        found[name] = best, own[best]
    return found


def told(tally: Tally) -> dict[str, str]:
    return {bar: f"{bad} of {of}" for bar, (bad, of) in tally.items() if of}


def main() -> None:
    parser = argparse.ArgumentParser(description="Do the listener's prices hold elsewhere?")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--settings", type=int, default=24)
    parser.add_argument("--sway", action="store_true")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    folder = Folder(given.folder)
    settings = swayed() if given.sway else chance_settings(given.settings)
    names = list(folder.pieces())
    with ProcessPoolExecutor(given.jobs) as pool:
        work = partial(piece_tally, folder, settings=settings)
        table = dict(zip(names, pool.map(work, names), strict=True))
    rows = sway_rows(settings, table) if given.sway else rows_left_out(table)
    for row in rows:
        print(json.dumps(row) if given.json else "  ".join(f"{k}: {v}" for k, v in row.items()))


def sway_rows(
    settings: Sequence[Scales], table: Mapping[str, list[Tally]]
) -> Iterator[dict[str, Any]]:
    """What each number changes, in failures more (+) or fewer (-)."""
    plain = summed([tallies[0] for tallies in table.values()])
    yield {"as it is": "", **told(plain)}
    for k, setting in enumerate(settings[1:], start=1):
        tally = summed([tallies[k] for tallies in table.values()])
        ((name, scale),) = setting.items()
        changed = {
            bar: f"{tally[bar][0] - plain[bar][0]:+d}"
            for bar in BARS
            if tally[bar][0] != plain[bar][0]
        }
        yield {f"{name} x {scale}": "", **changed}


def rows_left_out(table: Mapping[str, list[Tally]]) -> Iterator[dict[str, Any]]:
    """The bars on the pieces left out, piece by piece and together."""
    chosen = left_out(table)
    for name, (setting, tally) in chosen.items():
        failed = {bar: f"{bad} of {of}" for bar, (bad, of) in tally.items() if bad}
        yield {"left out": name, "setting": setting, **failed}
    whole = summed([tally for _, tally in chosen.values()])
    for bar, goal in BARS.items():
        bad, of = whole[bar]
        shares = [
            100 * (1 - tally[bar][0] / tally[bar][1])
            for _, tally in chosen.values()
            if tally.get(bar, (0, 0))[1]
        ]
        yield {
            "bar": bar,
            "right": round(100 * (1 - bad / max(1, of)), 1),
            "goal": goal,
            "of": of,
            "worst piece": round(min(shares), 1) if shares else None,
        }
    count = len(next(iter(table.values())))
    faults = sorted(fault([tallies[k] for tallies in table.values()]) for k in range(count))
    yield {"all settings": count, "best": faults[0], "middle": median(faults), "worst": faults[-1]}


if __name__ == "__main__":
    main()
