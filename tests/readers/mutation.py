"""Valid files, damaged by chance: bytes, lines, encodings, very long lines."""

from __future__ import annotations

import numpy as np

MOST = 2_000_000
SNIPPETS = tuple(
    text.encode("latin-1")
    for text in (
        *('"', "'", "\0", "nan", "1e400", "-", "#", "!", ";", "[", "\r", "%s", "|", "\t", ",,,,"),
        *("\xef\xbb\xbf", "\xff\xfe", "9.9E37", "Sweep 2\n", "1e308", "<td>", "[Version] 2.0\n"),
    )
)


def mutated(data: bytes, rng: np.random.Generator) -> bytes:
    """Give the data after one to three mutations."""
    for _ in range(rng.integers(1, 4)):
        data = MUTATIONS[rng.integers(len(MUTATIONS))](data, rng)[: 2 * MOST]
    return data


def _flipped(data: bytes, rng: np.random.Generator) -> bytes:
    signs = bytearray(data)
    for at in rng.integers(0, max(len(signs), 1), rng.integers(1, 20)) if signs else ():
        signs[at] = rng.integers(0, 256)
    return bytes(signs)


def _line_cut(data: bytes, rng: np.random.Generator) -> bytes:
    lines = data.split(b"\n")
    at = rng.integers(len(lines))
    lines[at] = lines[at][: rng.integers(0, len(lines[at]) + 1)]
    return b"\n".join(lines)


def _line_doubled(data: bytes, rng: np.random.Generator) -> bytes:
    lines = data.split(b"\n")
    at = rng.integers(len(lines))
    return b"\n".join([*lines[:at], lines[at], *lines[at:]])


def _shuffled(data: bytes, rng: np.random.Generator) -> bytes:
    lines = data.split(b"\n")
    return b"\n".join(lines[at] for at in rng.permutation(len(lines)))


def _cut(data: bytes, rng: np.random.Generator) -> bytes:
    return data[: rng.integers(0, len(data) + 1)]


def _encoded(data: bytes, rng: np.random.Generator) -> bytes:
    return data.decode("latin-1").encode("utf-16" if rng.random() < 0.5 else "utf-8")


def _half_encoded(data: bytes, rng: np.random.Generator) -> bytes:
    at = rng.integers(0, len(data) + 1)
    return data[:at] + data[at:].decode("latin-1").encode("utf-16-le")


def _long_line(data: bytes, rng: np.random.Generator) -> bytes:
    lines = data.split(b"\n")
    lines[rng.integers(len(lines))] += bytes([rng.integers(32, 127)]) * 1_000_000
    return b"\n".join(lines)


def _hole(data: bytes, rng: np.random.Generator) -> bytes:
    at = rng.integers(0, len(data) + 1)
    return data[:at] + data[at + rng.integers(0, 50) :]


def _sign_changed(data: bytes, rng: np.random.Generator) -> bytes:
    return data.replace(bytes([rng.integers(40, 60)]), bytes([rng.integers(32, 127)]))


def _line_repeated(data: bytes, rng: np.random.Generator) -> bytes:
    lines = data.split(b"\n")
    at = rng.integers(len(lines))
    times = min(int(rng.integers(1, 20_000)), MOST // (len(lines[at]) + 1) + 1)
    lines[at] = (lines[at] + b",") * times
    return b"\n".join(lines)


def _inserted(data: bytes, rng: np.random.Generator) -> bytes:
    at = rng.integers(0, len(data) + 1)
    return data[:at] + SNIPPETS[rng.integers(len(SNIPPETS))] + data[at:]


MUTATIONS = (
    *(_flipped, _line_cut, _line_doubled, _shuffled, _cut, _encoded, _half_encoded),
    *(_long_line, _hole, _sign_changed, _line_repeated, _inserted),
)
