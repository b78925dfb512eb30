from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.jobs.study_report import design_stack
from benchapp.nominal import Revision
from benchapp.report.design import Calculation, _lines, calculation_report, design_report
from benchapp.report.document import Caution, Facts, Heading, Paragraph, Table
from benchapp.report.html import html_of
from benchapp.tank import (
    CapacitorRatings,
    Drive,
    Losses,
    TankDesign,
    drive_tank,
    solve,
    stress_cases,
)
from benchapp.units import Quantity
from tests.report.samples import issue, subject


def nominal():
    return subject().nominal


def cases():
    design = TankDesign(
        inductance=Quantity(value=1.62e-3, unit="H"),
        capacitance=Quantity(value=868e-12, unit="F"),
        losses=Losses(coil_resistance=17.0),
        drive=Drive(form="sine", size=10.0),
    )
    sums = solve(design)
    return stress_cases(design, sums, drive_tank(design, sums), CapacitorRatings(dc_volt=630.0))


def tables(document):
    return [block for block in document.blocks if isinstance(block, Table)]


def test_a_design_is_written_down_with_every_limit():
    (limits,) = tables(design_report(nominal(), issue()))
    assert [row[0] for row in limits.rows] == ["L", "f0", "Q at 134.2 kHz", "ESR at 134.2 kHz"]
    assert limits.rows[0][1:] == ("1.62 mH", "1.5714 mH … 1.6686 mH")
    assert limits.rows[3][1:] == ("–", "≤ 22 Ω")


def test_its_stack_up_has_worst_case_shares_and_what_it_takes_for_granted():
    stack, note = design_stack(nominal())
    document = design_report(nominal(), issue(), stack=stack, note=note)
    rows = dict(row for block in document.blocks if isinstance(block, Facts) for row in block.rows)
    assert rows["f0"] == "134.20 kHz"
    assert rows["Worst case"] == "132.23 kHz … 136.26 kHz"
    assert tables(document)[1].rows[0][0] == "L"
    assert any("C has no tolerance" in b.text for b in document.blocks if hasattr(b, "text"))


def test_stress_is_shown_case_by_case_and_what_is_not_known_stays_open():
    document = design_report(nominal(), issue(), cases=cases(), cautions=("hot",))
    table = tables(document)[1]
    assert {len(row) for row in table.rows} == {6}
    by_name = {row[1]: row for row in table.rows}
    assert by_name["peak voltage with DC"][3] == "630.0 V"
    assert by_name["rms current"][3] == "–"
    assert by_name["rms current"][4] == "cannot be judged"
    assert by_name["dV/dt"][2].endswith("V/µs")
    assert [b.text for b in document.blocks if isinstance(b, Caution)] == ["hot"]


def test_the_history_of_a_design_is_kept():
    entry = Revision(revision="B", date="2026-01-02", by="A. Brandt", change="wider <L>")
    text = html_of(design_report(replace(nominal(), history=(entry,)), issue()))
    assert "wider &lt;L&gt;" in text
    assert "History" not in html_of(design_report(nominal(), issue()))


@pytest.mark.parametrize(
    ("line", "kind", "text"),
    [
        ("series tank", Heading, "series tank"),
        ("  no gap here", Paragraph, "no gap here"),
        ("It ends as a sentence does.", Paragraph, "It ends as a sentence does."),
        ("x" * 81, Paragraph, "x" * 81),
    ],
)
def test_a_line_is_a_title_or_running_text(line, kind, text):
    assert list(_lines((line,))) == [kind(text=text)]


@pytest.mark.parametrize(
    ("lines", "rows"),
    [
        (("  L   1 mH  exact",), (("L", "1 mH  exact"),)),
        (("L\t1 mH\texact",), (("L", "1 mH  exact"),)),
        (("  L   1 mH", "          1 to 2 mH"), (("L", "1 mH\n1 to 2 mH"),)),
        (("  L   1 mH", "  C   2 pF"), (("L", "1 mH"), ("C", "2 pF"))),
    ],
)
def test_names_and_values_become_rows(lines, rows):
    assert list(_lines(lines)) == [Facts(rows=rows)]


@given(st.lists(st.text(), max_size=8))
def test_no_line_loses_a_word_or_becomes_markup(lines):
    found = calculation_report(Calculation(title="t", lines=tuple(lines)), issue())
    said = " ".join(
        part
        for block in found.blocks
        for part in (
            [block.text]
            if hasattr(block, "text")
            else [cell for row in getattr(block, "rows", ()) for cell in row]
        )
    )
    for word in " ".join(lines).split():
        assert word in said
    assert "<script" not in html_of(found)


def test_what_was_given_stands_before_the_results():
    document = calculation_report(
        Calculation(title="tank", lines=("x",), given=(("L", "1 mH"),), cautions=("hot",)), issue()
    )
    titles = [block.text for block in document.blocks if isinstance(block, Heading)]
    assert titles == ["Given", "Results", "x", "Cautions", "Statements"]
