// A drawn scene for the matching of grey values: smooth, with an implant's body, under noise.
#pragma once
#include <cmath>
#include <functional>
#include <random>

#include "pipeline/image/analysis.h"

namespace crestgate {

/// Grey values 0..1 of the scene go through `tone`; the picture holds 255 times that.
inline Frame drawn_tones(std::mt19937& random, float noise_sd,
                         const std::function<double(double)>& tone) {
  std::normal_distribution<float> noise(0.0F, noise_sd);
  Frame f;
  f.rows = f.columns = 400;
  f.highest_storable = 255;
  for (int y = 0; y < 400; ++y)
    for (int x = 0; x < 400; ++x) {
      const double g =
          (30 + 0.4 * x + 20 * std::sin(0.05 * y) + (x > 160 && x < 240 ? 20 : 0)) / 255;
      f.values.push_back(static_cast<float>(255 * tone(g)) + noise(random));
    }
  return f;
}

inline ImplantShape drawn_body() {
  ImplantShape shape;
  shape.axis.origin = {200, 120};
  shape.radius_px = 40;
  shape.length_px = 200;
  return shape;
}

}  // namespace crestgate
