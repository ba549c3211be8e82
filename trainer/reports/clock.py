"""A clock that is wrong, as the log shows it: an attempt that lies ahead of now.

Attempts count by their instants and practice days, so that a wrong clock makes a wrong record.
It is said where the day is shown and before something is recorded.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from trainer.record.log import Log

MARGIN = timedelta(minutes=5)  # that the clocks of two sound machines may differ by


def warning(log: Log, now: datetime) -> str:
    """What to do where the newest attempt of a log lies ahead of `now` (aware, local); "" where
    none does."""
    later = log.later(now + MARGIN)
    if not later:
        return ""
    newest = later[-1].at.astimezone(now.tzinfo)
    return (
        f"The newest attempt is dated {_told(newest)}, but this computer's clock says"
        f" {_told(now)}: set the clock right before you practise. If it is right, the attempt was"
        " recorded by a wrong clock: `trainer take-back` takes it back."
    )


def _told(at: datetime) -> str:
    return f"{at.day} {at:%B %Y, %H:%M}"
