"""The words that head columns, in six languages, and what they stand for.

Written in small letters without accents or punctuation; a word may stand for one role only.
"""

from __future__ import annotations

__all__ = ["DIMENSIONS", "WORDS"]

_ROLES: dict[str, str] = {
    "f": "f freq frequency frequenz messfrequenz prueffrequenz frequence frecuencia frec frequenza "
    "频率 测试频率 測試頻率 test_frequency",
    "omega": "omega w angular_frequency kreisfrequenz pulsation pulsazione 角频率",
    "log f": "log_f log10_f logf log_freq log_frequency log10_frequency log10_freq lg_f",
    "period": "period periode periodo 周期",
    "point": "point points no nr index idx n # sample samples_no point_no point_number num number "
    "row messpunkt punkt punto 序号 点号",
    "time": "time t second seconds zeit temps tiempo tempo time_axis x_axis 时间",
    "R": "r re_z rez zre z_re z_real real_z zreal z_r resistance wirkwiderstand resistanz resistencia "
    "resistenza widerstand realteil 电阻 re_impedance impedance_real",
    "X": "x im_z imz zim z_im z_imag imag_z zimag z_i reactance reaktanz blindwiderstand reactancia "
    "reattanza imaginarteil 电抗 im_impedance impedance_imag",
    "|Z|": "z abs_z zabs z_abs z_mag mag_z zmag z_magnitude mod_z impedance impedanz scheinwiderstand "
    "impedancia impedenza impedance_magnitude magnitude_of_impedance module_d_impedance 阻抗 阻抗模",
    "theta": "theta phase angle arg phi theta_z phase_z arg_z z_phase z_theta z_ang z_angle "
    "phase_angle impedance_phase phasenwinkel winkel dephasage fase angolo angulo argument angle_z "
    "相位 相角 相位角 阻抗角",
    "Ls": "ls l_s series_inductance l_series inductance_series 串联电感 l_serie ls_q serieninduktivitat "
    "inductance_serie inductancia_serie induttanza_serie",
    "Lp": "lp l_p parallel_inductance l_parallel 并联电感 parallelinduktivitat inductance_parallele "
    "inductancia_paralelo induttanza_parallelo",
    "L": "l inductance induktivitat inductancia induttanza 电感 inductance_l",
    "Cs": "cs c_s series_capacitance c_series 串联电容 serienkapazitat capacite_serie capacidad_serie "
    "capacita_serie",
    "Cp": "cp c_p parallel_capacitance c_parallel 并联电容 parallelkapazitat capacite_parallele "
    "capacidad_paralelo capacita_parallelo",
    "C": "c capacitance kapazitat capacite capacidad capacitancia capacita 电容",
    "Rs": "rs r_s esr series_resistance r_series serienwiderstand resistance_serie resistencia_serie "
    "resistenza_serie 串联电阻 等效串联电阻 rac rser",
    "Rp": "rp r_p parallel_resistance r_parallel parallelwiderstand resistance_parallele "
    "resistencia_paralelo resistenza_parallelo 并联电阻 epr",
    "DCR": "dcr rdc r_dc dc_resistance gleichstromwiderstand resistance_continue 直流电阻",
    "Q": "q q_factor quality_factor qf gute gutefaktor facteur_de_qualite facteur_qualite "
    "factor_de_calidad fattore_di_qualita fattore_di_merito 品质因数 品质因素",
    "D": "d df tan_delta tand tan_d dissipation dissipation_factor verlustfaktor loss_factor loss "
    "facteur_de_pertes facteur_de_dissipation factor_de_disipacion factor_de_perdidas "
    "fattore_di_perdita fattore_di_dissipazione 损耗 损耗因数 损耗角正切",
    "G": "g re_y rey y_re y_real real_y conductance wirkleitwert konduktanz leitwert conductancia "
    "conduttanza 电导",
    "B": "b im_y imy y_im y_imag imag_y susceptance blindleitwert suszeptanz susceptancia suscettanza "
    "电纳",
    "|Y|": "y abs_y yabs y_abs mag_y y_mag admittance admittanz scheinleitwert admitancia ammettenza "
    "导纳",
    "phi": "phi_y phase_y arg_y y_phase theta_y angle_y y_theta",
    "re": "re real",
    "im": "im imag imaginary",
    "mag": "mag magnitude abs lin lin_mag linmag amplitude amplitude_lin betrag module modulo",
    "db": "db mag_db log_mag logmag mag_in_db mlog db_mag amplitude_db",
    "gain": "gain ratio vout_vin transfer transmission verstarkung ch2_ch1 h ch2/ch1 b/a "
    "ubertragung rapport guadagno ganancia 增益",
    "VSWR": "vswr swr",
    "return loss": "return_loss rl ruckflussdampfung returnloss",
    "voltage": "voltage volt volts u v spannung tension voltaje tensione 电压 value amplitude_v",
    "counts": "counts count adc raw code codes adc_counts lsb",
    "current": "current i strom courant corriente corrente 电流",
    "status": "status stat st state zustand 状态 flag flags range rng",
    "bin": "bin comp comparator",
    "verdict": "verdict result judge judgement judgment pass pass/fail ergebnis resultat resultado "
    "risultato 判定 结果 ok",
    "serial": "serial sn s/n serial_no serial_number id part part_no part_id dut sample_id "
    "seriennummer numero_de_serie numero_serie numero_di_serie 序列号 编号",
    "level": "level osc osc_level test_level signal_level pegel niveau nivel livello 电平",
    "bias": "bias dc_bias idc vdc i_bias v_bias vorspannung 偏置",
    "temperature": "temperature temp temperatur temperatura 温度",
    "first": "a data_a primary param_a parameter_a para_a pri prim value_a 主参数 first",
    "second": "b_secondary data_b secondary param_b parameter_b para_b sec second_parameter 副参数",
    "remark": "remark comment note notes bemerkung kommentar commentaire operator date timestamp "
    "datum time_stamp",
    "spread": "std sd stdev std_dev sigma deviation standard_deviation std_r std_x sd_r sd_x",
}

WORDS: dict[str, str] = {
    word.replace("_", " "): role for role, words in _ROLES.items() for word in words.split()
}

DIMENSIONS: dict[str, str] = {
    "f": "Hz",
    "omega": "Hz",
    "time": "s",
    "period": "s",
    "R": "ohm",
    "X": "ohm",
    "|Z|": "ohm",
    "Rs": "ohm",
    "Rp": "ohm",
    "DCR": "ohm",
    "Ls": "H",
    "Lp": "H",
    "L": "H",
    "Cs": "F",
    "Cp": "F",
    "C": "F",
    "G": "S",
    "B": "S",
    "|Y|": "S",
    "voltage": "V",
    "current": "A",
}
