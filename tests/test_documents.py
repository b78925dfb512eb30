"""Documentation as a test subject: its commands run, its links lead somewhere."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from benchapp.__main__ import main

ROOT = Path(__file__).resolve().parent.parent
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").glob("*.md")])
WRITES = re.compile(r"--(plot|report|csv|out|record) (\S+)")


def _commands() -> list[tuple[str, str]]:
    found = []
    for page in PAGES:
        for block in re.findall(
            r"^```sh\n(.*?)^```", page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE
        ):
            lines = block.replace("\\\n", " ").splitlines()
            found += [(page.name, line) for line in lines if line.startswith("benchapp ")]
    return found


COMMANDS = _commands()


@pytest.mark.parametrize(("page", "command"), COMMANDS, ids=[line for _, line in COMMANDS])
def test_a_command_of_the_documents_runs_as_written(
    qapp, page, command, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(ROOT)
    redirected = WRITES.sub(lambda match: f"--{match[1]} {tmp_path / match[2]}", command)
    words = shlex.split(redirected.split("  #")[0])
    if "--help" in words:
        with pytest.raises(SystemExit) as left:
            main(words[1:])
        assert left.value.code == 0
    else:
        stated = re.search(r"  # .*exit status (\d)", command)
        wanted = int(stated[1]) if stated else 0
        assert main(words[1:]) == wanted, capsys.readouterr().err
    assert capsys.readouterr().out.strip()


def test_the_documents_show_commands():
    assert {page for page, _ in COMMANDS} >= {"README.md", "command_line.md"}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_and_picture_of_a_page_exists(page):
    code = re.compile(r"```.*?```|`[^`\n]*`|^ {4}.*?$", re.DOTALL | re.MULTILINE)
    text = code.sub("", page.read_text(encoding="utf-8"))
    targets = re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", text)
    missing = [
        target
        for target in targets
        if not target.startswith("http") and not (page.parent / target).exists()
    ]
    assert missing == []


def test_readme_opens_with_the_job_in_one_paragraph_before_anything_else():
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "# benchapp"
    paragraph = lines[2 : lines.index("", 2)]
    assert 4 <= len(paragraph) <= 9
    assert not any(line.startswith(("#", "!", "-", "|")) for line in paragraph)


def test_the_run_command_is_one_line_after_its_mark():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = re.search(r"<!-- run command -->\n```sh\n(.*?)```", text, re.DOTALL)
    assert block is not None
    assert len(block[1].strip().splitlines()) == 1
