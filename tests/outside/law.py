"""How noise in a stretch of bins is spread, by its eigenvalues.

usage: law.py               print the table
       law.py TABLE         exit 1 when it differs from the table
Exit 77, skipped, only where SciPy can't be imported.

The powers are |y|^2 of jointly normal y: their sum is a sum of exponentials, each as
large as an eigenvalue of the covariance. The chance of passing x is the inverse Laplace
transform of its moment generating function, summed along the line through the saddle.
"""
import sys

try:
    import numpy as np
    from scipy import optimize, signal
except ImportError as why:
    print("skipped:", why)
    sys.exit(77)

PFA = (1e-2, 1e-3, 1e-4, 1e-5, 4e-6, 1e-8, 1e-10)
# n, hop, transforms, from, bins: what the stretch is
ROWS = [(1920, 960, 4, 0.5, 6.0, "7.5 kHz, a slice"), (1920, 960, 4, 0.3, 4.0, "25/3 kHz raster, a slice"),
        (1920, 960, 4, 0.0, 12.0, "25 kHz raster, a slice"), (3840, 1920, 2, 0.3, 4.8, "5 kHz, a slice"),
        (1920, 960, 4, 0.0, 86.4, "broadcast, a slice"), (1920, 960, 4, 0.0, 2.7, "a narrow gap, a slice"),
        (1920, 960, 24, 0.5, 6.0, "7.5 kHz, 10 ms"), (1920, 960, 52, 0.5, 6.0, "7.5 kHz, 20 ms"),
        (64, 32, 4, 0.5, 6.0, "few points, for the simulation"),
        (64, 32, 12, 0.5, 6.0, "and longer"), (64, 16, 6, 0.0, 3.0, "three quarters overlap")]


def eigenvalues(n, hop, transforms, first, bins):
    window = signal.get_window(("kaiser", 8), n)
    edges = np.arange(int(np.ceil(first + bins)))
    weight = np.clip(np.minimum(edges + 1, first + bins) - np.maximum(edges, first), 0, 1)
    size, high = transforms * len(edges), np.subtract.outer(edges, edges)
    both = np.zeros((size, size), complex)
    for t in range(transforms):
        for u in range(transforms):
            lag = abs(t - u) * hop
            if lag >= n:
                continue
            shared = np.fft.fft(window[lag:] * window[:n - lag], n)[high % n]
            turn = np.exp(-2j * np.pi * high * (max(t, u) * hop % n) / n)
            both[t * len(edges):(t + 1) * len(edges), u * len(edges):(u + 1) * len(edges)] = (
                shared * turn * np.sqrt(np.outer(weight, weight)))
    return np.linalg.eigvalsh(both / (np.sum(window**2) * transforms * bins))


def above(x, values):
    top = values.max()
    slope = lambda s: np.sum(values / (1 - values * s)) - x
    s = optimize.brentq(slope, 1e-9 / top, (1 - 1e-12) / top)
    width = 1 / np.sqrt(np.sum((values / (1 - values * s)) ** 2))
    z = s + 1j * np.linspace(-40 * width, 40 * width, 801)
    logs = np.zeros_like(z)
    for v in values:
        logs -= np.log(1 - v * z)
    return np.trapz(np.real(np.exp(logs - z * x) / z), np.imag(z)) / (2 * np.pi)


def thresholds(values):
    found, low = [], 1.05
    for pfa in PFA:
        low = optimize.brentq(lambda x: np.log(max(above(x, values), 1e-300) / pfa), low, 3 * low, xtol=1e-7)
        found.append(low)
    return found


lines = ["# n hop transforms from bins: thresholds that noise passes with the chances",
         "# " + " ".join("%g" % p for p in PFA)]
for n, hop, transforms, first, bins, why in ROWS:
    values = eigenvalues(n, hop, transforms, first, bins)
    values = values[values > 1e-9 * values.max()]
    lines.append("# " + why)
    lines.append("law %d %d %d %g %g " % (n, hop, transforms, first, bins) +
                 " ".join("%.5f" % x for x in thresholds(values)))
text = "\n".join(lines) + "\n"
if len(sys.argv) == 1:
    sys.stdout.write(text)
    sys.exit(0)

def numbers(text):
    return [float(x) for line in text.splitlines() if line.startswith("law") for x in line.split()[1:]]


with open(sys.argv[1]) as table:
    theirs, ours = numbers(table.read()), numbers(text)
same = len(theirs) == len(ours) and np.allclose(theirs, ours, rtol=0, atol=2e-5)
print("same as the table" if same else "differs from the table:\n" + text)
sys.exit(0 if same else 1)
