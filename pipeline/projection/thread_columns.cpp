#include "pipeline/projection/thread_columns.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "config/units.h"
#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

/// Least-squares line through (v, y), three passes that drop points beyond 2.5 robust sd.
std::optional<Line> robust_line(const std::vector<double>& v, const std::vector<double>& y) {
  std::vector<char> keep(v.size(), 1);
  Line line;
  for (int pass = 0; pass < 4; ++pass) {
    double n = 0, sv = 0, sy = 0, svv = 0, svy = 0;
    for (std::size_t i = 0; i < v.size(); ++i) {
      if (!keep[i]) continue;
      n += 1, sv += v[i], sy += y[i], svv += v[i] * v[i], svy += v[i] * y[i];
    }
    const double det = n * svv - sv * sv;
    if (n < 8 || det <= 0) return std::nullopt;
    line.slope = (n * svy - sv * sy) / det;
    line.at0 = (sy - line.slope * sv) / n;
    std::vector<double> deviation;
    for (std::size_t i = 0; i < v.size(); ++i) deviation.push_back(std::abs(y[i] - line.at(v[i])));
    const double bound = std::max(1.0, 2.5 * 1.4826 * median_of(deviation));
    for (std::size_t i = 0; i < v.size(); ++i) keep[i] = deviation[i] <= bound;
  }
  return line;
}

constexpr int kTrendDegree = 6;

/// Discrete orthogonal polynomials up to kTrendDegree (Gram-Schmidt, unit length).
std::vector<std::vector<double>> trend_basis(int n) {
  std::vector<std::vector<double>> basis;
  for (int degree = 0; degree <= kTrendDegree; ++degree) {
    std::vector<double> b(n);
    for (int r = 0; r < n; ++r) b[r] = std::pow(2.0 * r / std::max(1, n - 1) - 1.0, degree);
    for (const auto& q : basis) {
      const double along = std::inner_product(b.begin(), b.end(), q.begin(), 0.0);
      for (int r = 0; r < n; ++r) b[r] -= along * q[r];
    }
    const double norm = std::sqrt(std::inner_product(b.begin(), b.end(), b.begin(), 0.0));
    if (norm < 1e-9) break;
    for (double& value : b) value /= norm;
    basis.push_back(std::move(b));
  }
  return basis;
}

}  // namespace

std::optional<Silhouette> silhouette(const ImplantShape& shape, double v0_px, double v1_px) {
  std::vector<double> v[2], radius[2];
  const std::vector<double>* edges[2] = {&shape.minus_edge_px, &shape.plus_edge_px};
  for (int side = 0; side < 2; ++side)
    for (std::size_t i = 0; i < edges[side]->size(); ++i)
      if (i >= v0_px && i <= v1_px && std::isfinite((*edges[side])[i])) {
        v[side].push_back(static_cast<double>(i));
        radius[side].push_back(std::abs((*edges[side])[i]));
      }
  std::vector<double> all_v = v[0], all_radius = radius[0];
  all_v.insert(all_v.end(), v[1].begin(), v[1].end());
  all_radius.insert(all_radius.end(), radius[1].begin(), radius[1].end());
  const auto line = robust_line(all_v, all_radius);
  if (!line || line->at(v0_px) < 3 || line->at(v1_px) < 3) return std::nullopt;
  Silhouette s;
  s.mean_radius = *line;
  s.crest_ratio = 1.35;
  s.root_ratio = 0.6;
  // The calmer flank decides: a tooth or another implant beside one flank lifts its edge.
  for (int side = 0; side < 2; ++side) {
    if (v[side].size() < 8) continue;
    std::vector<double> ratio;
    for (std::size_t i = 0; i < v[side].size(); ++i)
      ratio.push_back(radius[side][i] / line->at(v[side][i]));
    std::sort(ratio.begin(), ratio.end());
    const double last = static_cast<double>(ratio.size() - 1);
    s.crest_ratio = std::min(s.crest_ratio, ratio[static_cast<std::size_t>(0.92 * last)]);
    s.root_ratio = std::max(s.root_ratio, ratio[static_cast<std::size_t>(0.08 * last)]);
  }
  s.crest_ratio = std::max(s.crest_ratio, 1.0);
  s.root_ratio = std::min(s.root_ratio, 1.0);
  return s;
}

ThreadColumns::ThreadColumns(const Frame& frame, const AxisFrame& axis, const Line& crest,
                             double v0_px, double v1_px)
    : v0_(v0_px), rows_(static_cast<int>(v1_px - v0_px)) {
  for (int c = 0; c < kThreadColumns; ++c) {
    std::vector<double> column(rows_);
    bool whole = true;
    for (int r = 0; r < rows_ && whole; ++r) {
      const double v = v0_px + r;
      const float g = interpolate(frame, axis.to_image(thread_column_x(c) * crest.at(v), v));
      whole = std::isfinite(g);
      column[r] = g;
    }
    if (!whole) column.clear();
    values_.push_back(std::move(column));
  }
  find_clipping();
  const auto basis = trend_basis(rows_);
  for (auto& column : values_)
    for (const auto& q : basis) {
      if (column.empty()) break;
      const double along = std::inner_product(column.begin(), column.end(), q.begin(), 0.0);
      for (int r = 0; r < rows_; ++r) column[r] -= along * q[r];
    }
  window_.resize(rows_);
  for (int r = 0; r < rows_; ++r)
    window_[r] = 0.5 * (1 - std::cos(2 * kPi * (r + 1) / (rows_ + 1)));
  const double sum = std::accumulate(window_.begin(), window_.end(), 0.0);
  for (double& w : window_) w /= sum;
}

std::complex<double> ThreadColumns::amplitude(int c, double frequency) const {
  const std::complex<double> turn = std::polar(1.0, 2 * kPi * frequency);
  std::complex<double> phase = std::polar(1.0, 2 * kPi * frequency * v0_), sum = 0;
  for (int r = 0; r < rows_; ++r, phase *= turn) sum += window_[r] * values_[c][r] * phase;
  return sum;
}

void ThreadColumns::find_clipping() {
  flat_share_.assign(kThreadColumns, 0.0);
  std::vector<double> core, all;
  for (int c = 0; c < kThreadColumns; ++c) {
    all.insert(all.end(), values_[c].begin(), values_[c].end());
    if (std::abs(thread_column_x(c)) < 0.9)
      core.insert(core.end(), values_[c].begin(), values_[c].end());
  }
  if (core.empty()) return;
  const auto quantile = [](std::vector<double>& v, double p) {
    const auto at = v.begin() + static_cast<std::ptrdiff_t>(p * (v.size() - 1));
    std::nth_element(v.begin(), at, v.end());
    return *at;
  };
  // A plateau: many values of the core at one level. Interpolation overshoots at its edges.
  const double top = quantile(core, 0.8), width = 0.003 * (top - quantile(all, 0.02));
  const auto near_top =
      std::count_if(core.begin(), core.end(), [=](double g) { return std::abs(g - top) <= width; });
  if (static_cast<double>(near_top) < 0.2 * static_cast<double>(core.size())) return;
  for (int c = 0; c < kThreadColumns; ++c)
    if (usable(c))
      flat_share_[c] = std::count_if(values_[c].begin(), values_[c].end(),
                                     [=](double g) { return g >= top - width; }) /
                       static_cast<double>(rows_);
}

}  // namespace crestgate
