#include "pipeline/crest/onset_fit.h"

#include <algorithm>
#include <cmath>

#include "pipeline/crest/edge_line.h"

namespace crestgate {
namespace {

constexpr double kCoronalMm = 0.45, kApicalMm = 0.25;  // window of the column fit
constexpr double kSearchMm = 0.22;                     // onset looked for about the contour
constexpr double kRoundingMm[] = {0.0, 0.1, 0.2, 0.35, 0.6};
constexpr double kNearMm = 0.4;  // columns farther from the flank count less

double onset(double x, double s) {
  if (x <= 0) return 0.0;
  if (x >= s) return 1.0;
  const double f = 1.0 - x / s;
  return std::sqrt(1.0 - f * f);
}

/// Blurred onset, tabulated every 0.1 px.
class OnsetTable {
 public:
  OnsetTable(double s_px, double sigma_px, double reach_px) : reach_(reach_px) {
    const int n = static_cast<int>(2 * reach_px / kStep) + 1,
              half = static_cast<int>(4 * sigma_px / kStep);
    std::vector<double> weight(2 * half + 1);
    double sum = 0.0;
    for (int i = -half; i <= half; ++i)
      sum += weight[i + half] = std::exp(-0.5 * std::pow(i * kStep / sigma_px, 2));
    value_.resize(n);
    for (int i = 0; i < n; ++i) {
      double v = 0.0;
      for (int k = -half; k <= half; ++k)
        v += weight[k + half] * onset(-reach_ + (i - k) * kStep, s_px);
      value_[i] = v / sum;
    }
  }
  double at(double x) const {
    const double f = std::clamp((x + reach_) / kStep, 0.0, value_.size() - 1.001);
    const auto i = static_cast<std::size_t>(f);
    return value_[i] + (value_[i + 1] - value_[i]) * (f - i);
  }

 private:
  static constexpr double kStep = 0.1;
  double reach_;
  std::vector<double> value_;
};

struct Samples {
  std::vector<double> x, y;  ///< row relative to the contour, grey value
};

struct ColumnFit {
  double onset = 0.0, misfit = 1e300;
};

/// Residual of a + k x + A q(x - at), least squares. A below 0 is no bone edge.
double misfit_at(const Samples& s, const OnsetTable& q, double at) {
  double m[3][4] = {};
  double yy = 0.0;
  for (std::size_t i = 0; i < s.x.size(); ++i) {
    const double b[4] = {1.0, s.x[i], q.at(s.x[i] - at), s.y[i]};
    for (int r = 0; r < 3; ++r)
      for (int c = r; c < 4; ++c) m[r][c] += b[r] * b[c];
    yy += s.y[i] * s.y[i];
  }
  m[1][0] = m[0][1], m[2][0] = m[0][2], m[2][1] = m[1][2];
  const double rhs[3] = {m[0][3], m[1][3], m[2][3]};
  for (int p = 0; p < 3; ++p) {
    if (std::abs(m[p][p]) < 1e-12) return 1e300;
    for (int r = p + 1; r < 3; ++r) {
      const double f = m[r][p] / m[p][p];
      for (int c = p; c < 4; ++c) m[r][c] -= f * m[p][c];
    }
  }
  double z[3];
  for (int p = 2; p >= 0; --p) {
    z[p] = m[p][3];
    for (int c = p + 1; c < 3; ++c) z[p] -= m[p][c] * z[c];
    z[p] /= m[p][p];
  }
  if (z[2] <= 0) return 1e300;
  return std::max(0.0, yy - z[0] * rhs[0] - z[1] * rhs[1] - z[2] * rhs[2]);
}

ColumnFit fit_column(const Samples& s, const OnsetTable& q, double search_px) {
  ColumnFit best;
  const double step = 0.25;
  const int n = static_cast<int>(search_px / step);
  std::vector<double> misfit(2 * n + 1);
  int at = 0;
  for (int i = -n; i <= n; ++i) {
    misfit[i + n] = misfit_at(s, q, i * step);
    if (misfit[i + n] < misfit[at]) at = i + n;
    if (misfit[i + n] < best.misfit) best = {i * step, misfit[i + n]};
  }
  if (at > 0 && at < 2 * n && misfit[at - 1] < 1e299 && misfit[at + 1] < 1e299) {
    const double l = misfit[at - 1], m = misfit[at], r = misfit[at + 1], bend = l - 2 * m + r;
    if (bend > 0) best.onset += 0.5 * step * (l - r) / bend;
  }
  return best;
}

Samples column_samples(const FlankStrip& strip, int c, double row, double px_per_mm) {
  Samples s;
  const int from = static_cast<int>(row - kCoronalMm * px_per_mm);
  const int to = static_cast<int>(row + kApicalMm * px_per_mm) + 1;
  for (int r = std::max(0, from); r <= std::min(strip.rows - 1, to); ++r) {
    float sum = 0.0F;
    int n = 0;
    for (int k = std::max(0, c - 1); k <= std::min(strip.columns - 1, c + 1); ++k)
      if (std::isfinite(strip.at(k, r))) sum += strip.at(k, r), ++n;
    if (n > 0) s.x.push_back(r - row), s.y.push_back(sum / n);
  }
  return s;
}

/// Trabeculae: how much grey varies within half a mm apical of the edge, noise averaged out.
double unevenness_of(const FlankStrip& strip, const std::vector<double>& onset_row, double step,
                     double px_per_mm) {
  double sum = 0.0, squares = 0.0;
  int n = 0;
  for (int c = 1; c + 1 < strip.columns; ++c)
    for (int r = static_cast<int>(onset_row[c] + 0.2 * px_per_mm);
         r < std::min<double>(strip.rows, onset_row[c] + 0.9 * px_per_mm); ++r) {
      if (r < 0) continue;
      const double x = (strip.at(c - 1, r) + strip.at(c, r) + strip.at(c + 1, r)) / 3;
      if (!std::isfinite(x)) continue;
      sum += x;
      squares += x * x;
      ++n;
    }
  if (n < 2 || step <= 0) return 0.0;
  return std::sqrt(std::max(0.0, squares / n - (sum / n) * (sum / n))) / step;
}

}  // namespace

std::optional<ContactFit> fit_contact(const FlankStrip& strip, const Contour& contour,
                                      double blur_sigma_px, double px_per_mm) {
  const double reach = (kCoronalMm + kApicalMm + 2 * kSearchMm) * px_per_mm + 4;
  std::vector<Samples> columns;
  for (int c = 0; c < strip.columns; ++c)
    columns.push_back(column_samples(strip, c, contour.row[c], px_per_mm));
  double best_total = 1e300, rounding_mm = 0.0;
  std::vector<ColumnFit> best;
  for (const double s_mm : kRoundingMm) {
    const OnsetTable q(s_mm * px_per_mm, std::max(0.5, blur_sigma_px), reach);
    std::vector<ColumnFit> fits;
    double total = 0.0;
    for (const Samples& s : columns) {
      fits.push_back(s.x.size() < 8 ? ColumnFit{} : fit_column(s, q, kSearchMm * px_per_mm));
      // Like a likelihood with unknown scale: columns with strong texture do not decide alone.
      if (fits.back().misfit < 1e299) total += std::log(fits.back().misfit + 1e-9);
    }
    if (total < best_total) best_total = total, best = fits, rounding_mm = s_mm;
  }
  EdgePoints edge;
  for (int c = 0; c < strip.columns; ++c) {
    if (best[c].misfit > 1e299) continue;
    edge.d.push_back(strip.d_px(c));
    edge.v.push_back(strip.v_px(0) + contour.row[c] + best[c].onset);
    edge.weight.push_back(1.0 / (1.0 + std::pow(strip.d_px(c) / (kNearMm * px_per_mm), 2)));
  }
  if (edge.d.size() < 5 || 2 * edge.d.size() < static_cast<std::size_t>(strip.columns))
    return std::nullopt;
  const EdgeLine line = fit_edge_line(edge, px_per_mm);
  ContactFit fit;
  fit.v_px = line.a;
  fit.sd_px = line.sd_a;
  fit.slope = line.b;
  fit.rounding_px = rounding_mm * px_per_mm;
  fit.unevenness = unevenness_of(strip, contour.row, contour.typical_step, px_per_mm);
  return fit;
}

}  // namespace crestgate
