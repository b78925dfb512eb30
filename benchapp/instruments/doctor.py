"""Test an address step by step, and say at the first trouble what it is and what to do."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from benchapp.errors import LinkError
from benchapp.instruments.link import Cancelled, Dial, Link, LinkSettings, never
from benchapp.instruments.profile import Profile

__all__ = ["Examined", "examine_address"]

ADDRESS = re.compile(r"(TCPIP|ASRL|USB|GPIB|VICP|PXI|VXI|PRLGX)\w*(/\S+|::.+)?", re.IGNORECASE)
IDENTIFY = "*IDN?"
TERMINATORS = {"\n": "LF", "\r\n": "CRLF", "\r": "CR"}
TRY_SECONDS = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """One step: what was tried, whether it went well, what was found, and what to do if not.

    ``seconds`` is how long a step that went well took.
    """

    step: str
    well: bool
    found: str
    advice: str = ""
    seconds: float = 0.0


def examine_address(
    address: str,
    profile: Profile | None = None,
    *,
    backend: str = "",
    cancelled: Cancelled = never,
    dial: Dial | None = None,
) -> Iterator[Examined]:
    """Examine an address; steps come one by one and end at the first that fails.

    Nothing is sent that changes a setting: only questions, and with a profile the commands that
    break off a measurement and switch the output off.

    Parameters
    ----------
    address : str
    profile : Profile, optional
        Its questions are tried too.
    backend : str
        Another VISA library than the profile's.
    cancelled : callable
        Asked while it waits.
    dial : callable, optional
        Opens connections; VISA when left out.

    Yields
    ------
    Examined

    Raises
    ------
    CancelledError
        When stopped.
    """
    well = ADDRESS.fullmatch(address.strip()) is not None
    yield Examined(
        step="address",
        well=well,
        found="has the form of a VISA address" if well else f"{address!r} is no VISA address",
        advice=""
        if well
        else "Write for example TCPIP::192.0.2.7::5025::SOCKET or ASRL/dev/ttyUSB0::INSTR.",
    )
    if not well:
        return
    settings = replace(profile.link if profile else LinkSettings(), identify="")
    settings = replace(settings, backend=backend or settings.backend)
    link = Link(address.strip(), settings, cancelled=cancelled, dial=dial)
    try:
        yield from _steps(link, profile)
    finally:
        link.close()


def _steps(link: Link, profile: Profile | None) -> Iterator[Examined]:
    connected = _tried("connection", link.open, lambda _: "is open")
    yield connected
    if not connected.well:
        return
    question = profile.link.identify if profile else IDENTIFY
    if question:
        answered = _tried("identity", lambda: link.ask(question), str)
        yield answered
        if not answered.well:
            yield from _terminators(link, question)
            return
        wanted = profile.link.expect if profile else ""
        if wanted not in answered.found:
            yield Examined(
                step="profile",
                well=False,
                found=f"the identity does not contain {wanted!r}",
                advice="Choose the profile of the instrument that is there.",
            )
            return
    if profile is not None:
        yield from _questions(link, profile)


def _terminators(link: Link, question: str) -> Iterator[Examined]:
    """Try the other line ends: a wrong one is the most common reason for silence."""
    for end, name in TERMINATORS.items():
        if end == link.settings.terminator:
            continue
        link.settings = replace(link.settings, terminator=end, timeout=TRY_SECONDS)
        tried = _tried("line end", lambda: _again(link, question), str)
        if tried.well:
            yield replace(
                tried,
                found=f"with {name} it answers {tried.found!r}",
                advice=f'Write terminator = "{name}" in [link] of the profile.',
            )
            return
    yield Examined(
        step="line end",
        well=False,
        found="no answer with LF, CR or CRLF",
        advice="Check in the manual whether this address takes remote commands, on which port, "
        "and whether remote control must be switched on at the instrument.",
    )


def _again(link: Link, question: str) -> str:
    link.open()
    return link.ask(question)


def _questions(link: Link, profile: Profile) -> Iterator[Examined]:
    """Switch the output off, and try the questions that need no measurement."""

    def off() -> None:
        for text in (*profile.commands("abort"), *profile.commands("output_off")):
            link.tell(text)

    yield _tried("output off", off, lambda _: "sent")
    for name in ("output", "error", "done"):
        question = profile.ask.get(name)
        if question is not None and link.is_open:
            yield _tried(name, lambda question=question: link.ask(question), str)  # type: ignore[misc]


def _tried(step: str, act: Callable[[], object], told: Callable[[object], str]) -> Examined:
    """Do one step and say what came of it."""
    start = time.monotonic()
    try:
        found = told(act())
    except LinkError as trouble:
        return Examined(step=step, well=False, found=trouble.message, advice=trouble.hint)
    return Examined(step=step, well=True, found=found, seconds=time.monotonic() - start)
