from __future__ import annotations

import threading
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.bench.fault import FAULTS, Fault
from benchapp.bench.scpi import block
from benchapp.bench.server import BenchServer
from benchapp.errors import CancelledError, LinkError
from benchapp.instruments import Link, LinkSettings
from tests.instruments.conftest import Tape, closing


def opened(link):
    link.open()
    return link


# --- recorded conversations ---------------------------------------------------------------


def test_a_question_gives_its_line_of_answer(play):
    link = opened(play("> FETC?\n< 1.5,2.5"))
    assert link.ask("FETC?") == "1.5,2.5"


def test_an_answer_may_come_in_pieces(play):
    link = opened(play("> FETC?\n<< 1.5,\n<< 2.5\\n"))
    assert link.ask("FETC?") == "1.5,2.5"


def test_a_command_has_no_answer(play):
    link = opened(play("> OUTP ON\n> OUTP?\n< 1"))
    link.tell("OUTP ON")
    assert link.ask("OUTP?") == "1"


@pytest.mark.parametrize("end", ["\n", "\r", "\r\n"])
def test_the_line_end_is_the_chosen_one_in_both_directions(play, end):
    link = opened(play("> A?\n< 1", end=end))
    assert link.ask("A?") == "1"


def test_opening_checks_who_is_there(play):
    link = play("> *IDN?\n< MAKER,METER 5,123,1.0", identify="*IDN?", expect="METER 5")
    assert link.open() == "MAKER,METER 5,123,1.0"
    assert link.identity == "MAKER,METER 5,123,1.0"


def test_another_instrument_than_the_profiles_is_refused(play):
    link = play("> *IDN?\n< MAKER,SCOPE,1,1", identify="*IDN?", expect="METER")
    with pytest.raises(
        LinkError, match=r"identity must contain 'METER' \(got 'MAKER,SCOPE,1,1'\)"
    ):
        link.open()
    assert not link.is_open


def test_after_a_reconnection_it_must_be_the_same_instrument(play):
    link = play("> *IDN?\n< A,B,1,1\n> *IDN?\n< A,B,2,1", identify="*IDN?")
    link.open()
    with pytest.raises(LinkError, match=r"identity must contain 'A,B,1,1' \(got 'A,B,2,1'\)"):
        link.open()


def test_a_late_answer_is_an_error_that_says_what_was_asked_and_what_came(play):
    link = opened(play("> FETC?\n<< 1.5,2"))
    with pytest.raises(
        LinkError, match=r"TAPE: after 'FETC\?' .* within 0.2 s \(got '1.5,2'\).*allow more time"
    ) as error:
        link.ask("FETC?")
    assert error.value.facts["sent"] == "FETC?"
    assert error.value.facts["received"] == "'1.5,2'"


def test_an_answer_with_another_line_end_points_to_the_terminator(play):
    link = opened(play("> FETC?\n<< 1.5,2.5\\r"))
    with pytest.raises(LinkError, match="correct terminator"):
        link.ask("FETC?")


def test_after_a_failure_nothing_more_is_sent_until_the_link_is_opened_again(play):
    link = opened(play("> A?\n> B?\n< 2"))
    with pytest.raises(LinkError, match=r"within 0.2 s"):
        link.ask("A?")
    assert not link.is_open
    with pytest.raises(LinkError, match=r"must be open to send 'B\?' \(got a closed one\)"):
        link.ask("B?")
    link.open()
    assert link.ask("B?") == "2"


def test_two_answers_to_one_question_are_refused(play):
    link = opened(play("> A?\n< 1\n< 2\n> A?\n<< 1\\n2\\n"))
    with pytest.raises(LinkError, match=r"one answer must come \(got more after '1'\)"):
        link.ask("A?")
    link.open()
    with pytest.raises(LinkError, match=r"one line of plain text \(got '1.n2'\)"):
        link.ask("A?")


def test_an_answer_that_nobody_asked_for_stops_the_next_question(play):
    link = opened(play("> SET 1\n< surprise"))
    link.tell("SET 1")
    with pytest.raises(LinkError, match="no answer may wait before the question is asked"):
        link.ask("A?")


@pytest.mark.parametrize("bad", ["\\xff1", "1\\x00"])
def test_an_answer_that_is_no_plain_text_is_refused(play, bad):
    link = opened(play(f"> A?\n<< {bad}\\n"))
    with pytest.raises(LinkError, match="one line of plain text"):
        link.ask("A?")


def test_a_broken_connection_tells_what_had_come(play):
    link = opened(play("> A?\n<< 1,2\nx"))
    with pytest.raises(LinkError, match=r"must stay open .* '1,2' had come before"):
        link.ask("A?")


def test_a_long_answer_is_quoted_shortened(play):
    link = opened(play(f"> A?\n<< {'7' * 500}"))
    with pytest.raises(LinkError, match=f"{'7' * 60}' and 440 more characters"):
        link.ask("A?")


def test_a_block_is_taken_by_its_length_and_may_hold_line_ends(play):
    link = opened(play("> D?\n<< #15\\n\\x00;\\n#\\n"))
    assert link.ask_block("D?") == b"\n\x00;\n#"


def test_the_block_of_the_published_vector_is_read(play):
    """14 numbers of 4 bytes are announced as #256 (IEEE 488.2, as common practice quotes it)."""
    link = opened(play("> D?\n<< #256" + "\\x01" * 56 + "\\n"))
    assert link.ask_block("D?") == b"\x01" * 56


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        ("1.5,2\\n", "the answer must be a block.*got '1.'"),
        ("#0abc\\n", "the answer must be a block.*got '#0'"),
        ("#2xyabc\\n", "the answer must be a block.*got '#2xy'"),
        ("#999999999999\\n", "the answer must be a block.*got '#9999999999'"),
        ("#13abcd\\n", r"must end after the 3 bytes that it promises \(got 'd'\)"),
        ("#15abc\\n", r"whole answer must come within 0.2 s \(got 'abc\\n'\)"),
        ("#13abc", r"whole answer must come within 0.2 s \(got nothing\)"),
        ("#13abc\\n9\\n", r"one answer must come \(got more after '#1'\)"),
    ],
)
def test_a_wrong_block_is_refused_with_what_was_wrong(play, answer, why):
    link = opened(play(f"> D?\n<< {answer}"))
    with pytest.raises(LinkError, match=why):
        link.ask_block("D?")
    assert not link.is_open


def test_a_stop_in_mid_answer_closes_the_link(play, late_cancel):
    link = opened(play("> A?\n<< 1"))
    link.cancelled = late_cancel(2)
    with pytest.raises(CancelledError, match="measurement was stopped"):
        link.ask("A?")
    assert not link.is_open


def test_a_link_closes_itself_at_the_end_of_with():
    tape = Tape("")
    with Link("TAPE", LinkSettings(identify=""), dial=tape) as link:
        assert link.is_open
    assert not link.is_open
    link.close()


def test_an_error_while_dialling_names_the_address():
    def dial(_address, _settings, _cancelled):
        raise LinkError("something must listen (got nobody).", hint="Switch it on.")

    with pytest.raises(LinkError, match=r"ADDRESS: something must listen.*Switch it on"):
        Link("ADDRESS", dial=dial).open()


class Broken(Tape):
    """Breaks when it is asked whether bytes wait."""

    def waiting(self):
        raise LinkError("the connection must stay open (got it closed).")


def test_a_connection_that_breaks_before_the_question_is_told_with_it():
    link = opened(Link("TAPE", LinkSettings(identify=""), dial=Broken("")))
    with pytest.raises(LinkError, match="TAPE: after 'GO' the connection must stay open"):
        link.tell("GO")


def test_a_connection_that_breaks_right_behind_an_answer_is_told_with_it():
    class Later(Tape):
        def waiting(self):
            if not self.lines:
                raise LinkError("the connection must stay open (got it closed).")
            return False

    link = opened(Link("TAPE", LinkSettings(identify=""), dial=Later("> A?\n< 1")))
    with pytest.raises(LinkError, match=r"after 'A\?' the connection must stay open .* '1' had"):
        link.ask("A?")


@given(st.binary(min_size=0, max_size=200))
def test_any_block_arrives_unchanged(content):
    class Once(Tape):
        def write(self, _content):
            self.coming.append(block(content) + b"\n")

    link = opened(Link("TAPE", LinkSettings(identify=""), dial=Once("")))
    assert link.ask_block("D?") == content


# --- over a real socket -------------------------------------------------------------------


class Talker:
    """Answers *IDN? with its name, n? with how many lines it heard, b? with a block."""

    def __init__(self):
        self.count = 0

    def busy(self, _line):
        return 0.0

    def execute(self, line):
        self.count += 1
        replies = {"*IDN?": b"A,B,C,D", "n?": b"%d" % self.count, "b?": block(bytes(5000))}
        return replies.get(line)


FAST = LinkSettings(timeout=0.4, open_timeout=0.4)


def test_a_real_socket_carries_questions_commands_and_blocks():
    with BenchServer(Talker()) as server, Link(server.address, FAST) as link:
        assert link.identity == "A,B,C,D"
        link.tell("set")
        assert link.ask("n?") == "3"
        assert link.ask_block("b?") == bytes(5000)


BROKEN = [(kind, ask) for kind in sorted(FAULTS) for ask in ("text", "block")]
BROKEN = [
    pair
    for pair in BROKEN
    # A stale or a shortened line is a line: what it holds is checked where it is understood.
    if pair[0] not in {"drip", "stale"} and pair != ("length", "text")
]


@pytest.mark.parametrize(("kind", "question"), BROKEN)
def test_every_fault_ends_in_a_plain_error_in_time_and_the_next_talk_is_clean(kind, question):
    ask = {"text": lambda link: link.ask("n?"), "block": lambda link: link.ask_block("b?")}
    with BenchServer(Talker(), faults=(Fault(kind=kind, reply=1),), seed=3) as server:
        link = Link(server.address, FAST)
        with closing(link):
            link.open()
            start = time.monotonic()
            with pytest.raises(LinkError, match="SOCKET: after"):
                ask[question](link)
            assert time.monotonic() - start < 0.4 + 0.3
            if kind == "refused":
                time.sleep(0.6)
            link.open()
            assert int(link.ask("n?")) == server.panel.count


def test_a_stale_answer_passes_the_link_unnoticed_which_is_why_answers_are_checked():
    faults = (Fault(kind="stale", reply=2),)
    with BenchServer(Talker(), faults=faults) as server, Link(server.address, FAST) as link:
        assert [link.ask("n?"), link.ask("n?")] == ["2", "2"]


def test_a_slow_drip_is_cut_at_the_total_deadline_though_bytes_keep_coming():
    """5,007 bytes, one each 20 ms, would take 100 s."""
    with BenchServer(Talker(), faults=(Fault(kind="drip", reply=1),)) as server:
        link = Link(server.address, FAST)
        with closing(link):
            link.open()
            start = time.monotonic()
            with pytest.raises(LinkError, match=r"within 0.4 s"):
                link.ask_block("b?")
            assert time.monotonic() - start < 0.7


@pytest.mark.parametrize("kind", ["stall", "drip"])
def test_a_stop_is_heard_within_200_ms(kind):
    pressed = threading.Event()
    with BenchServer(Talker(), faults=(Fault(kind=kind, reply=1),)) as server:
        link = Link(server.address, LinkSettings(timeout=30.0), cancelled=pressed.is_set)
        with closing(link):
            link.open()
            at = []
            timer = threading.Timer(0.15, lambda: (at.append(time.monotonic()), pressed.set()))
            timer.start()
            with pytest.raises(CancelledError):
                link.ask_block("b?")
            assert time.monotonic() - at[0] < 0.2
            timer.join()


def test_many_commands_in_a_row_do_not_wait_for_acknowledgements():
    """With delayed acknowledgements each pair would take 40 ms, 4 s in all."""
    with BenchServer(Talker()) as server, Link(server.address, FAST) as link:
        start = time.monotonic()
        for _ in range(100):
            link.tell("set")
            link.tell("set")
            link.ask("n?")
        assert time.monotonic() - start < 1.0
