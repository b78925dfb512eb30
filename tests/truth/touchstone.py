"""Example files of the Touchstone specification, with the values that stand in them.

Source: Touchstone File Format Specification, Version 2.0, IBIS Open Forum, 24 April 2009,
numbered as there (examples 4 to 14 and 16 to 18). The texts are data of the examples as
distributed with scikit-rf 2 (BSD-3-Clause, Copyright 2010 Alexander Arsenovic, 2020 scikit-rf
Developers); examples 1 to 4 of the document are fragments without data, of which 4 was completed
there. Comments are left out where they say nothing about the format.
"""

from __future__ import annotations

EXAMPLES: dict[str, str] = {
    "ex_4.ts": """\
! Default impedance is overridden by [Reference]
! Note that the [Reference] keyword arguments appear on a separate line
[Version] 2.0
# GHz S MA R 50
[Number of Ports] 4
[Reference]
50 75 0.01 0.01
[Number of Frequencies] 1
[Network Data]
1   11 0 12 0 13 0 14 0
    21 0 22 0 23 0 24 0
    31 0 32 0 33 0 34 0
    41 0 42 0 43 0 44 0""",
    "ex_5.ts": """\
[Version] 2.0
# GHz S MA R 50
[Number of Ports] 4
[Number of Frequencies] 2
[Reference] 50 75 0.01 0.01
[Matrix Format] Full
[Network Data]
5.00000 0.60 161.24 0.40 -42.20 0.42 -66.58 0.53 -79.34 !row 1
 0.40 -42.20 0.60 161.20 0.53 -79.34 0.42 -66.58 !row 2
 0.42 -66.58 0.53 -79.34 0.60 161.24 0.40 -42.20 !row 3
 0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24 !row 4
6.00000 0.60 161.24 0.40 -42.20 0.42 -66.58 0.53 -79.34 !row 1
 0.40 -42.20 0.60 161.20 0.53 -79.34 0.42 -66.58 !row 2
 0.42 -66.58 0.53 -79.34 0.60 161.24 0.40 -42.20 !row 3
 0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24 !row 4""",
    "ex_6.ts": """\
! Note that [Reference] arguments are split across two lines
[Version] 2.0
# GHz S MA R 50
[Number of Ports] 4
[Number of Frequencies] 2
[Reference] 50 75
0.01 0.01
[Matrix Format] Lower
[Network Data]
5.00000 0.60 161.24 !row 1
 0.40 -42.20 0.60 161.20 !row 2
 0.42 -66.58 0.53 -79.34 0.60 161.24 !row 3
 0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24 !row 4
6.00000 0.60 161.24 !row 1
 0.40 -42.20 0.60 161.20 !row 2
 0.42 -66.58 0.53 -79.34 0.60 161.24 !row 3
 0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24 !row 4""",
    "ex_7.ts": """\
!1-port Z-parameter file, multiple frequency points
[Version] 2.0
# MHz Z MA
[Number of Ports] 1
[Number of Frequencies] 5
[Reference] 20.0
[Network Data]
!freq magZ11 angZ11
100 74.25 -4
200 60 -22
300 53.025 -45
400 30 -62
500 0.75 -89""",
    "ex_8.s1p": """\
!1-port S-parameter file, single frequency point
# MHz S MA R 50
!freq magS11 angS11
2.000 0.894 -12.136""",
    "ex_9.s1p": """\
!1-port Z-parameter file, multiple frequency points
# MHz Z MA R 75
!freq magZ11 angZ11
100 0.99 -4
200 0.80 -22
300 0.707 -45
400 0.40 -62
500 0.01 -89""",
    "ex_11.s2p": """\
!2-port H-parameter file, single frequency point
# kHz H MA R 1
! freq magH11 angH11 magH21 angH21 magH12 angH12 magH22 angH22
2 .95 -26 3.57 157 .04 76 .66 -14""",
    "ex_12.ts": """\
!2-port H-parameter file, single frequency point
[Version] 2.0
# kHz H MA R 1
[Number of Ports] 2
[Two-Port Data Order] 21_12
[Number of Frequencies] 1
[Matrix Format] Full
[Network Data]
2 .95 -26 3.57 157 .04 76 .66 -14""",
    "ex_13.s2p": """\
!2-port S-parameter file, three frequency points
# GHz S RI R 50.0
!freq ReS11 ImS11 ReS21 ImS21 ReS12 ImS12 ReS22 ImS22
1.0000 0.3926 -0.1211 -0.0003 -0.0021 -0.0003 -0.0021 0.3926 -0.1211
2.0000 0.3517 -0.3054 -0.0096 -0.0298 -0.0096 -0.0298 0.3517 -0.3054
10.000 0.3419 0.3336 -0.0134 0.0379 -0.0134 0.0379 0.3419 0.3336""",
    "ex_14.s4p": """\
! note that data points need not be aligned
# GHz S MA R 50
5.00000 0.60 161.24 0.40 -42.20 0.42 -66.58 0.53 -79.34 !row 1
 0.40 -42.20 0.60 161.20 0.53 -79.34 0.42 -66.58 !row 2
 0.42 -66.58 0.53 -79.34 0.60 161.24 0.40 -42.20 !row 3
 0.53 -79.34 0.42 -66.58 0.40 -42.20 0.60 161.24 !row 4
6.00000 0.57 150.37 0.40 -44.34 0.41 -81.24 0.57 -95.77 !row 1
 0.40 -44.34 0.57 150.37 0.57 -95.77 0.41 -81.24 !row 2
 0.41 -81.24 0.57 -95.77 0.57 150.37 0.40 -44.34 !row 3
 0.57 -95.77 0.41 -81.24 0.40 -44.34 0.57 150.37 !row 4
7.00000 0.50 136.69 0.45 -46.41 0.37 -99.09 0.62 -114.19 !row 1
0.45 -46.41 0.50 136.69 0.62 -114.19 0.37 -99.09 !row 2
0.37 -99.09 0.62 -114.19 0.50 136.69 0.45 -46.41 !row 3
0.62 -114.19 0.37 -99.09 0.45 -46.41 0.50 136.69 !row 4""",
    "ex_16.ts": """\
[Version] 2.0
# MHz S RI R 50
[Number of Ports] 6
[Number of Frequencies] 1
[Reference] 50 75 75 50 0.01 0.01
[Mixed-Mode Order] D2,3 D6,5 C2,3 C6,5 S4 S1
[Network Data]
5.00 8.0 9.0 2.0 -1.0 3.0 -2.0 1.0 3.0 1.0 0.1 0.2 -0.2
 2.0 -1.0 7.0 7.0 1.8 -2.0 -1.0 -1.0 -0.5 0.5 0.2 -0.1
 3.0 -2.0 1.8 -2.0 5.8 6.0 1.2 0.8 0.9 0.7 0.3 -0.5
 1.0 3.0 -1.0 -1.0 1.2 0.8 6.3 8.0 2.0 -0.5 1.5 0.6
 1.0 0.1 -0.5 0.5 0.9 0.7 2.0 -0.5 4.7 -6.0 -1.0 2.0
 0.2 -0.2 0.2 -0.1 0.3 -0.5 1.5 0.6 -1.0 2.0 5.5 -7.0""",
    "ex_17.ts": """\
!Default MA format, GHz frequencies, 50 ohm reference, S-parameters
[Version] 2.0
#
[Number of Ports] 2
[Two-Port Data Order] 21_12
[Number of Frequencies] 2
[Number of Noise Frequencies] 2
[Reference] 50 25.0
[Network Data]
2 .95 -26 3.57 157 .04 76 .66 -14
22 .60 -144 1.30 40 .14 40 .56 -85
[Noise Data]
4 .7 .64 69 19
18 2.7 .46 -33 20""",
    "ex_18.s2p": """\
!Default MA format, GHz frequencies, 50 ohm reference, S-parameters
#
! NETWORK PARAMETERS
2 .95 -26 3.57 157 .04 76 .66 -14
22 .60 -144 1.30 40 .14 40 .56 -85
! NOISE PARAMETERS
4 .7 .64 69 .38
18 2.7 .46 -33 .40""",
}

NO_DATA = """\
! 4-port S-parameter data
[Version] 2.0
# GHz S MA R 50
[Number of Ports] 4"""
"""Example 1: a heading without data."""

ONE_PORT_IMPEDANCE = {
    # MHz: (ohm, degrees); examples 7 and 9 describe the same part, one normalised and one not
    100: (74.25, -4.0),
    200: (60.0, -22.0),
    300: (53.025, -45.0),
    400: (30.0, -62.0),
    500: (0.75, -89.0),
}
