"""Frozen values to canonical text and back, bit for bit.

A value becomes JSON with sorted keys and no spaces, in plain ASCII. Each dataclass carries its
name under ``is``. Numbers are written with the fewest digits that give the same float again.
Arrays of up to 16 elements stand in the text as the hexadecimal form of their bytes; longer
arrays and raw bytes become *blobs*, named in the text by their SHA-256.

Layout of a blob that holds an array: its elements one after the other, last index fastest,
little-endian; ``<f8`` is a 64-bit float, ``<c16`` two of them (real, imaginary), ``|b1`` one
byte 0 or 1, ``<i8`` a 64-bit integer (IEEE 754-2019 binary64 for the floats).
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from types import MappingProxyType
from typing import Any

import numpy as np

from benchapp import capture, lot, sampling, uncertainty, units
from benchapp.checks import Acknowledgement, Facts, Finding, LevelPoint
from benchapp.errors import RecordError
from benchapp.fit import result
from benchapp.fit.setting import FitChoices
from benchapp.fixture import Compensation, Corrections
from benchapp.logbook.value import Basis
from benchapp.nominal import value as nominal_value
from benchapp.readers import Answers, Assumption
from benchapp.tank import CapacitorDuty, CapacitorRatings

__all__ = ["KINDS", "canonical", "decode", "encode", "named_blobs", "sha256"]

_ROOMS = (capture, units, result, nominal_value, uncertainty, lot, sampling)
_OTHERS = (
    *(Acknowledgement, Answers, Assumption, Basis, CapacitorDuty, CapacitorRatings),
    *(Compensation, Corrections, Facts, Finding, FitChoices, LevelPoint),
)


def _kinds() -> dict[str, type[Any]]:
    named = [(name, getattr(room, name)) for room in _ROOMS for name in room.__all__]
    return {
        name: kind
        for name, kind in (*named, *((other.__name__, other) for other in _OTHERS))
        if isinstance(kind, type) and (is_dataclass(kind) or issubclass(kind, Enum))
    }


KINDS: Mapping[str, type[Any]] = MappingProxyType(_kinds())
"""Every kind of value that a record may hold, by its name in the text."""

_DTYPES = ("<f8", "<c16", "|b1", "<i8")
_INLINE = 16
_BLOB = re.compile('"blob":"([0-9a-f]{64})"')
_FIELDS: Mapping[type[Any], tuple[str, ...]] = MappingProxyType(
    {
        kind: tuple(entry.name for entry in fields(kind))
        for kind in KINDS.values()
        if is_dataclass(kind)
    }
)
Blobs = dict[str, bytes]


def sha256(content: bytes) -> str:
    """Give the SHA-256 of bytes, hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def canonical(value: Any) -> str:
    """Write a tree of plain values as JSON, the same text for the same tree.

    Raises
    ------
    ValueError, TypeError
        When it holds something that JSON does not know.
    """
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)


def named_blobs(text: str) -> set[str]:
    """Give the digests of the blobs that an encoded text names."""
    # Inside a JSON string the quotes would be escaped, so that no typed text can look like this.
    return set(_BLOB.findall(text))


def encode(value: Any, blobs: Blobs) -> Any:
    """Turn a value into a tree of plain ones; what is long goes into ``blobs`` by its SHA-256.

    Raises
    ------
    RecordError
        When a kind of value has no place in the record.
    """
    kind = type(value)
    if value is None or kind is str or kind is bool or kind is int:
        return value
    if kind is float:
        return value if math.isfinite(value) else {"is": "float", "text": repr(value)}
    names = _FIELDS.get(kind)
    if names is not None:
        tree = {name: encode(getattr(value, name), blobs) for name in names}
        tree["is"] = kind.__name__
        return tree
    if isinstance(value, tuple | list):
        return [encode(entry, blobs) for entry in value]
    return _encode_rare(value, blobs)


def _encode_rare(value: Any, blobs: Blobs) -> Any:
    if isinstance(value, np.ndarray):
        return _encode_array(value, blobs)
    if isinstance(value, Enum):
        return {"is": type(value).__name__, "value": value.value}
    if isinstance(value, bytes):
        return {"is": "bytes", "blob": _put(value, blobs)}
    if isinstance(value, Mapping):
        return {
            "is": "mapping",
            "keys": [encode(key, blobs) for key in value],
            "values": [encode(entry, blobs) for entry in value.values()],
        }
    if isinstance(value, np.generic):
        return encode(value.item(), blobs)
    if isinstance(value, complex):
        return {
            "is": "complex",
            "parts": [encode(part, blobs) for part in (value.real, value.imag)],
        }
    if isinstance(value, str):
        return str(value)
    raise RecordError(
        f"record: must hold values of a known kind (got {type(value).__name__}).",
        hint="Report this: the program handed over something that cannot be kept.",
    )


def _encode_array(array: np.ndarray[Any, Any], blobs: Blobs) -> Any:
    dtype = array.dtype.newbyteorder("<").str
    if dtype not in _DTYPES:
        raise RecordError(
            f"record: must hold arrays of {', '.join(_DTYPES)} (got {array.dtype}).",
            hint="Report this: the program handed over something that cannot be kept.",
        )
    content = np.ascontiguousarray(array, dtype=dtype).tobytes()
    tree: dict[str, Any] = {"is": "array", "dtype": dtype, "shape": list(array.shape)}
    if array.size <= _INLINE:
        return tree | {"hex": content.hex()}
    return tree | {"blob": _put(content, blobs)}


def _put(content: bytes, blobs: Blobs) -> str:
    digest = sha256(content)
    blobs[digest] = content
    return digest


def decode(tree: Any, blob: Callable[[str], bytes]) -> Any:
    """Give the value back that `encode` turned into this tree.

    Parameters
    ----------
    tree : plain values, as JSON reads them
    blob : callable
        Gives the bytes of a blob by its digest.

    Raises
    ------
    RecordError
        When the tree holds a kind or a field that this version does not know.
    """
    if isinstance(tree, list):
        return tuple(decode(entry, blob) for entry in tree)
    if not isinstance(tree, dict):
        return tree
    name = tree.get("is")
    special = _SPECIAL.get(name or "")
    if special is not None:
        return special(tree, blob)
    kind = KINDS.get(name or "")
    if kind is None:
        raise _unknown(f"a kind {name!r}")
    if issubclass(kind, Enum):
        return kind(tree["value"])
    unknown = tree.keys() - {*_FIELDS[kind], "is"}
    if unknown:
        raise _unknown(f"{name} with {', '.join(sorted(unknown))}")
    return kind(**{key: decode(entry, blob) for key, entry in tree.items() if key != "is"})


def _unknown(what: str) -> RecordError:
    return RecordError(
        f"record: must hold kinds of values that this version knows (got {what}).",
        hint="It was written by a newer version of benchapp: open it with that one.",
    )


def _decode_array(tree: dict[str, Any], blob: Callable[[str], bytes]) -> Any:
    content = bytes.fromhex(tree["hex"]) if "hex" in tree else blob(tree["blob"])
    return np.frombuffer(content, dtype=tree["dtype"]).reshape(tree["shape"])


def _decode_mapping(tree: dict[str, Any], blob: Callable[[str], bytes]) -> Any:
    keys = [decode(key, blob) for key in tree["keys"]]
    values = [decode(entry, blob) for entry in tree["values"]]
    return MappingProxyType(dict(zip(keys, values, strict=True)))


_SPECIAL: Mapping[str, Callable[[dict[str, Any], Callable[[str], bytes]], Any]] = MappingProxyType(
    {
        "array": _decode_array,
        "bytes": lambda tree, blob: blob(tree["blob"]),
        "complex": lambda tree, blob: complex(*(decode(part, blob) for part in tree["parts"])),
        "float": lambda tree, _: float(tree["text"]),
        "mapping": _decode_mapping,
    }
)
