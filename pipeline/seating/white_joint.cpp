#include "pipeline/seating/white_joint.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "pipeline/seating/visible_gap.h"

namespace crestgate {
namespace {

constexpr std::array<double, 5> kStretches{0.65, 0.72, 0.79, 0.86, 0.93};  // of the radius
constexpr double kHalfWidth = 0.035;
/// A dark line shows this far above and below the heights its rays cross: bevels and blur.
constexpr double kBesideMm = 0.3;

/// Most samples of every row are white. (A gap at the limit leaves hardly one: it is five standard
/// deviations of a sample away from white.)
bool white_throughout(const Strip& s, const JointFitInput& in, double x, double from, double to) {
  const double r = std::min(in.implant.radius_px, in.part.radius_px);
  for (int iv = 0; iv < s.rows; ++iv) {
    if (s.v_px(iv) < from || s.v_px(iv) > to) continue;
    int n = 0, white = 0;
    for (int iu = 0; iu < s.columns; ++iu) {
      if (std::abs((s.u_px(iu) - in.implant.centre_px) / r - x) > kHalfWidth) continue;
      white += s.at(iu, iv) >= in.clip_level;
      ++n;
    }
    if (2 * white <= n) return false;
  }
  return true;
}

/// Inverse of PathTone::grey; empty if no path of this metal makes white.
std::optional<double> path_of_white(const PathTone& tone, double clip_level) {
  const double most = 2 * tone.full_px;
  if (tone.grey(most) < clip_level) return {};
  return reach([&](double path) { return tone.grey(path); }, clip_level, most);
}

}  // namespace

WhiteLimit limit_in_white(const Strip& strip, const JointFitInput& in, double worst_theta_rad,
                          double noise_grey) {
  WhiteLimit limit;
  const auto white = path_of_white(in.implant.tone, in.clip_level);
  if (!white) return limit;
  const double mm = 1.0 / in.mm_per_px;
  JointShape closed;
  closed.joint_px = in.joint_px;
  closed.implant_radius_px = in.implant.radius_px;
  closed.part_radius_px = in.part.radius_px;
  closed.core_radius_px = 0.6 * closed.outer_radius_px();
  closed.theta_rad = worst_theta_rad;
  const double r = closed.outer_radius_px();
  const double lean = r * std::tan(worst_theta_rad) + 2 * in.joint_sd_px + kBesideMm * mm;
  const double slope = std::max(in.implant.tone.slope(*white), 1e-9);
  const double margin =
      std::max(kReaderContrastMm * mm, (kFalseAlarmSd + kPowerSd) * noise_grey / slope);
  for (const double x : kStretches) {
    const double full = 2 * r * std::sqrt(1 - x * x) / std::cos(worst_theta_rad);
    const double spare = std::max(0.0, full - *white);
    const auto lost = [&](double gap) {
      return gap_contrast_at_px(closed, in.spread.sigma_px, x, gap);
    };
    const double most = kLargestGapMm * mm, needed = spare + margin;
    if (needed >= full || lost(most) < needed) continue;
    // A tipped part opens less here than at its rim.
    const double at_rim_mm = reach(lost, needed, most) * in.mm_per_px * 2 / (1 + x);
    for (const double side : {-1.0, 1.0}) {
      auto& least = side < 0 ? limit.minus_mm : limit.plus_mm;
      if (least && *least <= at_rim_mm) continue;
      if (white_throughout(strip, in, side * x, in.joint_px - lean, in.joint_px + lean))
        least = at_rim_mm;
    }
  }
  return limit;
}

}  // namespace crestgate
