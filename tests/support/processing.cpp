#include <algorithm>
#include <cmath>

#include "tests/support/image_ops.h"

namespace crestgate::phantom {
namespace {

struct Window {
  float low, high;
};

Window auto_window(const Processing& p, const Plane& image) {
  std::vector<float> sample;
  for (std::size_t i = 0; i < image.values.size(); i += 7) sample.push_back(image.values[i]);
  const auto at_share = [&](double share) {
    const auto k = static_cast<std::ptrdiff_t>(share * (static_cast<double>(sample.size()) - 1));
    std::nth_element(sample.begin(), sample.begin() + k, sample.end());
    return sample[static_cast<std::size_t>(k)];
  };
  const float low = at_share(std::clamp(p.low_share, 0.0, 1.0));
  const float high = at_share(std::clamp(1.0 - p.high_share, 0.0, 1.0));
  return {low, low + std::max(1e-3F, (high - low) * static_cast<float>(p.headroom))};
}

// Contrast-limited local equalisation on an 8 x 8 grid of tiles (Zuiderveld's scheme): clipped
// cumulative histograms, interpolated between tile centres.
void equalise(Plane* image, double mix) {
  constexpr int kTiles = 8, kLevels = 256;
  const double clip = 2.5;  // times the mean height
  std::vector<float> map(static_cast<std::size_t>(kTiles) * kTiles * kLevels);
  const auto level = [](float v) {
    return std::clamp(static_cast<int>(v * (kLevels - 1) + 0.5F), 0, kLevels - 1);
  };
  for (int ty = 0; ty < kTiles; ++ty) {
    for (int tx = 0; tx < kTiles; ++tx) {
      std::vector<double> histogram(kLevels, 0.0);
      double n = 0.0;
      for (int y = ty * image->rows / kTiles; y < (ty + 1) * image->rows / kTiles; ++y) {
        for (int x = tx * image->columns / kTiles; x < (tx + 1) * image->columns / kTiles; ++x) {
          histogram[level(image->at(x, y))] += 1.0;
          n += 1.0;
        }
      }
      const double limit = clip * n / kLevels;
      double excess = 0.0;
      for (double& h : histogram) {
        excess += std::max(0.0, h - limit);
        h = std::min(h, limit);
      }
      double sum = 0.0;
      for (int k = 0; k < kLevels; ++k) {
        sum += histogram[k] + excess / kLevels;
        map[(static_cast<std::size_t>(ty) * kTiles + tx) * kLevels + k] =
            static_cast<float>(sum / std::max(n, 1.0));
      }
    }
  }
  const float share = static_cast<float>(mix);
  for (int y = 0; y < image->rows; ++y) {
    const float fy = std::clamp((y + 0.5F) * kTiles / image->rows - 0.5F, 0.0F, kTiles - 1.001F);
    for (int x = 0; x < image->columns; ++x) {
      const float fx =
          std::clamp((x + 0.5F) * kTiles / image->columns - 0.5F, 0.0F, kTiles - 1.001F);
      const int ix = static_cast<int>(fx), iy = static_cast<int>(fy);
      const float ax = fx - ix, ay = fy - iy;
      const int k = level(image->at(x, y));
      const auto m = [&](int i, int j) {
        return map[(static_cast<std::size_t>(j) * kTiles + i) * kLevels + k];
      };
      const float equal = (m(ix, iy) * (1 - ax) + m(ix + 1, iy) * ax) * (1 - ay) +
                          (m(ix, iy + 1) * (1 - ax) + m(ix + 1, iy + 1) * ax) * ay;
      image->at(x, y) = (1 - share) * image->at(x, y) + share * equal;
    }
  }
}
}  // namespace

Plane process(const Scene& scene, const Plane& signal) {
  const Processing& p = scene.processing;
  Plane out = signal;
  const float toe = static_cast<float>(p.toe);
  for (float& v : out.values) v = p.tone == ToneKind::log ? -std::log(v + toe) : 1.0F - v;
  Window w{static_cast<float>(p.window_low), static_cast<float>(p.window_high)};
  if (p.auto_window) w = auto_window(p, out);
  const float scale = 1.0F / (w.high - w.low), gamma = static_cast<float>(p.gamma);
  for (float& v : out.values) {
    v = (v - w.low) * scale;
    if (gamma != 1.0F) v = std::pow(std::clamp(v, 0.0F, 2.0F), gamma);
  }
  if (p.equalise > 0) equalise(&out, p.equalise);
  if (p.unsharp_amount > 0) {
    Plane soft = out;
    gaussian_blur(&soft, p.unsharp_radius_px);
    const float amount = static_cast<float>(p.unsharp_amount);
    for (std::size_t i = 0; i < out.values.size(); ++i) {
      out.values[i] += amount * (out.values[i] - soft.values[i]);
    }
  }
  for (float& v : out.values) v = std::clamp(v, 0.0F, 1.0F);
  return out;
}

}  // namespace crestgate::phantom
