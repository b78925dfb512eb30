"""The guide to the statistics: its example runs and says what it should."""

from __future__ import annotations

import re
from pathlib import Path

GUIDE = Path(__file__).resolve().parent.parent.parent / "docs" / "statistics.md"


def test_the_example_of_the_guide_runs_and_finds_a_suitable_gauge(capsys):
    example = re.search(r"```python\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    assert example is not None
    exec(compile(example[1], str(GUIDE), "exec"), {})
    mean, odd, gauge = capsys.readouterr().out.splitlines()
    assert mean.startswith("mean 1.62")
    assert odd == "[]"
    assert gauge.endswith("of the tolerance: suitable")
