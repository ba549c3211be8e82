from __future__ import annotations

import math

import numpy as np
import pytest

from tests.memory.build import attempt
from trainer.memory.calibration import Forecast, forecasts, score
from trainer.memory.evidence import weigh
from trainer.memory.model import believe
from trainer.record.attempt import Outcome


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
    assert one[2].chance == pytest.approx(before, abs=1e-12)


def test_repeats_of_a_day_are_no_forecasts() -> None:
    log = [attempt(0), attempt(1), attempt(1.01), attempt(1.02)]
    assert len(forecasts(weigh(log, {}))) == 1
