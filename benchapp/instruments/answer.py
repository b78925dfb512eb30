"""Answers to numbers, and numbers to impedance; whatever is not as the profile says is refused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import LinkError
from benchapp.instruments.profile import AnswerForm
from benchapp.readers.quantity import RECIPES

__all__ = ["Rows", "impedance", "same", "understand"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """An answer understood: one (N,) array in SI units per role, and why a row is no reading."""

    values: Mapping[str, FloatArray]
    aside: tuple[str, ...]

    @property
    def good(self) -> NDArray[np.bool_]:
        """Which rows are readings."""
        return np.array([not why for why in self.aside], dtype=np.bool_)


def understand(reply: str | bytes, form: AnswerForm, count: int | None = None) -> Rows:
    """Take an answer apart.

    Parameters
    ----------
    reply : str or bytes
        A line of text, or the content of a block.
    form : AnswerForm
    count : int, optional
        How many rows there must be.

    Raises
    ------
    LinkError
        When the answer does not hold the numbers that the profile promises.
    """
    columns = len(form.columns)
    cells = _numbers(reply, form) if isinstance(reply, bytes) else _words(reply, form)
    rows = len(cells) // columns
    if len(cells) % columns or rows == 0 or (count is not None and rows != count):
        wanted = f"{columns} values" + (f" for each of {count} points" if count else " a point")
        raise LinkError(
            f"answer: must hold {wanted} (got {len(cells)}: {_shown(reply)}).",
            hint="Check columns, separator and number in [answer] of the profile.",
        )
    cut = {column.role: cells[place::columns] for place, column in enumerate(form.columns)}
    aside = np.full(rows, "", dtype=object)
    for row, status in enumerate(cut.get("status", ())):
        if not any(same(status, word) for word in form.good):
            aside[row] = f"status {status}"
    values: dict[str, FloatArray] = {}
    for column in form.columns:
        if column.role not in {"skip", "status"}:
            numbers = _floats(cut[column.role], aside == "", reply)
            values[column.role] = numbers * column.factor
            aside[(aside == "") & ~(np.abs(numbers) < form.overload)] = "overload"
    return Rows(values=values, aside=tuple(aside))


def impedance(rows: Rows, frequency: FloatArray) -> ComplexArray:
    """Give the impedance of understood rows by the first recipe whose quantities are there.

    Parameters
    ----------
    frequency : (N,) float, Hz

    Returns
    -------
    (N,) complex, ohm
        Not finite where a row is no reading.
    """
    recipe = next(each for each in RECIPES if set(each.roles) <= set(rows.values))
    main, second = (rows.values[role] for role in recipe.roles)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(recipe.impedance(2 * np.pi * frequency, main, second))


def _words(reply: str, form: AnswerForm) -> list[str]:
    words = reply.split() if form.separator == " " else reply.split(form.separator)
    return [word.strip() for word in words]


def _numbers(reply: bytes, form: AnswerForm) -> FloatArray:
    size = form.dtype.itemsize
    if len(reply) % size:
        raise LinkError(
            f"answer: the block must hold whole numbers of {size} bytes (got {len(reply)} bytes).",
            hint="Check number in [answer] of the profile.",
        )
    return np.frombuffer(reply, dtype=form.dtype).astype(np.float64)


def _floats(
    cells: Sequence[str] | FloatArray, good: NDArray[np.bool_], reply: str | bytes
) -> FloatArray:
    try:
        return np.array(
            [float(cell) if ok else np.nan for cell, ok in zip(cells, good, strict=True)]
        )
    except ValueError as cause:
        raise LinkError(
            f"answer: must hold numbers where the profile says so (got {_shown(reply)}).",
            hint="Check columns and separator in [answer] of the profile.",
        ) from cause


def same(cell: str | float, word: str) -> bool:
    """Tell whether an answer is the wanted one: the same text, or the same number."""
    try:
        return float(cell) == float(word)
    except ValueError:
        return cell == word


def _shown(reply: str | bytes) -> str:
    text = reply if isinstance(reply, str) else f"a block of {len(reply)} bytes"
    return ascii(text[:60])
