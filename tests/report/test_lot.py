from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from benchapp.jobs import JudgeLot, LotRecipe, OpenNominal, not_cancelled, silent
from benchapp.jobs.report import part_file
from benchapp.lot import Conclusion, PlanChoice, summarize
from benchapp.nominal import Limit
from benchapp.report.document import Facts, Figure, Heading, Paragraph, Table
from benchapp.report.html import html_of
from benchapp.report.lot import LotSubject, _thinned, lot_report
from benchapp.report.paper import pdf_of
from benchapp.report.scene import Line
from tests.report.samples import SAMPLES, issue, pages, subject

BAD = "0209"


@cache
def lot():
    """Judge the lot of the samples: thirteen parts, one with a shorted turn."""
    nominal = OpenNominal(path=str(SAMPLES / "ga12.toml"))(silent, not_cancelled)
    job = JudgeLot(folder=str(SAMPLES / "ga12_lot"), recipe=LotRecipe(nominal=nominal))
    found = job(silent, not_cancelled)
    return LotSubject(
        state=found.state,
        summary=found.summary,
        nominal=nominal,
        decision=found.decision,
        parts=tuple(
            replace(part_file(part), name=record.serial)
            for part, record in zip(found.parts, found.state.parts, strict=True)
        ),
    )


def only(document, kind):
    return [block for block in document.blocks if isinstance(block, kind)]


def headings(document):
    return [block.text for block in only(document, Heading)]


def under(document, title):
    """Give the blocks below a heading."""
    blocks = list(document.blocks)
    start = next(i for i, b in enumerate(blocks) if isinstance(b, Heading) and b.text == title)
    found = []
    for block in blocks[start + 1 :]:
        if isinstance(block, Heading):
            break
        found.append(block)
    return found


def test_the_decision_stands_first_with_its_reason():
    first, second = only(lot_report(lot(), issue()), Paragraph)[:2]
    assert (first.text, first.tone) == ("Decision: REJECT", "bad")
    assert second.text == "1 of 13 parts nonconforming, Re 1"


@pytest.mark.parametrize(
    ("decision", "tone"), [("accept", "good"), ("undecided", "doubt"), ("open", "doubt")]
)
def test_a_decision_that_is_none_is_not_shown_as_good(decision, tone):
    document = lot_report(replace(lot(), decision=decision), issue())
    assert only(document, Paragraph)[0].tone == tone


def test_every_part_of_the_report_is_there():
    assert headings(lot_report(lot(), issue())) == [
        *("Lot", "Inspection plan", "Distribution", "Capability", "Sweeps over each other"),
        *("Hints", "All parts", "Worst parts", "Cautions", "Statements"),
    ]


def test_what_the_checks_find_about_the_lot_stands_among_the_hints():
    said = [block.text for block in under(lot_report(lot(), issue()), "Hints")]
    assert any(text.startswith("Capability is stated from 13 parts.") for text in said)
    bare = replace(lot(), summary=replace(lot().summary, findings=()))
    assert "Hints" not in headings(lot_report(bare, issue()))


def test_a_plan_with_zero_acceptance_says_what_it_keeps_out():
    plan = PlanChoice(kind="zero", fraction=0.025, risk=0.05).plan(200)
    found = replace(lot(), state=replace(lot().state, plan=plan))
    (facts,) = under(lot_report(found, issue()), "Inspection plan")
    sample = dict(facts.rows)["Sample"]
    assert "a lot with 2.5 % nonconforming passes with at most 5 %" in sample


def test_every_part_has_one_row_and_a_bad_one_says_why():
    (table,) = under(lot_report(lot(), issue()), "All parts")
    assert [row[0] for row in table.rows] == [record.serial for record in lot().state.parts]
    assert table.header == (
        *("Part", "Attempt", "Outcome"),
        *("L", "f0", "Q at 134.2 kHz", "ESR at 134.2 kHz"),
    )
    said = {row[0]: row[2] for row in table.rows}
    assert said.pop(BAD).startswith("fail: ESR is 21 Ω above the upper limit")
    assert set(said.values()) == {"pass"}


def test_more_quantities_than_fit_come_in_further_tables():
    base = lot()
    more = Limit(quantity="C", unit="F", lower=1e-12, upper=1e-6)
    nominal = replace(base.nominal, limits=(*base.nominal.limits, more))
    wide = replace(base, nominal=nominal, summary=summarize(base.state, nominal))
    first, second = under(lot_report(wide, issue()), "All parts")
    assert second.header == ("Part", "Attempt", "Outcome", "C")
    assert len(first.rows) == len(second.rows) == 13
    assert all(row[3].endswith("pF") for row in second.rows)


def test_figures_and_capability_are_those_of_the_summary():
    document = lot_report(lot(), issue())
    (table,) = under(document, "Distribution")
    inductance = next(one for one in lot().summary.quantities if one.name == "L")
    assert table.rows[0][0] == "L"
    assert table.rows[0][-1] == str(inductance.figures.n) == "13"
    indices, note, *_ = under(document, "Capability")
    row = next(row for row in indices.rows if row[:2] == ("L", "Ppk"))
    assert row[2] == f"{inductance.capability.ppk.value:.2f}"
    assert row[4] == f"{inductance.capability.ppk.lower_bound:.2f}"
    assert "assume a normal distribution" in note.text


def test_each_quantity_has_its_histogram_and_its_chart():
    captions = [figure.caption for figure in only(lot_report(lot(), issue()), Figure)]
    for entry in lot().summary.quantities:
        assert sum(f"Histogram of {entry.name} with" in text for text in captions) == 1
        assert sum(f"Control chart of {entry.name}:" in text for text in captions) == 1


def test_all_sweeps_lie_over_each_other_on_the_envelope():
    (figure,) = under(lot_report(lot(), issue()), "Sweeps over each other")
    assert figure.caption == "13 sweeps; those of parts that are not accepted (1) stand out."
    colours = [mark.colour for mark in figure.scene.marks if isinstance(mark, Line)]
    assert colours.count("#B35900") == 1


def test_the_worst_part_comes_first_with_its_reason_and_envelope():
    figures = under(lot_report(lot(), issue(), worst=3), "Worst parts")
    assert len(figures) == 3
    assert figures[0].caption.startswith(f"{BAD}: fail. ESR is 21 Ω above the upper limit")
    texts = [mark.text for mark in figures[0].scene.marks if hasattr(mark, "text")]
    assert "tolerance envelope" in texts


def test_a_part_that_was_never_judged_ranks_before_good_ones():
    parts = (*lot().parts[:2], replace(lot().parts[2], verdict=None, name="odd"))
    figures = under(lot_report(replace(lot(), parts=parts), issue(), worst=1), "Worst parts")
    assert figures[0].caption.startswith("odd: not judged.")


def test_a_lot_without_sweeps_at_hand_is_still_reported():
    document = lot_report(replace(lot(), parts=()), issue())
    assert "Sweeps over each other" not in headings(document)
    assert "Worst parts" not in headings(document)
    assert "All parts" in headings(document)


def test_unreadable_files_remarks_conclusion_and_reference_are_told():
    end = Conclusion(outcome="concession", name="B. Cole", reason="needed", time="2026-03-01")
    told = replace(
        lot(),
        state=replace(lot().state, conclusion=end),
        unreadable=(("x/<b>.csv", "must be a table"),),
        remarks=("Said twice.",),
        reference="Coil 7: open",
    )
    document = lot_report(told, issue())
    (facts,) = under(document, "Conclusion")
    assert [value for _, value in facts.rows] == ["concession", "B. Cole", "2026-03-01", "needed"]
    assert under(document, "Unreadable files")[0].rows == told.unreadable
    assert "Said twice." in [block.text for block in under(document, "Hints")]
    assert dict(under(document, "Inspection plan")[0].rows)["Reference coil"] == "Coil 7: open"
    assert "<b>" not in html_of(document)


def test_what_is_not_on_the_delivery_is_said_to_be_so():
    (facts,) = under(lot_report(lot(), issue()), "Lot")
    assert isinstance(facts, Facts)
    rows = dict(facts.rows)
    assert rows["Supplier"] == "not stated"
    assert rows["Quantity delivered"] == "13"


def test_the_same_lot_gives_the_same_bytes_and_the_same_paper(tmp_path):
    document = lot_report(lot(), issue())
    assert html_of(document) == html_of(lot_report(lot(), issue()))
    assert pages(pdf_of(document), tmp_path) == pages(pdf_of(lot_report(lot(), issue())), tmp_path)


def test_the_header_of_all_parts_is_on_each_of_its_pages(tmp_path):
    base = lot()
    records = tuple(
        replace(base.state.parts[place % 13], serial=f"S{place:04d}") for place in range(120)
    )
    many = replace(base, state=replace(base.state, parts=records), parts=())
    found = [page for page in pages(pdf_of(lot_report(many, issue())), tmp_path) if "S00" in page]
    assert len(found) > 3
    assert all("Attempt" in page[: page.index("S00")] for page in found)
    seen = [word for page in found for word in page.split() if word.startswith("S0")]
    assert seen == [record.serial for record in records][: len(seen)]


def test_a_thinned_sweep_keeps_ends_and_extremes():
    sweep = subject().capture
    thin = _thinned(sweep, 20)
    assert thin.frequency.size <= 42
    assert (thin.frequency[0], thin.frequency[-1]) == (sweep.frequency[0], sweep.frequency[-1])
    whole, size = np.abs(sweep.impedance), np.abs(thin.impedance)
    assert (size.max(), size.min()) == (whole.max(), whole.min())
    assert np.all(np.isin(thin.frequency, sweep.frequency))
    assert _thinned(sweep, 1000) is sweep


def test_tables_have_a_cell_for_each_column():
    for table in only(lot_report(lot(), issue()), Table):
        assert {len(row) for row in table.rows} <= {len(table.header)}
        assert len(table.widths) in (0, len(table.header))
