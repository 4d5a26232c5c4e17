"""Measures scipy.signal.welch on samples that bench_chain wrote.

usage: bench_scipy.py SAMPLES PAIRS_A_LOOK PASSES    lines "welch BINS NS_A_SAMPLE" (CPU time)

The samples are made complex64 beforehand: converting bytes is not counted.
"""
import sys
import time

import numpy as np
from scipy import signal

LOOKS = 12

path, look, passes = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
raw = np.fromfile(path, dtype=np.uint8, count=2 * look * LOOKS).astype(np.float32)
iq = ((raw - np.float32(127.5)) / np.float32(127.5)).view(np.complex64).reshape(LOOKS, look)


def welch(bins, window):
    for samples in iq:
        signal.welch(samples, fs=2.4e6, window=window, nperseg=bins, noverlap=bins // 2,
                     detrend=False, return_onesided=False)


# The first calls pay for what is made once.
for bins in 1920, 3840:
    welch(bins, ("kaiser", 8))
for _ in range(passes):
    for bins in 1920, 3840:
        window = signal.get_window(("kaiser", 8), bins).astype(np.float32)
        begun = time.process_time_ns()
        welch(bins, window)
        print("welch %d %.4f" % (bins, (time.process_time_ns() - begun) / iq.size))
