#include "pipeline/crest/crest.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "pipeline/crest/flank_reading.h"
#include "pipeline/crest/trust.h"

namespace crestgate {
namespace {

/// Probability of a gross error from which on a reading is none (ours).
constexpr double kMostGross = 0.15;
constexpr double kMostGreyMm = 0.3;  // moved further by gamma it is another edge's
// Standard uncertainties of the models, measured on simulated scenes, in mm and in blur sigmas:
// the onset's shape; bevel, ellipse and tone at the platform; envelope of the crests.
constexpr double kOnsetModelMm = 0.0, kOnsetModelSigmas = 0.15;
// Uneven bone shifts its onset by this per relative sd of grey: the way over which a rounded ridge
// reaches its full thickness.
constexpr double kUnevennessMm = 0.12;
constexpr double kPlatformModelMm = 0.015, kPlatformModelSigmas = 0.1;
constexpr double kFlankModelMm = 0.02, kFlankModelSigmas = 0.4;
constexpr double kLeastStepToNoise = 3.0;
constexpr double kSteepest = 1.3;  // beyond, the bone's edge runs along the flank

CrestLevel refused(const char* why) {
  CrestLevel level;
  level.reason = why;
  return level;
}

/// What is left where the platform is in doubt: the contact, which a comparison registers by the
/// thread.
CrestLevel contact_alone(CrestLevel level, const char* why) {
  if (!level.contact_px) return level;
  level.level_mm.reset();
  level.expanded_uncertainty_mm.reset();
  level.reason = why;
  return level;
}

double root_sum(const std::vector<CrestLevel::Contribution>& budget) {
  double sum = 0.0;
  for (const auto& c : budget) sum += c.standard_uncertainty_mm * c.standard_uncertainty_mm;
  return std::sqrt(sum);
}

/// A quantity known within +-b tan(angle) only: rectangular (GUM 4.3.7).
double depth_term_mm(double half_width_mm, double angle_deg) {
  return half_width_mm * std::tan(radians(std::min(angle_deg, 40.0))) / std::sqrt(3.0);
}

double along_u_mm(const FlankSetting& s) {
  if (!s.tilt_deg) return depth_term_mm(2 * s.half_width_mm, s.tilt_u_deg);
  return depth_term_mm(s.half_width_mm, std::hypot(*s.tilt_deg, s.tilt_u_deg));
}

CrestLevel level_of(const FlankReading& r, const Trust& trust, const FlankSetting& s) {
  const double mm = s.mm_per_px, blur_mm = s.blur_px * mm, slope = std::abs(r.fit.slope);
  const auto term = [&](double base_mm, double sigmas) {
    return std::hypot(base_mm, sigmas * blur_mm);
  };
  CrestLevel level;
  level.level_mm = r.level_mm;
  level.contact_px = r.fit.v_px;
  level.edge_slope = slope;
  level.budget = {
      {"localisation", r.fit.sd_px * mm},
      {"onset model", term(kOnsetModelMm, kOnsetModelSigmas)},
      {"uneven bone", kUnevennessMm * r.fit.unevenness},
      {"flank line", slope * term(kFlankModelMm, kFlankModelSigmas)},
      {"projection", std::hypot(along_u_mm(s), r.turned_u_mm)},
  };
  // Readings that look like this one scatter by more than these terms explain.
  const double explained = root_sum(level.budget);
  level.budget.push_back(
      {"like edges", std::sqrt(std::max(0.0, trust.sd_mm * trust.sd_mm - explained * explained))});
  level.budget.push_back({"platform", std::hypot(s.platform.sd_px * mm,
                                                 term(kPlatformModelMm, kPlatformModelSigmas))});
  level.budget.push_back({"scale", std::abs(r.fit.v_px - s.platform.v_px) * s.mm_per_px_u});
  // Rectangular over the tones tried.
  level.budget.push_back({"grey values", r.grey_px * mm / std::sqrt(3.0)});
  level.expanded_uncertainty_mm = 2 * root_sum(level.budget);
  return level;
}

/// What cannot be the bone's edge where it meets the implant, whatever it looks like otherwise.
const char* no_bone_edge(const FlankReading& r, const FlankSetting& s) {
  const Contour& contour = r.contour;
  if (contour.step * std::sqrt(kStepWindowMm / s.mm_per_px) < kLeastStepToNoise * contour.noise)
    return "why.bone_edge_in_noise";
  if (!contour.bone_goes_on) return "why.no_bone";
  if (!std::isfinite(r.levels.bone) || !std::isfinite(r.levels.further))
    return "why.little_beside_flank";
  if (like_gum(r.levels, s.darkest)) return "why.bone_or_gum";
  if (like_metal(r.levels)) return "why.metal_beside_flank";
  if (std::abs(r.fit.slope) > kSteepest) return "why.bone_edge_along_flank";
  return nullptr;
}

/// A name for what makes a reading doubtful.
const char* name_of_doubt(const FlankReading& r) {
  if (thin_bone(r.levels)) return "why.bone_thin_at_edge";
  return r.contour.rival ? "why.two_bone_edges" : "why.bone_edge_doubtful";
}

CrestLevel measure_side(const Frame& frame, const ImplantShape& shape, int side,
                        const FlankSetting& s) {
  if (!(side < 0 ? shape.minus_flank_in_view : shape.plus_flank_in_view))
    return refused("why.flank_cut");
  FlankReading r = read_flank(frame, shape, side, s);
  if (!r.missing.empty()) return refused(r.missing.c_str());
  if (const char* why = no_bone_edge(r, s)) return refused(why);
  read_bent(frame, s, &r);
  if (r.grey_px * s.mm_per_px > kMostGreyMm) return refused("why.two_bone_edges");
  const Trust trust = trust_in(view_edge(frame, shape, side, s, r), edge_signs(shape, s, r));
  if (trust.gross > kMostGross) return refused(name_of_doubt(r));
  return level_of(r, trust, s);
}

}  // namespace

LeftRight<CrestLevel> measure_crest(const Frame& frame, const ImplantShape& shape,
                                    const ProjectionMeasures& projection,
                                    const QualityMeasures& quality, const Scale& scale,
                                    const Rules& rules) {
  LeftRight<CrestLevel> result;
  const auto refuse = [&](const char* why) {
    result.left = result.right = refused(why);
    return result;
  };
  if (!scale.mm_per_px) return refuse("why.scale_unknown");
  if (!shape.coronal_known) return refuse("why.coronal_unknown");
  if (!shape.platform_in_view) return refuse("why.platform_not_in_view");
  const double mm_per_px = scale.mm_per_px->value;
  const char* doubt = !shape.platform_marked               ? "why.platform_not_marked"
                      : !shape.platform_certain(mm_per_px) ? "why.platform_not_certain"
                                                           : nullptr;
  if (doubt && shape.platform_lost(mm_per_px)) return refuse(doubt);
  const FlankSetting setting = setting_of(frame, shape, projection, quality, scale, rules);
  const bool minus_left = shape.axis.minus_is_left();
  for (const int side : {-1, 1}) {
    CrestLevel& level = (side < 0) == minus_left ? result.left : result.right;
    level = measure_side(frame, shape, side, setting);
    if (doubt) level = contact_alone(std::move(level), doubt);
  }
  return result;
}

}  // namespace crestgate
