#include "pipeline/seating/seating.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/seating/gap_call.h"
#include "pipeline/seating/joint_fit.h"
#include "pipeline/seating/joint_setup.h"
#include "pipeline/seating/joint_statement.h"
#include "pipeline/seating/plain_slit.h"
#include "pipeline/seating/visible_gap.h"
#include "pipeline/seating/wide_slit.h"

namespace crestgate {
namespace {

/// No part is this much wider than its platform right at the joint; a crown's margin is.
constexpr double kCrownRadiusRatio = 1.16;
/// Chi-square per degree of freedom beyond which what lies at the joint is not what the model
/// knows.
constexpr double kMostMisfit = 4.0;
/// A gap that halves what a closed joint leaves unexplained is plain, even where the rest of the
/// picture is not what the model knows; no size is stated then.
constexpr double kPlainRatio = 2.0;
/// Two bevels together; a taller notch is a thread's valley or a crown's margin.
constexpr double kLargestNotchMm = 0.5;
/// And that notch, read on either side alone, differs by no more than this. (Of 300 rendered joints
/// it keeps 6 from being called closed: three open by 0.12 to 0.29 mm, one by 0.01, two that are
/// closed.)
constexpr double kUnevenNotchMm = 0.15;
/// Where a plain slit still belongs to the platform.
constexpr double kSlitReachMm = 0.5;
/// Share of a side's zones the model needs for a gap, and for a closed joint: beside a white core,
/// with two of four zones left on either side, a gap of 0.16 mm looked like bevels.
constexpr double kLeastSeen = 0.2, kLeastSeenIfClosed = 0.75;
/// A slit with nothing but a core in it is an open joint up to here; a taller one may as well be a
/// narrow part under a crown, as conical joints have, unless the joint is known to be a butt joint.
/// Gaps at fault in practice lie below: the bench study's largest is 0.19 mm. Closed joints of ours
/// and of two independent simulators had such necks of 0.38 to 0.7 mm.
constexpr double kNeckMm = 0.35;
/// Standard uncertainty of the joint's height at each place the platform may be at: a place stands
/// for 0.2 mm to either side (platform.cpp), and the fit follows the joint this far.
constexpr double kPlaceSdMm = 0.15;

/// Half the narrowest implant's diameter, a usual one's, the widest's (field notes: 3 to 5.5 mm; up
/// to 6 in practice).
constexpr std::array<double, 3> kPlausibleRadiiMm{1.5, 2.1, 3.0};

/// One look at a joint: everything a statement about it rests on.
struct Look {
  AxisFrame axis;
  Strip strip;
  JointSetup setup;
  SlitsLeft slits;
  double worst_theta_rad = 0.0;  ///< the largest angle inside U
  bool angle_known = false;
  bool certain = false;     ///< the platform's height is
  bool tone_known = false;  ///< by the header
  const JointFitInput& in() const { return setup.in; }
};

const char* const kOverlap = "overlapping structures";

/// Where the model does not hold, a plainly open joint is still seen.
JointMeasures by_eye(const Look& look, JointMeasures m, const std::string& reason,
                     const std::string& bounded_by) {
  if (!look.slits.any_open()) return unread(std::move(m), reason, bounded_by);
  state_open_sides(look.axis, look.slits.open_minus(), look.slits.open_plus(), &m);
  m.bounded_by = bounded_by;
  return m;
}

/// No gap was seen and the sides' limits are stated: closed, unless something else stands against
/// it.
JointMeasures closed(const Look& look, JointMeasures m) {
  if (!look.angle_known) return unread(m, "why.angle_not_assessable", "angle");
  if (!look.certain) return unread(m, "why.platform_not_certain", kOverlap);
  m.state = JointState::no_gap_visible;
  return m;
}

/// The model found no gap on either side. `bounded_by`: what bounds its limit, whatever the design.
JointMeasures no_gap_called(const Look& look, const JointFit& fit, const Side& minus,
                            const Side& plus, const std::string& bounded_by, JointMeasures m) {
  // The model looked at one height only; a plain slit elsewhere near the platform still counts.
  if (look.slits.any_open()) return by_eye(look, m, "", bounded_by);
  if (look.in().part.radius_px > kCrownRadiusRatio * look.in().implant.radius_px)
    return unread(m, "why.wider_part", kOverlap);
  const bool unexplained = minus.unexplained || plus.unexplained;
  if (!unexplained && (minus.trace || plus.trace || look.slits.in_doubt()))
    return unread(m, "why.gap_at_limit", bounded_by);
  if (std::min(fit.usable_minus, fit.usable_plus) < kLeastSeenIfClosed)
    return unread(m, "why.clipping", "clipping");
  // Bevels run all around a body of revolution: what one side has more of is not theirs.
  if (std::abs(fit.notch_minus_px - fit.notch_plus_px) * look.in().mm_per_px > kUnevenNotchMm)
    return unread(m, "why.notch_on_one_side", kOverlap);
  if (unexplained || fit.closed_over_open > kDoubtRatio || fit.improvement > kDoubtGain)
    return unread(m, "why.overlap_at_joint", kOverlap);
  return closed(look, std::move(m));
}

JointMeasures fitted_joint(const Look& look, const JointFit& fit, JointMeasures m) {
  const JointFitInput& in = look.in();
  auto [minus, plus] = sides_of(fit, in);
  JointShape shut = fit.shape;
  shut.gap_minus_px = shut.gap_plus_px = 0.0;
  const GapLimit limit = visible_gap(shut, look.worst_theta_rad, in.spread.sigma_px,
                                     std::max(minus.sd_mm, plus.sd_mm), in.mm_per_px);
  for (Side* side : {&minus, &plus}) call_gap(fit, limit.butt_mm, look.certain, side);
  const bool open = minus.open || plus.open;
  if (look.setup.seat == Seat::inside && (open || look.slits.any_open()))
    return unread(m, "why.narrow_neck", kOverlap);
  const double notch_mm = (fit.shape.implant_bevel_px + fit.shape.part_bevel_px) * in.mm_per_px;
  if (fit.chi_square_per_degree > kMostMisfit || notch_mm > kLargestNotchMm) {
    const bool plain =
        open && look.setup.seat == Seat::face_to_face && fit.closed_over_open >= kPlainRatio;
    if (!plain) return by_eye(look, m, "why.overlap_at_joint", kOverlap);
    state_open_sides(look.axis, minus.open || look.slits.open_minus(),
                     plus.open || look.slits.open_plus(), &m);
    m.bounded_by = kOverlap;
    return m;
  }
  if (look.angle_known) state_limit(limit, &m);
  if (!open) return no_gap_called(look, fit, minus, plus, limit.bounded_by, std::move(m));
  state_gap(in, look.axis, look.tone_known, minus, plus, &m);
  return m;
}

std::string design_of(const std::string& known_design, Seat seat) {
  if (!known_design.empty()) return known_design;
  return seat == Seat::face_to_face ? "butt joint" : "design unknown";
}

/// The joint at the shape's platform.
JointMeasures joint_at(const Frame& frame, const ImplantShape& shape,
                       const ProjectionMeasures& projection, const QualityMeasures& quality,
                       const Scale& scale) {
  JointMeasures m;
  if (!shape.coronal_known) return unread(m, "why.coronal_unknown", "");
  if (!shape.platform_in_view) return unread(m, "why.platform_not_in_view", "");
  Look look;
  look.axis = shape.axis;
  JointFitInput in;
  in.mm_per_px = scale.mm_per_px->value;
  in.clip_level =
      frame.highest_storable - 0.002F * (frame.highest_storable - frame.lowest_storable);
  in.black_level = frame.lowest_storable;
  look.angle_known = projection.vertical_angle_deg.has_value();
  // Without an angle the fit may move it freely; no limit is claimed then.
  const auto angle = projection.vertical_angle_deg.value_or(Quantity{5.0, 10.0});
  const double theta_deg = std::abs(angle.value), u_deg = angle.expanded_uncertainty;
  in.theta_rad = radians(theta_deg);
  in.theta_sd_rad = radians(u_deg / 2);
  look.worst_theta_rad = radians(std::min(theta_deg + u_deg, 40.0));
  const double mm = 1.0 / in.mm_per_px;
  const double r = std::max(shape.radius_px, neck_radius_px(shape, in.mm_per_px));
  in.joint_sd_px = std::clamp(shape.platform_sd_px.value_or(0.0), 0.06 * mm, 0.15 * mm);
  look.strip = sample_strip(frame, shape.axis, -1.6 * r, 1.6 * r, -4.3 * mm, 2.6 * mm);
  look.certain = shape.platform_certain(in.mm_per_px);
  look.tone_known = frame.tone != Tone::unknown;
  look.setup = set_up_joint(look.strip, shape, quality.blur_sigma_px.value_or(2.0), in);
  m.part_present = look.setup.part_present;
  const std::string& missing = look.setup.missing;
  if (missing.empty()) m.design = design_of(shape.known_design, look.setup.seat);
  if (look.in().implant.radius_px > 0)
    if (const auto slit = find_wide_slit(look.strip, look.in())) {
      m.part_present = true;
      if (std::max(slit->minus_px, slit->plus_px) > kNeckMm * mm &&
          shape.known_design != "butt joint")
        return unread(m, "why.narrow_neck", kOverlap);
      state_wide_slit(*slit, look.in(), scale.mm_per_px->expanded_uncertainty / in.mm_per_px,
                      shape.axis, &m);
      return m;
    }
  if (missing.empty())
    look.slits = left_in_slits(look.strip, look.in(), -kSlitReachMm * mm, kSlitReachMm * mm);
  // First: what is missing at a height that is not the platform's says nothing about the joint.
  if (!shape.platform_marked) return by_eye(look, m, "why.platform_not_marked", kOverlap);
  if (!missing.empty()) return unread(m, missing, "");
  const auto fit = fit_joint(look.strip, look.in());
  if (!fit || std::min(fit->usable_minus, fit->usable_plus) < kLeastSeen)
    return by_eye(look, std::move(m), "why.clipping", "clipping");
  return fitted_joint(look, *fit, std::move(m));
}

/// What holds whichever of two looks is the right one: the larger limits, or none.
void widen(const JointMeasures& other, JointMeasures* m) {
  if (other.smallest_visible_gap_mm > m->smallest_visible_gap_mm) m->bounded_by = other.bounded_by;
  for (auto limit :
       {&JointMeasures::smallest_visible_gap_mm, &JointMeasures::smallest_visible_gap_at_best_mm,
        &JointMeasures::smallest_visible_gap_butt_mm,
        &JointMeasures::smallest_visible_gap_conical_mm})
    m->*limit = m->*limit && other.*limit ? std::max(m->*limit, other.*limit) : std::nullopt;
  if (other.design != m->design) m->design = "design unknown";
}

/// Where the platform may be at several heights: closed if it is closed at each.
JointMeasures joint_at_its_places(const Frame& frame, const ImplantShape& shape,
                                  const ProjectionMeasures& projection,
                                  const QualityMeasures& quality, const Scale& scale) {
  JointMeasures m = joint_at(frame, shape, projection, quality, scale);
  if (m.reason != "why.platform_not_certain" || shape.rival_platforms_px.empty()) return m;
  std::optional<JointMeasures> common;
  std::vector<double> places{0.0};
  places.insert(places.end(), shape.rival_platforms_px.begin(), shape.rival_platforms_px.end());
  for (const double v_px : places) {
    ImplantShape there = shape;
    there.axis.origin = shape.axis.to_image(0.0, v_px);
    there.platform_sd_px = kPlaceSdMm / scale.mm_per_px->value;
    const JointMeasures at = joint_at(frame, there, projection, quality, scale);
    if (at.state != JointState::no_gap_visible) return m;
    if (common) {
      widen(at, &*common);
      ++common->places;
    } else {
      common = at;
    }
  }
  return *common;
}

/// Without a scale: as if the implant were as narrow and as wide as implants are, and in between.
/// What is said at each of them holds; of sizes the largest limit, and no width of a gap.
JointMeasures joint_at_any_scale(const Frame& frame, const ImplantShape& shape,
                                 const ProjectionMeasures& projection,
                                 const QualityMeasures& quality) {
  std::vector<JointMeasures> all;
  for (const double radius_mm : kPlausibleRadiiMm) {
    const Scale scale{Quantity{radius_mm / shape.radius_px, 0.0}, ""};
    all.push_back(joint_at_its_places(frame, shape, projection, quality, scale));
  }
  JointMeasures m = all.front();
  m.scale_assumed = true;
  m.gap_mm = m.gap_expanded_uncertainty_mm = std::nullopt;
  m.gap_side_mm = {};
  bool agree = true;
  for (const JointMeasures& at : all) {
    agree = agree && at.state == m.state && at.reason == m.reason;
    m.part_present = m.part_present && at.part_present;
    m.open_side.left = m.open_side.left && at.open_side.left;
    m.open_side.right = m.open_side.right && at.open_side.right;
    m.places = std::max(m.places, at.places);
    widen(at, &m);
  }
  const bool no_side = !m.open_side.left && !m.open_side.right;
  if (!agree || (m.state == JointState::gap_visible && no_side))
    return unread(m, "why.scale_unknown", "");
  return m;
}

}  // namespace

JointMeasures measure_joint(const Frame& frame, const Acquisition&, const ImplantShape& shape,
                            const ProjectionMeasures& projection, const QualityMeasures& quality,
                            const Scale& scale) {
  return scale.mm_per_px ? joint_at_its_places(frame, shape, projection, quality, scale)
                         : joint_at_any_scale(frame, shape, projection, quality);
}

}  // namespace crestgate
