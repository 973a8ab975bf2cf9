#!/usr/bin/env python3
"""Learns pipeline/platform/weights.cpp from files of crestgate_platform_cues.

usage: fit_platform.py OUT.cpp TRAIN[,TRAIN...] CHECK[,CHECK...]             (needs python3-torch)

Net: weights.h. The posterior is the soft maximum of the ratings of all heights of an end and of
"nowhere". Maximised: mean logarithm of the posterior at the true height, softened by 0.06 mm
("nowhere" at the other end, or where the true height is not among the rated ones); ends without a
platform count a third. Each end's cues are first multiplied by gains of their own (log-normal, sd
GAIN), so that no cue is trusted to have exactly the strength a renderer gives it. The weights are
the running mean of the last steps. A file named twice counts twice. Fixed seed.
"""
import copy
import re
import struct
import sys

import numpy as np
import torch
from torch import nn

SOFT_MM, OTHER_END, GAIN, DROPOUT, DECAY = 0.06, 1 / 3, 0.25, 0.1, 0.01
ROWS, PASSES, BATCH, MEAN_OF_STEPS = 256, 25, 64, 200
HEADER = open(__file__.replace("tests/numbers/fit_platform.py", "pipeline/platform/weights.h")).read()
WIDTH = int(re.search(r"kChannels = (\d+)", HEADER)[1])
REACH = [int(r) for r in re.search(r"kTapRows\[\] = {([^}]*)}", HEADER)[1].split(",")]


class Ends:
    """Cues (end, cue, row), 1 where the end has that row, wanted posterior, and what it means."""

    def __init__(self, names):
        ends = [end for name in names.split(",") for end in self.read(name)]
        n, cues = len(ends), ends[0][1].shape[1]
        self.cues, self.wanted = torch.zeros(n, cues, ROWS), torch.zeros(n, ROWS)
        self.there, self.height = torch.zeros(n, 1, ROWS), torch.zeros(n, ROWS)
        self.truth = torch.tensor([end[2] for end in ends])
        for i, (height, x, truth) in enumerate(ends):
            rows = len(height)
            self.cues[i, :, :rows] = torch.from_numpy(x.T.copy())
            self.there[i, :, :rows] = 1
            self.height[i, :rows] = torch.from_numpy(height.copy())
            w = np.exp(-0.5 * ((height - truth) / SOFT_MM) ** 2)
            if np.isfinite(truth) and w.sum() > 0.2:
                self.wanted[i, :rows] = torch.from_numpy(w / w.sum())
        self.nowhere = 1 - self.wanted.sum(1)
        self.weight = torch.where(torch.isfinite(self.truth), 1.0, OTHER_END)

    @staticmethod
    def read(name):
        data, at = open(name, "rb").read(), 0
        while at < len(data):
            rows, cues, truth = struct.unpack("<iif", data[at : at + 12])
            a = np.frombuffer(data, "<f4", rows * (cues + 1), at + 12).reshape(rows, cues + 1)
            at += 12 + 4 * rows * (cues + 1)
            yield a[:, 0], np.nan_to_num(a[:, 1:]), truth


class Net(nn.Module):
    def __init__(self, ends):
        super().__init__()
        cues, there = ends.cues, ends.there
        mean = (cues * there).sum((0, 2)) / there.sum()
        sd = (((cues - mean[:, None]) ** 2 * there).sum((0, 2)) / there.sum()).sqrt() + 1e-3
        self.register_buffer("mean", mean)
        self.register_buffer("sd", sd)
        self.entry = nn.Conv1d(cues.shape[1], WIDTH, 1)
        self.linear = nn.Conv1d(cues.shape[1], 1, 1)
        self.layers = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, 3, dilation=r, padding=r) for r in REACH)
        self.out = nn.Conv1d(WIDTH, 1, 1)
        self.nowhere = nn.Linear(2 * WIDTH, 1)
        self.drop = nn.Dropout(DROPOUT)

    def forward(self, cues, there):
        """Logarithms of the posterior: rows, then nowhere."""
        x = (cues - self.mean[:, None]) / self.sd[:, None]
        y = torch.tanh(self.entry(x)) * there
        for layer in self.layers:
            y = (y + torch.tanh(layer(self.drop(y)))) * there
        rows = (self.out(self.drop(y)) + self.linear(x))[:, 0]
        rows = rows.masked_fill(there[:, 0] == 0, -1e9)
        of_all = torch.cat([y.sum(2) / there.sum(2), (y + 99 * (there - 1)).amax(2)], 1)
        return torch.log_softmax(torch.cat([rows, self.nowhere(of_all)], 1), 1)


def learn(ends):
    net = Net(ends)
    mean = copy.deepcopy(net).eval()
    optimizer = torch.optim.AdamW(net.parameters(), weight_decay=DECAY)
    batches = -(-len(ends.cues) // BATCH)
    rate = torch.optim.lr_scheduler.OneCycleLR(optimizer, 4e-3, total_steps=PASSES * batches)
    for done in range(PASSES):
        total = 0.0
        for pick in torch.randperm(len(ends.cues)).split(BATCH):
            gains = torch.exp(GAIN * torch.randn(len(pick), ends.cues.shape[1], 1))
            log_p = net(ends.cues[pick] * gains, ends.there[pick])
            wanted = torch.cat([ends.wanted[pick], ends.nowhere[pick, None]], 1)
            weight = ends.weight[pick]
            loss = -((wanted * log_p).sum(1) * weight).sum() / weight.sum()
            optimizer.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            optimizer.step()
            rate.step()
            total += loss.item() / batches
            with torch.no_grad():
                for m, p in zip(mean.parameters(), net.parameters()):
                    m.lerp_(p, 1 / MEAN_OF_STEPS)
        print(f"pass {done + 1}: {total:.3f}", flush=True)
    return mean


def report(name, net, ends):
    with torch.no_grad():
        log_p = net(ends.cues, ends.there).numpy()
    places, log_odds = [], np.log1p(-np.exp(np.minimum(log_p[:, -1], -1e-7))) - log_p[:, -1]
    for p, there, height, truth in zip(np.exp(log_p), ends.there, ends.height, ends.truth.numpy()):
        if not np.isfinite(truth):
            continue
        rows = int(there.sum())
        p, height = p[:rows], height[:rows].numpy()
        best = np.convolve(p, np.ones(9), "same").argmax()
        near = np.abs(height - height[best]) <= 0.2
        places.append((p[near].sum(), abs((p[near] * height[near]).sum() / p[near].sum() - truth)))
    share, error = np.array(places).T
    print(f"{name}: {len(share)} platforms, likeliest place right to 0.3 mm {np.mean(error < 0.3):.2f}")
    for least, most in [(0.95, 2), (0.9, 0.95), (0.8, 0.9), (0.7, 0.8), (0.55, 0.7), (0.4, 0.55), (0, 0.4)]:
        pick = (share >= least) & (share < most)
        print(f"  share {least:.2f}-{most:.2f}: {pick.sum()} places, {(error[pick] >= 0.3).sum()} wrong, "
              f"{(error[pick] >= 0.5).sum()} off by 0.5 mm")
    ahead = log_odds[0::2] - log_odds[1::2]  # each end is followed by the other
    print("  the true end's evidence over the other's: "
          + ", ".join(f"< {t}: {np.mean(ahead < t):.3f}" for t in (-5, -3, -1, 0, 1, 2, 3, 4, 5, 6)))


def write(path, net, used):
    def braces(a):
        return f"{a:.4g}" if np.ndim(a) == 0 else "{" + ", ".join(map(braces, a)) + "}"

    p = {k: v.numpy().astype(float) for k, v in net.state_dict().items()}
    # Standardising folded in.
    entry, linear = p["entry.weight"][:, :, 0] / p["sd"], p["linear.weight"][0, :, 0] / p["sd"]
    constant = p["linear.bias"][0] + p["out.bias"][0] - linear @ p["mean"]
    parts = [linear, constant, entry, p["entry.bias"] - entry @ p["mean"]]
    lines = [braces(a) for a in parts]
    layers = ["{" + braces(p[f"layers.{i}.weight"]) + ",\n     " + braces(p[f"layers.{i}.bias"]) + "}"
              for i in range(len(REACH))]
    lines.append("{" + ",\n     ".join(layers) + "}")
    nowhere = p["nowhere.weight"][0]
    lines += [braces(a) for a in (p["out.weight"][0, :, 0], nowhere[:WIDTH], nowhere[WIDTH:],
                                  p["nowhere.bias"][0])]
    with open(path, "w") as f:
        f.write(f"// Written by tests/numbers/fit_platform.py, not by hand: {used}.\n"
                '#include "pipeline/platform/weights.h"\n\n// clang-format off\nnamespace crestgate {\n\n'
                f"static_assert(kCues == {len(linear)} && kChannels == {WIDTH} && kLayers == {len(REACH)});\n\n"
                "const PlatformNet kPlatformNet = {\n    " + ",\n    ".join(lines)
                + "};\n\n}  // namespace crestgate\n")


if __name__ == "__main__":
    torch.manual_seed(1)
    train = Ends(sys.argv[2])
    net = learn(train)
    report("learned from", net, train)
    for name in sys.argv[3].split(","):
        report(name, net, Ends(name))
    write(sys.argv[1], net, f"{int(torch.isfinite(train.truth).sum())} platforms")
