"""The window: the only room that knows Qt. Importing it imports no Qt; `run` does."""

from __future__ import annotations

from collections.abc import Sequence

from benchapp.gui.display import missing

__all__ = ["missing", "run"]


def run(paths: Sequence[str], nominal: str | None = None) -> int:
    """Open the window on captures and work until it is closed.

    Parameters
    ----------
    paths : sequence of str
        Captures to open, nominal designs (``.toml``) among them; none for the first-start page.
    nominal : str, optional
        Nominal design to judge them by.

    Returns
    -------
    int
        Exit status: 0.

    Notes
    -----
    Ask `missing` first: without a display Qt ends the whole process.
    """
    from benchapp.gui import app  # start-up: Qt only once a display is known to be there

    return app.run(paths, nominal)
