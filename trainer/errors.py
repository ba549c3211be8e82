"""One kind of error for everything a person can put right."""

from __future__ import annotations


class TrainerError(Exception):
    """Says what was wrong, where, and what to do next, in one sentence for the user.

    The message is shown as it is, so it must be plain text without control characters.
    """
