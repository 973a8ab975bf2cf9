#include "pipeline/crest/edge_line.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace crestgate {
namespace {

// Curvature of the edge line: funnels of 1-2 mm width bend by about this, 1/mm (common practice).
constexpr double kCurvatureSdPerMm = 0.6;
// Neighbouring columns share texture: one independent value per this length.
constexpr double kTextureMm = 0.15;

/// Solves the 3x3 normal equations; also returns the inverse's first element.
std::array<double, 4> solve(double m[3][3], const double rhs[3]) {
  double w[3][5] = {};
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 3; ++c) w[r][c] = m[r][c];
    w[r][3] = rhs[r];
  }
  w[0][4] = 1.0;
  for (int p = 0; p < 3; ++p) {
    for (int r = 0; r < 3; ++r) {
      if (r == p || w[p][p] == 0.0) continue;
      const double f = w[r][p] / w[p][p];
      for (int c = p; c < 5; ++c) w[r][c] -= f * w[p][c];
    }
  }
  return {w[0][3] / w[0][0], w[1][3] / w[1][1], w[2][3] / w[2][2], w[0][4] / w[0][0]};
}

}  // namespace

EdgeLine fit_edge_line(const EdgePoints& e, double px_per_mm) {
  EdgeLine line;
  const double prior_sd = kCurvatureSdPerMm / px_per_mm;
  std::vector<double> robust(e.d.size(), 1.0);
  double scatter = 0.05 * px_per_mm, unscaled = 0.0;
  for (int round = 0; round < 8; ++round) {
    double m[3][3] = {}, rhs[3] = {};
    for (std::size_t i = 0; i < e.d.size(); ++i) {
      const double w = e.weight[i] * robust[i], b[3] = {1.0, e.d[i], e.d[i] * e.d[i]};
      for (int r = 0; r < 3; ++r) {
        for (int c = 0; c < 3; ++c) m[r][c] += w * b[r] * b[c];
        rhs[r] += w * b[r] * e.v[i];
      }
    }
    m[2][2] += std::pow(std::max(scatter, 0.2) / prior_sd, 2);
    const auto z = solve(m, rhs);
    line.a = z[0], line.b = z[1], line.c = z[2], unscaled = z[3];
    std::vector<double> r(e.d.size());
    for (std::size_t i = 0; i < e.d.size(); ++i)
      r[i] = std::abs(e.v[i] - line.a - line.b * e.d[i] - line.c * e.d[i] * e.d[i]);
    std::vector<double> sorted = r;
    std::nth_element(sorted.begin(),
                     sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2), sorted.end());
    scatter = std::max(0.05, 1.4826 * sorted[sorted.size() / 2]);
    for (std::size_t i = 0; i < r.size(); ++i)
      robust[i] = r[i] < 1.3 * scatter ? 1.0 : 1.3 * scatter / r[i];
  }
  line.sd_a = scatter * std::sqrt(std::max(0.0, unscaled) * std::max(1.0, kTextureMm * px_per_mm));
  return line;
}

}  // namespace crestgate
