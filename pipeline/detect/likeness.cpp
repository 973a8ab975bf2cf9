#include "pipeline/detect/likeness.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "pipeline/detect/portrait_net.h"

namespace crestgate {
namespace {

constexpr float kUnexposed = 0.3F;
constexpr float kDarkest = -0.1F, kBrightest = 1.15F;

Map entered(const Portrait& portrait) {
  const std::size_t n = portrait.grey.size();
  Map map{Portrait::kRows, Portrait::kColumns, std::vector<float>(2 * n)};
  for (std::size_t i = 0; i < n; ++i) {
    const float grey = portrait.grey[i];
    const bool exposed = std::isfinite(grey);
    map.values[i] = exposed ? std::clamp(grey, kDarkest, kBrightest) : kUnexposed;
    map.values[n + i] = exposed ? 1.0F : 0.0F;
  }
  return map;
}

}  // namespace

double likeness(const Portrait& portrait, const Signs& signs) {
  const PortraitNet& net = kPortraitNet;
  const Map map =
      after(net.fourth, after(net.third, after(net.second, after(net.first, entered(portrait)))));
  std::vector<float> x = summed_up(map, decltype(net.fourth)::kChannelsOut, kBands);
  x.insert(x.end(), signs.begin(), signs.end());
  double odds = net.constant;
  for (int h = 0; h < kHidden; ++h) {
    double y = net.hidden.bias[h];
    for (std::size_t i = 0; i < x.size(); ++i) y += net.hidden.weight[h][i] * x[i];
    odds += net.out[h] * std::tanh(y);
  }
  for (int i = 0; i < kSigns; ++i) odds += net.linear[i] * signs[i];
  return 1.0 / (1.0 + std::exp(-odds));
}

}  // namespace crestgate
