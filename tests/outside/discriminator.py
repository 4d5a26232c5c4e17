"""Compares dsp/zoom and dsp/discriminator with SciPy's resampler and NumPy's angles over the
same bytes.

usage: discriminator.py PROGRAM        (the one built from zoom_words.c)
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

RATE = 2400000
BY = 96
LEAST_DB = 40           # the two agree to within so much: noise passes two filters unlike

with tempfile.TemporaryDirectory() as folder:
    said = subprocess.run([sys.argv[1], folder], check=True, stdout=subprocess.PIPE)
    raw = np.fromfile(folder + "/iq.u8", dtype=np.uint8).astype(np.float64)
    ours = np.fromfile(folder + "/hz.f32", dtype=np.float32).astype(np.float64)
rate = float(said.stdout)
iq = ((raw[0::2] - 127.5) + 1j * (raw[1::2] - 127.5)) / 127.5
iq = (iq - iq.mean()) * np.exp(2j * np.pi * 300000 / RATE * np.arange(len(iq)))
taps = signal.firwin(8001, 9900, fs=RATE, window=("kaiser", 6.2))
slow = signal.upfirdn(taps, iq, up=1, down=BY)[4000 // BY:]
theirs = np.angle(slow[1:] * np.conj(slow[:-1])) * RATE / BY / (2 * np.pi)

# Where the two lie in time: the delay that fits best, parts of a sample too.
n = min(len(ours), len(theirs)) - 200
a, b = ours[100:100 + n], theirs[100:100 + n]
a, b = a - a.mean(), b - b.mean()
window = np.hanning(n)
f = np.fft.rfftfreq(n)
spectra = np.fft.rfft(a * window), np.fft.rfft(b * window)
best = max((np.real(np.vdot(spectra[0], spectra[1] * np.exp(2j * np.pi * f * d))), d)
           for d in np.arange(-40, 40, 0.01))[1]
off = spectra[0] - spectra[1] * np.exp(2j * np.pi * f * best)
db = 10 * np.log10(np.sum(np.abs(spectra[0]) ** 2) / np.sum(np.abs(off) ** 2))
print("%.0f values a second, %.2f apart: the difference is %.1f dB below the speech"
      % (rate, best, db))
sys.exit(0 if rate == RATE / BY and db > LEAST_DB else 1)
