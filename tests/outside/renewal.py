"""Compares tools/plan/renewal's likelihood with one of SciPy's matrix exponentials, and its
Rayleigh test with random angles.

usage: renewal.py PROGRAM        (the one built from renewal_words.c)
Exit 77, skipped, only where SciPy can't be imported.
"""
import subprocess
import sys

try:
    import numpy as np
    from scipy.linalg import expm
except ImportError as why:
    print("skipped:", why)
    sys.exit(77)

AFRESH, BEGAN, ON, OFF, STAYED_ON, STAYED_OFF, LEFT, MET, ROSE, FELL = range(10)
NEAR = 1e-6             # of a logarithm of about 100


def likelihood(chain, glimpses, every):
    phases, on_s, gap_s, more, idle_s, hang_s = chain
    k = int(phases)
    leave, n = k / on_s, k + 2
    joins = more * (1 - np.exp(-hang_s / gap_s))
    q = np.zeros((n, n))
    for i in range(k - 1):
        q[i, i + 1] = leave
    q[k - 1, k], q[k - 1, k + 1] = leave * more, leave * (1 - more)
    q[k, 0], q[k + 1, 0] = 1 / gap_s, 1 / idle_s
    q -= np.diag(q.sum(axis=1))
    watched = q[:k, :k].copy()          # on, with silence below the hang passed over
    watched[k - 1, 0] += leave * joins
    on = np.arange(n) < k
    a, total = np.zeros(n), 0.0

    def stay_off(a, s):
        b = np.zeros(n)
        b[k:] = a[k:] * np.exp(np.array([-s / gap_s, -s / idle_s]))
        return b

    def look_off(a, s):             # as often as usual, in sixteenths of that
        looks = max(int(s / every + 0.75), 1) if s > 0.02 * every else 0
        for _ in range(looks):
            a = (a @ expm(q * every / 16 * np.floor(16 * s / looks / every + 0.5))) * ~on
        return a

    def partly(what, a, s, least, most):        # means of four stays, all as likely
        stays = least + (most - least) * (np.arange(4) + 0.5) / 4
        return sum(look_off(stay_off(a, t), s - t) if what == LEFT else
                   stay_off(look_off(a, s - t), t) for t in stays) / 4

    for what, s, least, most in glimpses:
        if what == AFRESH:
            a = np.zeros(n)
            a[k + 1] = 1
            a = (a @ expm(q * s)) * on
        elif what == BEGAN:
            a = np.zeros(n)
            a[0] = 1
        elif what == ON:
            a = (a @ expm(q * s)) * on
        elif what == OFF:
            a = (a @ expm(q * s)) * ~on
        elif what == STAYED_ON:
            b = np.zeros(n)
            b[:k] = a[:k] @ expm(watched * s)
            a = b
        elif what == STAYED_OFF:
            a = stay_off(a, s)
        elif what in (LEFT, MET):
            a = partly(what, a, s, least, most)
        elif what == ROSE:
            b = np.zeros(n)
            b[0] = a[k] / gap_s + a[k + 1] / idle_s
            a = b
        elif what == FELL:
            b = np.zeros(n)
            b[k] = a[k - 1] * leave * (more - joins)
            b[k + 1] = a[k - 1] * leave * (1 - more)
            a = b
        if what > BEGAN:
            total += np.log(max(a.sum(), 1e-300))
        a = a / max(a.sum(), 1e-300)
    return total


def main():
    out = subprocess.run([sys.argv[1]], check=True, capture_output=True, text=True).stdout
    chain, every, glimpses, cases, worst, failed = None, 0.0, [], 0, 0.0, 0
    rng = np.random.default_rng(20261128)
    for line in out.splitlines():
        word, *rest = line.split()
        if word == "case":
            every = float(rest[0])
        elif word == "chain":
            chain, glimpses = [float(x) for x in rest], []
        elif word == "glimpse":
            glimpses.append((int(rest[0]), *(float(x) for x in rest[1:])))
        elif word == "told":
            want, got = likelihood(chain, glimpses, every), float(rest[0])
            cases += 1
            worst = max(worst, abs(got - want) / abs(want))
            failed += abs(got - want) > NEAR * abs(want)
        elif word == "rayleigh":
            n, length, got = int(rest[0]), float(rest[1]), float(rest[2])
            angles = rng.uniform(0, 2 * np.pi, (200000, n))
            want = np.mean(np.abs(np.exp(1j * angles).mean(axis=1)) >= length)
            print(f"{n} angles, mean vector {length:.3f}: chance {got:.4f}, played {want:.4f}")
            failed += abs(got - want) > 0.003
    print(f"likelihoods compared: {cases}, worst difference {worst:.1e} of it")
    return 1 if failed or cases == 0 else 0


sys.exit(main())
