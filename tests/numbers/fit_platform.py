#!/usr/bin/env python3
"""Learns pipeline/platform/weights.cpp from files of crestgate_platform_cues.

usage: fit_platform.py OUT.cpp TRAIN[,TRAIN...][+TRAIN[,TRAIN...]] CHECK[,CHECK...]   (needs python3-scipy)

The first net learns from the files before the +, the others from those after it.

Model: a height with cues x is rated z = a x + sum_k c_k tanh(b_k + W_k x); the posterior is the soft
maximum over all heights of an end and "nowhere". Maximised: mean logarithm of the posterior at the
true height, softened by 0.06 mm ("nowhere" at the other end, or where the true height is not among
the rated ones), less a penalty on the squared weights of standardised cues. Ends without a platform
count a third. Each end's cues are first multiplied by gains of their own (log-normal, sd GAIN), so
that no cue is trusted to have exactly the strength our renderer gives it. L-BFGS, fixed seeds. The
mean rating of several such nets is taken: each alone is too sure of some places.
"""
import struct
import sys

import numpy as np
from scipy.optimize import minimize

# seed, tanh terms, penalty, steps
NETS = ((1, 16, 1e-4, 450), (1, 16, 1e-4, 300), (2, 24, 2e-5, 320), (3, 16, 5e-5, 300))
SOFT_MM, OTHER_END, GAIN = 0.06, 1 / 3, 0.1


def load(names):
    ends = []
    for name in names.split(","):
        data, at = open(name, "rb").read(), 0
        while at < len(data):
            rows, cues, truth = struct.unpack("<iif", data[at : at + 12])
            at += 12
            a = np.frombuffer(data, "<f4", rows * (cues + 1), at).reshape(rows, cues + 1)
            at += 4 * rows * (cues + 1)
            ends.append((a[:, 0].astype(float), np.nan_to_num(a[:, 1:].astype(float)), truth))
    return ends


def target(heights, truth):
    w = np.exp(-0.5 * ((heights - truth) / SOFT_MM) ** 2)
    return w / w.sum() if np.isfinite(truth) and w.sum() > 0.2 else None


def unpack(w, cues, terms):
    i = cues + 1
    hidden = w[i : i + cues * terms].reshape(cues, terms)
    i += cues * terms
    return w[:cues], w[cues], hidden, w[i : i + terms], w[i + terms : i + 2 * terms]


def fit(ends, seed, terms, penalty, steps):
    cues = ends[0][1].shape[1]
    random = np.random.default_rng(seed)
    x = np.vstack([e[1] * np.exp(random.normal(0, GAIN, cues)) for e in ends])
    mean, sd = x.mean(0), x.std(0) + 1e-6
    x = ((x - mean) / sd).astype("f4")
    targets = [target(e[0], e[2]) for e in ends]
    lengths = [len(e[0]) for e in ends]
    first = np.cumsum([0] + lengths)[:-1]
    end_of = np.repeat(np.arange(len(ends)), lengths)
    wanted = np.concatenate([np.zeros(n) if t is None else t for t, n in zip(targets, lengths)])
    none = np.array([t is None for t in targets])
    weight = np.array([1.0 if np.isfinite(e[2]) else OTHER_END for e in ends])
    weight /= weight.sum()
    start = np.zeros(cues + 1 + (cues + 2) * terms)
    start[cues + 1 : cues + 1 + cues * terms] = random.normal(0, 0.3, cues * terms)
    start[-terms:] = random.normal(0, 0.3, terms)

    def loss(w):
        a, nowhere, hidden, bias, out = unpack(w, cues, terms)
        act = np.tanh(x @ hidden.astype("f4") + bias.astype("f4"))
        z = (x @ a.astype("f4") + act @ out.astype("f4")).astype(float)
        most = np.maximum(np.maximum.reduceat(z, first), nowhere)
        e, e0 = np.exp(z - most[end_of]), np.exp(nowhere - most)
        total = np.add.reduceat(e, first) + e0
        log_likelihood = np.add.reduceat(wanted * z, first) + none * nowhere - most - np.log(total)
        g = ((wanted - e / total[end_of]) * weight[end_of]).astype("f4")
        d = g[:, None] * out.astype("f4") * (1 - act * act)
        of_nowhere = ((none - e0 / total) * weight).sum()
        gradient = np.concatenate([x.T @ g, [of_nowhere], (x.T @ d).ravel(), d.sum(0), act.T @ g])
        return penalty * (w @ w) - (log_likelihood * weight).sum(), 2 * penalty * w - gradient

    w = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": steps}).x
    a, nowhere, hidden, bias, out = unpack(w, cues, terms)
    # Standardising folded in: z then differs by a constant, which "nowhere" takes.
    hidden = hidden / sd[:, None]
    return a / sd, nowhere + (a / sd) @ mean, hidden, bias - mean @ hidden, out


def together(models):
    """One net that rates as the mean of several does."""
    linear, nowhere, hidden, bias, out = zip(*models)
    n = len(models)
    return (sum(linear) / n, sum(nowhere) / n, np.hstack(hidden), np.concatenate(bias),
            np.concatenate(out) / n)


def posterior(model, x):
    a, nowhere, hidden, bias, out = model
    z = x @ a + np.tanh(x @ hidden + bias) @ out
    most = max(z.max(), nowhere)
    e, e0 = np.exp(z - most), np.exp(nowhere - most)
    return e / (e.sum() + e0), e0 / (e.sum() + e0)


def report(name, model, ends):
    places, log_odds = [], []
    for heights, x, truth in ends:
        p, none = posterior(model, x)
        log_odds.append(np.log((1 - none) / max(none, 1e-300)))
        if not np.isfinite(truth):
            continue
        best = max(range(len(p)), key=lambda i: p[max(0, i - 4) : i + 5].sum())
        near = np.abs(heights - heights[best]) <= 0.2
        share = p[near].sum()
        places.append((share, abs((p[near] * heights[near]).sum() / share - truth)))
    share, error = np.array(places).T
    print(f"{name}: {len(share)} platforms, nearest place right to 0.3 mm {np.mean(error < 0.3):.2f}")
    for least, most in [(0.95, 2), (0.9, 0.95), (0.8, 0.9), (0.7, 0.8), (0.55, 0.7), (0.4, 0.55), (0, 0.4)]:
        pick = (share >= least) & (share < most)
        wrong = (error[pick] >= 0.3).sum()
        print(f"  share {least:.2f}-{most:.2f}: {pick.sum()} places, {wrong} wrong, "
              f"{(error[pick] >= 0.5).sum()} off by 0.5 mm")
    ahead = np.array(log_odds[0::2]) - np.array(log_odds[1::2])  # each end is followed by the other
    print("  the true end's evidence over the other's: "
          + ", ".join(f"< {t}: {np.mean(ahead < t):.3f}" for t in (-5, -3, -1, 0, 1, 2, 3, 4, 5, 6)))


def write(path, model, used):
    a, nowhere, hidden, bias, out = model
    row = lambda v: "{" + ", ".join(f"{y:.5g}" for y in v) + "}"
    with open(path, "w") as f:
        f.write(f"// Written by tests/numbers/fit_platform.py, not by hand: {used}.\n"
                '#include "pipeline/platform/weights.h"\n\n// clang-format off\nnamespace crestgate {\n\n'
                f"const CueNet kCueNet = {{\n    {row(a)},\n    {{\n")
        for column in hidden.T:
            f.write(f"        {row(column)},\n")
        f.write(f"    }},\n    {row(bias)},\n    {row(out)},\n    {nowhere:.5g}}};\n\n}}  // namespace crestgate\n")


if __name__ == "__main__":
    lists = [load(names) for names in sys.argv[2].split("+")]
    train = lists[-1]
    model = together([fit(lists[0] if i == 0 else train, *net) for i, net in enumerate(NETS)])
    report("learned from", model, train)
    for name in sys.argv[3].split(","):
        report(name, model, load(name))
    write(sys.argv[1], model, f"{sum(np.isfinite(e[2]) for e in train)} platforms")
