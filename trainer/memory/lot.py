"""Which starts are spot-checked when: by lot from names alone, whatever is believed of them."""

from __future__ import annotations

from datetime import date
from hashlib import sha256

PROBE_DAYS = 14  # a start's own probe day comes about once in so many


def is_probe(student: str, start: str, day: date) -> bool:
    """Whether that day is the start's own probe day."""
    drawn = sha256(f"{student}\n{start}\n{day.isoformat()}".encode()).digest()
    return int.from_bytes(drawn[:4]) % PROBE_DAYS == 0
