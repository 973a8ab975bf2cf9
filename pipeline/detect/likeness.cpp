#include "pipeline/detect/likeness.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "pipeline/detect/portrait_net.h"

namespace crestgate {
namespace {

constexpr float kUnexposed = 0.3F;
constexpr float kDarkest = -0.1F, kBrightest = 1.15F;

/// Channel by channel, row-major.
struct Map {
  int rows = 0, columns = 0;
  std::vector<float> values;
  const float* channel(int k) const {
    return values.data() + static_cast<std::size_t>(k) * rows * columns;
  }
  float* channel(int k) { return values.data() + static_cast<std::size_t>(k) * rows * columns; }
};

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

template <class Layer>
Map after(const Layer& layer, const Map& in) {
  constexpr int reach = Layer::kWidth / 2, each = Layer::kEach;
  Map out{in.rows / each, in.columns / each, {}};
  out.values.resize(static_cast<std::size_t>(Layer::kChannelsOut) * out.rows * out.columns);
  for (int to = 0; to < Layer::kChannelsOut; ++to) {
    float* y = out.channel(to);
    std::fill(y, y + static_cast<std::ptrdiff_t>(out.rows) * out.columns, layer.bias[to]);
    for (int from = 0; from < Layer::kChannelsIn; ++from)
      for (int dy = -reach; dy <= reach; ++dy)
        for (int dx = -reach; dx <= reach; ++dx) {
          const float w = layer.weight[to][from][dy + reach][dx + reach];
          for (int r = 0; r < out.rows; ++r) {
            const int row = each * r + dy;
            if (row < 0 || row >= in.rows) continue;
            const float* x = in.channel(from) + static_cast<std::ptrdiff_t>(row) * in.columns + dx;
            const int c0 = dx < 0 ? (-dx + each - 1) / each : 0;
            const int c1 = std::min(out.columns, (in.columns - dx + each - 1) / each);
            for (int c = c0; c < c1; ++c) y[r * out.columns + c] += w * x[each * c];
          }
        }
    for (int i = 0; i < out.rows * out.columns; ++i) y[i] = std::max(0.0F, y[i]);
  }
  return out;
}

/// Mean of each channel over each band, then each channel's largest.
std::vector<float> summed_up(const Map& map, int channels) {
  std::vector<float> x;
  const int band = map.rows / kBands * map.columns;
  for (int k = 0; k < channels; ++k)
    for (int b = 0; b < kBands; ++b) {
      float sum = 0.0F;
      for (int i = 0; i < band; ++i) sum += map.channel(k)[b * band + i];
      x.push_back(sum / static_cast<float>(band));
    }
  for (int k = 0; k < channels; ++k)
    x.push_back(*std::max_element(map.channel(k), map.channel(k) + kBands * band));
  return x;
}

}  // namespace

double likeness(const Portrait& portrait, const Signs& signs) {
  const PortraitNet& net = kPortraitNet;
  const Map map =
      after(net.fourth, after(net.third, after(net.second, after(net.first, entered(portrait)))));
  std::vector<float> x = summed_up(map, decltype(net.fourth)::kChannelsOut);
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
