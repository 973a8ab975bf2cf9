#include "pipeline/platform/platform.h"

#include <algorithm>
#include <cmath>

#include "pipeline/detect/flank.h"
#include "pipeline/image/statistics.h"
#include "pipeline/platform/cues.h"
#include "pipeline/platform/rating.h"

namespace crestgate {
namespace {

/// Posterior share of one place from which on it is called marked.
constexpr double kMarkedShare = 0.55;
/// Where metal ends altogether, the top of a cover screw or of a post looks like a bare platform:
/// only an open bore tells them apart, and a screw's socket looks a little like one.
constexpr double kMarkedShareBare = 0.8, kBoreOpen = 0.3;
/// kEndInner from here on: metal ends altogether.
constexpr double kEndsAltogether = 0.4;

constexpr double kNearMm = 0.2;         // heights this close are one place
constexpr std::size_t kMostRivals = 6;  // each costs a fit of the joint
constexpr double kLeastMetal = 0.35;    // of the body's contrast
constexpr double kSameWidth = 0.035;    // of the radius

/// Soft maximum of the rated heights and of "at none of these heights".
struct Posterior {
  std::vector<double> at;
  double evidence = 0.0;  ///< ln of the odds that it is at one of them
};

Posterior posterior(const CueTable& table) {
  const Rating rating = rated(table);
  std::vector<double> p = rating.height;
  const double most = *std::max_element(p.begin(), p.end());
  double somewhere = 0.0;
  for (double& x : p) somewhere += x = std::exp(x - most);
  const double evidence = most + std::log(somewhere) - rating.nowhere;
  for (double& x : p) x /= somewhere * (1.0 + std::exp(-evidence));
  return {std::move(p), evidence};
}

struct Place {
  double v_mm = 0.0, sd_mm = 0.0, share = 0.0;
  bool ends = false;  ///< no metal goes on coronal of it
  bool open = false;  ///< and a bore opens there
};

/// Row around which the most lies.
int centre_of_most(const std::vector<double>& p) {
  const int n = static_cast<int>(p.size()), half = 4;
  int best = 0;
  double most = -1.0;
  for (int i = 0; i < n; ++i) {
    double sum = 0.0;
    for (int k = std::max(0, i - half); k <= std::min(n - 1, i + half); ++k) sum += p[k];
    if (sum > most) most = sum, best = i;
  }
  return best;
}

/// The place about a row, and how much lies there.
Place place_about(const Straight& s, const CueTable& table, const std::vector<double>& p, int row) {
  const double centre = s.v_mm(table.row[row]);
  Place place;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double v = s.v_mm(table.row[i]);
    if (std::abs(v - centre) > kNearMm) continue;
    place.share += p[i];
    place.v_mm += p[i] * v;
  }
  place.v_mm /= place.share;
  return place;
}

Place likeliest(const Straight& s, const CueTable& table, const std::vector<double>& p) {
  const int n = static_cast<int>(p.size());
  const int best = centre_of_most(p);
  Place place = place_about(s, table, p, best);
  const double centre = s.v_mm(table.row[best]);
  const int at =
      std::clamp(best + static_cast<int>(std::lround((place.v_mm - centre) / kRowMm)), 0, n - 1);
  place.ends = table.strength[at][kEndInner] > kEndsAltogether;
  place.open = table.strength[at][kEndOpen] > kBoreOpen;
  // Rivals that hold too much of the posterior are part of the uncertainty.
  const double reach = place.share < kSureShare ? 1e9 : 2 * kNearMm;
  double square = 0.0, near = 0.0;
  for (int i = 0; i < n; ++i) {
    const double d = s.v_mm(table.row[i]) - place.v_mm;
    if (std::abs(d) > reach) continue;
    square += p[i] * d * d;
    near += p[i];
  }
  place.sd_mm = std::sqrt(square / near);
  return place;
}

/// The likeliest other places, until at most kLeftOut of the posterior is left.
std::vector<double> rivals_mm(const Straight& s, const CueTable& table, std::vector<double> p,
                              double fix_mm) {
  std::vector<double> places{fix_mm};
  double left = 1.0;
  const auto take = [&](double v_mm) {
    for (std::size_t i = 0; i < p.size(); ++i)
      if (std::abs(s.v_mm(table.row[i]) - v_mm) <= kNearMm) left -= p[i], p[i] = 0.0;
  };
  for (take(fix_mm); left > kLeftOut; take(places.back())) {
    const Place next = place_about(s, table, p, centre_of_most(p));
    if (places.size() > kMostRivals || !(next.share > 0)) return {};  // the rest is at no height
    places.push_back(next.v_mm);
  }
  places.erase(places.begin());
  return places;
}

double median_between(const Straight& s, const Profile& p, double from_mm, double to_mm) {
  std::vector<double> values;
  for (int i = 0; i < s.rows; ++i)
    if (s.v_mm(i) >= from_mm && s.v_mm(i) <= to_mm) values.push_back(p[i]);
  return median_of(std::move(values));
}

Above what_is_above(const Straight& s, double v_mm) {
  const auto coronal = [&](const Profile& p) {
    return median_between(s, p, v_mm - 0.5, v_mm - 0.15);
  };
  const double metal = coronal(s.zone(0.0, 0.5));
  if (!std::isfinite(metal)) return Above::unknown;
  if (metal < kLeastMetal) return Above::nothing;
  double change = 0.0;
  for (const Profile& e : s.edge)
    change += 0.5 * (coronal(e) - median_between(s, e, v_mm + 0.12, v_mm + 0.4));
  if (!std::isfinite(change)) return Above::unknown;
  if (change < -kSameWidth) return Above::narrower;
  return change > kSameWidth ? Above::wider : Above::flush;
}

}  // namespace

PlatformFix locate_platform(const Frame& frame, const ImplantShape& shape,
                            const ProjectionMeasures& projection, const Scale& scale) {
  PlatformFix fix;
  const EndCues end = cues_of_end(frame, shape, projection, scale);
  const CueTable& table = end.table;
  if (table.row.empty()) return fix;
  const Posterior all = posterior(table);
  const Place place = likeliest(end.straight, table, all.at);
  fix.v_px = place.v_mm / end.mm_per_px;
  fix.sd_px = place.sd_mm / end.mm_per_px;
  fix.share = place.share;
  fix.evidence = all.evidence;
  fix.marked =
      place.ends ? place.open && place.share >= kMarkedShareBare : place.share >= kMarkedShare;
  fix.above = what_is_above(end.straight, place.v_mm);
  for (const double v : rivals_mm(end.straight, table, all.at, place.v_mm))
    fix.rivals_px.push_back(v / end.mm_per_px);
  return fix;
}

void settle_platform(const Frame& frame, const PlatformFix& fix, ImplantShape* shape) {
  shape->platform_sd_px = fix.sd_px;
  shape->platform_marked = fix.marked;
  shape->rival_platforms_px.clear();
  for (const double v : fix.rivals_px) shape->rival_platforms_px.push_back(v - fix.v_px);
  if (fix.marked) shape->platform_in_view = true;
  shape->axis.origin = shape->axis.to_image(0.0, fix.v_px);
  shape->length_px -= fix.v_px;
  const int lone_side = !shape->minus_flank_in_view ? 1 : !shape->plus_flank_in_view ? -1 : 0;
  trace_silhouette(frame, find_field(frame), lone_side, shape);
}

}  // namespace crestgate
