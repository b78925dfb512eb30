"""The choices about a fit leave it to the data unless a person says otherwise."""

from __future__ import annotations

from dataclasses import fields

from benchapp.fit.setting import FitChoices


def test_without_a_choice_everything_is_left_to_the_data():
    assert FitChoices() == FitChoices(circuit="auto", fix=(), band=None, set_aside=())
    assert len(fields(FitChoices)) == 4
