#include "pipeline/platform/rating.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "pipeline/platform/weights.h"

namespace crestgate {
namespace {

using Row = std::array<float, kChannels>;

std::vector<Row> entered(const CueTable& table) {
  std::vector<Row> y(table.strength.size());
  for (std::size_t t = 0; t < y.size(); ++t)
    for (int k = 0; k < kChannels; ++k) {
      double x = kPlatformNet.entry_bias[k];
      for (int i = 0; i < kCues; ++i) x += kPlatformNet.entry[k][i] * table.strength[t][i];
      y[t][k] = static_cast<float>(std::tanh(x));
    }
  return y;
}

/// Rows beyond the table count as 0.
std::vector<Row> after(const PlatformNet::Layer& layer, int reach, const std::vector<Row>& y) {
  const int n = static_cast<int>(y.size());
  std::vector<Row> next = y;
  for (int t = 0; t < n; ++t)
    for (int k = 0; k < kChannels; ++k) {
      float x = layer.bias[k];
      for (int tap = 0; tap < 3; ++tap) {
        const int from = t + (tap - 1) * reach;
        if (from < 0 || from >= n) continue;
        for (int i = 0; i < kChannels; ++i) x += layer.tap[k][i][tap] * y[from][i];
      }
      next[t][k] += std::tanh(x);
    }
  return next;
}

}  // namespace

Rating rated(const CueTable& table) {
  const PlatformNet& net = kPlatformNet;
  std::vector<Row> y = entered(table);
  for (int l = 0; l < kLayers; ++l) y = after(net.layer[l], kTapRows[l], y);
  Rating rating;
  rating.nowhere = net.nowhere_constant;
  for (int k = 0; k < kChannels; ++k) {
    double sum = 0.0;
    float most = y.front()[k];
    for (const Row& row : y) sum += row[k], most = std::max(most, row[k]);
    rating.nowhere += net.nowhere_mean[k] * sum / static_cast<double>(y.size());
    rating.nowhere += net.nowhere_most[k] * most;
  }
  for (std::size_t t = 0; t < y.size(); ++t) {
    double z = net.constant;
    for (int i = 0; i < kCues; ++i) z += net.linear[i] * table.strength[t][i];
    for (int k = 0; k < kChannels; ++k) z += net.out[k] * y[t][k];
    rating.height.push_back(z);
  }
  return rating;
}

}  // namespace crestgate
