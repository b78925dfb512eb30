"""The evidence that gathers while one file is being understood."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from benchapp.readers.reading import Answers, Assumption, Question, SetAside

__all__ = ["Notes"]


@dataclass(slots=True, kw_only=True)
class Notes:
    """What one reading has assumed, asked and set aside so far, and the answers it goes by."""

    answers: Answers
    assumptions: list[Assumption] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    set_aside: dict[int, str] = field(default_factory=dict)

    def assume(self, subject: str, value: str, reason: str, confidence: float) -> None:
        """Record an assumption once."""
        made = Assumption(subject=subject, value=value, reason=reason, confidence=confidence)
        if made not in self.assumptions:
            self.assumptions.append(made)

    def ask(
        self,
        name: str,
        text: str,
        *,
        proposed: str | None = None,
        choices: Iterable[str] = (),
        required: bool = False,
    ) -> None:
        """Record a question once for each name."""
        if any(question.name == name for question in self.questions):
            return
        self.questions.append(
            Question(
                name=name,
                text=text,
                proposed=proposed,
                choices=tuple(choices),
                required=required or proposed is None,
            )
        )

    def overrule(self, answered: float, stated: Iterable[float]) -> None:
        """Say where an answered port impedance takes the place of the one in the file, in ohm."""
        differing = [ohm for ohm in stated if ohm != answered]
        if differing:
            words = ", ".join(f"{ohm:g}" for ohm in differing)
            reason = f"answered, in place of the {words} ohm that the file states"
            self.assume("port impedance", f"{answered:g} ohm", reason, 0.9)

    def drop(self, line: int, why: str) -> None:
        """Record a row that is not used; the first reason stays."""
        self.set_aside.setdefault(int(line), why)

    @property
    def rows_set_aside(self) -> tuple[SetAside, ...]:
        """Rows set aside, in the order of the file."""
        return tuple(
            SetAside(line=line, why=self.set_aside[line]) for line in sorted(self.set_aside)
        )
