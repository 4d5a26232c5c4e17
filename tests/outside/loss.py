"""What an ideal energy detector does with the looks that tests/test_loss.c makes.

usage: loss.py              print the table
       loss.py TABLE        exit 1 when it differs from the table
Exit 77, skipped, only where SciPy can't be imported.

Ideal: the noise is known. The power of a look in a channel's measured width has
nu complex degrees of freedom: noise alone is Gamma(nu)/nu, a carrier makes it
noncentral chi-square with 2 nu degrees (Urkowitz 1967, from memory). nu is what
Welch 1967 (from memory) gives for the window, the overlap and the bins' weights.
"""
import sys

try:
    import numpy as np
    from scipy import optimize, signal, special, stats
except ImportError as why:
    print("skipped:", why)
    sys.exit(77)

BINS, HOP, TRANSFORMS = 1920, 960, 52       # 21.2 ms at 2.4 MS/s, in thirteen slices
WIDTH = 6.0                                 # 7.5 kHz in bins, ...
FIRST = 0.5                                 # ... about the middle of a bin
PFA, PD = 1e-4, 0.9
OFF_DB = (-1.0, -0.5, 0.0, 0.5)             # carriers beside the one found PD of the time


def freedom(transforms):
    window = signal.get_window(("kaiser", 8), BINS)
    edges = np.arange(8)
    weight = np.clip(np.minimum(edges + 1, FIRST + WIDTH) - np.maximum(edges, FIRST), 0, 1)
    total = 0.0
    for lag in range(-1, 2):
        product = np.zeros(BINS)
        m = abs(lag) * HOP
        product[: BINS - m] = window[: BINS - m] * window[m:]
        overlap = np.abs(np.fft.fft(product)) ** 2 / np.sum(window**2) ** 2
        total += (transforms - abs(lag)) * sum(
            weight[i] * weight[j] * overlap[(i - j) % BINS] for i in edges for j in edges)
    return (transforms * weight.sum()) ** 2 / total


def found(nu, threshold, snr):
    return stats.ncx2.sf(2 * nu * threshold, 2 * nu, 2 * nu * snr)


nu = freedom(TRANSFORMS)
threshold = special.gammainccinv(nu, PFA) / nu
snr = optimize.brentq(lambda s: found(nu, threshold, s) - PD, 0.01, 10)
lines = ["# nu, threshold dB, SNR dB found %g of the time at a false-alarm rate of %g" % (PD, PFA),
         "ideal %.2f %.4f %.4f" % (nu, 10 * np.log10(threshold), 10 * np.log10(snr)),
         "# SNR dB beside that one, share found"]
for off in OFF_DB:
    lines.append("found %.1f %.4f" % (off, found(nu, threshold, snr * 10 ** (off / 10))))
text = "\n".join(lines) + "\n"
if len(sys.argv) == 1:
    sys.stdout.write(text)
    sys.exit(0)
with open(sys.argv[1]) as table:
    same = table.read() == text
print("same as the table" if same else "differs from the table:\n" + text)
sys.exit(0 if same else 1)
