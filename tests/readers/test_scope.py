"""Records over time: where the time comes from, counts, channels, segments, envelopes."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Transient
from benchapp.errors import ReadError
from benchapp.readers import Answers, understand
from tests.readers.writing import written

T = np.arange(50) * 2e-7
V = np.round(np.cos(T * 8e5) * np.exp(-T / 5e-6), 5)


def rows(*columns, delimiter=","):
    return "\n".join(
        delimiter.join(f"{x:.10g}" for x in row) for row in zip(*columns, strict=True)
    )


def read_text(folder, text, name="a.csv", **answers):
    return understand(written(folder, name, text + "\n"), Answers(**answers))


def test_time_and_voltage(tmp_path):
    (record,) = read_text(tmp_path, "Time (us),CH1 (mV)\n" + rows(T * 1e6, V * 1e3)).captures
    assert isinstance(record, Transient)
    np.testing.assert_allclose(record.time, T, rtol=1e-12)
    np.testing.assert_allclose(record.voltage, V, rtol=1e-12)
    assert record.step_volt is None


def test_units_may_stand_above_the_table(tmp_path):
    text = "Horizontal Units,us\nVertical Units,mV\nTime,CH1\n" + rows(T * 1e6, V * 1e3)
    (record,) = read_text(tmp_path, text).captures
    np.testing.assert_allclose(record.time, T, rtol=1e-12)
    np.testing.assert_allclose(record.voltage, V, rtol=1e-12)


def test_a_time_without_a_unit_must_be_answered(tmp_path):
    text = "Time,CH1 (V)\n" + rows(T * 1e6, V)
    with pytest.raises(ReadError, match="No unit is stated for Time"):
        read_text(tmp_path, text)
    (record,) = read_text(tmp_path, text, time_unit="us").captures
    np.testing.assert_allclose(record.time, T, rtol=1e-12)


@pytest.mark.parametrize(
    "above",
    ["Sample Interval: 2E-07 s", "Increment (us),0.2", "Sample Rate: 5 MHz", "dt = 2e-7"],
)
def test_the_interval_may_stand_above_the_table(tmp_path, above):
    (record,) = read_text(tmp_path, f"{above}\nVoltage (V)\n" + rows(V)).captures
    np.testing.assert_allclose(record.time, T, rtol=1e-9, atol=1e-15)


def test_an_interval_without_a_unit_is_an_assumption(tmp_path):
    reading = read_text(tmp_path, "dt = 2e-7\nVoltage (V)\n" + rows(V))
    assert [made.subject for made in reading.assumptions] == ["sample interval"]


def test_an_interval_that_stands_nowhere_must_be_answered(tmp_path):
    text = "Voltage (V)\n" + rows(V)
    with pytest.raises(ReadError, match="How long is the time from one sample to the next"):
        read_text(tmp_path, text)
    (record,) = read_text(tmp_path, text, interval="0.2 us").captures
    np.testing.assert_allclose(record.time, T, rtol=1e-9, atol=1e-15)
    with pytest.raises(ReadError, match=r"the answer interval must be a time \(got 'soon'\)"):
        read_text(tmp_path, text, interval="soon")


def test_an_index_and_a_first_point_give_the_time(tmp_path):
    text = "X,CH1,Start,Increment\nSequence,Volt,-1e-6,2e-7\n"
    text += "\n".join(f"{n},{v:.5f},," for n, v in enumerate(V))
    (record,) = read_text(tmp_path, text).captures
    np.testing.assert_allclose(record.time, T - 1e-6, rtol=1e-9, atol=1e-15)


def test_a_lost_sample_leaves_its_time(tmp_path):
    lines = rows(V).split("\n")
    lines[7] = "----"
    (record,) = read_text(tmp_path, "dt: 2e-7 s\nVoltage (V)\n" + "\n".join(lines)).captures
    np.testing.assert_allclose(record.time, np.delete(T, 7), rtol=1e-9, atol=1e-15)


def test_counts_become_volts_by_the_stated_scale(tmp_path):
    counts = np.round(V / 0.02) + 128
    text = "Volts per count: 20 mV\nZero level: 128\nTime (s),CH1 counts\n" + rows(T, counts)
    (record,) = read_text(tmp_path, text).captures
    np.testing.assert_allclose(record.voltage, (counts - 128) * 0.02, atol=1e-15)
    assert record.step_volt == 0.02


def test_counts_without_a_scale_are_asked_for(tmp_path):
    text = "V/div: 0.5 V\nTime (s),CH1 counts\n" + rows(T, np.round(V / 0.02))
    reading = read_text(tmp_path, text)
    assert [(asked.name, asked.proposed) for asked in reading.questions] == [("scale", "0.02")]
    (answered,) = read_text(tmp_path, text, scale=0.01).captures
    np.testing.assert_allclose(answered.voltage, np.round(V / 0.02) * 0.01)


def test_the_ten_numbers_before_a_waveform_scale_it(tmp_path):
    counts = np.round(V / 0.02).astype(int) + 100
    text = "0,2,50,1,2E-07,-1E-06,5,0.02,0.5,100\n" + "\n".join(map(str, counts))
    (record,) = read_text(tmp_path, text).captures
    np.testing.assert_allclose(record.voltage, (counts - 100) * 0.02 + 0.5, atol=1e-12)
    assert record.time[0] == pytest.approx(-1e-6 - 5 * 2e-7)


def test_a_stated_step_of_the_converter_is_kept(tmp_path):
    text = "Vertical step (V),0.02\nTime (s),CH1 (V)\n" + rows(T, V)
    assert read_text(tmp_path, text).captures[0].step_volt == 0.02


def test_every_channel_is_a_record_and_one_can_be_chosen(tmp_path):
    text = "Time (s),CH1 (V),CH2 (V)\n" + rows(T, V, V / 2)
    reading = read_text(tmp_path, text)
    assert [capture.origin.label for capture in reading.captures] == ["CH1", "CH2"]
    assert reading.questions[0].choices == ("all", "CH1", "CH2")
    (second,) = read_text(tmp_path, text, channel="CH2").captures
    np.testing.assert_allclose(second.voltage, V / 2)
    with pytest.raises(ReadError, match=r"channel must be one of CH1, CH2 \(got 'CH9'\)"):
        read_text(tmp_path, text, channel="CH9")


def test_each_channel_has_the_time_column_before_it(tmp_path):
    text = "Time1 (s),CH1 (V),Time2 (s),CH2 (V)\n" + rows(T, V, T + 1e-8, V)
    first, second = read_text(tmp_path, text).captures
    assert (first.time[0], second.time[0]) == (0.0, 1e-8)


def test_segments_are_records(tmp_path):
    text = "Segment,Time (s),CH1 (V)\n" + rows([1] * 50 + [2] * 50, np.tile(T, 2), np.tile(V, 2))
    assert [c.origin.label for c in read_text(tmp_path, text).captures] == [
        "segment 1",
        "segment 2",
    ]


def test_times_that_start_again_part_records(tmp_path):
    text = "Time (s),CH1 (V)\n" + rows(np.tile(T, 2), np.concatenate([V, V / 2]))
    first, second = read_text(tmp_path, text).captures
    np.testing.assert_allclose(second.voltage, V / 2)
    assert first.origin.label == "sweep 1"


def test_pairs_of_lowest_and_highest_are_an_envelope_and_said_so(tmp_path):
    pairs = np.stack([V - 0.1, V + 0.1], axis=1).reshape(-1)
    text = "Time (s),CH1 (V)\n" + rows(np.repeat(T, 2), pairs)
    reading = read_text(tmp_path, text)
    low, high = reading.captures
    np.testing.assert_allclose(low.voltage, V - 0.1)
    np.testing.assert_allclose(high.voltage, V + 0.1)
    assert reading.assumptions[0].confidence < 0.7


def test_a_pair_that_lost_a_partner_is_set_aside(tmp_path):
    pairs = np.stack([V - 0.1, V + 0.1], axis=1).reshape(-1)
    lines = rows(np.repeat(T, 2), pairs).split("\n")
    del lines[21]
    reading = read_text(tmp_path, "Time (s),CH1 (V)\n" + "\n".join(lines))
    assert reading.captures[0].time.size == 49
    assert [row.line for row in reading.set_aside] == [22]


def test_a_rounded_time_column_is_rebuilt_and_said(tmp_path):
    rough = np.floor(T / 8e-7) * 8e-7
    reading = read_text(tmp_path, "Time (s),CH1 (V)\n" + rows(rough, V))
    (record,) = reading.captures
    assert np.all(np.diff(record.time) > 0)
    np.testing.assert_allclose(record.voltage, V, atol=1e-9)
    assert [made.subject for made in reading.assumptions] == ["time column"]


def test_a_current_is_shown_as_a_voltage_and_said(tmp_path):
    reading = read_text(tmp_path, "Time (s),Math1 (A)\n" + rows(T, V))
    assert reading.assumptions[0].value == "current, shown as 1 V for 1 A"


def test_a_computed_channel_of_another_unit_is_refused(tmp_path):
    with pytest.raises(ReadError, match=r"a record must be a voltage or a current \(got 'W'\)"):
        read_text(tmp_path, "Time (s),Math1 (W)\n" + rows(T, V))


def test_a_stated_probe_is_asked_for_and_the_answer_applied(tmp_path):
    text = "Probe: 10X\nTime (s),CH1 (V)\n" + rows(T, V)
    reading = read_text(tmp_path, text)
    assert [(asked.name, asked.proposed) for asked in reading.questions] == [("probe", "1")]
    np.testing.assert_allclose(read_text(tmp_path, text, probe=10).captures[0].voltage, V * 10)


def test_time_alone_is_refused(tmp_path):
    with pytest.raises(
        ReadError, match=r"must have a voltage beside the time \(got time, verdict"
    ):
        read_text(tmp_path, "Time (s),Result,Result\n" + rows(T, V, V))


def test_conditions_above_a_record_are_kept(tmp_path):
    text = "Temperature: 23 °C\nTime (s),CH1 (V)\n" + rows(T, V)
    assert read_text(tmp_path, text).captures[0].conditions.temperature_celsius == 23.0


def test_unnamed_columns_are_known_by_the_stated_interval(tmp_path):
    above = "Sample Interval,2e-7,,0,1\nRecord Length,50,,2e-7,2\n"
    text = above + "\n".join(f",,,{t:.3e},{v:.5f}" for t, v in zip(T[2:], V[2:], strict=True))
    reading = read_text(tmp_path, text)
    np.testing.assert_allclose(reading.captures[0].time, T, atol=1e-12)
    assert "time and voltage" in [made.value for made in reading.assumptions]


def test_a_heading_may_be_no_more_than_units(tmp_path):
    text = "x-axis,1,2\nsecond,Volt,Volt\n" + rows(T, V, V / 2)
    assert [c.origin.label for c in read_text(tmp_path, text).captures] == ["CH1", "CH2"]
    (record,) = read_text(tmp_path, "second,Volt\n" + rows(T, V)).captures
    np.testing.assert_allclose(record.voltage, V)


def test_a_channel_of_an_unknown_unit_is_refused(tmp_path):
    with pytest.raises(ReadError, match=r"must be a voltage or a current \(got '\?'\)"):
        read_text(tmp_path, "Time (s),Current (ohm)\n" + rows(T, V))


def test_one_doubled_row_is_left_out_and_moves_no_other_sample(tmp_path):
    t, v = np.arange(300) * 1e-7, np.cos(np.arange(300) / 7)
    lines = [f"{a:.4E},{b:.6f}" for a, b in zip(t, v, strict=True)]
    lines.insert(120, lines[119])
    reading = read_text(tmp_path, "Time (s),CH1 (V)\n" + "\n".join(lines))
    np.testing.assert_allclose(reading.captures[0].time, t, atol=1e-12)
    assert [row.why for row in reading.set_aside] == ["the row repeats the one before it"]


def test_a_line_of_text_among_samples_without_a_time_is_doubted(tmp_path):
    lines = [f"{v:.5f}" for v in V]
    lines.insert(20, "link lost")
    reading = read_text(tmp_path, "dt = 1 us\nCH1 (V)\n" + "\n".join(lines))
    (doubt,) = (made for made in reading.assumptions if made.subject == "line among the samples")
    assert (doubt.value, doubt.confidence) == ("line 23 is none", 0.5)


def test_a_count_that_leaps_from_a_smooth_record_is_doubted(tmp_path):
    counts = [round(120 * np.cos(k / 20)) for k in range(200)]
    head = "Sample interval [s],1e-7\nVertical scale [V/count],0.02\nCH1 (counts)\n"
    smooth = read_text(tmp_path, head + "\n".join(map(str, counts)))
    assert smooth.assumptions == ()
    np.testing.assert_allclose(smooth.captures[0].voltage, np.array(counts) * 0.02)
    counts[60] //= 10
    reading = read_text(tmp_path, head + "\n".join(map(str, counts)), name="b.csv")
    (doubt,) = reading.assumptions
    assert (doubt.subject, doubt.value) == ("count", "line 64 kept as written")


def test_counts_per_division_scale_counts_without_a_question(tmp_path):
    head = "Sample rate: 5 MS/s\nVolts per division: 0.5\nCounts per division: 25\nCH1 (counts)\n"
    reading = read_text(tmp_path, head + "\n".join(map(str, range(-20, 20))))
    assert reading.questions == ()
    np.testing.assert_allclose(reading.captures[0].voltage, np.arange(-20, 20) * 0.02)
    np.testing.assert_allclose(np.diff(reading.captures[0].time), 2e-7)


def test_each_channel_may_have_its_own_time(tmp_path):
    text = "CH1 time (s),CH1 (V),CH2 time (s),CH2 (V)\n" + rows(T, V, T + 5e-8, V / 2)
    first, second = read_text(tmp_path, text).captures
    np.testing.assert_allclose(first.time, T, atol=1e-15)
    np.testing.assert_allclose(second.time, T + 5e-8, atol=1e-15)
    np.testing.assert_allclose(second.voltage, V / 2)


def test_start_and_increment_may_stand_beside_the_heading(tmp_path):
    text = "X,CH1,Start,Increment\nSequence,Volt,-1e-6,2e-7\n" + rows(np.arange(50), V)
    (record,) = read_text(tmp_path, text).captures
    np.testing.assert_allclose(record.time, T - 1e-6, atol=1e-15)
    np.testing.assert_allclose(record.voltage, V)


def test_a_count_that_leaps_is_doubted_beside_a_lost_one_too(tmp_path):
    counts = [str(round(100 * np.cos(k / 9))) for k in range(120)]
    counts[40], counts[80] = "OL", "9"
    text = "Sample interval,1e-6\nVolts per count,0.02\nCH1 (counts)\n" + "\n".join(counts) + "\n"
    reading = understand(written(tmp_path, "a.csv", text))
    assert "line 84 kept as written" in [made.value for made in reading.assumptions]
