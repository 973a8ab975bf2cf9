// Convolution of small maps, for the learned nets of several stages.
#pragma once
#include <algorithm>
#include <cstddef>
#include <vector>

namespace crestgate {

/// Channel by channel, row-major.
struct Map {
  int rows = 0, columns = 0;
  std::vector<float> values;
  const float* channel(int k) const {
    return values.data() + static_cast<std::size_t>(k) * rows * columns;
  }
  float* channel(int k) { return values.data() + static_cast<std::size_t>(k) * rows * columns; }
};

/// Square kernel around each stride-th pixel, all below 0 cut off. What lies outside counts as 0.
template <int kFrom, int kTo, int kSize, int kStride>
struct Convolution {
  static constexpr int kChannelsIn = kFrom, kChannelsOut = kTo, kWidth = kSize, kEach = kStride;
  float weight[kTo][kFrom][kSize][kSize];
  float bias[kTo];
};

/// Of a map with a multiple of the layer's stride in rows and columns.
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

/// Mean of each channel over `bands` equal parts of the rows, then each channel's largest.
inline std::vector<float> summed_up(const Map& map, int channels, int bands) {
  std::vector<float> x;
  const int band = map.rows / bands * map.columns;
  for (int k = 0; k < channels; ++k)
    for (int b = 0; b < bands; ++b) {
      float sum = 0.0F;
      for (int i = 0; i < band; ++i) sum += map.channel(k)[b * band + i];
      x.push_back(sum / static_cast<float>(band));
    }
  for (int k = 0; k < channels; ++k)
    x.push_back(*std::max_element(map.channel(k), map.channel(k) + bands * band));
  return x;
}

}  // namespace crestgate
