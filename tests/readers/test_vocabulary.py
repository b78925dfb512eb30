"""The words themselves: one form, one role, and every role that others rely on."""

from __future__ import annotations

import pytest

from benchapp.readers.heading import meaning_of, normal
from benchapp.readers.quantity import RECIPES
from benchapp.readers.vocabulary import COMBINED, CONDITIONS, DIMENSIONS, FILLERS, WORDS


def test_words_stand_in_the_form_in_which_headings_are_compared():
    assert {word for word in WORDS if normal(word) != word} == set()
    assert {word for word in FILLERS if normal(word) != word} == set()


def test_every_recipe_can_be_reached_by_a_word():
    roles = set(WORDS.values())
    assert {role for recipe in RECIPES for role in recipe.roles} <= roles
    assert set(COMBINED.values()) <= roles
    assert set(CONDITIONS) <= roles
    assert set(DIMENSIONS) <= roles


def test_combinations_join_known_roles():
    assert {role for roles in COMBINED for role in roles} <= set(WORDS.values())


LANGUAGES = {
    "english": ("Frequency", "Impedance", "Phase angle", "Quality factor", "Series resistance"),
    "german": ("Frequenz", "Scheinwiderstand", "Phasenwinkel", "Güte", "Serienwiderstand"),
    "french": ("Fréquence", "Impédance", "Déphasage", "Facteur de qualité", "Résistance série"),
    "spanish": (
        "Frecuencia",
        "Impedancia",
        "Ángulo de fase",
        "Factor de calidad",
        "Resistencia serie",
    ),
    "italian": (
        "Frequenza",
        "Impedenza",
        "Angolo di fase",
        "Fattore di qualità",
        "Resistenza serie",
    ),
    "chinese": ("频率", "阻抗", "相位角", "品质因数", "串联电阻"),
}


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_usual_headings_of_a_language_are_known(language):
    roles = [meaning_of(heading).role for heading in LANGUAGES[language]]
    assert roles == ["f", "|Z|", "theta", "Q", "Rs"]
