"""What the Prepare screen tells of one start."""

from __future__ import annotations

from collections.abc import Iterator

from trainer.deck.model import Piece, Start
from trainer.draw.hints import Terms, page_turn
from trainer.draw.text import clean
from trainer.reports.view import where
from trainer.score.cite import Words, place
from trainer.ui.widgets.sheet import Line, ink, row, said, wrapped

REASONS = 2  # lines


def about(
    piece: Piece, start: Start, *, opened: bool, words: Words, size: tuple[int, int]
) -> list[Line]:
    """Place and state, look-alikes, what a person wrote, and in the lines left the reasons.
    `size` is columns and lines."""
    width, height = size
    head = said(f"Start {start.number}, {where(piece, start, words)}", "bold")
    turn = page_turn(piece, start, Terms(words=words))
    state = f"   {'open' if opened else 'not open'}{turn and f'   {turn}'}"
    told = [ink(begins_like(piece, start, words), "$accent"), ink(_written(start))]
    lines: list[Line] = [row(head, ink(state, "$faint")), *(line for line in told if line)]
    return [*lines, *_reasons(start, width, min(REASONS, height - len(lines)))]


def _reasons(start: Start, width: int, height: int) -> list[Line]:
    """The reasons in so many lines; those that find no room are the weakest."""
    reasons = [reason.words for reason in start.reasons]
    for count in range(len(reasons), 0, -1):
        lines = wrapped(f"Begins here: {'; '.join(reasons[:count])}.", width, "$faint")
        if len(lines) <= height:
            return lines
    return []


def begins_like(piece: Piece, start: Start, words: Words) -> str:
    """Which other starts begin like this one, and up to where; empty where none does."""
    alike = piece.deck.likenesses(start.id)
    near = [like for like in alike if like.kind != "shape"]
    numbers = {each.id: each.number for each in piece.deck.starts}

    def told() -> Iterator[str]:
        for like in near or alike:
            number = numbers[like.other if like.one == start.id else like.one]
            parts = like.parts_from(start.id)
            yield (
                str(number)
                if parts is None
                else f"{number} to {place(piece.score, parts, words=words)}"
            )

    head = "Begins like" if near else "Same shape as"
    return f"{head} {'; '.join(told())}." if alike else ""


def _written(start: Start) -> str:
    """What a person wrote for the start."""
    fingering = start.fingering and f"Fingering: {start.fingering}."
    cue = start.cue and f"Cue: {start.cue}."
    advice = " ".join(start.advice)
    told = (advice and f"Advice: {advice}", cue, fingering)
    return clean(" ".join(part for part in told if part))
