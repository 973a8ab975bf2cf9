#!/usr/bin/env python3
"""Learns pipeline/detect/portrait_weights.cpp from files of crestgate_portraits.

usage: fit_portraits.py OUT.cpp TRAIN[,TRAIN...] CHECK[,CHECK...]             (needs python3-torch)

Net: portrait_net.h. Minimised: cross entropy, where calling something else an implant counts FALSE
times as much as missing an implant. A reading is never learned twice alike: gamma, contrast, noise,
white clipping, blur, sharpening, place and side are drawn anew each time, so that no renderer's own
look is relied on; and at times the signs of the evidence are left out, so that neither they nor the
picture are relied on alone. Printed for the CHECK files: how many implants have a reading of 0.6 or
more, and in how many pictures something else has. Fixed seed.
"""
import sys

import numpy as np
import torch
from torch import nn
from torch.nn import functional as fn

ROWS, COLUMNS, SIGNS, BANDS, HIDDEN, CHANNELS = 128, 56, 27, 4, 24, (8, 16, 24, 24)
FALSE, PASSES, BATCH, RATE, DECAY, DROPOUT, UNEXPOSED = 5, 45, 64, 4e-3, 0.01, 0.1, 0.3
CAUTION = 0.44  # taken off the log odds: what was 0.7 is 0.6
RECORD = np.dtype([("name", "S32"), ("what", "<i4"), ("now", "<f4"), ("signs", "<f4", SIGNS),
                   ("grey", "u1", ROWS * COLUMNS)])


class Readings:
    def __init__(self, files):
        parts = [np.fromfile(f, dtype=RECORD) for f in files.split(",")]
        self.names = [(f, r["name"]) for f, p in zip(files.split(","), parts) for r in p]
        all_ = np.concatenate(parts)
        grey = torch.from_numpy(all_["grey"].reshape(-1, ROWS, COLUMNS).astype("f4"))
        self.exposed = (grey > 0).float()
        self.grey = (grey - 1) / 254 * 1.25 - 0.1
        self.signs = torch.from_numpy(all_["signs"].copy())
        self.what = torch.from_numpy(all_["what"].copy())

    def __len__(self):
        return len(self.what)


class Net(nn.Module):
    def __init__(self):
        super().__init__()
        c = CHANNELS
        self.convolutions = nn.ModuleList([
            nn.Conv2d(2, c[0], 5, 2, 2), nn.Conv2d(c[0], c[1], 3, 2, 1),
            nn.Conv2d(c[1], c[2], 3, 2, 1), nn.Conv2d(c[2], c[3], 3, 1, 1)])
        self.hidden = nn.Linear(c[3] * (BANDS + 1) + SIGNS, HIDDEN)
        self.out = nn.Linear(HIDDEN, 1)
        self.linear = nn.Linear(SIGNS, 1)
        self.dropout = nn.Dropout(DROPOUT)

    def forward(self, grey, exposed, signs):
        y = torch.stack([torch.where(exposed > 0, grey, torch.full_like(grey, UNEXPOSED)), exposed], 1)
        for convolution in self.convolutions:
            y = fn.relu(convolution(y))
        bands = y.mean(3).reshape(len(y), y.shape[1], BANDS, -1).mean(3).flatten(1)
        x = self.dropout(torch.cat([bands, y.amax((2, 3)), signs], 1))
        hidden = self.dropout(torch.tanh(self.hidden(x)))
        return (self.out(hidden) + self.linear(signs)).squeeze(1)


def as_seen_otherwise(grey, exposed, g):
    """The same bodies in pictures of another look."""
    n = len(grey)

    def draw():
        return torch.rand(n, 1, 1, generator=g)

    def spread(sd):
        return sd * torch.randn(n, 1, 1, generator=g)

    y = grey.clamp(0, 1.15).pow(torch.exp(spread(0.35))) * torch.exp(spread(0.15)) + spread(0.06)
    y = torch.minimum(y, torch.where(draw() < 0.15, 0.6 + 0.3 * draw(), torch.full((n, 1, 1), 9.0)))
    y = y + torch.randn(y.shape, generator=g) * 0.03 * draw()
    y = torch.where(draw() < 0.3, fn.avg_pool2d(y[:, None], 3, 1, 1)[:, 0], y)
    y = torch.where(draw() < 0.25, 2 * y - fn.avg_pool2d(y[:, None], 7, 1, 3)[:, 0], y)
    other_side = draw() < 0.5
    y = torch.where(other_side, y.flip(2), y)
    exposed = torch.where(other_side, exposed.flip(2), exposed)
    by = (int(torch.randint(-4, 5, (1,), generator=g)), int(torch.randint(-2, 3, (1,), generator=g)))
    return torch.roll(y, by, (1, 2)), torch.roll(exposed, by, (1, 2))


def learn(data):
    torch.manual_seed(0)
    g = torch.Generator().manual_seed(0)
    net = Net()
    usable = torch.nonzero(data.what != 2).squeeze(1)
    optimizer = torch.optim.AdamW(net.parameters(), RATE, weight_decay=DECAY)
    steps = len(usable) // BATCH
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimizer, RATE, total_steps=PASSES * steps + 1)
    for _ in range(PASSES):
        order = usable[torch.randperm(len(usable), generator=g)]
        for i in range(steps):
            k = order[i * BATCH:(i + 1) * BATCH]
            grey, exposed = as_seen_otherwise(data.grey[k], data.exposed[k], g)
            signs = data.signs[k] * (1 + 0.07 * torch.randn(data.signs[k].shape, generator=g))
            signs = signs * (torch.rand(len(k), 1, generator=g) > 0.07).float()
            is_one = data.what[k].float()
            loss = fn.binary_cross_entropy_with_logits(
                net(grey, exposed, signs), is_one * 0.98 + 0.01, reduction="none")
            loss = (loss * (FALSE - (FALSE - 1) * is_one)).mean()
            optimizer.zero_grad()
            loss.backward()
            optimizer.step()
            schedule.step()
    with torch.no_grad():
        net.linear.bias -= CAUTION
    return net.eval()


@torch.no_grad()
def report(net, data):
    p = torch.cat([torch.sigmoid(net(data.grey[i:i + 256], data.exposed[i:i + 256],
                                     data.signs[i:i + 256])) for i in range(0, len(data), 256)])
    found, false = {}, {}
    for name, what, value in zip(data.names, data.what.tolist(), p.tolist()):
        if what == 1:
            found[name] = max(found.get(name, 0), value)
        elif what == 0:
            false[name] = max(false.get(name, 0), value)
    print(f"pictures whose best reading of an implant is >= 0.6: {sum(v >= 0.6 for v in found.values())} of "
          f"{len(found)}; with something else >= 0.6: {sum(v >= 0.6 for v in false.values())} of {len(false)}")
    for name, value in sorted(false.items(), key=lambda item: -item[1]):
        if value >= 0.6:
            print("  ", *name, f"{value:.2f}")


def write(net, path, count):
    def numbers(tensor):
        return "{" + ", ".join(f"{v:.4g}" for v in tensor.detach().numpy().flatten()) + "}"

    layers = "".join(f"    {{{numbers(c.weight)},\n     {numbers(c.bias)}}},\n" for c in net.convolutions)
    with open(path, "w") as out:
        out.write(f"""// Written by tests/numbers/fit_portraits.py, not by hand: {count} readings.
#include "pipeline/detect/portrait_net.h"

// clang-format off
namespace crestgate {{

static_assert(kSigns == {SIGNS} && kBands == {BANDS} && kHidden == {HIDDEN});

const PortraitNet kPortraitNet = {{
{layers}    {{{numbers(net.hidden.weight)},
     {numbers(net.hidden.bias)}}},
    {numbers(net.out.weight)},
    {numbers(net.linear.weight)},
    {net.out.bias.item() + net.linear.bias.item():.4g}}};

}}  // namespace crestgate
""")


def main():
    out, train, check = sys.argv[1:4]
    data = Readings(train)
    net = learn(data)
    report(net, Readings(check))
    write(net, out, int((data.what != 2).sum()))


main()
