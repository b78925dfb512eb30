"""The results in words are the core's numbers, and what is missing is named."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.gui.tanksheet import EXAMPLE, work_out
from benchapp.gui.tankwords import (
    POWERS,
    driven_answers,
    link_answers,
    safety_of,
    sums_answers,
    tolerance_answers,
    watts,
    why_not_driven,
    why_not_stacked,
)
from benchapp.gui.words import percent, quantity
from benchapp.tank import DEFERRING, simulate

WORKED = work_out(EXAMPLE)


def by_name(answers):
    return {one.name: one for one in answers}


def test_every_sum_is_that_of_the_core():
    found, sums = by_name(sums_answers(WORKED)), WORKED.sums
    expected = {
        "f0": (sums.frequency.nominal, "Hz"),
        "Z tank": (sums.z_tank, "ohm"),
        "Q": (sums.q, "1"),
        "Q loaded": (sums.q_loaded, "1"),
        "BW": (sums.bandwidth, "Hz"),
        "decay time τ": (sums.decay_time, "s"),
    }
    for name, (value, unit) in expected.items():
        assert found[name].value == quantity(value, unit), name
    assert found["f0"].remark.startswith("worked out · 130.9 to 137.7 kHz")
    assert found["zero phase"].remark == "at f0"
    assert "|Z| greatest" not in found


def test_zero_phase_and_greatest_impedance_of_a_parallel_tank_stand_apart():
    """At Q 5 the zero phase of a lossy coil with an ideal capacitor lies 2.0 % below f0."""
    worked = work_out({"L": "1 mH", "C": "1 nF", "coil_q": "5", "circuit": "parallel"})
    found = by_name(sums_answers(worked))
    assert found["zero phase"].remark == "−2.0 % from f0"
    assert found["|Z| greatest"].remark == quantity(worked.sums.terminal_impedance, "ohm")


def test_without_a_loss_there_is_no_q_and_it_is_said_what_to_state():
    found = by_name(sums_answers(work_out({"L": "1 mH", "C": "1 nF"})))
    assert found["Q"].value == ""
    assert found["Q"].remark == "state the coil's R or Q"
    assert "BW" not in found


def test_ranges_of_f0_are_those_of_the_core_and_of_the_drawn_tanks():
    drawn = simulate(WORKED.stack_up, np.random.default_rng(1), 50_000)
    found = by_name(tolerance_answers(WORKED, drawn))
    assert found["worst case"].value == "130.9 to 137.7 kHz"
    assert found["worst case"].remark == "−2.4 % +2.6 %"
    assert found["95 of 100 tanks"].tip.count("50 000") == 1
    assert found["outside the band"].value == f"{100 * drawn.outside:.2f} %"
    low, high = drawn.outside_interval
    assert found["outside the band"].remark == f"of tanks, {100 * low:.2f} % to {100 * high:.2f} %"
    assert "95 of 100 tanks" not in by_name(tolerance_answers(WORKED, None))


def test_what_to_tighten_makes_the_squares_fit_the_band():
    value = by_name(tolerance_answers(WORKED, None))["tighten first"].value
    assert value.startswith("L to ±")
    tolerance = float(value.removeprefix("L to ±").removesuffix(" %"))
    inside = work_out({**EXAMPLE, "L": f"1.62 mH ±{0.998 * tolerance} %"}).stacked
    outside = work_out({**EXAMPLE, "L": f"1.62 mH ±{1.002 * tolerance} %"}).stacked
    assert inside.rss_low >= 132e3 - 1
    assert inside.rss_high <= 136.5e3
    assert outside.rss_high > 136.5e3 or outside.rss_low < 132e3


@pytest.mark.parametrize(
    ("changes", "ending"),
    [
        ({"band_low": "120 kHz", "band_high": "150 kHz"}, "fits the band"),
        ({"band_low": "134 kHz", "band_high": "134.3 kHz"}, "alone it is not enough"),
    ],
)
def test_it_is_said_whether_tightening_is_needed_and_enough(changes, ending):
    found = by_name(tolerance_answers(work_out({**EXAMPLE, **changes}), None))
    assert found["tighten first"].remark.endswith(ending)


def test_a_nominal_f0_outside_the_band_is_said_to_be_outside():
    found = by_name(tolerance_answers(work_out({**EXAMPLE, "band_low": "135 kHz"}), None))
    assert found["drive band"].value.endswith("outside")
    assert found["drive band"].remark == "outside, beyond the lower end"


def test_temperature_alone_leaves_nothing_to_tighten():
    worked = work_out({"L": "1 mH", "C": "1 nF", "warmest": "60", "drift_C": "-250"})
    found = by_name(tolerance_answers(worked, None))["tighten first"]
    assert (found.value, found.remark) == ("nothing", "only temperature")


def test_what_is_missing_is_named():
    bare = work_out({"L": "1 mH", "C": "1 nF"})
    assert why_not_stacked(bare).startswith("Give L or C with its tolerance")
    assert why_not_stacked(work_out({"L": "1 mH ±1 %", "C": "1 nF"})).startswith(
        "C counts without"
    )
    assert why_not_stacked(WORKED) == ""
    assert why_not_driven(bare).startswith("Say what drives the tank")
    driven = {"form": "sine", "size": "10 V"}
    assert "no bound" in why_not_driven(work_out({"L": "1 mH", "C": "1 nF", **driven}))
    assert why_not_driven(WORKED) == ""
    assert (driven_answers(bare), watts(bare), safety_of(bare)) == ((), (), ())


def test_voltages_over_the_touch_limit_are_marked_and_cautioned():
    found = by_name(driven_answers(WORKED))
    assert found["capacitor"].danger
    assert found["coil"].danger
    assert not found["tank terminals"].danger  # 20.8 V rms are 29 V peak
    lines = safety_of(WORKED)
    assert "above the touch limit of 42.4 V peak" in lines[0]
    assert lines[-1] == DEFERRING
    mild = work_out({**EXAMPLE, "size": "0.2 V"})
    assert safety_of(mild) == ()
    assert not any(one.danger for one in driven_answers(mild))


def test_the_caution_counts_the_load_taken_away():
    """Loaded, the capacitor bears less than the touch limit; without its load it does not."""
    worked = work_out({**EXAMPLE, "size": "0.9 V"})
    assert worked.driven.point.capacitor_voltage * 2**0.5 < 42.4
    assert worked.driven.unloaded.capacitor_voltage * 2**0.5 > 42.4
    assert by_name(driven_answers(worked))["capacitor"].danger
    assert safety_of(worked)[-1] == DEFERRING


def test_the_watts_add_up_to_the_power_and_the_greatest_stands_first():
    rows = watts(WORKED)
    assert sum(watt for _name, watt, _share in rows) == pytest.approx(WORKED.driven.point.power)
    assert sum(share for *_rest, share in rows) == pytest.approx(1)
    assert [watt for _name, watt, _share in rows] == sorted(
        (watt for _name, watt, _share in rows), reverse=True
    )
    assert set(WORKED.driven.point.powers) == set(POWERS)


def test_the_power_link_is_that_of_the_core():
    found, link = by_name(link_answers(WORKED)), WORKED.link
    assert found["best efficiency"].value == percent(100 * link.efficiency).lstrip("+")
    assert found["best load"].value == quantity(link.series_load, "ohm")
    assert found["or across it"].value == quantity(link.parallel_load, "ohm")
    assert quantity(link.parallel_capacitance, "F") in found["or across it"].remark


def test_without_the_receiving_inductance_the_load_is_a_multiple():
    found = link_answers(work_out({**EXAMPLE, "receiving_L": ""}))
    assert [one.name for one in found] == ["best efficiency", "best load"]
    assert found[1].value == ""
    assert "times the receiving coil's resistance" in found[1].remark


@pytest.mark.parametrize("key", ["coupling", "receiving_q"])
def test_half_a_link_is_none(key):
    assert link_answers(work_out({**EXAMPLE, key: ""})) == ()


def test_a_link_needs_the_losses_of_this_side():
    assert link_answers(work_out({**EXAMPLE, "coil_q": ""})) == ()


def test_an_impossible_coupling_is_refused():
    found = work_out({**EXAMPLE, "coupling": "1.5"})
    assert "coupling k: must be above 0 and below 1" in found.words
