#include "pipeline/seating/joint_setup.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "pipeline/image/statistics.h"
#include "pipeline/seating/joint_place.h"

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
/// Where the implant's own edge is fitted: apical of the joint, mm.
constexpr double kImplantFromMm = 0.15, kImplantToMm = 0.6;
/// Necks flare no further, and taper no more, than this against the body (common practice).
constexpr double kNarrowestNeck = 0.7, kWidestNeck = 1.5;

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

}  // namespace

double neck_radius_px(const ImplantShape& shape, double mm_per_px) {
  std::vector<double> widths;
  const auto to = static_cast<std::size_t>(kImplantToMm / mm_per_px);
  for (auto i = static_cast<std::size_t>(kImplantFromMm / mm_per_px);
       i <= to && i < shape.plus_edge_px.size() && i < shape.minus_edge_px.size(); ++i)
    if (const double w = 0.5 * (shape.plus_edge_px[i] - shape.minus_edge_px[i]); std::isfinite(w))
      widths.push_back(w);
  const double neck = widths.size() < 3 ? shape.radius_px : median_of(std::move(widths));
  return std::clamp(neck, kNarrowestNeck * shape.radius_px, kWidestNeck * shape.radius_px);
}

Seat seat_of(const std::string& known_design, double part_over_implant) {
  if (known_design == "butt joint") return Seat::face_to_face;
  if (part_over_implant < kNarrowPart) return Seat::inside;
  if (known_design.empty() && part_over_implant > kButtRadiusRatio) return Seat::face_to_face;
  return Seat::unknown;
}

JointSetup set_up_joint(const Strip& strip, const ImplantShape& shape, double sigma_hint_px,
                        JointFitInput in) {
  JointSetup out;
  out.in = std::move(in);
  JointFitInput& to = out.in;
  const double mm = 1.0 / to.mm_per_px, clip = to.clip_level;
  const double neck_px = neck_radius_px(shape, to.mm_per_px);
  const auto lacking = [&](const char* what) {
    out.missing = what;
    return out;
  };
  const auto profile = [&] {
    return fit_cross_profile(strip, to.joint_px + kImplantFromMm * mm,
                             to.joint_px + kImplantToMm * mm, neck_px, clip, sigma_hint_px);
  };
  auto implant = profile();
  if (!implant) return lacking("why.no_metal_edge");
  to.implant = to.part = *implant;
  to.spread = implant->spread;
  to.joint_px = refine_joint(strip, *implant, to.joint_sd_px, to.mm_per_px);
  implant = profile();
  if (!implant) return lacking("why.no_metal_edge");
  to.implant = *implant;
  const std::optional<bool> part_seen = part_on(strip, to);
  if (!part_seen) return lacking("why.part_not_in_view");
  out.part_present = *part_seen;
  if (!out.part_present) return lacking("why.no_part");
  const auto part = part_profile(strip, *implant, to.joint_px, mm, clip, sigma_hint_px);
  if (!part) return lacking("why.part_outline");
  to.part = *part;
  to.spread = implant->misfit < part->misfit ? implant->spread : part->spread;
  out.seat = seat_of(shape.known_design, part->radius_px / implant->radius_px);
  return out;
}

}  // namespace crestgate
