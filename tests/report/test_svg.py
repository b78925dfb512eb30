from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from benchapp.report.scene import Area, Dots, Label, Line, Scene
from benchapp.report.svg import plain, svg_of

NAMESPACE = "{http://www.w3.org/2000/svg}"


def elements(*marks, words="seen"):
    root = ET.fromstring(svg_of(Scene(width=100, height=50, marks=marks, words=words)))
    return list(root)


def test_a_line_is_interrupted_where_a_point_is_not_finite():
    points = np.array([(0, 0), (1, 1), (np.nan, 2), (3, 3), (4, 4)], dtype=float)
    path = elements(Line(points=points, dashed=True))[1]
    assert path.get("d") == "M0 0L1 1M3 3L4 4"
    assert path.get("stroke-dasharray") == "5 4"


def test_discs_are_one_path_and_rings_are_circles():
    points = np.array([(1.0, 2.0), (3.0, 4.5)])
    assert elements(Dots(points=points, radius=1.5))[1].get("d") == "M1 2h0M3 4.5h0"
    rings = elements(Dots(points=points, radius=3, hollow=True))[1:]
    assert [(ring.get("cx"), ring.get("cy")) for ring in rings] == [("1", "2"), ("3", "4.5")]


def test_an_area_is_closed_and_filled():
    area = elements(Area(points=np.array([(0.0, 0.0), (5.0, 0.0), (5.0, 5.0)]), colour="#123456"))[
        1
    ]
    assert area.get("d").endswith("Z")
    assert area.get("fill") == "#123456"


def test_a_turned_label_turns_about_its_place():
    label = elements(Label(x=14, y=30, text="|Z|", turned=True, bold=True))[1]
    assert label.get("transform") == "rotate(-90 14 30)"
    assert label.text == "|Z|"


@given(st.text(), st.text())
def test_any_text_gives_well_formed_svg_with_nothing_added(text, words):
    found = elements(Label(x=1, y=1, text=text), words=words)
    assert [each.tag for each in found] == [f"{NAMESPACE}title", f"{NAMESPACE}text"]


def test_signs_that_no_document_may_hold_are_replaced():
    assert plain("a\x00b\ud800<") == "a\ufffdb\ufffd&lt;"
