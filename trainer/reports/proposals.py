"""Where a score's phrases would begin, before anything is kept."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.phrases.model import Proposal
from trainer.reports.table import Table
from trainer.score.cite import entry
from trainer.score.model import Score


def report(score: Score, proposals: Sequence[Proposal]) -> Table:
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
    return Table(
        "phrases",
        f"{score.title}: {len(rows)} proposed starts",
        ("number", "place", "why here", "offset_ql", "measure_index", "bar", "beat", "strength"),
        tuple(rows),
        tuple(f"Note: {warning}" for warning in score.warnings),
        figures=("number",),
        told="why here",
        hidden=("offset_ql", "measure_index", "bar", "beat", "strength"),
    )
