#include "pipeline/seating/seating.h"

#include <algorithm>
#include <cmath>

#include "pipeline/seating/joint_fit.h"
#include "pipeline/seating/joint_place.h"
#include "pipeline/seating/visible_gap.h"

namespace crestgate {
namespace {

/// Parts at least this wide against the platform are seated on it face to face; a cone's part is
/// narrower than its platform (common practice).
constexpr double kButtRadiusRatio = 0.88;

std::vector<double> greys_between(const Strip& s, double u_max, double v_from, double v_to) {
  std::vector<double> values;
  for (int iv = 0; iv < s.rows; ++iv) {
    if (s.v_px(iv) < v_from || s.v_px(iv) > v_to) continue;
    for (int iu = 0; iu < s.columns; ++iu)
      if (std::abs(s.u_px(iu)) < u_max && std::isfinite(s.at(iu, iv)))
        values.push_back(s.at(iu, iv));
  }
  return values;
}

double median_of(std::vector<double> v) {
  if (v.empty()) return std::nan("");
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

/// Something as radiopaque as metal stands 1.7-2.1 mm above the platform: more than a cover screw
/// (0.6 mm), less than any healing part (common practice).
bool part_on(const Strip& strip, const CrossProfile& implant, double joint_px, double mm) {
  const double above = median_of(
      greys_between(strip, 0.5 * implant.radius_px, joint_px - 2.1 * mm, joint_px - 1.7 * mm));
  return std::isfinite(above) && above - implant.tone.background > 0.35 * implant.tone.contrast;
}

double clip_level(const Frame& frame) {
  return frame.highest_storable - 0.002F * (frame.highest_storable - frame.lowest_storable);
}

}  // namespace

JointMeasures measure_joint(const Frame& frame, const Acquisition&, const ImplantShape& shape,
                            const ProjectionMeasures& projection, const QualityMeasures& quality,
                            const Scale& scale) {
  JointMeasures m;
  if (!shape.platform_in_view || !shape.coronal_known) {
    m.reason = "the platform is not in view";
    return m;
  }
  if (!scale.mm_per_px) {
    m.reason = "scale unknown";
    return m;
  }
  const double mm_per_px = scale.mm_per_px->value, mm = 1.0 / mm_per_px, r = shape.radius_px;
  const Strip strip = sample_strip(frame, shape.axis, -1.6 * r, 1.6 * r, -3.2 * mm, 2.2 * mm);
  const double clip = clip_level(frame);
  const double sigma_hint = quality.blur_sigma_px.value_or(2.0);
  const auto near = fit_cross_profile(strip, 0.15 * mm, 0.6 * mm, r, clip, sigma_hint);
  if (!near) {
    m.reason = "no metal edge at the platform";
    return m;
  }
  const bool angle = projection.vertical_angle_deg.has_value();
  const double theta_deg = angle ? std::abs(projection.vertical_angle_deg->value) : 5.0;
  const double u_deg = angle ? projection.vertical_angle_deg->expanded_uncertainty : 10.0;
  JointFitInput in;
  in.implant = in.part = *near;
  in.spread = near->spread;
  in.theta_rad = radians(theta_deg);
  in.theta_sd_rad = radians(u_deg / 2);
  in.joint_sd_px = 0.15 * mm;
  in.mm_per_px = mm_per_px;
  in.clip_level = clip;
  const JointPlace place = place_joint(strip, in);
  const double at = place.v_px;
  in.joint_px = at;
  in.joint_sd_px = place.sd_px;
  const auto implant = fit_cross_profile(strip, at + 0.15 * mm, at + 0.6 * mm, r, clip, sigma_hint);
  if (!implant) {
    m.reason = "no metal edge at the platform";
    return m;
  }
  m.part_present = part_on(strip, *implant, at, mm);
  if (!m.part_present) {
    m.reason = "no part on the implant";
    return m;
  }
  const auto part = fit_cross_profile(strip, at - 0.6 * mm, at - 0.15 * mm, r, clip, sigma_hint);
  if (!part) {
    m.reason = "the mounted part's outline is not visible";
    return m;
  }
  m.design =
      part->radius_px > kButtRadiusRatio * implant->radius_px ? "butt joint" : "design unknown";
  in.implant = *implant;
  in.part = *part;
  in.spread = implant->misfit < part->misfit ? implant->spread : part->spread;
  const auto fit = fit_joint(strip, in);
  if (!fit || std::min(fit->usable_minus, fit->usable_plus) < 0.5) {
    m.reason = "clipping";
    m.bounded_by = "clipping";
    return m;
  }
  JointShape closed = fit->shape;
  closed.gap_minus_px = closed.gap_plus_px = 0.0;
  const double sd_mm = std::max(fit->gap_minus_sd_px, fit->gap_plus_sd_px) * mm_per_px;
  const GapLimit limit = visible_gap(closed, radians(std::min(theta_deg + u_deg, 40.0)),
                                     in.spread.sigma_px, sd_mm, mm_per_px);
  const bool butt = m.design == "butt joint";
  m.smallest_visible_gap_mm = butt ? limit.butt_mm : limit.conical_mm;
  m.smallest_visible_gap_at_best_mm = butt ? limit.butt_at_best_mm : limit.conical_at_best_mm;
  m.smallest_visible_gap_butt_mm = limit.butt_mm;
  m.smallest_visible_gap_conical_mm = limit.conical_mm;
  m.bounded_by = limit.bounded_by;

  const auto open = [&](double gap_px, double gap_sd_px) {
    const double threshold = std::max(0.5 * limit.butt_mm, kFalseAlarmSd * gap_sd_px * mm_per_px);
    return gap_px * mm_per_px > threshold;
  };
  const bool minus = open(fit->shape.gap_minus_px, fit->gap_minus_sd_px);
  const bool plus = open(fit->shape.gap_plus_px, fit->gap_plus_sd_px);
  if ((minus || plus) && fit->improvement > 16.0) {
    m.state = JointState::gap_visible;
    const Point right = shape.axis.right();
    const bool minus_left = std::abs(right.x) >= std::abs(right.y) ? right.x > 0 : right.y > 0;
    const double at_minus = minus ? fit->shape.gap_minus_px * mm_per_px : 0.0;
    const double at_plus = plus ? fit->shape.gap_plus_px * mm_per_px : 0.0;
    m.gap_side_mm.left = minus_left ? at_minus : at_plus;
    m.gap_side_mm.right = minus_left ? at_plus : at_minus;
    m.gap_mm = std::max(at_minus, at_plus);
    m.gap_expanded_uncertainty_mm = 2 * std::hypot(sd_mm, 0.15 * *m.gap_mm);
    return m;
  }
  if (!angle) {
    m.reason = "vertical angle not assessable";
    m.bounded_by = "angle";
    return m;
  }
  m.state = JointState::no_gap_visible;
  return m;
}

}  // namespace crestgate
