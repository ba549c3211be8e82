"""Words of caution, said where they have their place. Rest of five minutes in twenty-five:
common practice among those who treat musicians; none of this is medical advice."""

from __future__ import annotations

FIRST = (
    "Rest: five minutes in every twenty-five at the instrument, away from it.",
    "Stop when anything hurts. If pain persists, see a health professional.",
    "Never stretch a hand to reach a chord played as one block: spread it, or leave notes out.",
    "The figures are for calm practice at home; on stage expect less. If performing frightens "
    "you, talk to your teacher or a health professional.",
)
FAMILY = (
    "Rest for five minutes in every twenty-five at the instrument. Stop when anything hurts; if "
    "pain persists, see a health professional. The program's figures are for calm practice at "
    "home. If performing frightens the player, talk to the teacher or a health professional."
)
REST = (
    "That was twenty-five minutes. Rest for five, away from the instrument.",
    "Stop for today if anything hurts.",
)
WIDE = (
    "Some blocks are wider than the hand: spread them, or leave notes out. Never stretch a hand "
    "to a chord; stop when anything hurts, and ask a teacher or a health professional."
)
