"""The Verdict page can be read from afar, says which limit decides, and what to do next."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QApplication, QLabel

from benchapp.checks import Acknowledgement, Finding
from benchapp.errors import FitError
from benchapp.gui import theme
from benchapp.gui.theme import DARK, LIGHT
from benchapp.gui.verdictpage import VerdictPage, deciding_words, next_words, sweeps_needed
from benchapp.nominal import LimitVerdict, Outcome, Verdict
from tests.gui.factories import (
    ESR_LIMIT,
    L_LIMIT,
    judged,
    judged_limit,
    nominal,
    reading,
    sweep,
    verdict,
)
from tests.gui.stage import activate

PIXELS_PER_MM = 96 / 25.4


@pytest.fixture
def page(qtbot, session):
    made = VerdictPage(session)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def decide(session, direct, decision, *captures, **changes):
    session.use_nominal(nominal())
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(*(captures or (sweep(11),))))
    task = direct.take("result")
    task.done(judged(task.job.capture, verdict=decision, **changes))


@pytest.mark.parametrize(
    ("outcome", "word"),
    [
        (Outcome.PASS, "Pass"),
        (Outcome.CONDITIONAL_PASS, "Conditional pass"),
        (Outcome.CONDITIONAL_FAIL, "Conditional fail"),
        (Outcome.FAIL, "Fail"),
        (Outcome.NOT_JUDGED, "Not judged"),
    ],
)
@pytest.mark.parametrize("width", [960, 1280, 1920])
def test_the_word_is_legible_at_two_metres(qtbot, page, session, direct, outcome, word, width):
    """Capitals of 10 mm at 96 dots per inch: 1/200 of the distance, common practice for signs."""
    page.resize(width, width * 9 // 16)
    decide(session, direct, verdict(outcome))
    assert page.banner.word == word

    metrics = QFontMetricsF(page.banner.letters())
    assert metrics.capHeight() >= 10 * PIXELS_PER_MM
    assert metrics.horizontalAdvance(word) <= page.banner.width() - page.banner.height()


def test_the_deciding_limit_is_named(page, session, direct):
    decide(session, direct, verdict(Outcome.FAIL, value=1.70e-3, margin=-1.9))
    assert page.sentence.text() == "tank.csv: L is 1.9\u00a0% outside its limit."


def test_a_pass_names_the_limit_that_comes_nearest():
    decision = Verdict(outcome=Outcome.PASS, limits=(judged_limit(margin=2.2),))
    assert deciding_words(decision) == "Every limit is kept; L comes nearest to one: 2.2 % inside."


@pytest.mark.parametrize(
    ("outcome", "margin", "side", "chance", "words"),
    [
        (Outcome.CONDITIONAL_PASS, 0.2, "0.20 % inside", 0.06, "6 %"),
        (Outcome.CONDITIONAL_PASS, 0.3, "0.30 % inside", 0.0001, "below 0.1 %"),
        (Outcome.CONDITIONAL_FAIL, -0.1, "0.10 % outside", 0.9999, "above 99.9 %"),
    ],
)
def test_a_doubt_says_how_near_and_how_likely(outcome, margin, side, chance, words):
    entry = judged_limit(outcome, margin=margin, chance=chance)
    assert deciding_words(Verdict(outcome=outcome, limits=(entry,))) == (
        f"L is {side} its limit, less than the guard band. "
        f"Chance that it is really outside: {words}."
    )


def test_what_is_not_judged_says_why():
    decision = Verdict(outcome=Outcome.NOT_JUDGED, reason="the fit did not settle")
    assert deciding_words(decision) == "the fit did not settle"
    assert deciding_words(Verdict(outcome=Outcome.NOT_JUDGED)) == "No limit could be judged."


def test_a_failed_limit_that_was_not_measured_gives_the_reason_of_the_verdict():
    entry = LimitVerdict(limit=L_LIMIT, outcome=Outcome.FAIL)
    assert deciding_words(Verdict(outcome=Outcome.FAIL, limits=(entry,), reason="why")) == "why"


def test_every_limit_has_a_row_with_value_range_outcome_and_margin(page, session, direct):
    decide(session, direct, verdict(Outcome.CONDITIONAL_PASS, margin=0.2))
    grid = page.table._grid
    row = [grid.itemAtPosition(0, column).widget() for column in range(7)]
    texts = [widget.text() for widget in row if hasattr(widget, "text")]
    assert texts == [
        "L",
        "1.6315 ± 0.0020 mH",
        "1.62 mH ±3 %",
        "conditional pass",
        "0.20 % inside",
    ]
    assert len(page.table.gauges) == 3


@pytest.mark.parametrize(
    ("guard", "value", "needed"),
    [
        (4e-6, 1.6666e-3, 4),
        (4e-6, 1.6676e-3, 16),
        (4e-6, 1.6685e-3, None),
        (4e-6, 1.60e-3, None),
        (0.0, 1.6666e-3, None),
        (4e-6, 1.6686e-3, None),
    ],
)
def test_averaging_that_would_settle_the_doubt_is_counted(guard, value, needed):
    """U falls with the square root of the number of sweeps: n = (guard / distance)^2."""
    entry = LimitVerdict(
        limit=L_LIMIT,
        outcome=Outcome.CONDITIONAL_PASS,
        measured=judged_limit(value=value).measured,
        expanded=guard,
        guard=guard,
    )
    assert sweeps_needed(entry) == needed


def test_a_limit_without_a_value_cannot_be_settled_by_averaging():
    assert sweeps_needed(LimitVerdict(limit=ESR_LIMIT, outcome=Outcome.NOT_JUDGED)) is None


def test_advice_fits_the_outcome():
    doubtful = judged_limit(Outcome.CONDITIONAL_PASS, value=1.6666e-3, expanded=4e-6, margin=0.12)
    decision = Verdict(outcome=Outcome.CONDITIONAL_PASS, limits=(doubtful,))
    words = next_words(judged(verdict=decision))
    assert words[0] == "Average 4 sweeps: where U is mostly noise, that settles it."
    assert "keep both results" in words[1]
    assert next_words(judged(verdict=verdict())) == ["Nothing more to do: take the next part."]
    assert "Set the part apart" in next_words(judged(verdict=verdict(Outcome.FAIL)))[0]
    assert next_words(judged(verdict=None)) == ["Open a nominal design to have the part judged."]


def test_a_verdict_that_was_withheld_gives_the_advice_of_what_stopped_it():
    stop = Finding(id="sign", level="stop", text="The sign is wrong.", advice="Swap the sign.")
    withheld = Verdict(outcome=Outcome.NOT_JUDGED, reason="The sign is wrong.")
    assert next_words(judged(verdict=withheld, findings=(stop,))) == ["Swap the sign."]
    (general,) = next_words(judged(verdict=withheld, findings=()))
    assert general.startswith("Look at the warnings")


def test_the_rule_and_the_conditions_are_told(page, session, direct):
    decide(session, direct, verdict(), findings=())
    assert page.how.text() == (
        "Gate antenna coil GA-12: guard band 1 × U, U = 2 u. Measured: 1\u00a0V · 23\u00a0°C."
    )


def test_warnings_stand_beside_the_verdict_with_who_accepted_them(page, session, direct):
    who = Acknowledgement(check="edge", name="A. Brandt", reason="search only")
    warnings = (
        Finding(id="edge", level="warn", text="Close to the edge.", acknowledged=who),
        Finding(id="x", level="warn", text="Loaded."),
        Finding(id="y", level="note", text="Low."),
    )
    decide(session, direct, verdict(), findings=warnings)
    said = [label.text() for label in page.beside.findChildren(QLabel)]
    assert said == [
        "Warnings beside the verdict",
        "Loaded.",
        "Accepted by A. Brandt (search only): Close to the edge.",
    ]


def test_a_new_verdict_is_seen_from_its_top(qtbot, page, session, direct):
    page.resize(960, 460)
    decide(session, direct, verdict(), sweep(11), sweep(21))
    qtbot.waitUntil(lambda: page.verticalScrollBar().maximum() > 0)
    page.verticalScrollBar().setValue(200)
    assert page.verticalScrollBar().value() > 0
    session.next_part()
    assert page.verticalScrollBar().value() == 0


def test_with_nothing_open_the_page_offers_to_open(qtbot, page):
    assert page.banner.word == "Nothing to judge"
    assert page.nominal.isVisible()
    with qtbot.waitSignal(page.wants_nominal):
        qtbot.mouseClick(page.nominal, Qt.MouseButton.LeftButton)
    with qtbot.waitSignal(page.wants_capture):
        qtbot.mouseClick(page.capture, Qt.MouseButton.LeftButton)


def test_without_a_design_the_part_is_not_judged(page, session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(11)))
    assert page.banner.word == "Working"
    task = direct.take("result")
    task.done(judged(task.job.capture, verdict=None, nominal=None))
    assert page.banner.word == "Not judged"
    assert page.sentence.text() == "tank.csv: no nominal design is open."
    assert page.nominal.property("role") == "main"
    assert page.how.text() == ""


def test_a_capture_that_cannot_be_fitted_is_not_judged(page, session, direct):
    session.use_nominal(nominal())
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(3)))
    direct.take("result").failed(FitError("fit: must have 4 points (got 3).", hint="Sweep on."))
    assert page.banner.word == "Not judged"
    assert "must have 4 points" in page.sentence.text()


def test_space_takes_the_next_part(qtbot, page, session, direct):
    decide(session, direct, verdict(), sweep(11), sweep(21), sweep(31))
    page.setFocus()
    assert page.next.isVisible()
    qtbot.keyClick(page, Qt.Key.Key_Space)
    assert session.position == 1
    qtbot.mouseClick(page.next, Qt.MouseButton.LeftButton)
    assert session.position == 2
    assert not page.next.isVisible()
    qtbot.keyClick(page, Qt.Key.Key_Space)
    assert session.position == 2


@pytest.mark.parametrize("size", [(960, 460), (1092, 520), (1280, 700), (1920, 980)])
def test_nothing_is_wider_than_the_page(qtbot, page, session, direct, size):
    page.resize(*size)
    decide(session, direct, verdict(Outcome.CONDITIONAL_FAIL, margin=-0.1))
    qtbot.wait(5)
    assert page.widget().minimumSizeHint().width() <= page.viewport().width()
    assert page.widget().width() == page.viewport().width()


@pytest.mark.parametrize("dress", [LIGHT, DARK], ids=lambda one: one.name)
def test_the_banner_is_painted_in_the_colour_of_the_outcome(qapp, page, session, direct, dress):

    theme.apply(qapp, dress)
    decide(session, direct, verdict(Outcome.FAIL))
    image = page.banner.grab().toImage()
    counts = {}
    for x in range(0, image.width(), 3):
        for y in range(0, image.height(), 3):
            color = image.pixelColor(x, y).name().upper()
            counts[color] = counts.get(color, 0) + 1
    assert counts.get(dress.stop.upper(), 0) > 100


def test_letters_stay_large_after_a_change_of_colours(qtbot, qapp, page, session, direct):
    decide(session, direct, verdict())
    labels = (page.sentence, page.advice, page.table._grid.itemAtPosition(0, 1).widget())
    before = [label.font().pointSizeF() for label in labels]
    assert before[0] > 1.3 * qapp.font().pointSizeF()
    theme.apply(qapp, DARK)
    qtbot.wait(10)
    assert [label.font().pointSizeF() for label in labels] == pytest.approx(before)


def test_a_page_that_fits_a_small_window_is_not_scrolled(page, session, direct):
    warnings = tuple(
        Finding(id=f"w-{at}", level="warn", text="Open and short are 9.5 hours old. " * 2)
        for at in range(3)
    )
    decide(session, direct, verdict(), findings=warnings)
    activate_all()
    assert page.verticalScrollBar().maximum() == 0
    page.resize(1280, 300)
    activate_all()
    assert page.verticalScrollBar().maximum() > 0


def activate_all():
    for _ in range(3):
        QApplication.processEvents()
