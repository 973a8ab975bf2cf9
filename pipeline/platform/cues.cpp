#include "pipeline/platform/cues.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <iterator>

#include "config/units.h"

namespace crestgate {
namespace {

constexpr double kUsualRadiusMm = 2.05;  // 3.3-5 mm wide (common practice)
constexpr double kUsualAngleDeg = 4.0, kMostAngleDeg = 20.0, kUsualPitchMm = 0.8;
constexpr double kThreaded = 0.25;  // mean depth over one turn, share of a full valley's
constexpr double kMostCoronalMm = 5.5, kMostApicalMm = 4.5, kMostOfLength = 0.7;

/// Columns across the axis whose grey values are taken as they are, radii.
constexpr double kGreyAt[] = {0.08, 0.25, 0.42, 0.57, 0.7, 0.82, 0.92, 1.04, 1.3};
static_assert(std::size(kGreyAt) == kGreyLess - kGrey &&
              kAfterGreys - kGreyLess == kGreyLess - kGrey);

double clip(double x, double low, double high) {
  return std::isfinite(x) ? std::clamp(x, low, high) : 0.0;
}

Profile combine(const Profile& a, const Profile& b,
                const std::function<double(double, double)>& f) {
  Profile out(a.size());
  for (std::size_t i = 0; i < a.size(); ++i) out[i] = f(a[i], b[i]);
  return out;
}

double lesser(double a, double b) { return a < b ? a : b; }
double greater(double a, double b) { return a > b ? a : b; }
double difference(double a, double b) { return a - b; }
double mean(double a, double b) { return 0.5 * (a + b); }

Profile mean_of(const std::vector<Profile>& all) {
  Profile out(all.front().size());
  for (std::size_t i = 0; i < out.size(); ++i) {
    double sum = 0.0;
    int n = 0;
    for (const Profile& p : all)
      if (std::isfinite(p[i])) sum += p[i], ++n;
    out[i] = n > 0 ? sum / n : std::nan("");
  }
  return out;
}

class Gatherer {
 public:
  Gatherer(const Straight& s, std::optional<double> angle_deg, std::optional<double> pitch_mm)
      : s_(s),
        rim_mm_(s.radius_mm *
                std::sin(radians(std::min(angle_deg.value_or(kUsualAngleDeg), kMostAngleDeg)))),
        pitch_mm_(pitch_mm.value_or(kUsualPitchMm)) {
    half_width_ = combine(s.edge[0], s.edge[1], mean);
  }

  /// Where the circle of the platform is seen at x: half the ellipse's height there.
  double arc_mm(double x) const { return rim_mm_ * std::sqrt(std::max(0.0, 1.0 - x * x)); }

  /// Step of grey value, apical minus coronal, along the rim's coronal arc.
  Profile step(double x) const {
    const Profile p = s_.zone(x, kZoneHalf);
    const Profile d = combine(window_mean(p, 0.04, 0.28), window_mean(p, -0.28, -0.04), difference);
    return shifted(d, -arc_mm(x));
  }

  /// How much darker it is between the rim's two arcs than on either side of them.
  Profile line(double x) const {
    const double arc = arc_mm(x);
    const Profile p = s_.zone(x, kZoneHalf);
    const Profile beside = combine(window_mean(p, -arc - 0.32, -arc - 0.1),
                                   window_mean(p, arc + 0.1, arc + 0.32), lesser);
    return combine(beside, window_mean(p, -arc - 0.03, arc + 0.03), difference);
  }

  /// How much darker it is over some stretch just coronal of the rim than beyond its two ends: an
  /// open joint, whatever its height.
  Profile slit(double x) const {
    const Profile p = shifted(s_.zone(x, kZoneHalf), -arc_mm(x));
    const Profile apical = window_mean(p, 0.04, 0.28);
    Profile most(p.size(), std::nan(""));
    for (const double height : {0.16, 0.28, 0.48, 0.8}) {
      const Profile coronal = window_mean(p, -height - 0.32, -height - 0.04);
      const Profile inside = window_mean(p, -height + 0.04, -0.04);
      const Profile depth = combine(combine(apical, coronal, lesser), inside, difference);
      for (std::size_t i = 0; i < p.size(); ++i)
        if (!(most[i] >= depth[i])) most[i] = depth[i];
    }
    return most;
  }

  /// The fainter and the plainer flank of each pair of zones, then their means.
  struct Flanks {
    Profile both, one;
  };
  Flanks of_flanks(Profile (Gatherer::*of)(double) const) const {
    std::vector<Profile> both, one;
    for (const double x : {0.72, 0.8, 0.88, 0.94}) {
      const Profile minus = (this->*of)(s_.in_view[0] ? -x : x);
      const Profile plus = (this->*of)(s_.in_view[1] ? x : -x);
      both.push_back(combine(minus, plus, lesser));
      one.push_back(combine(minus, plus, greater));
    }
    return {mean_of(both), mean_of(one)};
  }

  /// A cue of the columns near the axis, both sides.
  Profile of_middle(Profile (Gatherer::*of)(double) const) const {
    std::vector<Profile> all;
    for (const double x : {0.0, 0.2, 0.4, 0.55})
      for (const double side : {-1.0, 1.0}) all.push_back((this->*of)(side * x));
    return mean_of(all);
  }

  /// Brighter apical than coronal over half a millimetre, about x and -x.
  Profile brighter(double x, double half) const {
    const Profile p = combine(s_.zone(-x, half), s_.zone(x, half), mean);
    return combine(window_mean(p, 0.15, 0.7), window_mean(p, -0.7, -0.15), difference);
  }

  /// Darker along the axis than at 0.7 R: an open bore. Solid metal is thickest along the axis, and
  /// clipped metal shows neither.
  Profile hollow() const {
    const Profile beside = combine(s_.zone(-0.7, 0.1), s_.zone(0.7, 0.1), lesser);
    return window_mean(combine(beside, s_.zone(0.0, 0.3), difference), 0.2, 0.6);
  }

  /// Depth of a notch about 0.2 mm tall in the silhouette, radii.
  Profile dip(double (*pick)(double, double)) const {
    Profile flank[2];
    for (int k = 0; k < 2; ++k) {
      const Profile& e = s_.edge[k];
      Profile least(e.size());
      const int n = static_cast<int>(e.size());
      for (int i = 0; i < n; ++i) {
        least[i] = 9.0;
        for (int j = std::max(0, i - 2); j <= std::min(n - 1, i + 2); ++j)
          if (e[j] < least[i]) least[i] = e[j];
      }
      flank[k] = combine(combine(window_mean(e, -0.36, -0.12), window_mean(e, 0.12, 0.36), lesser),
                         least, difference);
    }
    return combine(flank[0], flank[1], pick);
  }

  /// Share of a full thread valley at each height; 0 everywhere if the body has none.
  Profile thread() const {
    const int n = s_.rows, reach = static_cast<int>(0.6 * pitch_mm_ / kRowMm);
    Profile depth(n, 0.0);
    for (const Profile& e : s_.edge) {
      const auto highest = [&](int from, int to) {
        double h = 0.0;
        for (int i = std::max(0, from); i <= std::min(n - 1, to); ++i)
          h = std::max(h, std::isfinite(e[i]) ? e[i] : 1.0);
        return h;
      };
      for (int i = 0; i < n; ++i)
        depth[i] += 0.5 * (std::min(highest(i - reach, i), highest(i, i + reach)) -
                           (std::isfinite(e[i]) ? e[i] : 1.0));
    }
    std::vector<double> body;
    for (int i = 0; i < n; ++i)
      if (s_.v_mm(i) > 0.3 * s_.length_mm && s_.v_mm(i) < 0.75 * s_.length_mm)
        body.push_back(depth[i]);
    if (body.size() < 20) return Profile(n, 0.0);
    std::sort(body.begin(), body.end());
    const double full = body[static_cast<std::size_t>(0.85 * static_cast<double>(body.size() - 1))];
    if (full < kLeastThread) return Profile(n, 0.0);
    for (double& d : depth) d = clip(d / full, 0.0, 1.0);
    return depth;
  }

  /// Structure inside the metal: mean curvature across the axis of the picture made symmetric.
  Profile relief() const {
    Profile out(s_.rows, 0.0);
    const int count = 9;
    for (int k = 0; k < count; ++k) {
      const double x = 0.1 + 0.075 * k;
      const Profile low = symmetric(x - kReliefScale), at = symmetric(x),
                    high = symmetric(x + kReliefScale);
      for (int i = 0; i < s_.rows; ++i) out[i] += std::abs(low[i] - 2 * at[i] + high[i]) / count;
    }
    return combine(window_mean(out, 0.12, 0.6), window_mean(out, -0.6, -0.12), difference);
  }

  Profile narrower() const {
    return combine(window_mean(half_width_, 0.02, 0.14), window_mean(half_width_, -0.14, -0.02),
                   difference);
  }
  const Profile& half_width() const { return half_width_; }
  double pitch_mm() const { return pitch_mm_; }

 private:
  static constexpr double kZoneHalf = 0.045, kReliefScale = 0.125, kLeastThread = 0.02;

  Profile symmetric(double x) const {
    const Profile a = s_.zone(std::abs(x), 0.01), b = s_.zone(-std::abs(x), 0.01);
    return window_mean(combine(a, b, mean), -0.08, 0.08);
  }

  const Straight& s_;
  double rim_mm_, pitch_mm_;
  Profile half_width_;
};

/// Length from each row to the first one apical of it from where on a turn is threaded, mm; to the
/// last row if the thread that was read begins beyond. 0 everywhere if there is no thread.
Profile smooth_length(const Profile& thread, double pitch_mm, bool thread_read) {
  const int n = static_cast<int>(thread.size());
  const Profile turn = window_mean(thread, 0.0, pitch_mm);
  Profile out(n, 0.0);
  bool any = thread_read;
  for (int i = n - 1; i >= 0; --i) {
    const bool threaded = turn[i] > kThreaded;
    any = any || threaded;
    if (any && !threaded) out[i] = (i + 1 < n ? out[i + 1] : 0.0) + kRowMm;
  }
  return out;
}

/// Integral over [v - length, v], mm, taken `back` mm coronal of v.
Profile integral_above(const Profile& p, double length_mm, double back_mm) {
  const int n = static_cast<int>(p.size()), k = static_cast<int>(length_mm / kRowMm);
  Profile sum(n + 1, 0.0), out(n);
  for (int i = 0; i < n; ++i) sum[i + 1] = sum[i] + p[i] * kRowMm;
  for (int i = 0; i < n; ++i) out[i] = sum[i + 1] - sum[std::max(0, i - k)];
  return shifted(out, -back_mm);
}

Profile deviation(const Profile& width, double from) {
  Profile out(width.size());
  for (std::size_t i = 0; i < width.size(); ++i) out[i] = std::abs(width[i] - from);
  return out;
}

/// angle_deg: magnitude of the vertical angle, if known; pitch_mm: along the axis, if known.
CueTable gather_cues(const Straight& s, std::optional<double> angle_deg,
                     std::optional<double> pitch_mm) {
  const Gatherer g(s, angle_deg, pitch_mm);
  const auto outer = g.of_flanks(&Gatherer::step), line = g.of_flanks(&Gatherer::line),
             slit = g.of_flanks(&Gatherer::slit);
  const Profile inner = g.of_middle(&Gatherer::step), relief = g.relief();
  const Profile line_inner = g.of_middle(&Gatherer::line);
  const Profile hollow = g.hollow(), hollow_above = shifted(hollow, -0.9);
  const Profile centre = g.brighter(0.0, 0.5), beside = g.brighter(0.65, 0.1);
  Profile dip = g.dip(lesser), dip_one = g.dip(greater);
  for (Profile* notch : {&dip, &dip_one})
    for (double& d : *notch) d = clip(d / 0.025, 0.0, 1.5);
  const Profile& width = g.half_width();
  const Profile thread = g.thread(), narrower = g.narrower();
  const Profile above = integral_above(thread, 3.0, 0.2);
  const Profile just_above = integral_above(thread, 1.0, 0.15);
  const Profile next_turn = window_mean(thread, 0.1, g.pitch_mm() + 0.1);
  const Profile odd = window_mean(deviation(width, 1.0), 0.15, 1.5);
  const Profile near = deviation(window_mean(width, 0.1, 0.5), 1.02);
  const Profile wider =
      combine(window_mean(width, 0.1, 0.6), window_mean(width, -0.6, -0.1), difference);
  const Profile width_above = window_mean(width, -1.5, -0.6);
  const Profile smooth = smooth_length(thread, g.pitch_mm(), pitch_mm.has_value());
  const int pitch = static_cast<int>(std::lround(g.pitch_mm() / kRowMm));
  const auto notch_about = [&](int row) {
    double most = 0.0;
    for (int k = std::max(0, row - 3); k <= std::min(s.rows - 1, row + 3); ++k)
      most = std::max(most, dip[k]);
    return most;
  };

  std::vector<Profile> grey, grey_less;
  for (const double x : kGreyAt) {
    const Profile minus = s.zone(s.in_view[0] ? -x : x, 0.06);
    const Profile plus = s.zone(s.in_view[1] ? x : -x, 0.06);
    grey.push_back(combine(minus, plus, mean));
    grey_less.push_back(combine(minus, plus, lesser));
  }
  const Profile width_less = combine(s.edge[0], s.edge[1], lesser);

  CueTable table;
  for (int i = 0; i < s.rows; ++i) {
    const double v = s.v_mm(i);
    if (v < -kMostCoronalMm || v > std::min(kMostApicalMm, kMostOfLength * s.length_mm)) continue;
    const double length = s.apex_in_view ? s.length_mm - v : 10.0;
    std::array<double, kCues> c{};
    c[kEndOuter] = clip(outer.both[i], 0.0, 1.0);
    c[kEndInner] = clip(inner[i], 0.0, 1.0);
    c[kLineBoth] = clip(line.both[i] / 0.04, 0.0, 1.5);
    c[kDipBoth] = dip[i];
    c[kDipAgain] = std::min(dip[i], notch_about(i + pitch));
    c[kNarrowSharp] = clip(narrower[i] / 0.1, 0.0, 1.5);
    c[kReliefOn] = clip(relief[i] / 0.04, 0.0, 1.5);
    c[kThreadAbove] = clip(above[i] / 0.4, 0.0, 2.0);
    c[kThreadJustAbove] = clip(just_above[i] / 0.15, 0.0, 1.0);
    c[kNearWidth] = clip(near[i] / 0.15, 0.0, 2.0);
    c[kOddWidth] = clip(odd[i] / 0.2, 0.0, 2.0);
    c[kShort] = clip(7.0 - length, 0.0, 3.0);
    c[kLong] = clip(length - 14.0, 0.0, 3.0);
    c[kSomeEnd] = std::min(c[kEndOuter], 0.3);
    c[kSomeDip] = std::min(c[kDipBoth], 0.4);
    c[kSomeLine] = std::min(c[kLineBoth], 0.4);
    c[kSlitOne] = clip(slit.one[i] / 0.2, 0.0, 1.5);
    c[kSmooth] = clip(smooth[i] / 2.0, 0.0, 1.0);
    c[kSmoothLong] = clip((smooth[i] - 2.0) / 2.0, 0.0, 2.0);
    c[kEndOpen] = clip(inner[i], 0.0, 1.0) * clip(hollow[i] / 0.1, 0.0, 1.0);
    c[kStepOuter] = clip(outer.both[i], -1.0, 1.0);
    c[kStepInner] = clip(inner[i], -1.0, 1.0);
    c[kStepOne] = clip(outer.one[i], -1.0, 1.0);
    c[kLineOne] = clip(line.one[i] / 0.04, -1.0, 2.0);
    c[kLineInner] = clip(line_inner[i] / 0.04, -1.0, 2.0);
    c[kDipOne] = dip_one[i];
    c[kDipAgainAbove] = std::min(dip[i], notch_about(i - pitch));
    c[kCentreStep] = clip(centre[i] / 0.2, -2.0, 2.0);
    c[kSideStep] = clip(beside[i] / 0.2, -2.0, 2.0);
    c[kWidthStep] = clip(wider[i] / 0.1, -2.0, 2.0);
    c[kWidthAbove] = clip(width_above[i], 0.3, 1.7);
    c[kSlitBoth] = clip(slit.both[i] / 0.2, 0.0, 1.5);
    c[kHollow] = clip(hollow[i] / 0.1, -1.0, 1.0);
    c[kHollowAbove] = clip(hollow_above[i] / 0.1, -1.0, 1.0);
    c[kRelief] = clip(relief[i] / 0.04, -1.5, 1.5);
    c[kNarrow] = clip(narrower[i] / 0.1, -1.5, 1.5);
    c[kLength] = clip(length / 10.0, 0.3, 1.8);
    c[kApexSeen] = s.apex_in_view ? 1.0 : 0.0;
    c[kThreadHere] = thread[i];
    c[kThreadNext] = clip(next_turn[i], 0.0, 1.0);
    c[kAngle] = angle_deg.value_or(kUsualAngleDeg) / 10.0;
    c[kHalfWidth] = clip(width[i], 0.0, 1.7);
    c[kHalfWidthLess] = clip(width_less[i], 0.0, 1.7);
    for (std::size_t k = 0; k < grey.size(); ++k) {
      c[kGrey + k] = clip(grey[k][i], -1.0, 2.0);
      c[kGreyLess + k] = clip(grey_less[k][i], -1.0, 2.0);
    }
    table.row.push_back(i);
    table.strength.push_back(c);
  }
  return table;
}

}  // namespace

EndCues cues_of_end(const Frame& frame, const ImplantShape& shape,
                    const ProjectionMeasures& projection, const Scale& scale) {
  EndCues end;
  end.mm_per_px = scale.mm_per_px ? scale.mm_per_px->value : kUsualRadiusMm / shape.radius_px;
  end.straight = straighten(frame, shape, end.mm_per_px);
  if (end.straight.rows == 0) return end;
  std::optional<double> angle, pitch;
  if (projection.vertical_angle_deg) angle = std::abs(projection.vertical_angle_deg->value);
  if (projection.thread_pitch_px) pitch = *projection.thread_pitch_px * end.mm_per_px;
  end.table = gather_cues(end.straight, angle, pitch);
  return end;
}

}  // namespace crestgate
