#include "pipeline/seating/seating.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/statistics.h"
#include "pipeline/seating/gap_call.h"
#include "pipeline/seating/joint_fit.h"
#include "pipeline/seating/joint_place.h"
#include "pipeline/seating/plain_slit.h"
#include "pipeline/seating/visible_gap.h"
#include "pipeline/seating/wide_slit.h"

namespace crestgate {
namespace {

/// Parts at least this wide against the platform are seated on it face to face; a cone's part is
/// narrower than its platform (common practice). Those of 0.88 to 0.95 are met with either joint
/// (images of an independent renderer): design unknown.
constexpr double kButtRadiusRatio = 0.95;
/// No part this narrow is seated face to face (common practice): what looks like a gap is its neck
/// under a flare. (Of 15 called open on parts over 1 mm narrower than the platform, unknown design,
/// none was a butt joint and 9 were closed; rendered joints.)
constexpr double kNarrowPart = 0.75;
/// No part is this much wider than its platform right at the joint; a crown's margin is.
constexpr double kCrownRadiusRatio = 1.16;
/// Chi-square per degree of freedom beyond which what lies at the joint is not what the model
/// knows.
constexpr double kMostMisfit = 4.0;
/// A gap that halves what a closed joint leaves unexplained is plain, even where the rest of the
/// picture is not what the model knows; no size is stated then. (Not on a narrow part: its neck
/// under a flare does the same.)
constexpr double kPlainRatio = 2.0;
/// Two bevels together; a taller notch is a thread's valley or a crown's margin.
constexpr double kLargestNotchMm = 0.5;
/// Where a plain slit still belongs to the platform.
constexpr double kSlitReachMm = 0.5;
/// Of the rims' grey is left in a plain slit; with up to this much left it is not called one, but
/// the joint is not called closed either. (No bevel reaches this far inward.)
constexpr double kSlitLeft = 0.3, kDoubtfulSlitLeft = 0.75;
/// Share of a side's zones that must not be white before a joint is called closed: beside a white
/// core, with two of four zones left on either side, a gap of 0.16 mm looked like bevels.
constexpr double kLeastSeenIfClosed = 0.75;
/// A slit with nothing but a core in it is an open joint up to here; a taller one may as well be a
/// narrow part under a crown, as conical joints have, unless the joint is known to be a butt joint.
/// Gaps at fault in practice lie below: the bench study's largest is 0.19 mm. Closed joints of ours
/// and of two independent simulators had such necks of 0.38 to 0.7 mm.
constexpr double kNeckMm = 0.35;
/// Standard uncertainty of a size as a share of it: the model's bevels and the gap share what is
/// lost, and sizes come out up to a quarter low (rendered bench study, angles of 5 to 10 degrees).
constexpr double kSizeModel = 0.2;
/// Standard uncertainty of the joint's height at each place the platform may be at: a place stands
/// for 0.2 mm to either side (platform.cpp), and the fit follows the joint this far.
constexpr double kPlaceSdMm = 0.15;
/// Of the metal path at 0.8 R (1.2 R long): beyond it no size is stated.
constexpr double kLargestShareLost = 0.35;

std::vector<double> greys_between(const Strip& s, double u_from, double u_to, double v_from,
                                  double v_to) {
  std::vector<double> values;
  for (int iv = 0; iv < s.rows; ++iv) {
    if (s.v_px(iv) < v_from || s.v_px(iv) > v_to) continue;
    for (int iu = 0; iu < s.columns; ++iu) {
      const double u = std::abs(s.u_px(iu));
      if (u >= u_from && u <= u_to && std::isfinite(s.at(iu, iv))) values.push_back(s.at(iu, iv));
    }
  }
  return values;
}

/// Median grey value of the core or of the walls, for a part may be hollow around a channel.
double brighter_of_core_and_walls(const Strip& strip, double radius_px, double from, double to) {
  return std::fmax(median_of(greys_between(strip, 0.0, 0.45 * radius_px, from, to)),
                   median_of(greys_between(strip, 0.45 * radius_px, 0.8 * radius_px, from, to)));
}

/// Something as radiopaque as metal stands 1.7-2.1 mm above the platform: more than a cover screw
/// (0.6 mm), less than any healing part (common practice). Against what surrounds the implant or
/// what lies beside it at that height. Empty where that lies outside the image, or where metal goes
/// up to a black border: the exposed field's.
std::optional<bool> part_on(const Strip& strip, const JointFitInput& in) {
  const CrossProfile& implant = in.implant;
  const double mm = 1.0 / in.mm_per_px, r = implant.radius_px;
  const double from = in.joint_px - 2.1 * mm, to = in.joint_px - 1.7 * mm;
  const double above = brighter_of_core_and_walls(strip, r, from, to);
  if (!std::isfinite(above)) return {};
  const double beside = median_of(greys_between(strip, 1.35 * r, 1.6 * r, from, to));
  // No brighter than white, whatever the tone would make of the metal's thickness.
  const double metal = std::min(implant.tone.contrast, in.clip_level - implant.tone.background);
  const double needed = 0.35 * metal;
  if (above - implant.tone.background > needed || above - beside > needed) return true;
  const double lower =
      brighter_of_core_and_walls(strip, r, in.joint_px - 1.3 * mm, in.joint_px - 0.9 * mm);
  if (above <= in.black_level && lower - implant.tone.background > needed) return {};
  return false;
}

/// The part just above the joint; where its own edge cannot be fitted (crown, clipping) its half
/// width stands in, with the implant's tone.
std::optional<CrossProfile> part_profile(const Strip& strip, const CrossProfile& implant,
                                         double joint_px, double mm, double clip,
                                         double sigma_hint_px) {
  const std::vector<double> widths = half_widths(strip, implant);
  const double from = joint_px - 0.6 * mm, to = joint_px - 0.15 * mm;
  std::vector<double> near;
  for (int iv = 0; iv < strip.rows; ++iv)
    if (strip.v_px(iv) > from && strip.v_px(iv) < to && std::isfinite(widths[iv]))
      near.push_back(widths[iv]);
  const double width = near.size() > 2 ? median_of(near) : implant.radius_px;
  auto part = fit_cross_profile(strip, from, to, width, clip, sigma_hint_px);
  if (part && part->misfit < 0.08) return part;
  if (near.size() < 3) return {};
  part = implant;
  part->radius_px = width;
  part->tone.full_px = 2 * width;
  return part;
}

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

void state_limit(const GapLimit& limit, JointMeasures* m) {
  const bool butt = m->design == "butt joint";
  m->smallest_visible_gap_mm = butt ? limit.butt_mm : limit.conical_mm;
  m->smallest_visible_gap_at_best_mm = butt ? limit.butt_at_best_mm : limit.conical_at_best_mm;
  m->smallest_visible_gap_butt_mm = limit.butt_mm;
  m->smallest_visible_gap_conical_mm = limit.conical_mm;
  m->bounded_by = limit.bounded_by;
}

/// A joint that was not read has no limit either.
JointMeasures unread(JointMeasures m, const std::string& reason, const std::string& bounded_by) {
  for (auto* limit : {&m.smallest_visible_gap_mm, &m.smallest_visible_gap_at_best_mm,
                      &m.smallest_visible_gap_butt_mm, &m.smallest_visible_gap_conical_mm})
    limit->reset();
  m.state = JointState::not_assessable;
  m.reason = reason;
  m.bounded_by = bounded_by;
  return m;
}

/// Where the model does not hold, a plainly open joint is still seen.
JointMeasures by_eye(const SlitsLeft& left, const AxisFrame& axis, JointMeasures m,
                     const std::string& reason, const std::string& bounded_by) {
  const bool minus = left.minus < kSlitLeft, plus = left.plus < kSlitLeft;
  if (!minus && !plus) return unread(std::move(m), reason, bounded_by);
  state_open_sides(axis, minus, plus, &m);
  m.bounded_by = bounded_by;
  return m;
}

/// Sizes come from edges here, not from grey values, so the tone need not be known. Half level lies
/// at mid-depth whatever the angle; the ramp from near to far rim goes into U.
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

/// Radii, spread, tone and place of the joint; the reason if something is missing.
std::string prepare(const Strip& strip, const ImplantShape& shape, double sigma_hint_px,
                    JointFitInput* in, JointMeasures* m) {
  const double mm = 1.0 / in->mm_per_px, clip = in->clip_level;
  const auto profile = [&](double from_mm, double to_mm) {
    return fit_cross_profile(strip, in->joint_px + from_mm * mm, in->joint_px + to_mm * mm,
                             shape.radius_px, clip, sigma_hint_px);
  };
  auto implant = profile(0.15, 0.6);
  if (!implant) return "why.no_metal_edge";
  in->implant = in->part = *implant;
  in->spread = implant->spread;
  in->joint_px = refine_joint(strip, *implant, in->joint_sd_px, in->mm_per_px);
  implant = profile(0.15, 0.6);
  if (!implant) return "why.no_metal_edge";
  in->implant = *implant;
  const std::optional<bool> part_seen = part_on(strip, *in);
  if (!part_seen) return "why.part_not_in_view";
  m->part_present = *part_seen;
  if (!m->part_present) return "why.no_part";
  const auto part = part_profile(strip, *implant, in->joint_px, mm, clip, sigma_hint_px);
  if (!part) return "why.part_outline";
  in->part = *part;
  in->spread = implant->misfit < part->misfit ? implant->spread : part->spread;
  const bool wide = part->radius_px > kButtRadiusRatio * implant->radius_px;
  m->design = !shape.known_design.empty() ? shape.known_design
              : wide                      ? "butt joint"
                                          : "design unknown";
  return "";
}

/// The joint at the shape's platform.
JointMeasures joint_at(const Frame& frame, const ImplantShape& shape,
                       const ProjectionMeasures& projection, const QualityMeasures& quality,
                       const Scale& scale) {
  JointMeasures m;
  if (!shape.coronal_known) return unread(m, "why.coronal_unknown", "");
  if (!shape.platform_in_view) return unread(m, "why.platform_not_in_view", "");
  if (!scale.mm_per_px) return unread(m, "why.scale_unknown", "");
  JointFitInput in;
  in.mm_per_px = scale.mm_per_px->value;
  in.clip_level =
      frame.highest_storable - 0.002F * (frame.highest_storable - frame.lowest_storable);
  in.black_level = frame.lowest_storable;
  const bool angle = projection.vertical_angle_deg.has_value();
  // Without an angle the fit may move it freely; no limit is claimed then.
  const double theta_deg = angle ? std::abs(projection.vertical_angle_deg->value) : 5.0;
  const double u_deg = angle ? projection.vertical_angle_deg->expanded_uncertainty : 10.0;
  in.theta_rad = radians(theta_deg);
  in.theta_sd_rad = radians(u_deg / 2);
  const double mm = 1.0 / in.mm_per_px, r = shape.radius_px;
  in.joint_sd_px = std::clamp(shape.platform_sd_px.value_or(0.0), 0.06 * mm, 0.15 * mm);
  const Strip strip = sample_strip(frame, shape.axis, -1.6 * r, 1.6 * r, -4.3 * mm, 2.6 * mm);
  const std::string missing = prepare(strip, shape, quality.blur_sigma_px.value_or(2.0), &in, &m);
  if (in.implant.radius_px > 0)
    if (const auto slit = find_wide_slit(strip, in)) {
      m.part_present = true;
      if (std::max(slit->minus_px, slit->plus_px) > kNeckMm * mm &&
          shape.known_design != "butt joint")
        return unread(m, "why.narrow_neck", "overlapping structures");
      const Quantity& scale_mm = *scale.mm_per_px;
      state_wide_slit(*slit, in, scale_mm.expanded_uncertainty / scale_mm.value, shape.axis, &m);
      return m;
    }
  const SlitsLeft slits = missing.empty()
                              ? left_in_slits(strip, in, -kSlitReachMm * mm, kSlitReachMm * mm)
                              : SlitsLeft{};
  // First: what is missing at a height that is not the platform's says nothing about the joint.
  if (!shape.platform_marked)
    return by_eye(slits, shape.axis, m, "why.platform_not_marked", "overlapping structures");
  if (!missing.empty()) return unread(m, missing, "");

  const auto fit = fit_joint(strip, in);
  const bool neck =
      shape.known_design != "butt joint" && in.part.radius_px < kNarrowPart * in.implant.radius_px;
  if (!fit || std::min(fit->usable_minus, fit->usable_plus) < 0.2)
    return by_eye(slits, shape.axis, m, "why.clipping", "clipping");
  auto [minus, plus] = sides_of(*fit, in);
  JointShape closed = fit->shape;
  closed.gap_minus_px = closed.gap_plus_px = 0.0;
  const GapLimit limit =
      visible_gap(closed, radians(std::min(theta_deg + u_deg, 40.0)), in.spread.sigma_px,
                  std::max(minus.sd_mm, plus.sd_mm), in.mm_per_px);
  const double notch_mm = (fit->shape.implant_bevel_px + fit->shape.part_bevel_px) * in.mm_per_px;
  for (Side* side : {&minus, &plus})
    call_gap(*fit, limit.butt_mm, shape.platform_certain(in.mm_per_px), side);
  if (neck && (minus.open || plus.open || std::min(slits.minus, slits.plus) < kSlitLeft))
    return unread(m, "why.narrow_neck", "overlapping structures");
  if (fit->chi_square_per_degree > kMostMisfit || notch_mm > kLargestNotchMm) {
    if (m.design != "butt joint" || fit->closed_over_open < kPlainRatio ||
        (!minus.open && !plus.open))
      return by_eye(slits, shape.axis, m, "why.overlap_at_joint", "overlapping structures");
    state_open_sides(shape.axis, minus.open || slits.minus < kSlitLeft,
                     plus.open || slits.plus < kSlitLeft, &m);
    m.bounded_by = "overlapping structures";
    return m;
  }
  if (angle) state_limit(limit, &m);
  if (minus.open || plus.open) {
    state_gap(in, shape.axis, frame.tone != Tone::unknown, minus, plus, &m);
    return m;
  }
  // The model looked at one height only; a plain slit elsewhere near the platform still counts.
  const JointMeasures seen = by_eye(slits, shape.axis, m, "", m.bounded_by);
  if (seen.state == JointState::gap_visible) return seen;
  if (in.part.radius_px > kCrownRadiusRatio * in.implant.radius_px)
    return unread(m, "why.wider_part", "overlapping structures");
  const bool slit_in_doubt = std::min(slits.minus, slits.plus) < kDoubtfulSlitLeft;
  const auto more_than_limit = [&](const Side& side) {
    return side.trace && side.gap_mm > limit.butt_mm;
  };
  const bool unexplained = more_than_limit(minus) || more_than_limit(plus);
  if (!unexplained && (minus.trace || plus.trace || slit_in_doubt))
    return unread(m, "why.gap_at_limit", m.bounded_by);
  if (std::min(fit->usable_minus, fit->usable_plus) < kLeastSeenIfClosed)
    return unread(m, "why.clipping", "clipping");
  if (unexplained || fit->closed_over_open > kDoubtRatio)
    return unread(m, "why.overlap_at_joint", "overlapping structures");
  if (!angle) return unread(m, "why.angle_not_assessable", "angle");
  if (!shape.platform_certain(in.mm_per_px))
    return unread(m, "why.platform_not_certain", "overlapping structures");
  m.state = JointState::no_gap_visible;
  return m;
}

/// What holds wherever of two places the joint is: the larger limits.
void widen(const JointMeasures& other, JointMeasures* m) {
  if (other.smallest_visible_gap_mm > m->smallest_visible_gap_mm) m->bounded_by = other.bounded_by;
  for (auto limit :
       {&JointMeasures::smallest_visible_gap_mm, &JointMeasures::smallest_visible_gap_at_best_mm,
        &JointMeasures::smallest_visible_gap_butt_mm,
        &JointMeasures::smallest_visible_gap_conical_mm})
    m->*limit = std::max(m->*limit, other.*limit);
  if (other.design != m->design) m->design = "design unknown";
  ++m->places;
}

}  // namespace

JointMeasures measure_joint(const Frame& frame, const Acquisition&, const ImplantShape& shape,
                            const ProjectionMeasures& projection, const QualityMeasures& quality,
                            const Scale& scale) {
  JointMeasures m = joint_at(frame, shape, projection, quality, scale);
  if (m.reason != "why.platform_not_certain" || shape.rival_platforms_px.empty()) return m;
  // Marked, but one of several heights: closed if it is closed at each, with the largest limit.
  std::optional<JointMeasures> closed;
  std::vector<double> places{0.0};
  places.insert(places.end(), shape.rival_platforms_px.begin(), shape.rival_platforms_px.end());
  for (const double v_px : places) {
    ImplantShape there = shape;
    there.axis.origin = shape.axis.to_image(0.0, v_px);
    there.platform_sd_px = kPlaceSdMm / scale.mm_per_px->value;
    const JointMeasures at = joint_at(frame, there, projection, quality, scale);
    if (at.state != JointState::no_gap_visible) return m;
    if (closed)
      widen(at, &*closed);
    else
      closed = at;
  }
  return *closed;
}

}  // namespace crestgate
