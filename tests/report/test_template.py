from __future__ import annotations

import pytest

from benchapp.errors import FileAccessError, UsageError
from benchapp.report.html import html_of
from benchapp.report.part import part_report
from benchapp.report.template import Template, load_template, with_paper
from tests.report.samples import issue, subject

PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)
WHOLE = """
language = "de"
paper = "Letter"
[house]
name = "Mill Works"
lines = ["1 Mill Lane", "Aberton"]
logo = "logo.png"
foot = "Thank you"
[texts]
"Results" = "Ergebnisse"
"""


def load(folder, text, logo=PNG):
    (folder / "logo.png").write_bytes(logo)
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return load_template(str(path))


def test_house_logo_paper_language_and_texts_reach_the_report(tmp_path):
    template = load(tmp_path, WHOLE)
    document = part_report(subject(), issue(template=template))
    assert (document.paper, document.language) == ("Letter", "de")
    assert document.house.logo == PNG
    text = html_of(document)
    assert "<h2>Ergebnisse</h2>" in text
    assert "Mill Works<br>1 Mill Lane<br>Aberton" in text


def test_an_empty_file_is_the_usual_template(tmp_path):
    assert load(tmp_path, "") == Template()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("papper = 'A4'", "keys of the file must be of"),
        ("[house]\nnom = 'x'", "keys of house must be of"),
        ("paper = 'B5'", "paper must be one of A4, Letter"),
        ("house = 'x'", "house must be a table"),
        ("[house]\nname = 3", "house.name must be a text"),
        ("[house]\nlines = 'x'", "house.lines must be a list of texts"),
        ("[house", "must be TOML in UTF-8"),
        ("[texts]\nNone = 'x'", "must name phrases of reports"),
    ],
)
def test_a_wrong_setting_is_refused_with_what_was_expected(text, words, tmp_path):
    with pytest.raises(UsageError, match=words):
        load(tmp_path, text)


@pytest.mark.parametrize("logo", [b"<svg onload='x'/>", PNG + bytes(1_000_000)])
def test_a_logo_that_is_no_picture_or_too_large_is_refused(logo, tmp_path):
    with pytest.raises(UsageError, match="a logo must be PNG or JPEG of at most 1 MB"):
        load(tmp_path, WHOLE, logo)


def test_a_missing_file_or_logo_is_named(tmp_path):
    with pytest.raises(FileAccessError, match="must be a file that can be read"):
        load_template(str(tmp_path / "no.toml"))
    with pytest.raises(FileAccessError, match=r"none\.png"):
        load(tmp_path, "[house]\nlogo = 'none.png'")


def test_another_paper_is_chosen_and_an_unknown_one_refused():
    assert with_paper(Template(), "Letter").paper == "Letter"
    with pytest.raises(UsageError, match="report: paper must be one of"):
        with_paper(Template(), "A3")
