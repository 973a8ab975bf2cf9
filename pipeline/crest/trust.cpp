#include "pipeline/crest/trust.h"

#include <cmath>
#include <vector>

#include "pipeline/crest/trust_net.h"

namespace crestgate {
namespace {

Map entered(const EdgeView& view) {
  const std::size_t n = view.grey.size();
  Map map{EdgeView::kRows, EdgeView::kColumns, std::vector<float>(2 * n, 0.0F)};
  for (std::size_t i = 0; i < n; ++i)
    if (std::isfinite(view.grey[i])) map.values[i] = view.grey[i], map.values[n + i] = 1.0F;
  return map;
}

double logistic(double x) { return 1.0 / (1.0 + std::exp(-x)); }

}  // namespace

Trust trust_in(const EdgeView& view, const EdgeSigns& signs) {
  const TrustNet& net = kTrustNet;
  const Map map = after(net.third, after(net.second, after(net.first, entered(view))));
  std::vector<float> x = summed_up(map, decltype(net.third)::kChannelsOut, kTrustBands);
  x.insert(x.end(), signs.begin(), signs.end());
  double out[2] = {net.constant[0], net.constant[1]};
  for (int h = 0; h < kTrustHidden; ++h) {
    double y = net.hidden.bias[h];
    for (std::size_t i = 0; i < x.size(); ++i) y += net.hidden.weight[h][i] * x[i];
    for (const int k : {0, 1}) out[k] += net.out[k][h] * std::tanh(y);
  }
  for (const int k : {0, 1})
    for (int i = 0; i < kEdgeSigns; ++i) out[k] += net.linear[k][i] * signs[i];
  return {kLeastSdMm * std::pow(kMostSdMm / kLeastSdMm, logistic(out[0])), logistic(out[1])};
}

}  // namespace crestgate
