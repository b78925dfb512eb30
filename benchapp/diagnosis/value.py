"""What a diagnosis says: ranked hypotheses about a fault, or causes of a disagreement."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Cause", "Diagnosis", "Disagreement", "Hypothesis"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """One thing that may be wrong with a part.

    ``share`` is its part of the likelihood of all that was considered, 'something else' included,
    each taken as equally frequent. ``as_if`` says which size of the fault fits best, ``evidence``
    what speaks for it, ``next_test`` what would tell it from the others.
    """

    id: str
    title: str
    share: float
    as_if: str
    evidence: tuple[str, ...]
    next_test: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """Hypotheses about one part, the likeliest first; none of them, with the reason.

    ``found`` says in words how the part differs from its design.
    """

    hypotheses: tuple[Hypothesis, ...] = ()
    found: tuple[str, ...] = ()
    reason: str = ""

    @property
    def best(self) -> Hypothesis | None:
        """The likeliest, None where none fits."""
        return self.hypotheses[0] if self.hypotheses else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause that explains why two captures of one part disagree, with its size in words."""

    id: str
    title: str
    share: float
    size: str
    next_test: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """Two captures of one part compared.

    ``agree`` where no difference is beyond their uncertainty; otherwise ``causes`` hold what
    explains it, the likeliest first, and are empty where nothing does. ``differences`` say each
    quantity in words. ``reason`` sums it up.
    """

    first: str
    second: str
    agree: bool
    differences: tuple[str, ...] = ()
    causes: tuple[Cause, ...] = ()
    reason: str = ""

    @property
    def cause(self) -> Cause | None:
        """The likeliest cause, None where they agree or nothing explains the difference."""
        return self.causes[0] if self.causes else None
