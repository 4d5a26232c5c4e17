"""Compares dsp/spectrum with SciPy's Welch estimate over the same bytes.

usage: welch.py PROGRAM        (the one built from spectrum_words.c)
Exit 77, skipped, only where SciPy can't be imported.
"""
import subprocess
import sys
import tempfile

try:
    import numpy as np
    from scipy import signal
except ImportError as why:
    print("skipped:", why)
    sys.exit(77)

RELATIVE = 1e-4
# bins, hop: the usual grids, an odd rate's, and another overlap
GRIDS = [(1920, 960), (3840, 1920), (1600, 800), (2000, 500), (810, 405)]


def compare(program, bins, hop):
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([program, folder, str(bins), str(hop)], check=True)
        raw = np.fromfile(folder + "/iq.u8", dtype=np.uint8).astype(np.float64)
        ours = np.fromfile(folder + "/power.f64", dtype=np.float64)
        window = np.fromfile(folder + "/window.f32", dtype=np.float32)
    iq = ((raw[0::2] - 127.5) + 1j * (raw[1::2] - 127.5)) / 127.5
    theirs = signal.get_window(("kaiser", 8), bins)
    off_window = np.max(np.abs(window - theirs))
    _, density = signal.welch(iq, fs=1.0, window=theirs, nperseg=bins, noverlap=bins - hop,
                              detrend=False, return_onesided=False, scaling="density")
    power = np.fft.fftshift(density) / bins
    off_power = np.max(np.abs(ours / power - 1))
    print("%d bins, hop %d: window off by %.1e, power by %.1e relative"
          % (bins, hop, off_window, off_power))
    return len(ours) == bins and off_window < 1e-7 and off_power < RELATIVE


results = [compare(sys.argv[1], bins, hop) for bins, hop in GRIDS]
sys.exit(0 if all(results) else 1)
