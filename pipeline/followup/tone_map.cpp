#include "pipeline/followup/tone_map.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

constexpr double kGridMm = 0.15, kSmoothMm = 0.15;
constexpr double kBesideMm = 5.0, kCoronalMm = 6.0, kApicalMm = 3.0;
// Bone may have changed here: beside the implant, about its platform.
constexpr double kMaskBesideMm = 2.5, kMaskCoronalMm = 2.0, kMaskApicalMm = 4.0;
constexpr std::size_t kLeastPairs = 400, kLeastWedge = 3;
constexpr int kKnots = 33, kStripes = 10;

/// Mean of a 3 x 3 star around a point; NaN if any of it is.
double smooth_at(const Frame& frame, Point p, double step) {
  double sum = 0.0;
  for (const double dx : {-step, 0.0, step})
    for (const double dy : {-step, 0.0, step}) sum += interpolate(frame, {p.x + dx, p.y + dy});
  return sum / 9;
}

struct Pairs {
  std::vector<double> now, before, v;  ///< v: along the baseline's axis
};

Pairs sample_pairs(const RegisteredPair& p) {
  const double mm = 1.0 / p.mm_per_px_before, r = p.shape_before.radius_px;
  const double ratio = p.registration.scale_v;
  Pairs pairs;
  for (double v = -kCoronalMm * mm; v < p.shape_before.length_px + kApicalMm * mm;
       v += kGridMm * mm)
    for (double u = -r - kBesideMm * mm; u <= r + kBesideMm * mm; u += kGridMm * mm) {
      const bool beside = std::abs(u) > 0.9 * r && std::abs(u) < r + kMaskBesideMm * mm;
      if (beside && v > -kMaskCoronalMm * mm && v < kMaskApicalMm * mm) continue;
      const Point there = p.registration.to_follow_up(u, v);
      const double b = smooth_at(p.before, p.shape_before.axis.to_image(u, v), kSmoothMm * mm);
      const double a =
          smooth_at(p.now, p.shape_now.axis.to_image(there.x, there.y), kSmoothMm * mm * ratio);
      if (!std::isfinite(a) || !std::isfinite(b) || clipped(p.now, a) || clipped(p.before, b))
        continue;
      pairs.now.push_back(a);
      pairs.before.push_back(b);
      pairs.v.push_back(v);
    }
  return pairs;
}

/// Departure of the map from its least squares line at each of `greys`, as a share of `range`.
std::vector<double> departures(const ToneMap& map, const std::vector<double>& greys, double range) {
  double n = 0, x = 0, y = 0, xx = 0, xy = 0;
  for (const double grey : greys) {
    const double to = map(grey);
    n += 1, x += grey, y += to, xx += grey * grey, xy += grey * to;
  }
  const double det = n * xx - x * x;
  std::vector<double> off(greys.size(), 0.0);
  if (!(det > 0)) return off;
  const double slope = (n * xy - x * y) / det, offset = (y - slope * x) / n;
  for (std::size_t i = 0; i < off.size(); ++i)
    off[i] = (map(greys[i]) - offset - slope * greys[i]) / range;
  return off;
}

/// Grey values of the same aluminium in both images, rising; empty with fewer than kLeastWedge.
struct Anchors {
  std::vector<double> now, before;
};

Anchors anchors_of(const WedgeReading* now, const WedgeReading* before) {
  Anchors anchors;
  if (!now || !before) return anchors;
  for (const auto& a : now->steps)
    for (const auto& b : before->steps) {
      if (std::abs(a.aluminium_mm - b.aluminium_mm) > 1e-6 || !a.grey || !b.grey) continue;
      anchors.now.push_back(a.grey->value);
      anchors.before.push_back(b.grey->value);
    }
  return anchors.now.size() < kLeastWedge ? Anchors{} : anchors;
}

/// Bends the map through the anchors: between two of them the correction runs straight, beyond the
/// ends it stays what it is there. Never falls.
void tie(ToneMap& map, const Anchors& anchors, double range) {
  if (anchors.now.empty()) return;
  ToneMap correction;
  for (std::size_t i = 0; i < anchors.now.size(); ++i) {
    correction.from.push_back(anchors.now[i]);
    correction.to.push_back(anchors.before[i] - map(anchors.now[i]));
    map.wedge_correction = std::max(map.wedge_correction, std::abs(correction.to.back()) / range);
  }
  const auto correction_at = [&](double grey) {
    return correction(std::clamp(grey, anchors.now.front(), anchors.now.back()));
  };
  std::vector<double> from = map.from, to;
  from.insert(from.end(), anchors.now.begin(), anchors.now.end());
  std::sort(from.begin(), from.end());
  from.erase(std::unique(from.begin(), from.end()), from.end());
  for (const double grey : from) {
    const double mapped = map(grey) + correction_at(grey);
    to.push_back(to.empty() ? mapped : std::max(mapped, to.back()));
  }
  map.from = std::move(from);
  map.to = std::move(to);
  map.wedge_steps = static_cast<int>(anchors.now.size());
}

/// How both images' grey values belong together, and what a map of them must pass through.
struct Tied {
  const Anchors& anchors;
  double range;       ///< of the baseline's grey values
  double least_step;  ///< knots of the map nearer to each other are one
};

/// Empty with too few grey levels.
std::optional<ToneMap> fit(const Pairs& pairs, const Tied& tied) {
  std::vector<double> a = pairs.now, b = pairs.before;
  std::sort(a.begin(), a.end());
  std::sort(b.begin(), b.end());
  ToneMap map;
  for (int k = 0; k < kKnots; ++k) {
    const double q = 0.005 + 0.99 * k / (kKnots - 1);
    const auto i = static_cast<std::size_t>(q * static_cast<double>(a.size() - 1));
    if (!map.from.empty() && a[i] < map.from.back() + tied.least_step) continue;
    map.from.push_back(a[i]);
    map.to.push_back(map.to.empty() ? b[i] : std::max(b[i], map.to.back()));
  }
  if (map.from.size() < 4) return std::nullopt;
  tie(map, tied.anchors, tied.range);
  return map;
}

/// Bend and its U: the map fitted anew without one of kStripes stripes across the axis, the spread
/// of the departure where it is largest (delete-a-group jackknife: Shao, Tu, The Jackknife and
/// Bootstrap, 1995, section 2.3; from memory). Stripes, not pixels: what disturbs the map (anatomy
/// that does not meet, scatter) is alike over millimetres.
void measure_bend(ToneMap& map, const Pairs& pairs, const Tied& tied) {
  const std::vector<double> off = departures(map, map.from, tied.range);
  const auto largest = std::max_element(
      off.begin(), off.end(), [](double p, double q) { return std::abs(p) < std::abs(q); });
  map.bend = std::abs(*largest);
  const auto at = static_cast<std::size_t>(largest - off.begin());
  const auto [low, high] = std::minmax_element(pairs.v.begin(), pairs.v.end());
  const double width = (*high - *low) / kStripes + 1e-9;
  std::vector<double> without;
  for (int stripe = 0; stripe < kStripes; ++stripe) {
    Pairs rest;
    for (std::size_t i = 0; i < pairs.v.size(); ++i) {
      if (static_cast<int>((pairs.v[i] - *low) / width) == stripe) continue;
      rest.now.push_back(pairs.now[i]);
      rest.before.push_back(pairs.before[i]);
    }
    if (rest.now.size() < kLeastPairs / 2) continue;
    if (const auto again = fit(rest, tied))
      without.push_back(departures(*again, map.from, tied.range)[at]);
  }
  if (without.size() < 3) return;
  const double n = static_cast<double>(without.size());
  double mean = 0, squares = 0;
  for (const double d : without) mean += d / n;
  for (const double d : without) squares += (d - mean) * (d - mean);
  map.bend_expanded_uncertainty = 2 * std::sqrt(squares * (n - 1) / n);
}

}  // namespace

double ToneMap::operator()(double grey) const {
  const auto above = std::upper_bound(from.begin(), from.end(), grey);
  auto i = static_cast<std::size_t>(above - from.begin());
  i = std::clamp<std::size_t>(i, 1, from.size() - 1);
  const double f = (grey - from[i - 1]) / (from[i] - from[i - 1]);
  return to[i - 1] + f * (to[i] - to[i - 1]);
}

std::optional<ToneMap> match_tones(const RegisteredPair& pair) {
  const Pairs pairs = sample_pairs(pair);
  if (pairs.now.size() < kLeastPairs) return std::nullopt;
  const double range = pair.before.highest_storable - pair.before.lowest_storable;
  if (!(range > 0)) return std::nullopt;
  const double least_step = 1e-4 * (pair.now.highest_storable - pair.now.lowest_storable);
  const Anchors anchors = anchors_of(pair.wedge_now, pair.wedge_before);
  const Tied tied{anchors, range, least_step};
  std::optional<ToneMap> map = fit(pairs, tied);
  if (!map) return std::nullopt;
  std::vector<double> off;
  for (std::size_t i = 0; i < pairs.now.size(); ++i)
    off.push_back(std::abs((*map)(pairs.now[i]) - pairs.before[i]));
  const auto middle = off.begin() + static_cast<std::ptrdiff_t>(off.size() / 2);
  std::nth_element(off.begin(), middle, off.end());
  map->rest = 1.4826 * *middle / range;  // edges that do not meet are outliers
  measure_bend(*map, pairs, tied);
  return map;
}

Frame harmonised(const Frame& frame, const Frame& baseline, const ToneMap& map) {
  Frame out = frame;
  out.lowest_storable = baseline.lowest_storable;
  out.highest_storable = baseline.highest_storable;
  out.tone = baseline.tone;
  for (float& g : out.values) g = static_cast<float>(map(g));
  return out;
}

Subtraction subtract(const RegisteredPair& p, const Frame& harmonised_now) {
  const double mm = 1.0 / p.mm_per_px_before, r = p.shape_before.radius_px;
  Subtraction s;
  s.mm_per_px = p.mm_per_px_before;
  s.low = p.before.lowest_storable;
  s.high = p.before.highest_storable;
  const int half = static_cast<int>(r + 0.8 * kBesideMm * mm);
  s.platform_row = static_cast<int>(0.7 * kCoronalMm * mm);
  s.columns = 2 * half + 1;
  s.rows = s.platform_row + static_cast<int>(p.shape_before.length_px + 0.5 * kApicalMm * mm);
  for (int row = 0; row < s.rows; ++row)
    for (int column = 0; column < s.columns; ++column) {
      const double u = column - half, v = row - s.platform_row;
      const Point there = p.registration.to_follow_up(u, v);
      const float b = interpolate(p.before, p.shape_before.axis.to_image(u, v));
      const float a = interpolate(harmonised_now, p.shape_now.axis.to_image(there.x, there.y));
      s.before.push_back(b);
      s.now.push_back(a);
      s.difference.push_back(a - b);
    }
  return s;
}

}  // namespace crestgate
