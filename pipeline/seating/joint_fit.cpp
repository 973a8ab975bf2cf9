#include "pipeline/seating/joint_fit.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "pipeline/image/statistics.h"
#include "pipeline/seating/least_squares.h"

namespace crestgate {
namespace {

constexpr std::array<double, 4> kZones{0.70, 0.78, 0.86, 0.93};
constexpr double kZoneHalfWidth = 0.035;
constexpr double kInside = 0.82;  // two of a side's zones: no bevel reaches this far inward
constexpr double kModelError =
    0.012;  // of the metal's contrast: what a two-cylinder model leaves out
constexpr double kLargestBevelMm = 0.3;
constexpr int kNuisances = 4;  // level, slope, bend, step: per zone, linear

struct Zone {
  double x = 0.0;  ///< u over the outer radius, signed
  std::vector<double> v, grey;
  double noise = 1.0;
};

enum { kJoint, kMinus, kPlus, kImplantBevel, kPartBevel, kTheta, kUnknowns };

// Noise of a smooth curve from its second differences, which curvature hardly touches.
double noise_of(const std::vector<double>& y) {
  std::vector<double> d;
  for (std::size_t i = 2; i + 2 < y.size(); ++i)
    d.push_back(std::abs(y[i - 2] - 2 * y[i] + y[i + 2]));
  return d.empty() ? 1.0 : 1.4826 * median_of(d) / std::sqrt(6.0);
}

class Fitter {
 public:
  Fitter(const Strip& strip, const JointFitInput& in) : strip_(strip), in_(in) {}

  void collect(double joint_px) {
    zones_.clear();
    const double r = outer(), mm = 1.0 / in_.mm_per_px;
    const double lean = r * std::tan(in_.theta_rad + in_.theta_sd_rad);
    const double from = joint_px - lean - 0.55 * mm, to = joint_px + lean + 0.4 * mm;
    for (double side : {-1.0, 1.0})
      for (double x : kZones) add_zone(side * x, from, to);
  }

  double usable(int side) const {
    int n = 0;
    for (const Zone& z : zones_) n += (z.x > 0) == (side > 0);
    return static_cast<double>(n) / kZones.size();
  }
  bool empty() const { return zones_.empty(); }

  LeastSquares resume(std::vector<double> from) const {
    from[kMinus] = from[kPlus] = 0.0;
    return solve_from(from, false);
  }
  /// `side` -1 or 1: by that side's zones alone; 0: by both.
  LeastSquares solve_from(const std::vector<double>& start, bool closed, int side = 0) const {
    const auto counts = [side](const Zone& z) { return side == 0 || (z.x > 0) == (side > 0); };
    int n = 0;
    for (const Zone& z : zones_) n += counts(z) ? static_cast<int>(z.v.size()) : 0;
    const double mm = 1.0 / in_.mm_per_px;
    const auto f = [&](const std::vector<double>& p, double* out) {
      double* next = out;
      for (const Zone& z : zones_)
        if (counts(z)) next = zone_residuals(z, p, closed, next);
      *next++ = (p[kJoint] - in_.joint_px) / in_.joint_sd_px;
      *next++ = bevel_prior(p[kImplantBevel] * in_.mm_per_px);
      *next++ = bevel_prior(p[kPartBevel] * in_.mm_per_px);
      *next++ = (p[kTheta] - in_.theta_rad) / std::max(0.002, in_.theta_sd_rad);
      *next++ = closed ? p[kMinus] : gap_prior(p[kMinus] / mm);
      *next++ = closed ? p[kPlus] : gap_prior(p[kPlus] / mm);
    };
    const std::vector<double> step{0.05 * mm, 0.02 * mm, 0.02 * mm, 0.03 * mm, 0.03 * mm, 0.01};
    return least_squares(f, n + 6, start, step, 70);
  }

  /// What the open joint explains better than the closed one inside the flank of one side.
  double gain_inside(int side, const std::vector<double>& open,
                     const std::vector<double>& shut) const {
    double gain = 0.0;
    for (const Zone& z : zones_) {
      if ((z.x > 0) != (side > 0) || std::abs(z.x) > kInside) continue;
      std::vector<double> left(z.v.size());
      zone_residuals(z, shut, true, left.data());
      for (double r : left) gain += r * r;
      zone_residuals(z, open, false, left.data());
      for (double r : left) gain -= r * r;
    }
    return gain;
  }

  JointShape shape_of(const std::vector<double>& p) const {
    JointShape s;
    s.joint_px = p[kJoint];
    s.implant_radius_px = in_.implant.radius_px;
    s.part_radius_px = in_.part.radius_px;
    s.core_radius_px = 0.6 * outer();
    const double most = kLargestBevelMm / in_.mm_per_px;
    s.implant_bevel_px = std::clamp(p[kImplantBevel], 0.0, most);
    s.part_bevel_px = std::clamp(p[kPartBevel], 0.0, most);
    const double least = -0.02 / in_.mm_per_px;  // parts cannot overlap; noise may say so
    s.gap_minus_px = std::max(least, p[kMinus]);
    s.gap_plus_px = std::max(least, p[kPlus]);
    s.theta_rad = std::abs(p[kTheta]);
    return s;
  }
  Spread spread() const { return in_.spread; }

 private:
  double outer() const { return std::min(in_.implant.radius_px, in_.part.radius_px); }

  // Parts cannot overlap: a negative gap is noise, and stays as small as noise.
  static double gap_prior(double mm) { return mm < 0 ? mm / 0.006 : 0.02 * mm; }

  // Bevels are 0.03-0.3 mm on manufactured parts (field notes): free inside, costly outside.
  static double bevel_prior(double mm) {
    if (mm < 0) return mm / 0.01;
    return mm > kLargestBevelMm ? 0.9 + (mm - kLargestBevelMm) / 0.03 : 0.3 * mm / 0.1;
  }

  void add_zone(double x, double from, double to) {
    Zone z;
    z.x = x;
    const double r = outer();
    for (int iv = 0; iv < strip_.rows; ++iv) {
      const double v = strip_.v_px(iv);
      if (v < from || v > to) continue;
      const double centre = v < in_.joint_px ? in_.part.centre_px : in_.implant.centre_px;
      double sum = 0.0;
      int n = 0, clipped = 0;
      for (int iu = 0; iu < strip_.columns; ++iu) {
        const double at = (strip_.u_px(iu) - centre) / r;
        if (std::abs(at - x) > kZoneHalfWidth || !std::isfinite(strip_.at(iu, iv))) continue;
        sum += strip_.at(iu, iv);
        clipped += strip_.at(iu, iv) >= in_.clip_level;
        ++n;
      }
      if (n == 0) return;
      if (clipped * 4 > n) continue;
      z.v.push_back(v);
      z.grey.push_back(sum / n);
    }
    const double rows = (to - from) / strip_.step_v_px;
    if (static_cast<double>(z.v.size()) < 0.75 * rows || z.v.size() < 16) return;
    z.noise = std::hypot(noise_of(z.grey), kModelError * in_.implant.tone.contrast);
    zones_.push_back(std::move(z));
  }

  // Model minus data over the noise, after the linear nuisances have taken what they can.
  double* zone_residuals(const Zone& z, const std::vector<double>& p, bool closed,
                         double* out) const {
    JointShape s = shape_of(p);
    if (closed) s.gap_minus_px = s.gap_plus_px = 0.0;
    const double u = z.x * outer();
    const std::size_t n = z.v.size();
    std::array<std::vector<double>, kNuisances> basis;
    for (auto& b : basis) b.resize(n);
    JointShape plain = s;
    plain.gap_minus_px = plain.gap_plus_px = 0.0;
    plain.implant_bevel_px = plain.part_bevel_px = 0.0;
    // Flush parts: a small step stands for what differs between them.
    if (std::abs(plain.implant_radius_px - plain.part_radius_px) < 0.02 * outer())
      plain.implant_radius_px = plain.part_radius_px + 0.05 * outer();
    const double middle = 0.5 * (z.v.front() + z.v.back());
    const double half = 0.5 * (z.v.back() - z.v.front());
    for (std::size_t i = 0; i < n; ++i) {
      const double t = (z.v[i] - middle) / half;
      out[i] = (in_.implant.tone.grey(joint_path_px(s, spread(), u, z.v[i])) - z.grey[i]) / z.noise;
      basis[0][i] = 1.0;
      basis[1][i] = t;
      basis[2][i] = t * t;
      basis[3][i] = joint_path_px(plain, spread(), u, z.v[i]);
    }
    for (int k = 0; k < kNuisances; ++k) {
      for (int j = 0; j < k; ++j) remove(basis[j], basis[k].data());
      double norm = 0.0;
      for (double b : basis[k]) norm += b * b;
      norm = std::sqrt(std::max(norm, 1e-12));
      for (double& b : basis[k]) b /= norm;
      remove(basis[k], out);
    }
    return out + n;
  }

  static void remove(const std::vector<double>& direction, double* from) {
    double dot = 0.0;
    for (std::size_t i = 0; i < direction.size(); ++i) dot += direction[i] * from[i];
    for (std::size_t i = 0; i < direction.size(); ++i) from[i] -= dot * direction[i];
  }

  const Strip& strip_;
  const JointFitInput& in_;
  std::vector<Zone> zones_;
};

}  // namespace

std::optional<JointFit> fit_joint(const Strip& strip, const JointFitInput& input) {
  Fitter fitter(strip, input);
  fitter.collect(input.joint_px);
  if (fitter.empty()) return {};
  const double mm = 1.0 / input.mm_per_px;
  std::optional<LeastSquares> best;
  struct Start {
    double shift_mm, minus_mm, plus_mm;
  };
  // A tipped part has its own basin: from an even gap the fit ends in bevels instead.
  for (const Start& s : {Start{-0.12, 0, 0},
                         {0, 0, 0},
                         {0.12, 0, 0},
                         {-0.12, 0.12, 0.12},
                         {0, 0.12, 0.12},
                         {0.12, 0.12, 0.12},
                         {0, 0.25, 0.03},
                         {0, 0.03, 0.25}}) {
    LeastSquares fit = fitter.solve_from({input.joint_px + s.shift_mm * mm, s.minus_mm * mm,
                                          s.plus_mm * mm, 0.06 * mm, 0.06 * mm, input.theta_rad},
                                         false);
    if (!best || fit.sum_of_squares < best->sum_of_squares) best = std::move(fit);
  }
  std::optional<LeastSquares> shut;
  for (double shift : {-0.1, 0.0, 0.1}) {
    LeastSquares fit = fitter.solve_from(
        {best->unknowns[kJoint] + shift * mm, 0, 0, 0.1 * mm, 0.1 * mm, input.theta_rad}, true);
    if (!shut || fit.sum_of_squares < shut->sum_of_squares) shut = std::move(fit);
  }
  // The closed joint is a special case of the open one: never accept a worse fit than it.
  if (shut->sum_of_squares < best->sum_of_squares) {
    LeastSquares again = fitter.resume(shut->unknowns);
    if (again.sum_of_squares < best->sum_of_squares) best = std::move(again);
  }
  JointFit out;
  out.shape = fitter.shape_of(best->unknowns);
  out.chi_square_per_degree = best->sum_of_squares / std::max(1, best->residuals - 30);
  const double scale = std::max(1.0, out.chi_square_per_degree);
  out.gap_minus_sd_px = std::sqrt(scale * best->variance(kMinus));
  out.gap_plus_sd_px = std::sqrt(scale * best->variance(kPlus));
  out.closed_over_open = shut->sum_of_squares / best->sum_of_squares;
  out.improvement = (shut->sum_of_squares - best->sum_of_squares) / scale;
  out.inside_minus = fitter.gain_inside(-1, best->unknowns, shut->unknowns) / scale;
  out.inside_plus = fitter.gain_inside(1, best->unknowns, shut->unknowns) / scale;
  for (const int side : {-1, 1}) {
    if (fitter.usable(side) == 0.0) continue;
    LeastSquares alone = fitter.solve_from(shut->unknowns, true, side);
    const JointShape one = fitter.shape_of(alone.unknowns);
    (side < 0 ? out.notch_minus_px : out.notch_plus_px) = one.implant_bevel_px + one.part_bevel_px;
  }
  out.usable_minus = fitter.usable(-1);
  out.usable_plus = fitter.usable(1);
  return out;
}

}  // namespace crestgate
