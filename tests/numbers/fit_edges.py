#!/usr/bin/env python3
"""Learns pipeline/crest/trust_weights.cpp from files of crestgate_edges.

usage: fit_edges.py OUT.cpp TRAIN[,TRAIN...] CHECK[,CHECK...]                 (needs python3-torch)

Net: trust_net.h. It sees the picture about a contact that was read, and the reading's own signs, and says
how the error of such readings is spread: normal with its standard uncertainty, or, with the given
probability, gross (Laplace, scale GROSS mm). Maximised: the likelihood of the true errors. No view is
learned twice alike: contrast, gamma, noise and blur are drawn anew each time. Fixed seed.
"""
import sys

import numpy as np
import torch
from torch import nn
from torch.nn import functional as fn

ROWS, COLUMNS, SIGNS, BANDS, HIDDEN, CHANNELS = 48, 24, 28, 6, 16, (8, 12, 12)
PASSES, BATCH, RATE, DECAY, DROPOUT = 40, 64, 3e-3, 0.02, 0.2
GROSS, LEAST, MOST = 0.8, 0.02, 0.3  # mm
RECORD = np.dtype([("name", "S32"), ("error", "<f4"), ("signs", "<f4", SIGNS), ("grey", "u1", ROWS * COLUMNS)])


class Readings:
    def __init__(self, files):
        all_ = np.concatenate([np.fromfile(f, dtype=RECORD) for f in files.split(",")])
        grey = torch.from_numpy(all_["grey"].reshape(-1, ROWS, COLUMNS).astype("f4"))
        self.exposed = (grey > 0).float()
        self.grey = ((grey - 1) / 254 * 8 - 4) * self.exposed
        self.signs = torch.from_numpy(all_["signs"].copy())
        self.error = torch.from_numpy(all_["error"].copy())

    def __len__(self):
        return len(self.error)


class Net(nn.Module):
    def __init__(self):
        super().__init__()
        c = CHANNELS
        self.convolutions = nn.ModuleList([nn.Conv2d(2, c[0], 5, 2, 2), nn.Conv2d(c[0], c[1], 3, 2, 1),
                                           nn.Conv2d(c[1], c[2], 3, 1, 1)])
        self.hidden = nn.Linear(c[2] * (BANDS + 1) + SIGNS, HIDDEN)
        self.out = nn.Linear(HIDDEN, 2)
        self.linear = nn.Linear(SIGNS, 2)
        self.dropout = nn.Dropout(DROPOUT)

    def forward(self, grey, exposed, signs):
        y = torch.stack([grey, exposed], 1)
        for convolution in self.convolutions:
            y = fn.relu(convolution(y))
        bands = y.mean(3).reshape(len(y), y.shape[1], BANDS, -1).mean(3).flatten(1)
        x = self.dropout(torch.cat([bands, y.amax((2, 3)), signs], 1))
        out = self.out(self.dropout(torch.tanh(self.hidden(x)))) + self.linear(signs)
        sd = LEAST * (MOST / LEAST) ** torch.sigmoid(out[:, 0])
        return sd, out[:, 1]


def surprise(sd, gross, error):
    normal = -0.5 * (error / sd) ** 2 - torch.log(sd) - 0.919
    wide = -error.abs() / GROSS - np.log(2 * GROSS)
    return -torch.logaddexp(fn.logsigmoid(-gross) + normal, fn.logsigmoid(gross) + wide)


def as_seen_otherwise(grey, exposed, g):
    n = len(grey)
    y = grey * torch.exp(0.15 * torch.randn(n, 1, 1, generator=g))
    bend = 0.08 * torch.randn(n, 1, 1, generator=g)
    y = y + bend * y * y.abs()
    y = y + torch.randn(y.shape, generator=g) * 0.1 * torch.rand(n, 1, 1, generator=g)
    y = torch.where(torch.rand(n, 1, 1, generator=g) < 0.2, fn.avg_pool2d(y[:, None], 3, 1, 1)[:, 0], y)
    return y.clamp(-4, 4) * exposed


def learn(data):
    torch.manual_seed(0)
    g = torch.Generator().manual_seed(0)
    net = Net()
    optimizer = torch.optim.AdamW(net.parameters(), RATE, weight_decay=DECAY)
    steps = len(data) // BATCH
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimizer, RATE, total_steps=PASSES * steps + 1)
    for _ in range(PASSES):
        order = torch.randperm(len(data), generator=g)
        for i in range(steps):
            k = order[i * BATCH:(i + 1) * BATCH]
            signs = data.signs[k] * (1 + 0.07 * torch.randn(data.signs[k].shape, generator=g))
            sd, gross = net(as_seen_otherwise(data.grey[k], data.exposed[k], g), data.exposed[k], signs)
            loss = surprise(sd, gross, data.error[k]).mean()
            optimizer.zero_grad()
            loss.backward()
            optimizer.step()
            schedule.step()
    return net.eval()


@torch.no_grad()
def report(name, net, data):
    sd, gross = net(data.grey, data.exposed, data.signs)
    p, e = torch.sigmoid(gross).numpy(), data.error.abs().numpy()
    sd = sd.numpy()
    print(f"{name}: {len(e)} readings, surprise {surprise(torch.tensor(sd), gross, data.error).mean():.3f}")
    for most in (0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 1.0):
        k = p <= most
        if k.any():
            print(f"  gross <= {most:.2f}: {k.sum()}, error median {np.median(e[k]):.3f}, 90 % {np.quantile(e[k], 0.9):.3f}, "
                  f"median U {2 * np.median(sd[k]):.3f}, inside {np.mean(e[k] <= 2 * sd[k]):.3f}, over 0.4 mm {np.mean(e[k] > 0.4):.3f}")


def main():
    out, train, check = sys.argv[1:4]
    net = learn(Readings(train))
    report("learned from", net, Readings(train))
    for name in check.split(","):
        report(name, net, Readings(name))
    write(net, out, len(Readings(train)))


def write(net, path, count):
    def numbers(tensor):
        return "{" + ", ".join(f"{v:.4g}" for v in tensor.detach().numpy().flatten()) + "}"

    constant = net.out.bias + net.linear.bias
    layers = "".join(f"    {{{numbers(c.weight)},\n     {numbers(c.bias)}}},\n" for c in net.convolutions)
    with open(path, "w") as out:
        out.write(f"""// Written by tests/numbers/fit_edges.py, not by hand: {count} readings.
#include "pipeline/crest/trust_net.h"

// clang-format off
namespace crestgate {{

static_assert(kEdgeSigns == {SIGNS} && kTrustBands == {BANDS} && kTrustHidden == {HIDDEN});
static_assert(kLeastSdMm == {LEAST} && kMostSdMm == {MOST});

const TrustNet kTrustNet = {{
{layers}    {{{numbers(net.hidden.weight)},
     {numbers(net.hidden.bias)}}},
    {numbers(net.out.weight)},
    {numbers(net.linear.weight)},
    {numbers(constant)}}};

}}  // namespace crestgate
""")


if __name__ == "__main__":
    main()
