#include "pipeline/seating/joint_statement.h"

#include <algorithm>
#include <cmath>

namespace crestgate {
namespace {

/// Standard uncertainty of a size as a share of it: the model's bevels and the gap share what is
/// lost, and sizes come out up to a quarter low (rendered bench study, angles of 5 to 10 degrees).
constexpr double kSizeModel = 0.2;
/// Of the metal path at 0.8 R (1.2 R long): beyond it no size is stated.
constexpr double kLargestShareLost = 0.35;

}  // namespace

void state_open_sides(const AxisFrame& axis, bool minus, bool plus, JointMeasures* m) {
  m->state = JointState::gap_visible;
  if (axis.minus_is_left())
    m->open_side = {minus, plus};
  else
    m->open_side = {plus, minus};
}

void state_gap(const JointFitInput& in, const AxisFrame& axis, bool tone_known, const Side& minus,
               const Side& plus, JointMeasures* m) {
  state_open_sides(axis, minus.open, plus.open, m);
  const Side& left = axis.minus_is_left() ? minus : plus;
  const Side& other = axis.minus_is_left() ? plus : minus;
  const bool of_minus = minus.open && (!plus.open || minus.gap_mm > plus.gap_mm);
  const Side& larger = of_minus ? minus : plus;
  // A dip's depth gives a size only if the tone is known and the ray still passes mostly metal:
  // where nearly all of it is lost, blur mixes transmissions, not paths, and the model's sizes come
  // out too large.
  const double r = std::min(in.part.radius_px, in.implant.radius_px) * in.mm_per_px;
  const double lost_mm = larger.gap_mm / std::sin(std::max(0.01, in.theta_rad));
  if (!tone_known || lost_mm > kLargestShareLost * 1.2 * r) return;
  if (left.open || !left.trace) m->gap_side_mm.left = left.open ? left.gap_mm : 0.0;
  if (other.open || !other.trace) m->gap_side_mm.right = other.open ? other.gap_mm : 0.0;
  m->gap_mm = larger.gap_mm;
  m->gap_expanded_uncertainty_mm = 2 * std::hypot(larger.sd_mm, kSizeModel * larger.gap_mm);
}

void state_wide_slit(const WideSlit& slit, const JointFitInput& in, double scale_u_relative,
                     const AxisFrame& axis, JointMeasures* m) {
  state_open_sides(axis, true, true, m);
  m->bounded_by.clear();
  const bool minus_left = axis.minus_is_left();
  const double mm = in.mm_per_px / std::cos(in.theta_rad);
  m->gap_side_mm.left = mm * (minus_left ? slit.minus_px : slit.plus_px);
  m->gap_side_mm.right = mm * (minus_left ? slit.plus_px : slit.minus_px);
  m->gap_mm = std::max(*m->gap_side_mm.left, *m->gap_side_mm.right);
  const double edge = 0.5 * in.spread.sigma_px * in.mm_per_px;
  const double ramp = 0.28 * in.implant.radius_px * in.mm_per_px * std::sin(in.theta_rad);
  m->gap_expanded_uncertainty_mm = 2 * std::hypot(edge, ramp, 0.5 * scale_u_relative * *m->gap_mm);
}

void state_limit(const GapLimit& limit, JointMeasures* m) {
  const bool butt = m->design == "butt joint";
  m->smallest_visible_gap_mm = butt ? limit.butt_mm : limit.conical_mm;
  m->smallest_visible_gap_at_best_mm = butt ? limit.butt_at_best_mm : limit.conical_at_best_mm;
  m->smallest_visible_gap_butt_mm = limit.butt_mm;
  m->smallest_visible_gap_conical_mm = limit.conical_mm;
  m->bounded_by = butt                     ? limit.bounded_by
                  : m->design == "conical" ? "conical connection"
                                           : "unknown connection";
}

JointMeasures unread(JointMeasures m, const std::string& reason, const std::string& bounded_by) {
  for (auto* limit : {&m.smallest_visible_gap_mm, &m.smallest_visible_gap_at_best_mm,
                      &m.smallest_visible_gap_butt_mm, &m.smallest_visible_gap_conical_mm})
    limit->reset();
  m.state = JointState::not_assessable;
  m.open_side = {};
  m.reason = reason;
  m.bounded_by = bounded_by;
  return m;
}

}  // namespace crestgate
