#include "pipeline/projection/thread_model.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "config/units.h"

namespace crestgate {
namespace {

using Complex = std::complex<double>;
constexpr int kDepthSamples = 24;

constexpr int kPhases = 16;

struct PathLength {
  std::array<double, kThreadColumns> mean{};
  Harmonics harmonics{};
};

template <class Row>
void blur_row(Row& row, const std::vector<double>& kernel) {
  const int reach = static_cast<int>(kernel.size()) - 1;
  const Row source = row;
  for (int c = 0; c < kThreadColumns; ++c) {
    auto value = kernel[0] * source[c];  // outside the columns there is no metal
    for (int i = 1; i <= reach; ++i) {
      if (c - i >= 0) value += kernel[i] * source[c - i];
      if (c + i < kThreadColumns) value += kernel[i] * source[c + i];
    }
    row[c] = value;
  }
}

void blur(PathLength& path, double sigma, double winding) {
  const int reach = std::min(kThreadColumns - 1, static_cast<int>(std::ceil(3 * sigma)));
  std::vector<double> kernel(reach + 1);
  double sum = 0;
  for (int i = 0; i <= reach; ++i) {
    kernel[i] = std::exp(-0.5 * i * i / (sigma * sigma));
    sum += i == 0 ? kernel[i] : 2 * kernel[i];
  }
  for (double& k : kernel) k /= sum;
  blur_row(path.mean, kernel);
  const double column_width = 2.0 * kWidestX / (kThreadColumns - 1);
  for (int k = 0; k < kHarmonics; ++k) {
    blur_row(path.harmonics[k], kernel);
    const double along = (k + 1) * sigma * column_width * winding;
    for (auto& value : path.harmonics[k]) value *= std::exp(-0.5 * along * along);
  }
}

/// Harmonics of (1 - exp(-s T)) / s, by way of T over one pitch.
Harmonics bend(const PathLength& path, double saturation) {
  static const auto table = [] {
    std::array<std::array<Complex, kPhases>, kHarmonics> t{};
    for (int k = 0; k < kHarmonics; ++k)
      for (int w = 0; w < kPhases; ++w) t[k][w] = std::polar(1.0, 2 * kPi * (k + 1) * w / kPhases);
    return t;
  }();
  Harmonics result{};
  for (int c = 0; c < kThreadColumns; ++c) {
    if (path.mean[c] < 1e-6) continue;
    for (int w = 0; w < kPhases; ++w) {
      double length = path.mean[c];
      for (int k = 0; k < kHarmonics; ++k)
        length += 2 * std::real(path.harmonics[k][c] * table[k][w]);
      const double grey = (1 - std::exp(-saturation * std::max(0.0, length))) / saturation;
      for (int k = 0; k < kHarmonics; ++k) result[k][c] += grey * std::conj(table[k][w]);
    }
    for (int k = 0; k < kHarmonics; ++k) result[k][c] /= kPhases;
  }
  return result;
}

}  // namespace

Harmonics thread_harmonics(double theta_rad, int starts, double winding, const ThreadShape& shape,
                           const ThreadView& view) {
  PathLength path;
  const double root = 1 - shape.depth;
  const double shear = winding * view.radius_scale * std::tan(theta_rad);
  for (int c = 0; c < kThreadColumns; ++c) {
    const double x = (thread_column_x(c) - view.x_offset) / view.radius_scale;
    if (std::abs(x) >= 1) continue;
    // Only radii between root and crest carry the thread: y from y_root to y_crest.
    const double y_crest = std::sqrt(1 - x * x);
    const double y_root = std::abs(x) < root ? std::sqrt(root * root - x * x) : 0.0;
    const double dy = (y_crest - y_root) / kDepthSamples;
    path.mean[c] = 2 * y_root;
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
      path.mean[c] += 4 * dy * width;
      const double c1 = psi.real();
      const double s1 = std::sin(2 * kPi * width), cw = std::cos(2 * kPi * width);
      const double cosine[kHarmonics] = {c1, 2 * c1 * c1 - 1, c1 * (4 * c1 * c1 - 3)};
      const double sine[kHarmonics] = {s1, 2 * s1 * cw, s1 * (3 - 4 * s1 * s1)};
      const Complex lean = std::polar(1.0, -2 * kPi * shape.skew * q);
      Complex turn = lean;
      for (int k = 0; k < kHarmonics; ++k, turn *= lean)
        path.harmonics[k][c] += 2 * dy * sine[k] / (kPi * (k + 1)) * cosine[k] * turn;
    }
  }
  blur(path, view.blur_columns, winding);
  return bend(path, view.saturation);
}

}  // namespace crestgate
