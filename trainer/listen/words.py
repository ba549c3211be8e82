"""A verdict in words and as data, with the numbers and places of a piece. Pure."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer.listen.model import exact
from trainer.score.cite import BRITISH, Words, place, value_word
from trainer.values import plain

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.listen.model import Verdict

UNEVEN = 0.75  # steadiness below which the tempo is called uneven
_MARK = {"kind": "", "pitch": 0, "onset": None, "time": None, "instead": None, "earlier": False}


def sentences(verdict: Verdict, piece: Piece, words: Words = BRITISH) -> list[str]:
    """What was heard, the answer first."""
    told = [headline(verdict, piece, words)]
    if verdict.answer == "unsure":
        told.append("This is not certain; listen yourself.")
    if not verdict.played:
        return told
    told += _beginning(verdict)
    told += _way(verdict, piece, words)
    if verdict.tempo:
        even = "" if (verdict.steadiness or 0) >= UNEVEN else ", uneven"
        told.append(f"About {verdict.tempo:.0f} {value_word(Fraction(1), words)}s a minute{even}.")
    return told


def headline(verdict: Verdict, piece: Piece, words: Words = BRITISH) -> str:
    """The answer in one sentence."""
    asked = number(piece, verdict.asked)
    if not verdict.notes:
        return f"Nothing was played; start {asked} was called."
    if verdict.shift and not verdict.accepted and verdict.played == verdict.asked:
        return f"Start {asked}, but {_off(verdict.shift)}."
    if not verdict.played:
        return f"Nothing of the piece was recognised; start {asked} was called."
    if verdict.accepted:
        hand = "" if verdict.hands == "both" else f", the {verdict.hands} hand alone"
        shift = f", {_off(verdict.shift)}" if verdict.shift else ""
        return f"Start {asked}, as called{hand}{shift}."
    if verdict.played == verdict.asked:
        return f"Start {asked}, but with the {verdict.hands} hand alone."
    told = f"Start {number(piece, verdict.played)}'s opening, but {asked} was called"
    home = float(piece.deck.start(verdict.asked).onset)
    if verdict.parts is not None and verdict.parts > home:  # else from the first note on
        told += f"; they part at {where(piece, verdict.parts, words)}"
    return f"{told}."


def _off(shift: int) -> str:
    side = "up" if shift > 0 else "down"
    if shift % 12 == 0:
        return f"an octave too {'high' if shift > 0 else 'low'}"
    return f"{abs(shift)} semitone{'s' * (abs(shift) != 1)} {side}"


def _beginning(verdict: Verdict) -> list[str]:
    told = []
    if verdict.latency is not None:
        upbeat = ", with the notes that lead into it" if verdict.upbeat else ""
        told.append(f"The first note came after {verdict.latency:.1f} seconds{upbeat}.")
    if verdict.restarts:
        at = ", ".join(f"{seconds:.1f}" for seconds in verdict.restarts)
        told.append(f"Begun again at {at} seconds.")
    if verdict.counted:
        told.append(notes_sentence(verdict) or "All notes right.")
    return told


def notes_sentence(verdict: Verdict) -> str:
    """How many notes were wrong, missed or extra; "" where all were right."""
    notes = [
        f"{count} {what}"
        for count, what in (
            (verdict.wrong, "wrong"),
            (verdict.missed, "missed"),
            (verdict.extra, "extra"),
        )
        if count
    ]
    return f"Notes: {', '.join(notes)}." if notes else ""


def _way(verdict: Verdict, piece: Piece, words: Words) -> list[str]:
    told = []
    broke = "" if verdict.broke_at is None else where(piece, verdict.broke_at, words)
    if verdict.jump:
        told.append(f"Left at {broke}, and went on from start {number(piece, verdict.jump.to)}.")
    for pause in verdict.pauses:
        before = where(piece, pause.onset, words)
        told.append(f"Hesitated {pause.seconds:.1f} seconds before {before}.")
    ends = piece.end_of(piece.deck.start(verdict.played)) >= piece.score.end
    aim = "the end" if ends else "the next phrase"
    if verdict.join_reached:
        told.append(f"Went {'to' if ends else 'into'} {aim}.")
    elif verdict.stopped and not verdict.jump:
        told.append(f"Stopped at {broke}.")
    elif verdict.reached is not None and not verdict.jump:
        told.append(f"Came to {where(piece, verdict.reached, words)}, not to {aim}.")
    return told


def where(piece: Piece, onset: float, words: Words = BRITISH) -> str:
    """The place of a position (ql), as printed music is cited."""
    return place(piece.score, exact(onset), words=words)


def number(piece: Piece, start_id: str) -> int:
    return piece.deck.start(start_id).number


def as_data(verdict: Verdict, piece: Piece, words: Words = BRITISH) -> dict[str, Any]:
    """The verdict's fields, starts by number, with the places and the sentences beside them."""
    data: dict[str, Any] = plain(verdict)
    data["asked"] = number(piece, verdict.asked)
    data["played"] = number(piece, verdict.played) if verdict.played else None
    data["same"] = [number(piece, one) for one in verdict.same]
    if verdict.jump:
        same = [number(piece, one) for one in verdict.jump.same]
        data["jump"] = {**data["jump"], "to": number(piece, verdict.jump.to), "same": same}
    for name in ("broke_at", "reached", "parts"):
        onset = getattr(verdict, name)
        data[name] = _placed(onset, piece, words)
    data["marks"] = [
        {**_MARK, **plain(mark), "onset": _placed(mark.onset, piece, words)}
        for mark in verdict.marks
    ]
    data["sentences"] = sentences(verdict, piece, words)
    return data


def _placed(onset: float | None, piece: Piece, words: Words) -> dict[str, Any] | None:
    return None if onset is None else {"ql": onset, "place": where(piece, onset, words)}
