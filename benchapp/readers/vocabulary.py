"""The words that head columns, in six languages, and what they stand for.

Written as `heading.normal` gives them: small letters, no accents, an underscore for each blank.
One word stands for one role only.
"""

from __future__ import annotations

__all__ = ["COMBINED", "CONDITIONS", "DIMENSIONS", "FILLERS", "WORDS"]

_ROLES: dict[str, str] = {
    "f": """
        f freq frequency frequenz messfrequenz prueffrequenz pruffrequenz testfrequenz frequence
        frecuencia frec frequenza 频率 測試頻率 测试频率 test_frequency test_freq meas_freq
        stimulus stimulus_frequency sweep_frequency
        frequency_of_test frequence_de_test frecuencia_de_prueba frequenza_di_prova 頻率 fq""",
    "omega": "omega angular_frequency kreisfrequenz pulsation pulsazione pulsacion 角频率",
    "log f": """
        log_f log10_f logf log_freq log_frequency log10_frequency log10_freq lg_f lg_freq
        lg_frequency log_frequenz lg_frequenz log_frequence""",
    "period": "period periode periodo 周期",
    "point": """
        point points no nr index idx n # sample samples sample_no sample_number point_no
        point_number num number row messpunkt punkt punto sequence 序号 点号 meas_no""",
    "time": """
        time t zeit temps tiempo tempo time_axis x_axis 时间 second seconds source
        elapsed_time relative_time""",
    "trigger": "trigtime trig_time trigger_time",
    "segment": "segment seg segment_no segment_number",
    "R": """
        r re_z rez zre z_re z_real real_z zreal z_r resistance wirkwiderstand resistanz
        resistencia resistenza widerstand realteil 电阻 re_impedance real_impedance
        resistance_r r_resistance partie_reelle parte_real parte_reale realteil_z""",
    "X": """
        x im_z imz zim z_im z_imag imag_z zimag z_i reactance reaktanz
        blindwiderstand reactancia reattanza imaginarteil 电抗 im_impedance imag_impedance
        reactance_x xs x_s xser x_ser x_series xac
        series_reactance partie_imaginaire parte_imaginaria parte_immaginaria imaginarteil_z""",
    "|Z|": """
        z abs_z zabs z_abs z_mag mag_z zmag z_magnitude mod_z impedance impedanz scheinwiderstand
        impedancia impedenza impedance_magnitude magnitude_z impedance_abs_z impedanz_abs_z
        impedancia_abs_z impedenza_abs_z abs_impedance module_de_z modulo_de_z modulo_z module_z
        betrag_z z_betrag 阻抗 阻抗模 阻抗模值 阻抗幅值 阻抗_abs_z""",
    "theta": """
        theta phase angle arg phi phase_theta theta_z phase_z arg_z z_phase z_theta z_ang z_angle
        phase_angle impedance_phase phasenwinkel winkel dephasage fase angolo angulo argument
        angle_z angle_de_phase angolo_di_fase angulo_de_fase desfase sfasamento ph ang
        相位 相角 相位角 阻抗角""",
    "Ls": """
        ls l_s series_inductance l_series inductance_series l_serie serieninduktivitat
        inductance_serie inductancia_serie induttanza_serie 串联电感 reiheninduktivitat
        inductance_ls induktivitat_ls inductancia_ls induttanza_ls 电感_ls""",
    "Lp": """
        lp l_p parallel_inductance l_parallel parallelinduktivitat inductance_parallele
        inductancia_paralelo induttanza_parallelo 并联电感 inductance_lp induktivitat_lp
        inductancia_lp induttanza_lp""",
    "L": "l inductance induktivitat inductancia induttanza 电感 inductance_l induktivitat_l",
    "Cs": """
        cs c_s series_capacitance c_series serienkapazitat capacite_serie capacidad_serie
        capacita_serie 串联电容 capacitance_cs kapazitat_cs""",
    "Cp": """
        cp c_p parallel_capacitance c_parallel parallelkapazitat capacite_parallele
        capacidad_paralelo capacita_parallelo 并联电容 capacitance_cp kapazitat_cp""",
    "C": "c capacitance kapazitat capacite capacidad capacitancia capacita 电容 capacitance_c",
    "Rs": """
        rs r_s esr series_resistance r_series serienwiderstand resistance_serie
        resistencia_serie resistenza_serie 串联电阻 等效串联电阻 rac rser reihenwiderstand
        equivalent_series_resistance ersatzserienwiderstand""",
    "Rp": """
        rp r_p parallel_resistance r_parallel parallelwiderstand resistance_parallele
        resistencia_paralelo resistenza_parallelo 并联电阻 epr""",
    "DCR": """
        dcr rdc r_dc dc_resistance gleichstromwiderstand resistance_continue resistance_dc
        resistencia_cc resistenza_cc 直流电阻""",
    "Q": """
        q q_factor quality_factor qf gute gutefaktor facteur_de_qualite facteur_qualite
        factor_de_calidad fattore_di_qualita fattore_di_merito q_value 品质因数 品质因素""",
    "D": """
        d df tan_delta tand tan_d dissipation dissipation_factor verlustfaktor loss_factor
        facteur_de_pertes facteur_de_dissipation factor_de_disipacion factor_de_perdidas
        fattore_di_perdita fattore_di_dissipazione loss_tangent tangens_delta
        损耗 损耗因数 损耗角正切""",
    "G": """
        g re_y rey y_re y_real real_y conductance wirkleitwert konduktanz leitwert conductancia
        conduttanza 电导""",
    "B": """
        b im_y imy y_im y_imag imag_y susceptance blindleitwert suszeptanz susceptancia
        suscettanza 电纳""",
    "|Y|": """
        y abs_y yabs y_abs mag_y y_mag admittance admittanz scheinleitwert admitancia ammettenza
        admittance_abs_y 导纳""",
    "phi": "phi_y phase_y arg_y y_phase theta_y angle_y y_theta y_angle",
    "re": "re real real_part",
    "im": "im imag imaginary imag_part",
    "mag": """
        mag magnitude abs lin lin_mag linmag betrag module modulo linear_magnitude
        amplitude_lin""",
    "db": "db mag_db log_mag logmag mag_in_db mlog db_mag amplitude_db log_magnitude",
    "gain": """
        gain transfer transmission verstarkung ch2_ch1 h ch2/ch1 ch1/ch2 vout/vin v2/v1 abs_h
        ubertragung ubertragungsfaktor guadagno ganancia amplitude amplification
        增益 out/in voltage_gain gain_mag h_f abs_g amplitude_ch2/ch1 uout/uin ua/ue""",
    "VSWR": "vswr swr stehwellenverhaltnis ros",
    "return loss": "return_loss rl ruckflussdampfung returnloss perte_de_retour 回波损耗",
    "voltage": """
        voltage volt volts u v spannung tension voltaje tensione value data signal waveform
        amplitude_v ampl y_axis 电压""",
    "counts": "counts count adc raw code codes adc_counts lsb adc_code raw_data",
    "current": "current i strom courant corriente corrente 电流",
    "low": "min minimum low ch1_min min_v",
    "high": "max maximum high ch1_max max_v",
    "status": "status stat st state zustand 状态 flag flags estado stato etat error_code",
    "bin": "bin comp comparator bin_no range rng range_no meas_range",
    "verdict": """
        verdict result judge judgement judgment pass pass/fail ergebnis resultat resultado
        risultato urteil 判定 结果 ok""",
    "serial": """
        serial sn s/n serial_no serial_number id part part_no part_id dut sample_id unit_id
        seriennummer seriennr numero_de_serie numero_serie numero_di_serie 序列号 编号""",
    "level": """
        level osc osc_level test_level signal_level pegel messpegel niveau nivel livello
        oscillator_level test_signal 电平 测试电平""",
    "bias": """
        bias dc_bias idc vdc i_bias v_bias bias_current bias_voltage vorspannung vormagnetisierung
        polarisation dc_current 偏置""",
    "temperature": "temperature temp temperatur temperatura 温度",
    "first": "a data_a primary param_a parameter_a para_a pri prim value_a meas_a 主参数",
    "second": "b_secondary data_b secondary param_b parameter_b para_b sec value_b meas_b 副参数",
    "remark": """
        remark remarks comment note notes bemerkung kommentar commentaire operator date timestamp
        datum time_stamp clock_time date_time""",
    "series": "series serial serie reihe serien ser",
    "parallel": "parallel parallele paralelo parallelo par",
    "spread": """
        std sd stdev std_dev sigma deviation standard_deviation stddev u uncertainty
        standardabweichung ecart_type""",
}

WORDS: dict[str, str] = {
    word.replace("_", " "): role
    for role, words in reversed(_ROLES.items())
    for word in words.split()
}

DIMENSIONS: dict[str, str] = {
    **dict.fromkeys(("f", "omega", "log f"), "Hz"),
    **dict.fromkeys(("time", "period", "trigger"), "s"),
    **dict.fromkeys(("R", "X", "|Z|", "Rs", "Rp", "DCR"), "ohm"),
    **dict.fromkeys(("Ls", "Lp", "L"), "H"),
    **dict.fromkeys(("Cs", "Cp", "C"), "F"),
    **dict.fromkeys(("G", "B", "|Y|"), "S"),
    **dict.fromkeys(("theta", "phi"), "rad"),
    **dict.fromkeys(("Q", "D", "VSWR"), ""),
    "current": "A",
    "temperature": "degC",
}

_FILLERS = """
    of the factor value values measured meas mean avg average wert mittel de la du der des test
    actual result data part function circuit equivalent ersatz eq"""
FILLERS = frozenset(_FILLERS.split())
"""Words that may stand beside a known one without changing what it means."""

COMBINED: dict[frozenset[str], str] = {
    frozenset(parts.split()): role
    for role, combinations in {
        "Ls": "L+Ls L+series Ls+series",
        "Lp": "L+Lp L+parallel Lp+parallel",
        "Cs": "C+Cs C+series Cs+series",
        "Cp": "C+Cp C+parallel Cp+parallel",
        "Rs": "R+Rs R+series Rs+series",
        "Rp": "R+Rp R+parallel Rp+parallel",
        "|Z|": "|Z|+mag",
        "|Y|": "|Y|+mag",
        "theta": "|Z|+theta gain+theta mag+theta",
        "phi": "|Y|+theta |Y|+phi",
        "R": "|Z|+re R+re |Z|+R",
        "X": "|Z|+im X+im |Z|+X X+series",
        "G": "|Y|+re |Y|+G",
        "B": "|Y|+im |Y|+B",
        "gain": "gain+mag gain+voltage",
    }.items()
    for parts in (combination.replace("+", " ") for combination in combinations.split())
}
"""Roles of headings that join several known words."""

CONDITIONS = ("level", "bias", "temperature")
