"""Compares dsp/crystal's answer with SciPy's optimum of the same likelihood.

usage: crystal.py PROGRAM        (the one built from crystal_words.c)
Exit 77, skipped, only where SciPy can't be imported.

A carrier is on a channel of its band with chance 0.9, normally distributed about it with
its own standard error and the transmitters' spread (one of four, alike beforehand), wrapped
round the step; else it is anywhere (Fogel and Gavish 1989, the comb; from memory).
"""
import subprocess
import sys

try:
    import numpy as np
    from scipy import integrate, optimize, special
except ImportError as why:
    print("skipped:", why)
    sys.exit(77)

SPREADS = (0.3, 0.6, 1.2, 2.4)
NEAR_PPM = 0.02         # of the mean, whose own grid is 0.01 ppm
WITHIN = 2.0            # what counts as the same answer


def log_likelihood(ppm, spread, bands, hz, error):
    true = hz * (1 + ppm * 1e-6)
    sigma = np.hypot(error, spread * 1e-6 * hz)
    ratio = np.ones_like(hz)
    for first, step, count in bands:
        inside = (true >= first - step / 2) & (true <= first + (count - 0.5) * step)
        off = np.mod(true - first + step / 2, step) - step / 2
        wrapped = sum(np.exp(-0.5 * ((off + k * step) / sigma) ** 2) for k in range(-2, 3))
        wrapped /= sigma * np.sqrt(2 * np.pi)
        ratio = np.where(inside, step * wrapped, ratio)
    return np.sum(np.log(0.1 + 0.9 * ratio))


def mixed(ppm, *known):
    return special.logsumexp([log_likelihood(ppm, s, *known) for s in SPREADS])


def best(*known):
    coarse = np.arange(-150, 150, 0.5)
    starts = sorted(coarse, key=lambda x: -max(mixed(x + d, *known) for d in (0, 0.25)))[:12]
    tops = [optimize.minimize_scalar(lambda x: -mixed(x, *known), bounds=(s - 1, s + 1),
                                     method="bounded", options={"xatol": 1e-5}) for s in starts]
    return min(tops, key=lambda t: t.fun).x


def moments(top, *known):
    peak = mixed(top, *known)
    part = [integrate.quad(lambda x: (x - top) ** m * np.exp(mixed(x, *known) - peak),
                           top - WITHIN, top + WITHIN, points=[top], limit=60, epsrel=1e-5)[0] for m in range(3)]
    mean = part[1] / part[0]
    return top + mean, np.sqrt(part[2] / part[0] - mean ** 2)


bands, witness, seed, good = [], [], 0, True
for line in subprocess.run([sys.argv[1]], check=True, capture_output=True, text=True).stdout.splitlines():
    word, *rest = line.split()
    if word == "band":
        bands.append((float(rest[0]), float(rest[1]), int(rest[2])))
    elif word == "case":
        seed, witness = int(rest[0]), []
    elif word == "witness":
        witness.append((float(rest[0]), float(rest[1])))
    elif word == "told":
        hz, error = np.array(witness).T
        mean, deviation = moments(best(bands, hz, error), bands, hz, error)
        ours, sure = float(rest[1]), float(rest[2])
        same = abs(ours - mean) < NEAR_PPM and abs(sure - deviation) < NEAR_PPM
        print("seed %d, %d carriers: %.3f +- %.3f ppm, SciPy %.3f +- %.3f%s"
              % (seed, len(hz), ours, sure, mean, deviation, "" if same else "  NOT THE SAME"))
        good = good and same
sys.exit(0 if good and seed else 1)
