#include "pipeline/crest/platform_edge.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

constexpr double kPlateauMm = 0.3;
// A ring of metal must stand out by this share of body minus surroundings; its way through the
// metal is short, so it is fainter than the body.
constexpr double kLeastRing = 0.2;
// Coronal of a platform the ring stays empty; a thread valley is shut again half a pitch on.
constexpr double kEvenness = 0.35;
constexpr double kLargestSdMm = 0.04;

double mean(const std::vector<double>& x, double from, double to) {
  const int a = std::max(0, static_cast<int>(std::lround(from)));
  const int b = std::min(static_cast<int>(x.size()) - 1, static_cast<int>(std::lround(to)));
  double sum = 0.0;
  for (int i = a; i <= b; ++i) sum += x[i];
  return b >= a ? sum / (b - a + 1) : std::nan("");
}

class Search {
 public:
  Search(const Frame& frame, const ImplantShape& shape, double blur_px, double px_per_mm,
         double search_px)
      : frame_(frame),
        shape_(shape),
        blur_(blur_px),
        mm_(px_per_mm),
        reach_(1.3 * px_per_mm),
        search_(search_px) {
    std::vector<double> in, out;
    for (double v = 0.3 * mm_; v < 1.5 * mm_; v += 1.0)
      for (const double u : {-0.5, 0.5, -1.3, 1.3}) {
        const double g = interpolate(frame, shape.axis.to_image(u * shape.radius_px, v));
        if (std::isfinite(g)) (std::abs(u) < 1 ? in : out).push_back(g);
      }
    contrast_ = median_of(in) - median_of(out);
  }

  /// Half-level position where metal begins at u, going apically; `beside_u` lies outside the body.
  std::optional<double> at(double u, double beside_u) const {
    std::vector<double> g, beside;
    for (double v = -reach_; v <= reach_; v += 1.0) {
      g.push_back(interpolate(frame_, shape_.axis.to_image(u, v)));
      beside.push_back(interpolate(frame_, shape_.axis.to_image(beside_u, v)));
      if (!std::isfinite(g.back()) || !std::isfinite(beside.back())) return std::nullopt;
    }
    const double gap = 1.5 * blur_, span = kPlateauMm * mm_;
    double best = 0.0, best_at = 0.0;
    for (double c = reach_ - search_; c <= reach_ + search_; c += 1.0) {
      const double step = mean(g, c + 1, c + gap) - mean(g, c - gap, c - 1);
      if (step > best) best = step, best_at = c;
    }
    if (best <= 0) return std::nullopt;
    const double high = mean(g, best_at + gap, best_at + gap + span);
    const double low = mean(g, best_at - gap - span, best_at - gap);
    const double far = mean(g, best_at - gap - 2.2 * span, best_at - gap - span);
    const double outside = mean(beside, best_at - gap - span, best_at - gap);
    const double step = high - low;
    if (!(step > kLeastRing * contrast_)) return std::nullopt;
    if (std::abs(far - low) > kEvenness * step || std::abs(outside - low) > kEvenness * step)
      return std::nullopt;
    const double half = 0.5 * (high + low);
    for (int i = std::max(1, static_cast<int>(best_at - 2 * gap)); i <= best_at + 2 * gap; ++i)
      if (g[i - 1] < half && g[i] >= half)
        return i - 1 + (half - g[i - 1]) / (g[i] - g[i - 1]) - reach_;
    return std::nullopt;
  }

 private:
  const Frame& frame_;
  const ImplantShape& shape_;
  double blur_, mm_, reach_, search_, contrast_ = 0.0;
};

}  // namespace

std::optional<PlatformEdge> find_platform_edge(const Frame& frame, const ImplantShape& shape,
                                               double blur_sigma_px, double px_per_mm) {
  const double blur = std::max(1.0, blur_sigma_px);
  const double search_px =
      std::clamp(2.5 * shape.platform_sd_px.value_or(0.0), 0.12 * px_per_mm, 0.35 * px_per_mm);
  const Search search(frame, shape, blur, px_per_mm, search_px);
  std::vector<double> side[2], all;
  for (int s = 0; s < 2; ++s) {
    const double sign = s == 0 ? -1.0 : 1.0;
    const auto& edge = s == 0 ? shape.minus_edge_px : shape.plus_edge_px;
    std::vector<double> near;
    for (std::size_t i = 0; i < edge.size() && i < 0.6 * px_per_mm; ++i)
      if (std::isfinite(edge[i])) near.push_back(std::abs(edge[i]));
    const double r = near.empty() ? shape.radius_px : median_of(near);
    const double beside = r + 2.5 * blur + 0.1 * px_per_mm;
    for (double u = 0.6 * r; u <= r - 1.5 * blur; u += 1.0)
      if (const auto v = search.at(sign * u, sign * beside)) side[s].push_back(*v);
    all.insert(all.end(), side[s].begin(), side[s].end());
  }
  if (std::min(side[0].size(), side[1].size()) < 2) return std::nullopt;
  const double a = median_of(side[0]), b = median_of(side[1]);
  std::vector<double> away;
  for (const double v : all) away.push_back(std::abs(v - 0.5 * (a + b)));
  PlatformEdge found;
  found.v_px = 0.5 * (a + b);
  found.sd_px = std::hypot(0.25 * std::abs(a - b), 0.5 * 1.4826 * median_of(away));
  if (found.sd_px > kLargestSdMm * px_per_mm) return std::nullopt;  // not one edge
  return found;
}

}  // namespace crestgate
