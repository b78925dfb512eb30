"""What must not change a reading: the order of words, blanks, case, the spelling of signs."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import pytest

from benchapp.errors import QuantityError
from benchapp.marking import read_marking

TRUTH = Path(__file__).parent.parent / "truth"


def _known():
    text = (TRUTH / "marking_known.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


KNOWN = _known()
SEVERAL_WORDS = [
    row["code"]
    for row in KNOWN
    if 2 <= len(row["code"].split()) <= 4 and row["source"] in ("volt-code", "class", "ceramic")
]


def _meaning(reading):
    return (
        reading.kind,
        reading.value,
        reading.tolerance_low,
        reading.tolerance_high,
        reading.absolute_tolerance,
        frozenset(reading.ratings),
        reading.dielectric,
        reading.safety_class,
    )


@pytest.mark.parametrize("code", SEVERAL_WORDS)
def test_the_order_of_words_does_not_matter(code):
    first = _meaning(read_marking(code).readings[0])
    for order in itertools.permutations(code.split()):
        assert _meaning(read_marking(" ".join(order)).readings[0]) == first


@pytest.mark.parametrize("code", SEVERAL_WORDS)
def test_blanks_do_not_matter(code):
    first = _meaning(read_marking(code).readings[0])
    wide = "  " + code.replace(" ", " \t\u00a0 ") + "\n"
    assert _meaning(read_marking(wide).readings[0]) == first


@pytest.mark.parametrize(
    ("code", "other"),
    [
        ("0.1µF", "0.1\u03bcF"),
        ("0.1µF", "0.1uF"),
        ("0.1µF", "0,1µF"),
        ("0.1µF", "0,1 µF"),
        ("1µ0", "1u0"),
        ("µ47", "u47"),
        ("4.7kΩ", "4.7k\u2126"),
        ("4.7kΩ", "4.7kohm"),
        ("4.7kΩ", "4.7 kOhm"),
        ("100n ±5%", "100n +/-5%"),
        ("100n ±5%", "100n +- 5 %"),
        ("100n ±5%", "100n 5%"),
        ("22n -20+80%", "22n +80-20%"),
        ("22n -20+80%", "22n -20%+80%"),
        ("22n -20+80%", "22n \u221220/+80 %"),
        ("104 250V", "104/250V"),
        ("104K 250VDC", "104K 250V DC"),
        ("104K 250VDC", "104K 250 V DC"),
        ("104K 250VAC", "104K 250V~"),
        ("104K 250VAC", "104K 250 V AC"),
        ("104K 250VAC", "104K AC250V"),
        ("104K 1kV", "104K 1000V"),
        ("104K 1kV", "104K 1KV"),
        ("C0G 101J", "COG 101J"),
        ("C0G 101J", "NP0 101J"),
        ("C0G 101J", "NPO 101J"),
        ("brown black red gold", "Brown Black Red Gold"),
        ("brown grey red gold", "brown gray red gold"),
        ("violet grey red gold", "purple gray red gold"),
        ("brown black red gold", "BN BK RD GD"),
    ],
)
def test_the_spelling_of_signs_does_not_matter(code, other):
    ours, theirs = read_marking(code).readings, read_marking(other).readings
    strip = [
        (r.kind, r.value, r.tolerance_low, r.tolerance_high, [(x.volt, x.kind) for x in r.ratings])
        for r in ours
    ]
    assert strip == [
        (r.kind, r.value, r.tolerance_low, r.tolerance_high, [(x.volt, x.kind) for x in r.ratings])
        for r in theirs
    ]


@pytest.mark.parametrize(
    ("code", "small"),
    [
        ("104K", "104k"),
        ("104J", "104j"),
        ("104M", "104m"),
        ("103Z", "103z"),
        ("4K7", "4k7"),
        ("47R", "47r"),
        ("X7R", "x7r"),
        ("2J", "2j"),
        ("X2 0.1µF 275V~", "x2 0.1µf 275v~"),
        ("MKP 10n 630V", "mkp 10n 630v"),
    ],
)
def test_letters_without_a_second_meaning_may_be_written_small(code, small):
    wanted = read_marking(code).readings[0]
    found = read_marking(small).readings
    assert any(
        (r.kind, r.value, r.tolerance_high, r.dielectric)
        == (wanted.kind, wanted.value, wanted.tolerance_high, wanted.dielectric)
        for r in found
    )


@pytest.mark.parametrize("row", KNOWN, ids=[row["code"] for row in KNOWN])
def test_asking_for_a_kind_only_leaves_out_the_others(row):
    everything = read_marking(row["code"]).readings
    for kind in ("capacitor", "resistor", "inductor"):
        wanted = [_meaning(entry) for entry in everything if entry.kind == kind]
        try:
            found = [_meaning(entry) for entry in read_marking(row["code"], kind).readings]
        except QuantityError:
            assert wanted == []
            continue
        assert [meaning for meaning in found if meaning in wanted] == wanted


@pytest.mark.parametrize("row", KNOWN, ids=[row["code"] for row in KNOWN])
def test_reading_twice_gives_the_same(row):
    assert read_marking(row["code"]) == read_marking(row["code"])


@pytest.mark.parametrize(
    ("code", "kinds"),
    [
        ("104", {"capacitor", "resistor", "inductor"}),
        ("100", {"capacitor", "resistor", "inductor"}),
        ("4R7", {"capacitor", "resistor", "inductor"}),
        ("47", {"capacitor", "resistor", "inductor"}),
        ("0.1", {"capacitor", "resistor", "inductor"}),
        ("47K", {"capacitor", "resistor", "inductor"}),
        ("4n7", {"capacitor", "inductor"}),
        ("2µ2", {"capacitor", "inductor"}),
        ("4p7", {"capacitor"}),
        ("4M7", {"resistor"}),
        ("470R", {"resistor", "capacitor"}),
        ("68X", {"resistor"}),
        ("27N", {"capacitor", "inductor", "resistor"}),
        ("104 2J", {"capacitor"}),
        ("104 X7R", {"capacitor"}),
        ("104 MKP", {"capacitor"}),
        ("104 X2", {"capacitor"}),
        ("104 250V", {"capacitor"}),
        ("104Z", {"capacitor"}),
        ("330µH", {"inductor", "capacitor"}),
        ("10 5W", {"resistor"}),
    ],
)
def test_kinds_of_part_that_can_carry_a_marking(code, kinds):
    assert {reading.kind for reading in read_marking(code).readings} <= kinds
    first = read_marking(code).readings[0].kind
    assert first in kinds
    if len(kinds) > 1:
        assert len({reading.kind for reading in read_marking(code).readings}) > 1
