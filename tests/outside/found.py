"""Prints the rows of found_as_often_as_theory_says in tests/test_detect.c.

A constant-amplitude signal s over noise of nu complex degrees, opened at the
threshold that noise passes with the whole look's share of the stated rate: SciPy 1.10.1.
"""
from scipy.special import gammainccinv
from scipy.stats import ncx2

NU = 147.37     # Kaiser 8, six bins about a bin's middle, 49 transforms half overlapped
PFA = 8.55e-4   # nine tenths of 1e-3, less what gaps between channels get

threshold = gammainccinv(NU, PFA) / NU
for snr_db in (-7.5, -6.5, -5.5, -5.0, -4.0, -2.5):
    s = 10 ** (snr_db / 10)
    print("\t{ %.1f, %.4f }," % (snr_db, ncx2.sf(2 * NU * threshold, 2 * NU, 2 * NU * s)))
