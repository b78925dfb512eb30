from __future__ import annotations

import io
import json
import re
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ReadError, UsageError
from benchapp.report.bundle import MANIFEST, bundle_of, open_bundle, safe_name

FILES = {"raw/0201.csv": b"frequency,R,X\n" * 40, "results.json": b"{}", "design.toml": b"x"}
DATA = bundle_of(FILES, {"software": "benchapp 1"})


def packed(files, *, stated=None, level=zipfile.ZIP_DEFLATED):
    """Pack a zip by hand, with the manifest of a true bundle or another."""
    manifest = json.loads(zipfile.ZipFile(io.BytesIO(DATA)).read(MANIFEST))
    if stated is not None:
        manifest["files"] = stated
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", level) as archive:
        archive.writestr(MANIFEST, json.dumps(manifest))
        for name, data in files:
            archive.writestr(name, data)
    return target.getvalue()


def test_a_bundle_opens_with_the_same_files_and_facts():
    manifest, files = open_bundle(DATA)
    assert files == FILES
    assert manifest["software"] == "benchapp 1"


def test_the_same_content_gives_the_same_bytes_in_any_order():
    again = bundle_of(dict(reversed(FILES.items())), {"software": "benchapp 1"})
    assert again == DATA


@pytest.mark.parametrize("name", FILES)
def test_one_changed_byte_is_refused_with_the_name_of_its_file(name):
    changed = {**FILES, name: b"!" + FILES[name][1:]}
    with pytest.raises(ReadError, match=re.escape(name)):
        open_bundle(packed(changed.items()))


@given(st.integers(0, len(DATA) - 1), st.integers(1, 255))
def test_no_changed_byte_ever_changes_a_file_unseen(place, change):
    data = bytearray(DATA)
    data[place] ^= change
    try:
        manifest, files = open_bundle(bytes(data))
    except ReadError:
        return
    assert files == FILES
    assert manifest["software"] == "benchapp 1"


@given(st.binary(max_size=400))
def test_no_bytes_break_the_opening(data):
    with pytest.raises(ReadError, match="must"):
        open_bundle(data)


@given(st.integers(0, len(DATA) - 1))
def test_a_bundle_cut_short_is_refused(length):
    with pytest.raises(ReadError, match="must"):
        open_bundle(DATA[:length])


@pytest.mark.parametrize(
    "name", ["../evil.csv", "/etc/passwd", "a/../../b", "C:/x", "a\\b", "raw//x", ".hidden", "nul"]
)
def test_a_name_that_leads_out_of_the_bundle_is_refused(name):
    with pytest.raises(ReadError, match="must have a plain name that stays inside"):
        open_bundle(packed([*FILES.items(), (name, b"x")]))
    with pytest.raises(UsageError, match="names must be plain and relative"):
        bundle_of({name: b"x"}, {})


def test_a_file_that_unpacks_to_more_than_is_stated_is_refused():
    bomb = packed([("big.bin", bytes(5_000_000))], stated={"big.bin": {"bytes": 10, "sha256": ""}})
    with pytest.raises(ReadError, match=r"'big\.bin'.*have the size"):
        open_bundle(bomb)


def test_a_bundle_that_unpacks_to_too_much_is_refused_before_unpacking(monkeypatch):
    monkeypatch.setattr("benchapp.report.bundle._MOST_BYTES", 1000)
    with pytest.raises(ReadError, match="unpack to 1 GiB at most"):
        open_bundle(packed([("big.bin", bytes(5000))]))


def test_too_many_files_are_refused(monkeypatch):
    monkeypatch.setattr("benchapp.report.bundle._MOST_FILES", 2)
    with pytest.raises(ReadError, match="be one of 2 at most"):
        open_bundle(DATA)


@pytest.mark.parametrize("files", [[*FILES.items(), ("more.csv", b"x")], list(FILES.items())[1:]])
def test_a_file_too_many_or_missing_is_named(files):
    with pytest.raises(ReadError, match="stand both in the manifest and in the bundle"):
        open_bundle(packed(files))


def test_a_file_that_stands_twice_is_refused():
    with pytest.raises(ReadError, match="stand in the bundle once only"):
        open_bundle(packed([*FILES.items(), ("DESIGN.toml", b"y")]))
    with pytest.raises(UsageError, match="differ by more than their case"):
        bundle_of({"a": b"", "A": b""}, {})


@pytest.mark.parametrize(
    ("manifest", "rule"),
    [("[1]", "have the schema"), ("{", "be JSON"), ("[" * 100_000, "be JSON"), (None, "be there")],
)
def test_a_manifest_that_is_none_is_refused(manifest, rule):
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("x" if manifest is None else MANIFEST, manifest or "")
    with pytest.raises(ReadError, match=rule):
        open_bundle(target.getvalue())


@given(st.text())
def test_every_text_becomes_a_name_that_a_bundle_takes(text):
    name = safe_name(text)
    assert open_bundle(bundle_of({f"raw/{name}": b"x"}, {}))[1] == {f"raw/{name}": b"x"}


@pytest.mark.parametrize(
    ("text", "name"),
    [("/etc/passwd", "passwd"), ("..\\..\\a b.csv", "a_b.csv"), ("CON.csv", "part_CON.csv")],
)
def test_a_path_keeps_its_last_name_only(text, name):
    assert safe_name(text) == name
