"""Impedance tables as they arrive from elsewhere: odd but real, each with its truth beside it.

Written as a person would who has never seen the readers: one function per habit. ``open_end``
says what nobody can know from such a file; it then has to be asked or refused.
"""

from __future__ import annotations

import numpy as np

from tests.readers.foreign_parts import capacitor, coil, degrees, parallel, series, tank
from tests.readers.foreign_sheet import Foreign, Trace

ODD: dict[str, Foreign] = {}


def odd(name="export.csv", *, open_end="", encoding="utf-8", bom=b""):
    """Keep the file that the decorated function writes: it gives the text and the traces."""

    def keep(function):
        seed = sum(map(ord, function.__name__))
        text, *traces = function(np.random.default_rng(seed))
        ODD[function.__name__] = Foreign(
            variant=len(ODD) + 1,
            style="odd",
            name=name,
            data=bom + text.encode(encoding),
            traces=tuple(traces),
            open_end=open_end,
        )
        return function

    return keep


def impedance(f, z, part=None):
    return Trace(kind="impedance", x=f, y=z, part=part)


def frequencies(low=5e4, high=3e5, count=41):
    return np.linspace(low, high, count)


def lines(form, *columns, comma=False, end="\n"):
    """One line per row, as the format says; with decimal commas where wished."""
    rows = [form.format(*row) for row in zip(*columns, strict=True)]
    text = end.join(rows) + end
    return text.replace(".", ",") if comma else text


def of_tank(rng, count=41):
    f = frequencies(count=count)
    return f, tank(f, rng)


@odd("Spule 12.csv", encoding="cp1252")
def german_brackets_semicolon_comma(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    body = lines("{:.3f};{:.6f};{:.5f}", f / 1e3, s["Ls"] * 1e3, s["Q"], comma=True)
    return "Frequenz [kHz];Induktivität Ls [mH];Güte Q\n" + body, impedance(f, z)


@odd("Prüfling.csv", encoding="cp1252")
def german_preamble_with_dates(rng):
    f, z = of_tank(rng)
    head = "Prüfling: Spule 12\nDatum: 01.02.2024\nUhrzeit: 13:45:10\nPrüfer: J. Kraus\n\n"
    head += "Frequenz (Hz);Betrag |Z| (Ohm);Phase (°)\n"
    return head + lines("{:.1f};{:.5f};{:.5f}", f, abs(z), degrees(z), comma=True), impedance(f, z)


@odd("测试.csv", encoding="gb18030")
def chinese_magnitude_and_angle(rng):
    f, z = of_tank(rng)
    head = "频率(Hz),阻抗|Z|(Ω),相位角θ(°)\n"
    return head + lines("{:.1f},{:.5f},{:.5f}", f, abs(z), degrees(z)), impedance(f, z)


@odd("data.csv", encoding="gb18030")
def chinese_inductance_and_quality(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    head = "测试日期,2024-03-05\n操作员,王\n频率(kHz),电感Ls(mH),品质因数Q\n"
    return head + lines("{:.4f},{:.7f},{:.6f}", f / 1e3, s["Ls"] * 1e3, s["Q"]), impedance(f, z)


@odd("sweep.txt", encoding="utf-16-le", bom=b"\xff\xfe")
def utf16_with_mark_and_tabs(rng):
    f, z = of_tank(rng)
    head = "Frequency (Hz)\t|Z| (Ohm)\tPhase (deg)\r\n"
    body = lines("{:.1f}\t{:.5f}\t{:.5f}", f, abs(z), degrees(z), end="\r\n")
    return head + body, impedance(f, z)


@odd("sweep.csv", encoding="utf-16-be", bom=b"\xfe\xff")
def utf16_big_end_first_with_commas(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f};{:.5f};{:.5f}", f, z.real, z.imag, comma=True)
    return "Frequenz [Hz];R [Ω];X [Ω]\n" + body, impedance(f, z)


@odd()
def four_empty_columns_at_the_end(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.5f},,,,", f, z.real, z.imag)
    return "Frequency [Hz],R [Ohm],X [Ohm],,,,\n" + body, impedance(f, z)


@odd()
def an_empty_column_in_the_middle(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},,{:.5f},,{:.5f}", f, z.real, z.imag)
    return "Frequency [Hz],,R [Ohm],,X [Ohm]\n" + body, impedance(f, z)


def grouped(value, mark, decimal, digits=2):
    text = f"{value:,.{digits}f}"
    return text.replace(",", "\0").replace(".", decimal).replace("\0", mark)


@odd("werte.csv")
def german_thousands(rng):
    f, z = of_tank(rng)
    rows = [
        ";".join(grouped(v, ".", ",", 4) for v in row)
        for row in zip(f, z.real * 1e3, z.imag * 1e3, strict=True)
    ]
    return "Frequenz (Hz);Rs (mOhm);Xs (mOhm)\n" + "\n".join(rows) + "\n", impedance(f, z)


@odd()
def quoted_english_thousands(rng):
    f, z = of_tank(rng)
    rows = [
        ",".join(f'"{v:,.4f}"' for v in row)
        for row in zip(f, z.real * 1e3, z.imag * 1e3, strict=True)
    ]
    return "Frequency (Hz),Rs (mOhm),Xs (mOhm)\n" + "\n".join(rows) + "\n", impedance(f, z)


@odd("suisse.csv")
def swiss_apostrophes(rng):
    f, z = of_tank(rng)
    rows = [
        ";".join(grouped(v, "\u2019", ".", 4) for v in row)
        for row in zip(f, z.real * 1e3, z.imag * 1e3, strict=True)
    ]
    return "Frequenz (Hz);Rs (mOhm);Xs (mOhm)\n" + "\n".join(rows) + "\n", impedance(f, z)


@odd("mesure.csv")
def french_narrow_blanks(rng):
    f, z = of_tank(rng)
    rows = [
        ";".join(grouped(v, "\u202f", ",", 4) for v in row)
        for row in zip(f, z.real * 1e3, z.imag * 1e3, strict=True)
    ]
    head = "Fréquence (Hz);Résistance série (mΩ);Réactance série (mΩ)\n"
    return head + "\n".join(rows) + "\n", impedance(f, z)


@odd(open_end="whether 100,000 is a hundred or a hundred thousand")
def three_decimals_after_a_comma(rng):
    f, z = of_tank(rng)
    body = lines("{:.3f};{:.3f};{:.3f}", f / 1e3, z.real, z.imag, comma=True)
    return "Frequenz;R;X\n" + body, impedance(f, z)


def _degree(sign):
    def write(rng):
        f, z = of_tank(rng)
        body = lines("{:.1f};{:.5f};{:.5f}", f, abs(z), degrees(z))
        return f"Frequency [Hz];|Z| [Ohm];Theta [{sign}]\n" + body, impedance(f, z)

    return write


for _name, _sign in {
    "degree_as_ordinal": "\u00ba",
    "degree_as_ring": "\u02da",
    "degree_as_word_with_stop": "deg.",
    "degree_in_full": "degrees",
}.items():
    _writer = _degree(_sign)
    _writer.__name__ = _name
    odd()(_writer)


@odd()
def a_date_like_numbers_before_the_table(rng):
    f, z = of_tank(rng)
    head = "Date,01/02/03\nTime,10:11:12\nOperator,K. Maas\nLot,2207\n\nFreq,Rs,Xs\nHz,Ohm,Ohm\n"
    return head + lines("{:.1f},{:.5f},{:.5f}", f, z.real, z.imag), impedance(f, z)


@odd(open_end="which of the two units of the frequency holds")
def kilohertz_above_hertz(rng):
    f, z = of_tank(rng)
    head = "Frequency (kHz),Rs,Xs\nHz,Ohm,Ohm\n"
    return head + lines("{:.1f},{:.5f},{:.5f}", f, z.real, z.imag), impedance(f, z)


@odd()
def units_row_in_kilo(rng):
    f, z = of_tank(rng)
    head = "Frequency,Resistance,Reactance\n[kHz],[kOhm],[kOhm]\n"
    body = lines("{:.4f},{:.8f},{:.8f}", f / 1e3, z.real / 1e3, z.imag / 1e3)
    return head + body, impedance(f, z)


@odd("LOG.TXT")
def capitals_with_units_behind(rng):
    f, z = of_tank(rng)
    head = "FREQ HZ,RS OHM,XS OHM\n"
    return head + lines("{:.1f},{:.5f},{:.5f}", f, z.real, z.imag), impedance(f, z)


@odd()
def units_in_columns_of_their_own(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    body = lines("{:.4f},kHz,{:.7f},mH,{:.6f}", f / 1e3, s["Ls"] * 1e3, s["Q"])
    return "Freq,Unit,Ls,Unit,Q\n" + body, impedance(f, z)


@odd()
def units_behind_every_value(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    body = lines("{:.4f} kHz; {:.7f} mH; {:.6f}", f / 1e3, s["Ls"] * 1e3, s["Q"])
    return "Frequency; Ls; Q\n" + body, impedance(f, z)


@odd(open_end="whether m is milli or metre")
def prefixes_behind_every_value(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    body = lines("{:.4f} k, {:.7f} m, {:.6f}", f / 1e3, s["Ls"] * 1e3, s["Q"])
    return "f (Hz), Ls (H), Q\n" + body, impedance(f, z)


@odd()
def falling_frequency(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.5f}", f[::-1], z.real[::-1], z.imag[::-1])
    return "Frequency [Hz],R [Ohm],X [Ohm]\n" + body, impedance(f, z)


@odd(open_end="a table that runs sideways")
def frequencies_across(rng):
    f, z = of_tank(rng, 12)
    rows = [
        "Frequency (Hz)," + ",".join(f"{v:.1f}" for v in f),
        "R (Ohm)," + ",".join(f"{v:.5f}" for v in z.real),
        "X (Ohm)," + ",".join(f"{v:.5f}" for v in z.imag),
    ]
    return "\n".join(rows) + "\n", impedance(f, z)


@odd()
def numbered_rows(rng):
    f, z = of_tank(rng)
    body = lines("{};{:.1f};{:.5f};{:.5f}", range(1, 42), f, z.real, z.imag)
    return "No.;Frequency (Hz);R (Ohm);X (Ohm)\n" + body, impedance(f, z)


@odd()
def a_time_stamp_before_every_row(rng):
    f, z = of_tank(rng)
    body = lines("2024-01-02 10:11:{:02d}.345,{:.1f},{:.5f},{:.5f}", range(41), f, z.real, z.imag)
    return "Timestamp,Frequency (Hz),R (Ohm),X (Ohm)\n" + body, impedance(f, z)


@odd()
def a_german_time_stamp_before_every_row(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f};{:.5f};{:.5f}", f, z.real, z.imag, comma=True).splitlines()
    rows = [f"02.01.2024;10:11:{n:02d};{row}" for n, row in enumerate(body)]
    return "Datum;Zeit;Frequenz/Hz;R/Ohm;X/Ohm\n" + "\n".join(rows) + "\n", impedance(f, z)


@odd("notes.md")
def a_table_in_bars(rng):
    f, z = of_tank(rng)
    head = "| Frequency (Hz) | R (Ω) | X (Ω) |\n|---|---:|---:|\n"
    return head + lines("| {:.1f} | {:.5f} | {:.5f} |", f, z.real, z.imag), impedance(f, z)


def _complex(form):
    def write(rng):
        f, z = of_tank(rng)
        signs = ["+" if v >= 0 else "-" for v in z.imag]
        body = lines("{:.1f},{:.5f}" + form, f, z.real, signs, abs(z.imag))
        return "Frequency (Hz),Z (Ohm)\n" + body, impedance(f, z)

    return write


for _name, _form in {
    "complex_with_j_before": "{}j{:.5f}",
    "complex_with_j_behind": "{}{:.5f}j",
    "complex_with_i_and_blanks": " {} {:.5f}i",
}.items():
    _writer = _complex(_form)
    _writer.__name__ = _name
    odd()(_writer)


@odd()
def polar_in_one_cell(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f};{:.5f}∠{:.5f}°", f, abs(z), degrees(z))
    return "Frequency (Hz);Z (Ohm)\n" + body, impedance(f, z)


@odd("bobine.csv", encoding="cp1252")
def french_inductance_and_quality(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    body = lines("{:.1f};{:.8E};{:.6f}", f, s["Ls"], s["Q"], comma=True)
    return "Fréquence (Hz);Inductance série (H);Facteur de qualité\n" + body, impedance(f, z)


@odd("bobina.csv")
def spanish_magnitude_and_angle(rng):
    f, z = of_tank(rng)
    body = lines("{:.4f};{:.5f};{:.5f}", f / 1e3, abs(z), degrees(z), comma=True)
    return "Frecuencia (kHz);Impedancia (Ω);Fase (°)\n" + body, impedance(f, z)


@odd("bobina.csv")
def italian_resistance_and_reactance(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f};{:.5f};{:.5f}", f, z.real, z.imag, comma=True)
    return "Frequenza [Hz];Resistenza [Ω];Reattanza [Ω]\n" + body, impedance(f, z)


@odd("SPULE.PRN", encoding="cp437")
def old_code_page(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    body = lines("{:12.1f} {:14.6f} {:12.6f}", f, s["Ls"] * 1e6, s["Q"])
    return "   Freq/Hz        Ls/µH         Güte\n" + body, impedance(f, z)


def _micro(sign):
    def write(rng):
        f = frequencies()
        z = coil(f, rng)
        s = series(z, f)
        body = lines("{:.1f},{:.5f},{:.6f}", f, s["Ls"] * 1e6, s["Rs"])
        return f"Frequency (Hz),Ls ({sign}H),Rs (Ω)\n" + body, impedance(f, z)

    return write


for _name, _sign in {"micro_sign": "\u00b5", "greek_mu": "\u03bc", "micro_as_mc": "mc"}.items():
    _writer = _micro(_sign)
    _writer.__name__ = _name
    odd(open_end="what mcH is" if _sign == "mc" else "")(_writer)


@odd()
def milliohm_and_kilohm(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.3f},{:.9f}", f, z.real * 1e3, z.imag / 1e3)
    return "Freq. (Hz),ESR (mΩ),X (kOhms)\n" + body, impedance(f, z)


@odd()
def capacitance_and_loss_tangent(rng):
    f = frequencies()
    z = capacitor(f, rng)
    s = series(z, f)
    body = lines("{:.4f}\t{:.8f}\t{:.8f}", f / 1e3, s["Cs"] * 1e9, s["D"])
    return "f [kHz]\tCs [nF]\ttan δ\n" + body, impedance(f, z)


@odd()
def parallel_capacitance_and_resistance(rng):
    f = frequencies()
    z = capacitor(f, rng)
    p = parallel(z, f)
    body = lines("{:.1f},{:.6f},{:.8f}", f, p["Cp"] * 1e12, p["Rp"] / 1e3)
    return "Frequency (Hz),Cp (pF),Rp (kOhm)\n" + body, impedance(f, z)


@odd()
def conductance_in_millisiemens(rng):
    f, z = of_tank(rng)
    y = 1 / z
    body = lines("{:.1f},{:.9f},{:.9f}", f, y.real * 1e3, y.imag * 1e3)
    return "Frequency (Hz),G (mS),B (mS)\n" + body, impedance(f, z)


@odd()
def admittance_and_its_angle(rng):
    f, z = of_tank(rng)
    y = 1 / z
    body = lines("{:.1f},{:.6f},{:.5f}", f, abs(y) * 1e6, degrees(y))
    return "Frequency (Hz),|Y| (µS),Phase of Y (°)\n" + body, impedance(f, z)


@odd()
def angle_in_radians(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.8f}", f, abs(z), np.angle(z))
    return "Frequency (Hz),Impedance (Ohm),Phase (rad)\n" + body, impedance(f, z)


@odd()
def angle_without_a_unit(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.5f}", f, abs(z), degrees(z))
    return "Frequency (Hz),Impedance (Ohm),Phase\n" + body, impedance(f, z)


@odd()
def angle_from_0_to_360(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.5f}", f, abs(z), degrees(z) % 360)
    return "Frequency (Hz),Impedance (Ohm),Phase (deg)\n" + body, impedance(f, z)


@odd()
def magnitude_in_decibel_of_an_ohm(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.6f},{:.5f}", f, 20 * np.log10(abs(z)), degrees(z))
    return "Frequency (Hz),|Z| (dBOhm),Phase (deg)\n" + body, impedance(f, z)


@odd()
def negated_imaginary_part(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.5f}", f, z.real, -z.imag)
    return "freq/Hz,Z'/Ohm,-Z''/Ohm\n" + body, impedance(f, z)


@odd()
def negated_imaginary_part_in_words(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f}\t{:.5f}\t{:.5f}", f, z.real, -z.imag)
    return "Frequency (Hz)\tRe(Z) (Ohm)\t-Im(Z) (Ohm)\n" + body, impedance(f, z)


@odd()
def primes(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.5f}", f, z.real, z.imag)
    return "freq (Hz),Z' (Ohm),Z'' (Ohm)\n" + body, impedance(f, z)


@odd()
def zreal_and_zimag(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f} {:.5f} {:.5f}", f, z.real, z.imag)
    return "Freq(Hz) Zreal(Ohm) Zimag(Ohm)\n" + body, impedance(f, z)


@odd()
def angular_frequency(rng):
    f, z = of_tank(rng)
    body = lines("{:.6E},{:.5f},{:.5f}", 2 * np.pi * f, z.real, z.imag)
    return "ω (rad/s),R (Ω),X (Ω)\n" + body, impedance(f, z)


@odd()
def logarithm_of_the_frequency(rng):
    f, z = of_tank(rng)
    body = lines("{:.9f},{:.5f},{:.5f}", np.log10(f), z.real, z.imag)
    return "log(f/Hz),R (Ohm),X (Ohm)\n" + body, impedance(f, z)


@odd()
def megahertz_with_commas(rng):
    f, z = of_tank(rng)
    body = lines("{:.7f}\t{:.5f}\t{:.5f}", f / 1e6, z.real, z.imag, comma=True)
    return "Freq. [MHz]\tR [Ohm]\tX [Ohm]\n" + body, impedance(f, z)


@odd()
def means_and_deviations(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},0.00012,{:.5f},0.00015", f, z.real, z.imag)
    return "f (Hz),R (Ohm),u(R) (Ohm),X (Ohm),u(X) (Ohm)\n" + body, impedance(f, z)


@odd("print.txt")
def pages_with_form_feeds(rng):
    f, z = of_tank(rng)
    head = "Page {}\n\nFrequency (Hz)   R (Ohm)   X (Ohm)\n"
    rows = lines("{:14.1f} {:12.5f} {:12.5f}", f, z.real, z.imag).splitlines(keepends=True)
    pages = [head.format(n + 1) + "".join(rows[14 * n : 14 * n + 14]) for n in range(3)]
    return "\f".join(pages), impedance(f, z)


@odd()
def remarks_behind_rows(rng):
    f, z = of_tank(rng)
    remarks = ["" if n % 7 else "  ! range changed" for n in range(f.size)]
    body = lines("{:.1f},{:.5f},{:.5f}{}", f, z.real, z.imag, remarks)
    return "! Sweep of 41\nFrequency (Hz),R (Ohm),X (Ohm)\n" + body, impedance(f, z)


@odd("list.txt", open_end="what the columns are")
def signs_as_the_only_gap(rng):
    f, z = of_tank(rng)
    return lines("{:+.6E}{:+.6E}{:+.6E}", f, z.real, z.imag), impedance(f, z)


@odd("OUT.DAT")
def fortran_exponents(rng):
    f, z = of_tank(rng)
    body = lines("  {:.8E}  {:.8E}  {:.8E}", f, z.real, z.imag).replace("E", "D")
    return "  FREQ(HZ)  R(OHM)  X(OHM)\n" + body, impedance(f, z)


@odd()
def three_rows_of_headings(rng):
    f, z = of_tank(rng)
    head = "Frequency,Impedance,Phase\nf,|Z|,theta\nHz,Ohm,deg\n"
    return head + lines("{:.1f},{:.5f},{:.5f}", f, abs(z), degrees(z)), impedance(f, z)


@odd("werte.txt", open_end="what the columns are")
def bare_numbers_with_commas(rng):
    f, z = of_tank(rng)
    return lines("{:.1f}\t{:.5f}\t{:.5f}", f, z.real, z.imag, comma=True), impedance(f, z)


@odd(open_end="the loss: only the inductance is there")
def inductance_alone(rng):
    f = frequencies()
    z = coil(f, rng)
    return "Frequency (Hz),Inductance (H)\n" + lines("{:.1f},{:.8E}", f, series(z, f)["Ls"]), (
        impedance(f, z)
    )


@odd()
def two_parts_side_by_side(rng):
    f, z = of_tank(rng)
    other = tank(f, rng)
    body = lines(
        "{:.1f};{:.5f};{:.5f};;{:.1f};{:.5f};{:.5f}", f, z.real, z.imag, f, other.real, other.imag
    )
    head = "Freq (Hz);R (Ohm);X (Ohm);;Freq (Hz);R (Ohm);X (Ohm)\n"
    return head + body, impedance(f, z), impedance(f, other)


@odd()
def zero_frequency_first(rng):
    f, z = of_tank(rng)
    body = "0.0,12.10000,0.00000\n" + lines("{:.1f},{:.5f},{:.5f}", f, z.real, z.imag)
    return "Frequency (Hz),R (Ohm),X (Ohm)\n" + body, impedance(f, z)


@odd()
def minus_as_a_dash(rng):
    f, z = of_tank(rng)
    body = lines("{:.1f},{:.5f},{:.5f}", f, z.real, z.imag).replace("-", "\u2212")
    return "Frequency (Hz),R (Ohm),X (Ohm)\n" + body, impedance(f, z)


@odd(open_end="whether it is a coil or a capacitor")
def resistance_and_quality_without_reactance(rng):
    f = frequencies()
    z = coil(f, rng)
    s = series(z, f)
    body = lines("{:.1f},{:.6f},{:.6f}", f, s["Rs"], s["Q"])
    return "Frequency (Hz),Rs (Ohm),Q\n" + body, impedance(f, z)
