"""Where a record is: a file, or a database on a server."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote, unquote, urlsplit

from benchapp.errors import UsageError
from benchapp.logbook.value import Standing

if TYPE_CHECKING:
    from benchapp.logbook.store import Logbook

__all__ = [
    "OWN",
    "SERVER",
    "Address",
    "Choices",
    "default_address",
    "open_logbook",
    "parse_address",
    "with_standby",
]

OWN = "BENCHAPP_RECORD"
"""The environment variable that names another record."""

SERVER = "postgresql+psycopg://"
_NAME = "record.benchlog"
_STANDBY = "standby"


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where a record is: ``text`` is the path of a file or the address of a server's database.

    ``standby`` is the file that takes new entries while the server is away, "" for none.
    """

    text: str
    on_server: bool
    standby: str = ""


def with_standby(text: str, path: str) -> str:
    """Give the address of a server with the file that stands in for it while it is away.

    The address of a file, and one that names a file already, stay as they are.
    """
    if "://" not in text or parse_address(text).standby:
        return text
    return f"{text}{'&' if '?' in text else '?'}{_STANDBY}={quote(path, safe='')}"


def parse_address(text: str) -> Address:
    """Tell a file from a server, whose address may name a standby: ``?standby=FILE``.

    Raises
    ------
    UsageError
        When it is empty, names a server in a form that is not known, or holds a password.
    """
    if "://" not in text:
        if not text.strip():
            raise UsageError(
                "record: must be a file or the address of a server (got nothing).",
                hint=f"For example: parts.benchlog, or {SERVER}bench@host/parts",
            )
        return Address(text=text, on_server=False)
    form, _, rest = text.partition("://")
    if form not in ("postgresql", "postgresql+psycopg"):
        raise UsageError(
            f"record: must be a file or an address {SERVER}... (got {form}://).",
            hint=f"For example: {SERVER}bench@host/parts",
        )
    rest, standby = _parted(rest)
    parts = urlsplit(f"postgresql://{rest}")
    if parts.password is not None or "password" in unquote(parts.query).lower():
        raise UsageError(
            "record: the address must not hold a password (got one).",
            hint="Put it into the password file of PostgreSQL (~/.pgpass, or the file that "
            "PGPASSFILE names), or into PGPASSWORD: it is taken from there and kept nowhere.",
        )
    return Address(text=SERVER + rest, on_server=True, standby=standby)


def _parted(rest: str) -> tuple[str, str]:
    """Take the standby out of what an address says behind its question mark."""
    place, _, query = rest.partition("?")
    words = [one for one in query.split("&") if one]
    found = [one for one in words if one.startswith(f"{_STANDBY}=")]
    others = "&".join(one for one in words if one not in found)
    standby = unquote(found[-1].partition("=")[2]) if found else ""
    return (f"{place}?{others}" if others else place), standby


def default_address(environment: Mapping[str, str]) -> str:
    """Give the record that is used where none is named.

    ``BENCHAPP_RECORD`` names it outright. Otherwise it is a file in the usual folder for a
    person's data: XDG Base Directory Specification 0.8 (Linux), the local profile (Windows), the
    library (macOS).
    """
    if environment.get(OWN):
        return environment[OWN]
    if sys.platform == "win32" and environment.get("LOCALAPPDATA"):
        return str(Path(environment["LOCALAPPDATA"]) / "benchapp" / _NAME)
    home = Path.home()
    if sys.platform == "darwin":
        return str(home / "Library" / "Application Support" / "benchapp" / _NAME)
    stated = environment.get("XDG_DATA_HOME", "")
    folder = Path(stated) if Path(stated).is_absolute() else home / ".local" / "share"
    return str(folder / "benchapp" / _NAME)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """How a record is opened.

    ``bench`` names the bench that writes (None: this computer). ``create`` False refuses a record
    that does not exist. ``standby`` is a file that takes new entries while the server is away,
    after ``patience`` seconds; ``watch`` is told each change of the standing.
    """

    bench: str | None = None
    create: bool = True
    standby: str | None = None
    patience: float = 30.0
    watch: Callable[[Standing], None] | None = None


def open_logbook(
    address: str | Path,
    *,
    bench: str | None = None,
    create: bool = True,
    choices: Choices | None = None,
) -> Logbook:
    """Open a record, and make it where there is none yet.

    Parameters
    ----------
    address : str or Path
        Path of a file, or ``postgresql+psycopg://user@host/database``, with ``?standby=FILE``
        where a file is to take new entries while the server is away.
    bench : str, optional
        Name of the bench that writes; the name of this computer where it is left out.
    create : bool
        False refuses a record that does not exist.
    choices : Choices, optional
        More of them, in place of ``bench`` and ``create``.

    Returns
    -------
    Logbook
        To be used in a ``with`` statement.

    Raises
    ------
    RecordError
        When it cannot be opened, is no record, or was written by a newer version.
    UsageError
        When the address cannot be understood.
    """
    from benchapp.logbook.store import Logbook  # start-up: sqlalchemy only when needed

    where = parse_address(str(address))
    return Logbook(where, choices=choices or Choices(bench=bench, create=create))
