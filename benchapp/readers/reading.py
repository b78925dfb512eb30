"""What a reader gives back: captures, and the evidence for every choice behind them.

What the file states is used. What it does not state but shows is an `Assumption` with its reason.
What it cannot show is a `Question` with a proposed answer; `Answers` override both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields

from benchapp.capture import Capture
from benchapp.errors import UsageError

__all__ = ["Answers", "Assumption", "Column", "Question", "Reading", "SetAside"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """One thing that the file does not state outright: what was taken, why, and how surely.

    ``confidence`` lies between 0 and 1; below 0.7 a person should look.
    """

    subject: str
    value: str
    reason: str
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing that the file cannot show.

    ``name`` is the field of `Answers` that settles it. ``proposed`` was used for the captures;
    where it is None, or where ``required`` is set, nothing is read before a person answers.
    """

    name: str
    text: str
    proposed: str | None = None
    choices: tuple[str, ...] = ()
    required: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """One row of the file that was not used (``line`` counts from 1), and why."""

    line: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What one column of the file was taken for (``meaning`` is empty where it was not used)."""

    position: int
    heading: str
    meaning: str
    unit: str = ""


_NUMBERS = ("reference", "probe", "scale")


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What a person answered; None leaves the matter to the evidence in the file.

    ``columns`` names every column in the file's order and replaces its headings, for example
    ``f/kHz, Ls/uH, Q, -`` (a dash leaves a column out).
    """

    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    columns: str | None = None
    frequency_unit: str | None = None
    frequency: str | None = None
    time_unit: str | None = None
    interval: str | None = None
    phase_unit: str | None = None
    level_unit: str | None = None
    model: str | None = None
    sign: str | None = None
    port: str | None = None
    parameter: str | None = None
    reference: float | None = None
    channel: str | None = None
    probe: float | None = None
    scale: float | None = None

    @classmethod
    def from_mapping(cls, given: Mapping[str, object]) -> Answers:
        """Make answers from names and texts, as a command line or a file of answers gives them.

        Raises
        ------
        UsageError
            When a name is unknown or a number is none.
        """
        known = [entry.name for entry in fields(cls)]
        values: dict[str, str | float] = {}
        for name, value in given.items():
            if name not in known:
                raise UsageError(
                    f"answer: must be one of {', '.join(known)} (got {name!r}).",
                    hint="'benchapp read FILE' lists what is asked.",
                )
            values[name] = _number(name, value) if name in _NUMBERS else str(value)
        return cls(**values)  # type: ignore[arg-type]

    @property
    def given(self) -> dict[str, str | float]:
        """The answers that were given, by name."""
        return {name: value for name, value in asdict(self).items() if value is not None}


def _number(name: str, value: object) -> float:
    try:
        number = float(str(value))
    except ValueError:
        number = 0.0
    if not 0 < number < float("inf"):
        raise UsageError(
            f"answer {name}: must be a number above zero (got {value!r}).",
            hint=f"Type for example {name}=50.",
        )
    return number


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """Everything that was understood of one file.

    ``set_aside`` lists the rows that were not used; ``columns`` says what each column was taken
    for, and ``sample`` holds the first lines as written, so that both can be shown side by side.
    ``answers`` are those that it was read with.
    """

    source: str
    reader: str
    sha256: str
    captures: tuple[Capture, ...]
    assumptions: tuple[Assumption, ...] = ()
    questions: tuple[Question, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    columns: tuple[Column, ...] = ()
    sample: tuple[str, ...] = ()
    layout: tuple[str, ...] = ()
    answers: Answers = field(default_factory=Answers)
