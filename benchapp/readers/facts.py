"""What stands around a table: start and stop, test level, scales, which quantities."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from benchapp.capture import Conditions
from benchapp.readers.dialect import bare, split
from benchapp.readers.heading import normal, unit_of
from benchapp.readers.number import Cell, Marks, read_cell, read_plain
from benchapp.readers.vocabulary import WORDS

__all__ = ["Facts", "facts_of"]

_NAMES: dict[str, str] = {
    "start": """
        start_frequency start_freq start f_start fstart startfrequenz sweep_start freq_start
        frequence_de_depart frequence_initiale frecuencia_inicial frequenza_iniziale 起始频率""",
    "stop": """
        stop_frequency stop_freq stop f_stop fstop stoppfrequenz stopfrequenz endfrequenz end
        sweep_stop freq_stop end_frequency frequence_de_fin frequence_finale frecuencia_final
        frequenza_finale 终止频率""",
    "points": """
        points number_of_points sweep_points nop n_points punkte anzahl_punkte nombre_de_points
        puntos punti 点数 record_length memory_length samples""",
    "spacing": """
        sweep_type sweep_mode spacing sweep_scale x_scale sweep teilung abstufung""",
    "function": """
        function meas_function measurement_function measurement parameter parameters mode measure
        func meas_parameter measurement_parameter messgrosse messfunktion mesure funcion funzione
        测量参数 meas param primary_parameter test_mode measurement_type meas_type""",
    "circuit": """
        equivalent_circuit circuit circuit_mode equivalent_circuit_mode ersatzschaltbild
        ersatzschaltung equ_circuit circuit_equivalent""",
    "interval": """
        sample_interval sampling_interval sampling_period x_increment xincrement xinc increment
        time_increment dt delta_t time_per_sample abtastintervall sample_time sample_period tinc
        intervalle_d_echantillonnage intervallo_di_campionamento 采样间隔 xincr hresolution
        delta_x intervalo_de_muestreo pas_de_temps""",
    "rate": """
        sample_rate sampling_rate samplerate abtastrate sampling_frequency fs 采样率
        frequence_d_echantillonnage frecuencia_de_muestreo frequenza_di_campionamento""",
    "origin": "x_origin xorigin first_point start_time t0 xzero xorg time_origin trigger_offset",
    "y step": """
        y_increment yincrement yinc ymult volts_per_count volt_per_count v_per_count v/count
        vertical_scale_factor scale_factor lsb_size y_scale yscale volts/count volts_per_lsb
        resolution_volt vertical_step step_volt""",
    "y counts": "counts_per_division counts_per_div counts/div codes_per_division",
    "y origin": "y_origin yorigin yzero y_offset yoffset offset vertical_offset offset_volt yorg",
    "y reference": "y_reference yreference yref yoff zero_level zero_count",
    "y division": """
        volts_per_div volts_per_division volts/div v/div vertical_scale volt/div volts_division""",
    "probe": "probe probe_attenuation probe_ratio probe_factor tastkopf sonde sonda 探头",
    "y unit": "vertical_units y_units yunit y_unit units vertical_unit",
    "x unit": "horizontal_units x_units xunit x_unit horizontal_unit time_unit",
    "reference": """
        z0 reference_impedance system_impedance port_impedance bezugsimpedanz zref impedance_z0
        reference_z0 z_ref char_impedance""",
    "part": "dut device_under_test sample sample_name prufling pruefling specimen",
    "fixture": "fixture test_fixture messadapter messaufnahme fixture_type",
    "taken": "date datum date/time datetime date_time time_stamp timestamp 日期 fecha data",
    "preamble": "preamble",
    "trace": "trace trace_name s_parameter meas_trace channel_parameter",
}
_ROLE_OF = {
    word.replace("_", " "): name for name, words in _NAMES.items() for word in words.split()
}
_PAIR = re.compile(r"\s*([^:=]{1,60}?)\s*[:=]\s*(.*?)\s*")
_LONGEST_LINE = 10_000
_CONDITIONS = ("f", "level", "bias", "temperature")
_PER = {
    **dict.fromkeys(("count", "counts", "lsb", "bit", "level", "code"), "y step"),
    **dict.fromkeys(("div", "division"), "y division"),
}
_SAMPLES = re.compile(r"(.*\d)\s*([kMG]?)(?:S|Sa|samples?|Samples?|pts)/s(?:ec)?")
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)?")
_SERIES = re.compile(r"\b(?:series|serial|serie|ser|reihe|cs|ls|rs|串联)\b", re.IGNORECASE)
_PARALLEL = re.compile(r"\b(?:parallel|parallele|paralelo|par|cp|lp|rp|并联)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Facts:
    """Values that stand around the tables, by what they are about.

    ``texts`` maps the subject to the text as written; ``key_units`` holds the unit where it stands
    with the name, as in ``Start (kHz),10``; ``name`` is that of the file.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    key_units: Mapping[str, str] = field(default_factory=dict)
    decimal: str = "."
    name: str = ""

    @classmethod
    def of(cls, found: Mapping[str, str], decimal: str, name: str) -> Facts:
        """Sort names as written by subject; the first of a subject counts."""
        texts: dict[str, str] = {}
        units: dict[str, str] = {}
        for key, text in found.items():
            subject, unit = _subject(key)
            if subject and subject not in texts and text:
                texts[subject] = text
                if unit:
                    units[subject] = unit
        return cls(texts=texts, key_units=units, decimal=decimal, name=name)

    def number(self, subject: str, unit: str = "") -> float | None:
        """Give a value in SI units; None where it is absent, no number or of another unit."""
        text = self.texts.get(subject)
        if text is None:
            return None
        samples = _SAMPLES.fullmatch(text.strip()) if subject == "rate" else None
        cell = self._cell(f"{samples[1]} {samples[2]}Hz" if samples else text)
        if cell.kind == "U":
            return cell.value if cell.unit == unit else None
        if cell.kind != "N":
            return None
        known = unit_of(self.key_units.get(subject, ""))
        if known is None or not known[1]:
            return cell.value
        return float(cell.value * known[0]) if known[1] == unit else None

    def _cell(self, text: str) -> Cell:
        cells = (read_cell(text, Marks(mark)) for mark in (self.decimal, ".", ","))
        return next((cell for cell in cells if cell.kind in "NU"), Cell("T"))

    def states_unit(self, subject: str) -> bool:
        """Tell whether a value comes with a unit, in its text or in its name."""
        if subject in self.key_units:
            return True
        text = self.texts.get(subject)
        return text is not None and self._cell(text).kind == "U"

    @property
    def circuit(self) -> str | None:
        """``series`` or ``parallel`` where the file says which pair was measured."""
        for subject in ("circuit", "function"):
            text = self.texts.get(subject, "")
            series, parallel = _SERIES.search(text), _PARALLEL.search(text)
            if bool(series) != bool(parallel):
                return "series" if series else "parallel"
        return None

    @property
    def taken(self) -> str | None:
        """The ISO 8601 time of the measurement; other ways to write a date are ambiguous."""
        found = _ISO.search(self.texts.get("taken", ""))
        return found[0].replace(" ", "T") if found else None

    def conditions(self) -> Conditions:
        """Under what the capture was taken, as far as it is stated."""
        return Conditions(
            level_volt=self.number("level", "V") if self.states_unit("level") else None,
            level_ampere=self.number("level", "A") if self.states_unit("level") else None,
            bias_volt=self.number("bias", "V") if self.states_unit("bias") else None,
            bias_ampere=self.number("bias", "A") if self.states_unit("bias") else None,
            temperature_celsius=self.number("temperature", "degC"),
            fixture=self.texts.get("fixture"),
        )


def _subject(name: str) -> tuple[str, str]:
    plain = normal(name)
    found = _ROLE_OF.get(plain)
    if found is None and WORDS.get(plain) in _CONDITIONS:
        found = WORDS[plain]
    if found is not None:
        return found, ""
    per = re.fullmatch(r"(.+?)\s*[(\[]\s*(\S*[^\W\d_])/(\w+)\s*[)\]]", name)
    subject = _PER.get(per[3].casefold()) if per and "scale" in normal(per[1]) else None
    if per and subject is not None:
        return subject, per[2]
    bracket = re.fullmatch(r"(.+?)\s*[(\[/_ ]\s*([^()\[\]/_ ]+)\s*[)\]]?", name)
    if bracket and unit_of(bracket[2]) is not None:
        inner, _ = _subject(bracket[1])
        return inner, bracket[2]
    return "", ""


def facts_of(lines: Sequence[str], delimiter: str) -> dict[str, str]:
    """Gather names and values: ``name: value``, ``name=value`` or neighbouring cells.

    Parameters
    ----------
    lines : sequence of str
        The lines outside the tables.
    delimiter : str

    Returns
    -------
    dict
        Names in small letters; the first value of a name counts. A line of ten numbers, as
        instruments send it before a waveform, has the name ``preamble``.
    """
    facts: dict[str, str] = {}
    for line in lines:
        text = bare(line)
        if not text or len(text) > _LONGEST_LINE:
            continue
        parting = delimiter
        if delimiter == " ":
            parting = next((sign for sign in ";\t," if sign in text), " ")
        cells = [cell for cell in split(text, parting) if cell]
        pair = _PAIR.fullmatch(text)
        if read_plain(text.split(","), Marks()) is not None and text.count(",") == 9:
            facts.setdefault("preamble", text)
        elif pair:
            facts.setdefault(pair[1].strip('" \t,;').lower(), pair[2].strip('" \t,;'))
        elif len(cells) >= 2 and parting != " ":
            for name, value in zip(cells[0::2], cells[1::2], strict=False):
                facts.setdefault(name.rstrip(":=").strip().lower(), value)
    return facts
