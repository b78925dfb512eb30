"""What the bench offers: every name makes something, every profile finds its instrument."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.bench.device import seen
from benchapp.bench.fault import FAULTS
from benchapp.bench.offer import (
    INSTRUMENTS,
    PARTS,
    Offer,
    fault_from,
    instrument_for,
    setup_of,
)
from benchapp.bench.panel import PANELS
from benchapp.errors import UsageError
from benchapp.instruments import shipped_profiles


def test_every_instrument_is_offered_and_every_shipped_profile_has_one():
    assert set(INSTRUMENTS) == set(PANELS)
    for name in shipped_profiles():
        assert name in INSTRUMENTS[instrument_for(name)][1]


def test_a_profile_that_no_instrument_speaks_is_refused():
    with pytest.raises(UsageError, match=r"must be one that it speaks by itself \(got 'mine'\)"):
        instrument_for("mine")


@pytest.mark.parametrize("part", PARTS)
def test_every_part_has_a_finite_impedance_in_the_clip(part):
    assert np.isfinite(seen(setup_of(part), [1e3, 134e3])).all()


def test_the_clip_shows_its_open_and_its_short():
    (opened,) = seen(setup_of("open"), [100e3])
    (shorted,) = seen(setup_of("short"), [100e3])
    assert abs(opened) == pytest.approx(1 / (2 * np.pi * 100e3 * 2e-12), rel=1e-6)
    assert shorted == pytest.approx(0.04 + 2j * np.pi * 100e3 * 30e-9, rel=1e-9)


def test_a_drawn_part_follows_its_seed():
    assert setup_of("drawn", 4) == setup_of("drawn", 4)
    assert setup_of("drawn", 4) != setup_of("drawn", 5)


def test_an_unknown_part_is_refused():
    with pytest.raises(UsageError, match=r"the part must be one that it has \(got 'brick'\)"):
        setup_of("brick")


@pytest.mark.parametrize("kind", FAULTS)
def test_a_fault_counts_replies_from_one(kind):
    fault = fault_from(f"{kind}@3")
    assert (fault.kind, fault.reply) == (kind, 2)


@pytest.mark.parametrize("text", ["drop", "drop@0", "drop@x", "melt@3", "@3", "drop@-1", "drop@²"])
def test_a_fault_that_is_none_is_refused(text):
    with pytest.raises(UsageError, match="must be KIND@NUMBER"):
        fault_from(text)


def test_another_part_can_be_clipped_in_while_it_runs():
    server = Offer(part="open").server()
    server.clip(setup_of("load"))
    server.panel.execute("OUTP ON;:INIT")
    _, r, _, status = (float(cell) for cell in server.panel.execute("FETC?").split(b","))
    assert status == 0
    assert r == pytest.approx(1000, rel=0.01)


def test_the_terse_meter_takes_another_part_too():
    server = Offer(instrument="terse", part="open").server()
    server.clip(setup_of("load"))
    for letter in ("E1", "G"):
        server.panel.execute(letter)
    assert float(server.panel.execute("D").split()[1]) == pytest.approx(1000, rel=0.01)


def test_the_shunt_profile_wires_the_part_to_ground():
    assert Offer(profile="network-shunt").server().panel.desk.through == "shunt-through"
    assert Offer().server().panel.desk.through == "series-through"


def test_an_unknown_instrument_is_refused():
    with pytest.raises(UsageError, match=r"the instrument must be one that it has \(got 'harp'\)"):
        Offer(instrument="harp").server()


@pytest.mark.parametrize("port", [-1, 65536])
def test_an_impossible_port_is_refused(port):
    with pytest.raises(UsageError, match=r"port: must be from 0 to 65535"):
        Offer(port=port).server()


def test_a_port_that_is_taken_is_refused():
    with Offer().server() as first:
        second = Offer(port=first.port).server()
        with pytest.raises(UsageError, match=rf"port {first.port}: must be free"):
            second.start()
