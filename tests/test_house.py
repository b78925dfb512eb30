"""The plan of the house as checks: floors, budgets, docstrings, what stands at the top level."""

from __future__ import annotations

import ast
import io
import shutil
import subprocess
import sys
import tokenize
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "benchapp"
MODULES = sorted(PACKAGE.rglob("*.py"))
BROAD_EXCEPTS = {"benchapp/gui/worker.py", "benchapp/cli/__init__.py"}

_NO_CODE = {
    *(tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE),
    *(tokenize.INDENT, tokenize.DEDENT, tokenize.ENDMARKER),
}


def _name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def _functions(tree: ast.AST) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    return [
        node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


def _length(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of the body, without the docstring."""
    body = node.body
    if ast.get_docstring(node) is not None:
        body = body[1:]
    return 0 if not body else (body[-1].end_lineno or 0) - body[0].lineno + 1


def _public_things(tree: ast.Module) -> list[ast.AST]:
    found: list[ast.AST] = [tree]

    def visit(body: list[ast.stmt]) -> None:
        for node in body:
            named = isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
            if named and not node.name.startswith("_"):
                overload = any(
                    getattr(mark, "attr", getattr(mark, "id", "")) in {"setter", "overload"}
                    for mark in node.decorator_list
                )
                if not overload:
                    found.append(node)
                if isinstance(node, ast.ClassDef):
                    visit(node.body)

    visit(tree.body)
    return found


def test_no_function_is_over_60_lines_and_nine_in_ten_are_within_25():
    lengths = {
        f"{_name(path)}:{node.name}": _length(node)
        for path in MODULES
        for node in _functions(ast.parse(path.read_text(encoding="utf-8")))
    }
    assert {name: lines for name, lines in lengths.items() if lines > 60} == {}
    ordered = sorted(lengths.values())
    assert ordered[int(0.9 * len(ordered))] <= 25


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_module_is_within_600_lines_and_every_public_thing_has_a_docstring(path):
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 600
    tree = ast.parse(text)
    bare = [
        getattr(node, "name", "module")
        for node in _public_things(tree)
        if ast.get_docstring(node) is None
    ]
    assert bare == []


def test_broad_excepts_stand_in_two_places_only():
    broad = {
        _name(path)
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ExceptHandler)
        and (node.type is None or getattr(node.type, "id", "") in {"Exception", "BaseException"})
    }
    assert broad <= BROAD_EXCEPTS


def _code_lines(path: Path) -> int:
    """Count the lines that hold code: no docstring, comment or blank line."""
    text = path.read_text(encoding="utf-8")
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NO_CODE:
            lines.update(range(token.start[0], token.end[0] + 1))
    for node in ast.walk(ast.parse(text)):
        described = isinstance(
            node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef
        )
        if described and ast.get_docstring(node, clean=False) is not None:
            lines.difference_update(range(node.body[0].lineno, node.body[0].end_lineno + 1))
    return len(lines)


def test_tests_are_at_least_as_long_as_the_code():
    """A row of expected values is a case of a test, and counts as a line of it."""
    rows = sum(
        len(path.read_text(encoding="utf-8").splitlines())
        for path in (ROOT / "tests").rglob("*.*")
        if path.suffix in {".csv", ".toml", ".json"}
    )
    tests = sum(_code_lines(path) for path in (ROOT / "tests").rglob("*.py"))
    assert tests + rows >= sum(_code_lines(path) for path in MODULES)


def test_top_level_holds_what_the_plan_names_and_nothing_else():
    git = shutil.which("git")
    assert git is not None
    listed = subprocess.run(
        [git, "ls-files"], cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout.split("\n")
    top = {line.split("/")[0] for line in listed if line}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "benchapp",
        "tests",
        "sample_captures",
        "docs",
    }


def test_every_package_is_installed():
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    packages = set(declared["tool"]["setuptools"]["packages"])
    found = {
        ".".join(path.parent.relative_to(ROOT).parts) for path in PACKAGE.rglob("__init__.py")
    }
    samples = {
        "benchapp." + ".".join(path.relative_to(ROOT).parts)
        for path in [ROOT / "sample_captures", *(ROOT / "sample_captures").rglob("*")]
        if path.is_dir()
    }
    assert packages == found | samples


def test_import_contracts_hold():
    lint = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run(
        [lint, "--no-cache"], cwd=ROOT, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_core_and_command_line_start_without_scipy_qt_visa_or_sqlalchemy():
    rooms = "benchapp.jobs, benchapp.cli"
    code = (
        f"import sys, {rooms}\n"
        "heavy = {'scipy', 'PySide6', 'pyqtgraph', 'pyvisa', 'sqlalchemy'} & set(sys.modules)\n"
        "sys.exit(f'imported at start: {sorted(heavy)}' if heavy else 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
