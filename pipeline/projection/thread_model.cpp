#include "pipeline/projection/thread_model.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "config/units.h"

namespace crestgate {
namespace {

using Complex = std::complex<double>;
constexpr int kDepthSamples = 24;

void blur_across(Harmonics& harmonics, double sigma) {
  const int reach = std::min(kThreadColumns - 1, static_cast<int>(std::ceil(3 * sigma)));
  if (sigma < 0.2 || reach < 1) return;
  std::vector<double> kernel(reach + 1);
  double sum = 0;
  for (int i = 0; i <= reach; ++i) {
    kernel[i] = std::exp(-0.5 * i * i / (sigma * sigma));
    sum += i == 0 ? kernel[i] : 2 * kernel[i];
  }
  for (auto& row : harmonics) {
    const auto source = row;
    for (int c = 0; c < kThreadColumns; ++c) {
      std::complex<double> value = kernel[0] * source[c];
      for (int i = 1; i <= reach; ++i)  // outside the columns there is no metal
        value += kernel[i] * ((c - i >= 0 ? source[c - i] : 0.0) +
                              (c + i < kThreadColumns ? source[c + i] : 0.0));
      row[c] = value / sum;
    }
  }
}

}  // namespace

Harmonics thread_harmonics(double theta_rad, int starts, double winding, const ThreadShape& shape,
                           double x_offset, double radius_scale, double blur_columns) {
  Harmonics result{};
  const double root = 1 - shape.depth, shear = winding * radius_scale * std::tan(theta_rad);
  for (int c = 0; c < kThreadColumns; ++c) {
    const double x = (thread_column_x(c) - x_offset) / radius_scale;
    if (std::abs(x) >= 1) continue;
    // Only radii between root and crest carry the thread: y from y_root to y_crest.
    const double y_crest = std::sqrt(1 - x * x);
    const double y_root = std::abs(x) < root ? std::sqrt(root * root - x * x) : 0.0;
    const double dy = (y_crest - y_root) / kDepthSamples;
    Complex beam = std::polar(1.0, shear * (y_root + 0.5 * dy));
    const Complex beam_step = std::polar(1.0, shear * dy);
    for (int j = 0; j < kDepthSamples; ++j, beam *= beam_step) {
      const double y = y_root + (j + 0.5) * dy;
      const double rho = std::sqrt(x * x + y * y);
      const double q = std::clamp((rho - root) / shape.depth, 0.0, 1.0);
      const double width = shape.root_width + (shape.crest_width - shape.root_width) * q;
      const Complex around(x / rho, y / rho);  // exp(i f)
      Complex psi = beam * around;
      for (int s = 1; s < starts; ++s) psi *= around;
      const double c1 = psi.real();
      const double s1 = std::sin(2 * kPi * width), cw = std::cos(2 * kPi * width);
      const double cosine[kHarmonics] = {c1, 2 * c1 * c1 - 1, c1 * (4 * c1 * c1 - 3)};
      const double sine[kHarmonics] = {s1, 2 * s1 * cw, s1 * (3 - 4 * s1 * s1)};
      const Complex lean = std::polar(1.0, -2 * kPi * shape.skew * q);
      Complex turn = lean;
      for (int k = 0; k < kHarmonics; ++k, turn *= lean)
        result[k][c] += 2 * dy * sine[k] / (kPi * (k + 1)) * cosine[k] * turn;
    }
  }
  blur_across(result, blur_columns);
  const double column_width = 2.0 * kWidestX / (kThreadColumns - 1);
  for (int k = 0; k < kHarmonics; ++k) {
    const double along = (k + 1) * blur_columns * column_width * winding;
    for (auto& value : result[k]) value *= std::exp(-0.5 * along * along);
  }
  return result;
}

}  // namespace crestgate
