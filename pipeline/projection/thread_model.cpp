#include "pipeline/projection/thread_model.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "config/units.h"

namespace crestgate {
namespace {

// Gauss-Legendre nodes and weights of order 8 on [-1, 1] (Abramowitz and Stegun, table 25.4).
constexpr int kNodes = 8;
constexpr double kGaussNode[kNodes] = {
    -0.9602898564975363, -0.7966664774136267, -0.5255324099163290, -0.1834346424956498,
    0.1834346424956498,  0.5255324099163290,  0.7966664774136267,  0.9602898564975363};
constexpr double kGaussWeight[kNodes] = {0.1012285362903763, 0.2223810344533745, 0.3137066458778873,
                                         0.3626837833783620, 0.3626837833783620, 0.3137066458778873,
                                         0.2223810344533745, 0.1012285362903763};

constexpr int kPhases = 12;

using Row = std::array<double, kThreadColumns>;

/// Mean and the harmonics' real and imaginary parts of something along one pitch, by column.
struct Waves {
  Row mean{};
  std::array<Row, kHarmonics> re{}, im{};
};

struct PhaseTable {
  double cosine[kHarmonics][kPhases], sine[kHarmonics][kPhases];
  PhaseTable() {
    for (int k = 0; k < kHarmonics; ++k)
      for (int w = 0; w < kPhases; ++w) {
        cosine[k][w] = std::cos(2 * kPi * (k + 1) * w / kPhases);
        sine[k][w] = std::sin(2 * kPi * (k + 1) * w / kPhases);
      }
  }
};
const PhaseTable& phases() {
  static const PhaseTable table;
  return table;
}

/// Applies `map` to the values over one pitch of every column.
template <class Map>
Waves mapped(const Waves& waves, Map map) {
  const PhaseTable& t = phases();
  Waves out;
  for (int c = 0; c < kThreadColumns; ++c) {
    double mean = 0, re[kHarmonics] = {}, im[kHarmonics] = {};
    for (int w = 0; w < kPhases; ++w) {
      double value = waves.mean[c];
      for (int k = 0; k < kHarmonics; ++k)
        value += 2 * (waves.re[k][c] * t.cosine[k][w] - waves.im[k][c] * t.sine[k][w]);
      value = map(value);
      mean += value;
      for (int k = 0; k < kHarmonics; ++k) {
        re[k] += value * t.cosine[k][w];
        im[k] -= value * t.sine[k][w];
      }
    }
    out.mean[c] = mean / kPhases;
    for (int k = 0; k < kHarmonics; ++k) {
      out.re[k][c] = re[k] / kPhases;
      out.im[k][c] = im[k] / kPhases;
    }
  }
  return out;
}

/// Convolution across x; beyond the outermost column there is `outside`.
void blur_row(Row& row, const std::vector<double>& kernel, double outside) {
  const int reach = static_cast<int>(kernel.size()) - 1;
  const Row source = row;
  for (int c = 0; c < kThreadColumns; ++c) {
    double value = kernel[0] * source[c];
    for (int i = 1; i <= reach; ++i)
      value += kernel[i] * ((c - i >= 0 ? source[c - i] : outside) +
                            (c + i < kThreadColumns ? source[c + i] : outside));
    row[c] = value;
  }
}

/// Gaussian blur of sd `sigma` columns, across x and along z.
void blur(Waves& waves, double sigma, double winding, double outside) {
  const int reach = std::min(kThreadColumns - 1, static_cast<int>(std::ceil(3 * sigma)));
  std::vector<double> kernel(reach + 1);
  double sum = 0;
  for (int i = 0; i <= reach; ++i) {
    kernel[i] = std::exp(-0.5 * i * i / (sigma * sigma));
    sum += i == 0 ? kernel[i] : 2 * kernel[i];
  }
  for (double& k : kernel) k /= sum;
  blur_row(waves.mean, kernel, outside);
  const double column_width = 2.0 * kWidestX / (kThreadColumns - 1);
  for (int k = 0; k < kHarmonics; ++k) {
    blur_row(waves.re[k], kernel, 0.0);
    blur_row(waves.im[k], kernel, 0.0);
    const double along = (k + 1) * sigma * column_width * winding;
    const double damping = std::exp(-0.5 * along * along);
    for (double& value : waves.re[k]) value *= damping;
    for (double& value : waves.im[k]) value *= damping;
  }
}

/// Least intensity that still gets darker: the mean one at |x| = clip_x; 0 = all do.
double white_level(const Waves& intensity, double clip_x) {
  if (clip_x <= 0) return 0.0;
  double sum = 0;
  for (const double x : {-clip_x, clip_x}) {
    const double at = std::clamp((x + kWidestX) / (2 * kWidestX), 0.0, 1.0) * (kThreadColumns - 1);
    const int c = std::min(kThreadColumns - 2, static_cast<int>(at));
    sum += intensity.mean[c] + (at - c) * (intensity.mean[c + 1] - intensity.mean[c]);
  }
  return 0.5 * sum;
}

}  // namespace

Harmonics thread_harmonics(double theta_rad, int starts, double winding, const ThreadShape& shape,
                           const ThreadView& view) {
  Waves path;
  const double root = 1 - shape.depth;
  const double shear = winding * view.radius_scale * std::tan(theta_rad);
  for (int c = 0; c < kThreadColumns; ++c) {
    const double x = (thread_column_x(c) - view.x_offset) / view.radius_scale;
    if (std::abs(x) >= 1) continue;
    // Only radii between root and crest carry the thread: y from y_root to y_crest.
    const double y_crest = std::sqrt(1 - x * x);
    const double y_root = std::abs(x) < root ? std::sqrt(root * root - x * x) : 0.0;
    const double half = 0.5 * (y_crest - y_root);
    double width_sum = 0, re[kHarmonics] = {}, im[kHarmonics] = {};
    for (int j = 0; j < kNodes; ++j) {
      const double y = y_root + half * (1 + kGaussNode[j]);
      const double rho = std::sqrt(x * x + y * y);
      const double q = std::clamp((rho - root) / shape.depth, 0.0, 1.0);
      const double width = shape.root_width + (shape.crest_width - shape.root_width) * q;
      width_sum += kGaussWeight[j] * width;
      const double lean = -2 * kPi * shape.skew * q;
      // c1 = cos(shear y + n f), from cos f = x / rho and sin f = y / rho.
      double psi_re = std::cos(shear * y), psi_im = std::sin(shear * y);
      const double fx = x / rho, fy = y / rho;
      for (int s = 0; s < starts; ++s) {
        const double next = psi_re * fx - psi_im * fy;
        psi_im = psi_re * fy + psi_im * fx;
        psi_re = next;
      }
      const double c1 = psi_re, cl = std::cos(lean), sl = std::sin(lean);
      const double s1 = std::sin(2 * kPi * width), cw = std::cos(2 * kPi * width);
      const double cosine[kHarmonics] = {c1, 2 * c1 * c1 - 1, c1 * (4 * c1 * c1 - 3)};
      const double sine[kHarmonics] = {s1, 2 * s1 * cw, s1 * (3 - 4 * s1 * s1)};
      double turn_re = cl, turn_im = sl;
      for (int k = 0; k < kHarmonics; ++k) {
        const double size = kGaussWeight[j] * sine[k] * cosine[k] / (k + 1);
        re[k] += size * turn_re;
        im[k] += size * turn_im;
        const double next = turn_re * cl - turn_im * sl;
        turn_im = turn_re * sl + turn_im * cl;
        turn_re = next;
      }
    }
    path.mean[c] = 2 * y_root + 4 * half * width_sum;
    for (int k = 0; k < kHarmonics; ++k) {
      path.re[k][c] = re[k] * (2 * half / kPi);
      path.im[k][c] = im[k] * (2 * half / kPi);
    }
  }
  Waves intensity = mapped(
      path, [&](double length) { return std::exp(-view.attenuation * std::max(0.0, length)); });
  blur(intensity, view.blur_columns, winding, 1.0);
  const double white = white_level(intensity, view.clip_x);
  const Waves grey = mapped(intensity, [&](double i) {
    return -std::log(std::max({i, white, 1e-4}) + view.veil);
  });
  Harmonics result;
  for (int k = 0; k < kHarmonics; ++k)
    for (int c = 0; c < kThreadColumns; ++c) result[k][c] = {grey.re[k][c], grey.im[k][c]};
  return result;
}

}  // namespace crestgate
