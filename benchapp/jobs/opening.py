"""Reading a file with what is answered now and what was answered for files laid out alike."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from benchapp.errors import BenchError, FileAccessError, ReadError, UsageError
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.jobs.settings import AnswerBook
from benchapp.nominal import load_nominal
from benchapp.readers import (
    Answers,
    Assumption,
    Reading,
    Remembered,
    fingerprint,
    may_mislead,
    understand,
)

__all__ = ["EARLIER", "OpenFile"]

EARLIER = "earlier answers"
"""Subject of the assumption that says that remembered answers were used, or could not be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenFile:
    """Read one file and say what was understood.

    ``book`` holds what was answered for files laid out alike: it is used, and said; an answer
    given now overrides it. With ``remember`` the answers go there once the file was read with
    them.

    Raises
    ------
    FileAccessError, ReadError
        When the file cannot be opened or holds no capture; a nominal design is refused as one.
    CancelledError
        When the person stopped it.
    """

    path: str
    answers: Answers = field(default_factory=Answers)
    book: AnswerBook | None = None
    remember: bool = False

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Reading:
        """Read the file."""
        stop_if(cancelled)
        progress(f"reading {self.path}", 0.0)

        def reading(answers: Answers) -> Reading:
            return understand(self.path, answers, progress=progress, cancelled=cancelled)

        try:
            return self._open(reading)
        except ReadError as error:
            if _is_design(self.path):
                raise _no_capture(self.path) from error
            raise

    def _open(self, reading: Callable[[Answers], Reading]) -> Reading:
        known, trouble = _entries(self.book)
        if self.book is None or not (known or self.remember):
            return _noted(reading(self.answers), trouble)
        bare, refusal = _bare(reading)
        name = fingerprint(bare)
        earlier = known[name].answers if name in known else Answers()
        whole = Answers.from_mapping({**earlier.given, **self.answers.given})
        if not whole.given:
            if refusal is not None:
                raise refusal
            return _noted(bare, trouble)
        found, whole = self._with_earlier(reading, earlier, whole, bare)
        if self.remember and self.answers.given:
            layout = " | ".join((bare.reader, *bare.layout))
            trouble = trouble or _kept(self.book, name, Remembered(answers=whole, layout=layout))
        return _noted(found, trouble)

    def _with_earlier(
        self,
        reading: Callable[[Answers], Reading],
        earlier: Answers,
        whole: Answers,
        bare: Reading,
    ) -> tuple[Reading, Answers]:
        """Read with earlier answers too, or without where they do not fit; say which were used."""
        used = {key: value for key, value in earlier.given.items() if whole.given[key] == value}
        if not used or self.book is None:
            return reading(whole), whole
        words = ", ".join(f"{key} = {value}" for key, value in used.items())
        try:
            found = reading(whole)
        except ReadError as error:
            found = self._without(reading, words, error)
            reason = f"they do not fit this file ({error.message}) and stay in {self.book.path}"
            note = Assumption(subject=EARLIER, value="not used", reason=reason, confidence=0.5)
            return _noted(found, note), self.answers
        reason = f"answered before for files laid out alike, kept in {self.book.path}"
        doubt = may_mislead(bare, Answers.from_mapping(used))
        note = Assumption(
            subject=EARLIER,
            value=words,
            reason=f"{reason}; {doubt}" if doubt else reason,
            confidence=0.6 if doubt else 0.9,
        )
        return _noted(found, note), whole

    def _without(
        self, reading: Callable[[Answers], Reading], words: str, refusal: ReadError
    ) -> Reading:
        """Read without the earlier answers, which do not fit."""
        try:
            return reading(self.answers)
        except ReadError as error:
            raise ReadError(
                error.message,
                hint=f"{error.hint} Earlier answers for files laid out alike ({words}) do not "
                f"fit: {refusal.message}",
                **error.facts,
            ) from error


def _bare(reading: Callable[[Answers], Reading]) -> tuple[Reading, ReadError | None]:
    """Read without any answer; where that is refused, give what was understood all the same."""
    try:
        return reading(Answers()), None
    except ReadError as error:
        found = error.facts.get("reading")
        if not isinstance(found, Reading):
            raise
        return found, error


def _kept(book: AnswerBook, name: str, entry: Remembered) -> Assumption | None:
    """Remember answers; where that fails nothing of the reading is lost, but it is said."""
    try:
        book.keep(name, entry)
    except (ReadError, UsageError, FileAccessError) as error:
        return Assumption(
            subject=EARLIER,
            value="not remembered",
            reason=f"{book.path}: {error} The answers hold for now.",
            confidence=0.5,
        )
    return None


def _noted(reading: Reading, note: Assumption | None) -> Reading:
    if note is None:
        return reading
    return replace(reading, assumptions=(note, *reading.assumptions))


def _entries(book: AnswerBook | None) -> tuple[dict[str, Remembered], Assumption | None]:
    """Give what is remembered; a damaged book stops nobody, but is said."""
    if book is None:
        return {}, None
    try:
        return book.entries(), None
    except (ReadError, UsageError, FileAccessError) as error:
        return {}, Assumption(
            subject=EARLIER, value="not used", reason=f"{book.path}: {error}", confidence=0.5
        )


def _is_design(path: str) -> bool:
    if Path(path).suffix.lower() != ".toml":
        return False
    try:
        load_nominal(path)
    except BenchError:
        return False
    return True


def _no_capture(path: str) -> ReadError:
    return ReadError(
        f"{path}: must be a capture (got a nominal design).",
        hint="Open it in the window, or judge a capture by it: "
        f"benchapp compare CAPTURE --nominal {path}",
    )
