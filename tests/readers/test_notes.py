"""Evidence gathers once, and in the order of the file."""

from __future__ import annotations

from benchapp.readers import Answers
from benchapp.readers.notes import Notes


def test_an_assumption_is_recorded_once():
    notes = Notes(answers=Answers())
    for _ in range(2):
        notes.assume("order", "falling", "seen", 1.0)
    assert len(notes.assumptions) == 1


def test_the_first_question_of_a_name_stays():
    notes = Notes(answers=Answers())
    notes.ask("port", "first", proposed="a", choices=("a", "b"))
    notes.ask("port", "second", proposed="b")
    assert [(asked.text, asked.choices) for asked in notes.questions] == [("first", ("a", "b"))]


def test_a_question_without_a_proposal_must_be_answered():
    notes = Notes(answers=Answers())
    notes.ask("interval", "how long?")
    notes.ask("port", "which?", proposed="a")
    notes.ask("columns", "what?", proposed="f/Hz", required=True)
    assert [asked.required for asked in notes.questions] == [True, False, True]


def test_rows_are_given_in_the_order_of_the_file_with_their_first_reason():
    notes = Notes(answers=Answers())
    notes.drop(9, "late")
    notes.drop(3, "cut")
    notes.drop(9, "again")
    assert [(row.line, row.why) for row in notes.rows_set_aside] == [(3, "cut"), (9, "late")]
