"""Where a score's phrases would begin, before anything is kept."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.document.model import Column, Document, Table, listed
from trainer.phrases.model import Proposal
from trainer.score.cite import counted, entry
from trainer.score.model import Score

COLUMNS = (
    Column("number", kind="figure"),
    Column("place"),
    Column("reasons", "why here", "sentence"),
    *(Column(key, hidden=True) for key in ("offset_ql", "measure_index", "bar", "beat")),
    Column("strength", hidden=True),
)


def report(score: Score, proposals: Sequence[Proposal]) -> Document:
    """Each proposed start with its place, its strength and its reasons.

    `offset_ql` is in quarter notes from the start in score order, repeats not unfolded;
    `measure_index` counts bars in document order from 0.
    """
    rows = []
    for number, proposal in enumerate(proposals, 1):
        bar = score.bar_at(proposal.onset)
        rows.append(
            (
                number,
                entry(score, proposal.onset),
                "; ".join(reason.words for reason in proposal.reasons),
                float(proposal.onset),
                bar.index,
                bar.label,
                round(float(bar.beat_at(proposal.onset)), 6),
                proposal.strength,
            )
        )
    title = f"{score.title}: {counted(len(rows), 'proposed start')}"
    notes = tuple(f"Note: {warning}" for warning in score.warnings)
    return listed("phrases", title, Table(COLUMNS, tuple(rows)), notes)
