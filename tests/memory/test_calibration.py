from __future__ import annotations

import math

import numpy as np
import pytest

from tests.memory.build import attempt
from trainer.memory import calibration
from trainer.memory.calibration import Forecast, forecasts, refit, score
from trainer.memory.curve import DEFAULT, Law
from trainer.memory.evidence import Try, weigh
from trainer.memory.lot import is_probe
from trainer.memory.model import believe
from trainer.record.attempt import Outcome, practice_day


def test_scores_against_the_formulas_by_hand() -> None:
    made = [Forecast(0.8, True), Forecast(0.8, False), Forecast(0.3, False), Forecast(0.35, True)]
    scored = score(made)
    assert scored is not None
    assert scored.loss == pytest.approx(
        -(math.log(0.8) + math.log(0.2) + math.log(0.7) + math.log(0.35)) / 4
    )
    assert scored.base == pytest.approx(math.log(2))
    assert scored.brier == pytest.approx((0.04 + 0.64 + 0.09 + 0.65**2) / 4)
    assert scored.error == pytest.approx((2 * 0.3 + 2 * 0.175) / 4)
    assert [b.count for b in scored.bins] == [0, 0, 0, 2, 0, 0, 0, 0, 2, 0]
    assert scored.skill == pytest.approx(1 - scored.loss / math.log(2))
    assert not scored.telling


def test_no_forecasts_no_score_and_all_held_no_skill() -> None:
    assert score([]) is None
    sure = score([Forecast(0.9, True)] * 3)
    assert sure is not None
    assert sure.skill is None


def test_a_perfect_forecaster_has_no_error_and_a_bold_one_has() -> None:
    rng = np.random.default_rng(3)
    chances = rng.uniform(0, 1, 20000)
    held = rng.uniform(0, 1, 20000) < chances
    honest = score([Forecast(float(c), bool(h)) for c, h in zip(chances, held, strict=True)])
    bold = score(
        [Forecast(float(c > 0.5) * 0.9 + 0.05, bool(h)) for c, h in zip(chances, held, strict=True)]
    )
    assert honest is not None
    assert bold is not None
    assert honest.error < 0.015 < 0.1 < bold.error
    assert honest.skill is not None
    assert bold.skill is not None
    assert honest.skill > bold.skill


def test_a_forecast_knows_nothing_of_its_own_try_or_later_ones() -> None:
    log = [attempt(d, outcome=Outcome.THROUGH) for d in (0, 1, 3, 8)]
    other = [*log[:3], attempt(8, outcome=Outcome.NOTHING), attempt(20)]
    one, two = forecasts(weigh(log, {})), forecasts(weigh(other, {}))
    assert [f.chance for f in one] == [f.chance for f in two[:3]]
    assert [f.held for f in two[:3]] == [True, True, False]
    assert len(one) == 3  # the first try is no forecast
    before = believe(weigh(log[:3], {})).expected(["s1"], log[3].at)[0]
    assert one[2].chance == pytest.approx(before, abs=0.01)


def test_repeats_of_a_day_are_no_forecasts() -> None:
    log = [attempt(0), attempt(1), attempt(1.01), attempt(1.02)]
    assert len(forecasts(weigh(log, {}))) == 1


def test_probe_days_come_by_lot_about_once_in_a_fortnight() -> None:
    days = [practice_day(attempt(d).at) for d in range(1400)]
    drawn = [is_probe("p", "s1", day) for day in days]
    assert 70 < sum(drawn) < 130  # 100 expected, sd 9.6
    assert drawn != [is_probe("p", "s2", day) for day in days]


def tries_of(law: Law, seed: int, days: int, starts: int = 8) -> tuple[Try, ...]:
    """A student who follows `law`, every start about every third day."""
    rng = np.random.default_rng(seed)
    h: dict[int, float] = {}
    last: dict[int, float] = {}
    log = []
    for day in range(days):
        for i in range(starts):
            if rng.random() > 0.35:
                continue
            now = day + i / 100
            r = float(law.retained(now - last[i], h[i])) if i in h else 0.0
            held = bool(rng.random() < law.observed(r))
            if i not in h:
                h[i] = law.half_life
            else:
                h[i] = (
                    law.after_success(h[i], r, 1.0, law.gain) if held else law.after_drop(h[i], 1)
                )
            last[i] = now
            log.append(attempt(now, f"s{i}", Outcome.THROUGH if held else Outcome.NOTHING))
    return weigh(log, {})


def test_a_short_log_keeps_the_constants_of_everybody() -> None:
    assert refit(tries_of(DEFAULT, 1, 20)) == DEFAULT


def test_a_refit_is_kept_only_where_the_newest_fifth_is_foretold_better(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unlike = Law(half_life=0.1, gain=2.0, psi=1.6)
    tries = tries_of(unlike, 3, 115)

    def search(_f: object, z: list[float]) -> list[float]:
        return z

    monkeypatch.setattr(calibration, "_lowest", search)
    for fitted, kept in ((unlike, unlike), (Law(half_life=9.0, gain=20.0), DEFAULT)):

        def found(_z: list[float], law: Law = fitted) -> Law:
            return law

        monkeypatch.setattr(calibration, "_law", found)
        assert refit(tries) == kept


def test_the_refit_lowers_the_misfit_of_a_student_unlike_the_rest() -> None:
    tries = tries_of(Law(half_life=0.1, gain=2.0, psi=1.6), 3, 115)
    start = [0.0] * len(calibration.OWN)
    cut = len(tries) * 4 // 5
    found = calibration._lowest(lambda z: calibration._misfit(z, tries[:cut]), start, rounds=2)
    assert calibration._misfit(found, tries[:cut]) < calibration._misfit(start, tries[:cut]) - 2


def test_the_search_finds_the_foot_of_a_crooked_valley() -> None:
    """Rosenbrock's function (Rosenbrock 1960, Comput J 3:175-184), lowest at (1, 1)."""
    found = calibration._lowest(
        lambda z: (1 - z[0]) ** 2 + 100 * (z[1] - z[0] ** 2) ** 2, [-1.2, 1.0], rounds=200
    )
    assert found == pytest.approx([1, 1], abs=0.1)
