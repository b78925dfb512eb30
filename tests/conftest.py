"""What every test stands on: no display, no one's settings, the same examples in each run."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# A law that fails must fail for everybody; a shared machine may pause at any moment.
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")


@pytest.fixture(autouse=True)
def _settings_of_nobody(tmp_path_factory, monkeypatch):
    """Keep the settings of the person who runs the tests out of them, and unharmed."""
    monkeypatch.setenv("BENCHAPP_RECORD", str(tmp_path_factory.mktemp("record") / "r.benchlog"))
    monkeypatch.setenv("BENCHAPP_SETTINGS", str(tmp_path_factory.getbasetemp() / "settings"))
