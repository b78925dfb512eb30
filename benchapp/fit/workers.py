"""Batches on all cores: processes that stay, fed through shared memory.

The calling process works too: it takes slices from the end while the others take them from the
beginning, so that none waits for the slowest and half of the data need never be copied.
"""

from __future__ import annotations

import os
from collections import deque
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import fields, replace
from functools import lru_cache
from multiprocessing import get_context
from multiprocessing.shared_memory import SharedMemory
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from benchapp.capture import ComplexArray, FloatArray, Noise
from benchapp.fit.batch import BatchFit, fit_batch

__all__ = ["Workers"]

_SLICE = 125_000  # points at a time: 2 MB of impedances
_QUEUED = 2  # slices waiting at each process
_OPEN = 16  # blocks of shared memory that a process keeps in sight


@lru_cache(maxsize=_OPEN)
def _attached(name: str) -> SharedMemory:
    """Look into a block of shared memory; its pages are mapped once for all batches."""
    return SharedMemory(name=name)


def _fit_slice(
    name: str, shape: tuple[int, int], frequency: FloatArray, circuit: str, noise: Noise | None
) -> BatchFit:
    """Fit what lies in a block of shared memory; runs in another process."""
    z: ComplexArray = np.ndarray(shape, dtype=np.complex128, buffer=_attached(name).buf)
    return fit_batch(frequency, z, circuit, noise=noise)


class Workers:
    """Processes for `fit_batch`. Use as a context; starting them takes part of a second.

    Parameters
    ----------
    count : int, optional
        Processes including the calling one; as many as there are cores where left out.
    """

    def __init__(self, count: int | None = None) -> None:
        self._others = max((count or os.cpu_count() or 1) - 1, 0)
        self._pool: ProcessPoolExecutor | None = None
        self._memories: list[SharedMemory] = []

    def __enter__(self) -> Workers:
        """Start the processes."""
        self._start()
        return self

    def _start(self) -> None:
        if self._others:
            self._pool = ProcessPoolExecutor(self._others, mp_context=get_context("spawn"))
            warm = [self._pool.submit(os.getpid) for _ in range(self._others)]
            for future in warm:
                future.result()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let the processes end, and give their memory back."""
        for memory in self._memories:
            memory.close()
            memory.unlink()
        self._memories = []
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
            self._pool = None

    def fit_batch(
        self,
        frequency: ArrayLike,
        impedance: ArrayLike,
        circuit: str,
        *,
        noise: Noise | None = None,
    ) -> BatchFit:
        """Do what `benchapp.fit.fit_batch` does for sweeps of one grid, on all cores.

        Parameters
        ----------
        frequency : (M,) float, Hz
        impedance : (N, M) complex, ohm
        circuit : str
        noise : Noise, optional

        Returns
        -------
        BatchFit
            The same numbers, whichever process found them.
        """
        grid = np.asarray(frequency, dtype=np.float64)
        z = np.asarray(impedance, dtype=np.complex128)
        slices = _slices(z)
        if self._pool is None or len(slices) < 2 * (self._others + 1):
            return fit_batch(grid, z, circuit, noise=noise)
        run = _Run(self._pool, self._rooms(z[slices[0]].nbytes), grid, z, circuit, noise)
        try:
            return _joined(run.all(slices))
        except BrokenProcessPool:
            self._start()
            return fit_batch(grid, z, circuit, noise=noise)

    def _rooms(self, size: int) -> list[SharedMemory]:
        """Give blocks of shared memory, kept from one batch to the next."""
        if not self._memories or self._memories[0].size < size:
            for memory in self._memories:
                memory.close()
                memory.unlink()
            count = _QUEUED * self._others
            self._memories = [SharedMemory(create=True, size=size) for _ in range(count)]
        return list(self._memories)


def _slices(z: ComplexArray) -> list[slice]:
    if z.ndim != 2:
        return []
    rows = max(_SLICE // max(z.shape[1], 1), 1)
    return [slice(begin, begin + rows) for begin in range(0, len(z), rows)]


class _Run:
    """One batch under way."""

    def __init__(
        self,
        pool: ProcessPoolExecutor,
        rooms: list[SharedMemory],
        frequency: FloatArray,
        z: ComplexArray,
        circuit: str,
        noise: Noise | None,
    ) -> None:
        self.pool, self.z = pool, z
        self.arguments = (frequency, circuit, noise)
        self.free = rooms
        self.others = len(rooms) // _QUEUED

    def submit(self, rows: slice) -> tuple[Future[Any], SharedMemory]:
        part, memory = self.z[rows], self.free.pop()
        np.ndarray(part.shape, dtype=np.complex128, buffer=memory.buf)[:] = part
        frequency, circuit, noise = self.arguments
        future = self.pool.submit(_fit_slice, memory.name, part.shape, frequency, circuit, noise)
        return future, memory

    def here(self, rows: slice) -> BatchFit:
        frequency, circuit, noise = self.arguments
        return fit_batch(frequency, self.z[rows], circuit, noise=noise)

    def all(self, slices: list[slice]) -> list[BatchFit]:
        """Hand slices out from the beginning, and work on them from the end."""
        parts: dict[int, BatchFit] = {}
        waiting: dict[int, tuple[Future[Any], SharedMemory]] = {}
        left = deque(range(len(slices)))
        while left or waiting:
            for place in [place for place, (future, _) in waiting.items() if future.done()]:
                parts[place] = self.collect(*waiting.pop(place))
            while self.free and len(left) * self.others > len(waiting):  # or all wait for one
                place = left.popleft()
                waiting[place] = self.submit(slices[place])
            if left:
                place = left.pop()
                parts[place] = self.here(slices[place])
            elif waiting:
                place = next(iter(waiting))
                parts[place] = self.collect(*waiting.pop(place))
        return [parts[place] for place in range(len(slices))]

    def collect(self, future: Future[Any], memory: SharedMemory) -> BatchFit:
        """Take a result, and its memory back."""
        found: BatchFit = future.result()
        self.free.append(memory)
        return found


def _joined(parts: list[BatchFit]) -> BatchFit:
    columns: dict[str, Any] = {
        entry.name: np.concatenate([getattr(part, entry.name) for part in parts])
        for entry in fields(BatchFit)
        if isinstance(getattr(parts[0], entry.name), np.ndarray)
    }
    return replace(parts[0], **columns)
