"""A sampling plan and what comes of it, in words."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PySide6.QtCore import QT_TR_NOOP

from benchapp.gui.words import number, plural, sentence, tr
from benchapp.lot import LotPlan, LotState

__all__ = [
    "CONCLUSION_WORDS",
    "DECISION_WORDS",
    "ENDED_WORDS",
    "FRACTIONS",
    "acceptance_words",
    "count_words",
    "decision_words",
    "plan_words",
    "whole_shares",
]

FRACTIONS = (0.01, 0.02, 0.05, 0.1, 0.2)
"""Shares of nonconforming parts at which the acceptance of a plan is told."""

CONCLUSION_WORDS = {
    "accept": QT_TR_NOOP("accept the lot"),
    "reject": QT_TR_NOOP("reject the lot"),
    "hold": QT_TR_NOOP("hold it until it is clear"),
    "concession": QT_TR_NOOP("take it by concession"),
}
ENDED_WORDS = {
    "accept": QT_TR_NOOP("accepted"),
    "reject": QT_TR_NOOP("rejected"),
    "hold": QT_TR_NOOP("on hold"),
    "concession": QT_TR_NOOP("taken by concession"),
}
DECISION_WORDS = {
    "open": QT_TR_NOOP("going on"),
    "accept": QT_TR_NOOP("the plan accepts the lot"),
    "reject": QT_TR_NOOP("the plan rejects the lot"),
    "undecided": QT_TR_NOOP("not decided by the count"),
}


def plan_words(plan: LotPlan) -> str:
    """Say what is done by a plan."""
    if plan.everything:
        sentences = [
            plural(
                plan.quantity, tr("The one part is measured."), tr("All %n parts are measured.")
            )
        ]
    else:
        taken = plural(
            plan.n,
            tr("1 of {quantity} parts is measured, drawn at random."),
            tr("%n of {quantity} parts are measured, drawn at random."),
        )
        sentences = [taken.format(quantity=plan.quantity)]
    if plan.kind == "variables":
        words = tr(
            "Mean and spread of each quantity decide: k = {k}, at most {most} % outside (M)."
        )
        share = number(f"{100 * (plan.most or 0):.3g}")
        sentences.append(words.format(k=number(f"{plan.k or 0:.3g}"), most=share))
    else:
        sentences.append(_counts(plan))
    if plan.letter:
        letter = tr("Code letter {letter}").format(letter=plan.letter)
        if plan.used_letter not in ("", plan.letter):
            letter += tr(", by its arrow {letter}").format(letter=plan.used_letter)
        sentences.insert(0, letter + ".")
    if plan.severity_why:
        words = tr("{severity} inspection: {why}.")
        sentences.append(sentence(words.format(severity=plan.severity, why=plan.severity_why)))
    return " ".join(sentences)


def _counts(plan: LotPlan) -> str:
    """Say with how many rejected parts a lot is accepted, and from how many on it is rejected."""
    if not plan.accept:
        words = tr("Accepted only if no part is rejected (Ac 0), rejected from {reject} on")
    else:
        words = plural(
            plan.accept,
            tr("Accepted with at most 1 rejected part (Ac 1), rejected from {reject} on"),
            tr("Accepted with at most %n rejected parts (Ac %n), rejected from {reject} on"),
        )
    return words.format(reject=plan.reject) + f" (Re {plan.reject})."


def whole_shares(plan: LotPlan, fractions: ArrayLike = FRACTIONS) -> NDArray[np.float64]:
    """Give the shares nearest to ``fractions`` that a lot of whole parts can have, none twice."""
    counts = np.unique(np.rint(np.asarray(fractions, dtype=np.float64) * plan.quantity))
    return counts / plan.quantity


def acceptance_words(plan: LotPlan) -> list[tuple[str, str]]:
    """Give pairs: share of nonconforming parts, and how often such a lot is accepted."""
    shares = whole_shares(plan)
    shares = shares[shares > 0]
    chances = plan.acceptance(shares)
    if chances is None:
        return []
    return [
        (number(f"{100 * share:.2g} %"), number(_percent(float(chance))))
        for share, chance in zip(shares, chances, strict=True)
    ]


def _percent(chance: float) -> str:
    if 0 < chance < 0.001:
        return "< 0.1 %"
    return f"{100 * chance:.1f} %"


def count_words(state: LotState) -> str:
    """Say how far a lot is and how it stands."""
    done = tr("{counted} of {n}").format(counted=state.counted, n=state.plan.n)
    rejected = plural(state.rejected, tr("1 rejected"), tr("%n rejected"))
    words = f"{done} · {rejected}"
    if state.plan.kind != "variables":
        words += f" · Ac {state.plan.accept} Re {state.plan.reject}"
    return words


def decision_words(state: LotState) -> tuple[str, str]:
    """Give mark and words of where a lot stands."""
    if state.conclusion is not None:
        marks = {"accept": "good", "reject": "stop", "hold": "unknown", "concession": "doubt"}
        return marks[state.conclusion.outcome], tr(ENDED_WORDS[state.conclusion.outcome])
    marks = {"open": "working", "accept": "good", "reject": "stop", "undecided": "unknown"}
    return marks[state.decision], tr(DECISION_WORDS[state.decision])
