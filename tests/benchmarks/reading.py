"""Reading measured: ``python -m tests.benchmarks.reading [FILES] [SEED]``.

Printed: how much of the corpus, of that of an independent writer (ten seeds) and of styles drawn
by chance, is read rightly, after questions, refused or read wrongly; what becomes of FILES
(default 10,000) files damaged by chance, with the slowest and the most memory; a record of a
million rows against ``numpy.loadtxt`` on the same columns; one of 500 MB, stopped.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

from benchapp.errors import BenchError, CancelledError
from benchapp.readers import understand
from tests.readers.corpus import cases
from tests.readers.foreign_corpus import STYLES
from tests.readers.foreign_corpus import corpus as foreign_corpus
from tests.readers.foreign_judge import ASKED, RIGHT, judge
from tests.readers.judging import DOUBTFUL, read_as_proposed, verdict
from tests.readers.mutation import mutated
from tests.readers.styles import damaged_file, ratio_file, record_file, sweep_file
from tests.readers.test_styles import wrong_points


def memory() -> float:
    """Most memory of this process so far, in megabytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000


def corpus(folder: Path) -> None:
    found: Counter[str] = Counter()
    for case in cases():
        path = folder / f"{case.variant}-{case.form}" / case.name
        path.parent.mkdir()
        path.write_bytes(case.data)
        judged, why = verdict(case, path)
        found[judged] += 1
        if judged not in {"right", "asked"}:
            print(f"  {case.variant} {case.form}: {judged}: {why}")
    total = found.total()
    print(f"corpus: {total} files, right {100 * (found['right'] + found['asked']) / total:.1f} %")
    print(f"  {dict(found)}")


def foreign(folder: Path, seeds: range) -> None:
    """Print how the corpus of the independent writer is read, for several seeds of it."""
    found: Counter[tuple[str, str]] = Counter()
    for seed in seeds:
        for case in foreign_corpus(seed):
            path = folder / f"foreign-{seed}-{case.title}" / case.name
            path.parent.mkdir()
            path.write_bytes(case.data)
            judged = judge(case, path)
            found[case.style, judged.verdict] += 1
            if judged.verdict not in {RIGHT, ASKED}:
                print(
                    f"  seed {seed}, {case.title} {case.damages}: {judged.verdict}: {judged.why}"
                )
    right = sum(count for (_, verdict), count in found.items() if verdict in {RIGHT, ASKED})
    print(f"independent corpus: {found.total()} files, right {100 * right / found.total():.1f} %")
    for style in STYLES:
        print(
            f"  {style}: { {verdict: n for (one, verdict), n in found.items() if one == style} }"
        )


def styles(folder: Path, files: int, seed: int) -> None:
    for make in (sweep_file, record_file, ratio_file):
        found: Counter[str] = Counter()
        for number in range(files):
            case = make(np.random.default_rng([seed, number]))
            path = folder / case.name
            path.write_bytes(case.data)
            judged, why = verdict(case, path)
            found[judged] += 1
            if judged not in {"right", "asked"}:
                print(f"  {make.__name__} {number}: {judged}: {why}")
        print(f"styles drawn by chance, {make.__name__}: {dict(found)}")


def silence(folder: Path, files: int, seed: int) -> None:
    found: Counter[str] = Counter()
    for number in range(files):
        case = damaged_file(np.random.default_rng([seed, number]))
        path = folder / case.name
        path.write_bytes(case.data)
        try:
            reading, answers = read_as_proposed(path)
        except BenchError:
            found["refused"] += 1
            continue
        wrong = wrong_points(reading.captures, case.truth[0])
        warned = (
            answers.given
            or reading.questions
            or any(made.confidence < DOUBTFUL for made in reading.assumptions)
        )
        found["right" if not wrong else "flagged" if warned else "silent"] += 1
        if wrong:
            print(f"  damaged {number}: {wrong} wrong points, warned: {bool(warned)}")
    print(f"damaged styles: {dict(found)}")


def damage(folder: Path, files: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    bases = [case for case in cases() if case.variant != 68]
    found: Counter[str] = Counter()
    slowest, longest, before = 0.0, 0.0, memory()
    for _ in range(files):
        case = bases[rng.integers(len(bases))]
        path = folder / case.name
        path.write_bytes(mutated(case.data, rng))
        start, busy = time.perf_counter(), time.process_time()
        try:
            understand(path)
            found["read"] += 1
        except BenchError as refusal:
            found[type(refusal).__name__] += 1
        slowest = max(slowest, time.process_time() - busy)
        longest = max(longest, time.perf_counter() - start)
    print(f"damaged by chance: {files} files, {dict(found)}")
    print(f"  slowest {slowest:.2f} s of the processor, {longest:.2f} s by the clock")
    print(f"  memory {memory():.0f} MB (before {before:.0f} MB)")


def record(folder: Path) -> None:
    path = folder / "record.csv"
    t = (np.arange(1_000_000) - 1000) * 1e-8
    v = np.random.default_rng(1).normal(size=t.size)
    rows = "\n".join(f"{a:.8e},{b:.5f}" for a, b in zip(t, v, strict=True))
    path.write_text(f"Time (s),CH1 (V)\n{rows}\n")
    best = {"loadtxt": np.inf, "understand": np.inf}
    for _ in range(9):
        start = time.perf_counter()
        plain = np.loadtxt(path, delimiter=",", skiprows=1)
        best["loadtxt"] = min(best["loadtxt"], time.perf_counter() - start)
        start = time.perf_counter()
        (capture,) = understand(path).captures
        best["understand"] = min(best["understand"], time.perf_counter() - start)
    same = capture.voltage.tolist() == plain[:, 1].tolist()
    print(f"record of 1,000,000 rows, best of 9, the same numbers: {same}")
    print(f"  {best}, ratio {best['understand'] / best['loadtxt']:.2f}")


def stopped(folder: Path) -> None:
    path = folder / "long.csv"
    with path.open("wb") as stream:
        stream.write(b"Time (s),CH1 (V)\n")
        for block in range(200):
            rows = (
                f"{block * 100_000 + n:012d}e-9,{(n * 7) % 97:011d}e-2\n" for n in range(100_000)
            )
            stream.write("".join(rows).encode())
    told: list[float] = []
    start = time.perf_counter()
    try:
        understand(
            path, progress=lambda _, share: told.append(share), cancelled=lambda: len(told) > 99
        )
    except CancelledError:
        stop = time.perf_counter() - start
        print(f"record of {path.stat().st_size >> 20} MiB: stopped after {stop:.2f} s")
    told.clear()
    start, before = time.perf_counter(), memory()
    understand(path, progress=lambda _, share: told.append(share))
    gaps = np.diff(told).max()
    print(f"  read in {time.perf_counter() - start:.1f} s, {len(told)} steps, largest {gaps:.4f}")
    print(f"  memory {memory():.0f} MB (before {before:.0f} MB)")


def main(files: int = 10_000, seed: int = 1) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        corpus(folder)
        foreign(folder, range(seed + 40, seed + 50))
        styles(folder, files // 5, seed)
        silence(folder, files // 5, seed)
        damage(folder, files, seed)
        record(folder)
        stopped(folder)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
