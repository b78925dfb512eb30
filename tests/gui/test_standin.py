"""While the server of the record is away work goes on here; later it is brought over, and said."""

from __future__ import annotations

import pytest

from benchapp.errors import RecordError
from benchapp.gui.standin import StandIn
from benchapp.jobs import AskServer
from benchapp.logbook import Search, Standing, open_logbook
from tests.gui.hand import press
from tests.gui.lotstage import LOT, begin_lot, measure
from tests.logbook.conftest import server, shared  # noqa: F401 - fixtures

AWAY = Standing(state="kept locally", waiting=2, reason="the server must answer")
HERE = Standing(state="kept")


class Kept:
    """What keeping a part gives."""

    def __init__(self, entry):
        self.entry = entry


@pytest.fixture
def asked():
    return []


@pytest.fixture
def standin(qapp, memory, asked):
    memory.record = "postgresql://bench@server/parts"
    made = StandIn(memory, lambda *act: asked.append(act))
    yield made
    made.close()
    made.deleteLater()


@pytest.fixture
def said(standin):
    words = []
    standin.told.connect(words.append)
    return words


def answer(asked, standing):
    asked.pop()[1](standing)


def test_a_record_in_a_file_has_no_server_to_ask(standin, memory, asked):
    memory.record = memory.own_record
    standin.ask()
    standin.settle(Kept(-1))
    assert asked == []
    assert not standin.is_away
    assert standin.address == memory.own_record


def test_the_server_is_asked_after_an_act_but_not_after_each_part(standin, asked):
    standin.settle(Kept(17))
    assert asked == []
    standin.settle("a lot was begun")
    assert asked.pop()[0] == AskServer(record=standin.address)


def test_an_entry_of_the_file_tells_that_the_server_is_away(standin, asked, said):
    standin.settle(Kept(-1))
    answer(asked, AWAY)
    assert standin.is_away
    assert said[-1].mark == "doubt"
    assert said[-1].text == "The server of the record does not answer; work goes on here."
    assert standin.short_words == "record away: up to 2 entries wait here"
    assert "record-away.benchlog on this computer" in standin.words
    standin.settle(Kept(-2))
    assert standin.standing.waiting == 3
    assert asked == [], "it is not asked after each part"
    assert len(said) == 1


def test_a_server_that_is_back_is_told_once(standin, asked, said):
    standin.settle(Kept(-1))
    answer(asked, AWAY)
    standin.settle(Kept(18))
    answer(asked, HERE)
    standin.settle("something")
    answer(asked, HERE)
    assert [one.mark for one in said] == ["doubt", "good"]
    assert said[-1].text == "The server of the record answers again."
    assert not standin.is_away


def test_it_is_asked_again_by_itself(qtbot, standin, asked):
    standin._timer.setInterval(20)
    standin.ask()
    answer(asked, AWAY)
    qtbot.waitUntil(lambda: len(asked) == 1, timeout=5_000)


def test_what_the_server_refuses_is_told(standin, asked, said):
    standin.ask()
    asked.pop()[2](RecordError("record: must be readable (got permission denied).", hint="Ask."))
    assert said[-1].text.startswith("record: must be readable")
    assert said[-1].hint == "Ask."


@pytest.mark.xdist_group("server")
def test_a_lot_goes_on_while_its_server_is_away(qtbot, window, memory, server, shared):  # noqa: F811
    """The server is cut off in the middle of a lot, comes back, and has everything once."""
    memory.record = shared
    begin_lot(qtbot, window)
    measure(qtbot, window, *LOT[:2])
    server.stop()
    try:
        measure(qtbot, window, *LOT[2:4])
        standin = window.lots.recorder.server
        qtbot.waitUntil(lambda: standin.is_away, timeout=20_000)
        assert "does not answer" in window.message.words.text()
        assert window.foot.kept.text().startswith("record away: up to ")
        window.go_station("records")
        page = window.page("records")
        assert page.place.away.isVisible()
        qtbot.waitUntil(lambda: page.table.rows.rowCount() == 2, timeout=20_000)
        window.desk.undo()
        qtbot.waitUntil(lambda: window.desk.state.counted == 3, timeout=20_000)
    finally:
        server.start()
    press(qtbot, page.place.ask)
    qtbot.waitUntil(lambda: not standin.is_away, timeout=20_000)
    assert window.message.words.text() == "The server of the record answers again."
    assert not page.place.away.isVisible()
    measure(qtbot, window, LOT[4])
    with open_logbook(shared) as book:
        rows = book.search(Search())
        assert [(row.serial, row.withdrawn) for row in rows] == [
            *((f"020{at}", False) for at in (1, 2, 3)),
            ("0204", True),
            ("0205", False),
        ]
        assert book.verify() == ()
