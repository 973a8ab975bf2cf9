#include "pipeline/crest/crest.h"

#include <algorithm>
#include <cmath>

#include "pipeline/crest/edge_levels.h"
#include "pipeline/crest/onset_fit.h"
#include "pipeline/crest/platform_edge.h"

namespace crestgate {
namespace {

constexpr double kCoronalMm = 2.2;    // looked for from this far coronal of the platform
constexpr double kLengthShare = 0.6;  // to this share of the implant's length
constexpr double kWidthMm = 0.8;      // of the strip beside the flank
constexpr double kWindowMm = 0.2;
constexpr double kLeastStepToNoise = 3.0;
constexpr double kSteepest = 1.3;            // beyond, the bone's edge runs along the flank
constexpr double kUsualAngleDeg = 5.0;       // standard uncertainty of a vertical angle not read
constexpr double kHorizontalAngleDeg = 8.0;  // and of the horizontal one: common practice
constexpr double kMostGreyMm = 0.3;
constexpr double kMostScatterMm = 0.2;  // standard uncertainty; beyond, columns follow other edges
// Standard uncertainties of the models, measured on simulated scenes, in mm and in blur sigmas:
// the onset's shape; bevel, ellipse and tone at the platform; envelope of the crests.
constexpr double kOnsetModelMm = 0.0, kOnsetModelSigmas = 0.15;
// Uneven bone shifts its onset by this per relative sd of grey: the way over which a rounded ridge
// reaches its full thickness.
constexpr double kUnevennessMm = 0.12;
constexpr double kPlatformModelMm = 0.015, kPlatformModelSigmas = 0.1;
constexpr double kFlankModelMm = 0.02, kFlankModelSigmas = 0.4;
// Texture and blur round the onset too, so that its rounding makes a flat top look round. Of what a
// flat top would shift, this share counts besides (ours and three other renderers: -0.15 to 0.5);
// the rest is in the projection's rectangular term.
constexpr double kFlatTopShare = 0.25;

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

/// What is common to both flanks.
struct Setting {
  PlatformEdge platform;
  double mm_per_px, mm_per_px_u;  ///< standard uncertainty
  double blur_px, pitch_px;
  double darkest, metal;  ///< grey values
  /// Projection along the axis: a ridge reaches 2b to either side of the implant, 2b tan|theta| of
  /// the image's axis.
  double ridge_mm, along_u_mm;
  double reach_mm;  ///< 2b
};

/// A quantity known within +-b tan(angle) only: rectangular (GUM 4.3.7).
double depth_term_mm(double half_width_mm, double angle_deg) {
  return half_width_mm * std::tan(radians(std::min(angle_deg, 40.0))) / std::sqrt(3.0);
}

FlankStrip strip_of(const Frame& frame, const ImplantShape& shape, int side, const Setting& s) {
  const double mm = 1.0 / s.mm_per_px;
  const double d0 = (2.5 - kHalfLevelInsideSigmas) * s.blur_px + 1.0;
  return sample_flank(frame, shape, side, d0, d0 + kWidthMm * mm, s.platform.v_px - kCoronalMm * mm,
                      kLengthShare * shape.length_px, s.pitch_px, s.blur_px);
}

/// The contour, then its continuation to the flank.
struct Reading {
  std::optional<Contour> contour;
  std::optional<ContactFit> fit;
};

Reading read_strip(const FlankStrip& strip, const Setting& s) {
  const double mm = 1.0 / s.mm_per_px;
  Reading r;
  r.contour = find_contour(strip, std::max(3, static_cast<int>(std::lround(kWindowMm * mm))));
  if (r.contour) r.fit = fit_contact(strip, *r.contour, s.blur_px, mm);
  return r;
}

/// How far the contact moves when a viewer or processing bends the tone: gamma 0.8 to 1.25 of the
/// storable range. (Brightness and contrast alone move nothing: the fit is linear in grey value.)
double grey_term_px(const FlankStrip& strip, const Frame& frame, const ContactFit& fit,
                    const Setting& s) {
  const double range = frame.highest_storable - frame.lowest_storable;
  if (!(range > 0)) return 0.0;
  double largest = 0.0;
  for (const double gamma : {0.8, 1.25}) {
    FlankStrip bent = strip;
    for (float& x : bent.values) {
      const double f = std::clamp((x - frame.lowest_storable) / range, 0.0, 1.0);
      if (std::isfinite(x)) x = static_cast<float>(range * std::pow(f, gamma));
    }
    const Reading moved = read_strip(bent, s);
    if (moved.fit) largest = std::max(largest, std::abs(moved.fit->v_px - fit.v_px));
  }
  return largest;
}

/// The edge displayed is the most coronal bone along the ray: coronal of the contact, whatever the
/// sign of theta. On a ridge whose top is half an ellipse, 2b to either side and h high, it lies
/// r - h coronal and bone is full r = hypot(h, 2b tan theta) apical of it: nothing in second order
/// on a round top, all of 2b tan theta on a flat one. r is what the onset's fit measures.
double ridge_shift_mm(double rounding_mm, double ridge_mm) {
  const double square = rounding_mm * rounding_mm - ridge_mm * ridge_mm;
  return rounding_mm - std::sqrt(std::max(0.0, square));
}

/// The same for a horizontal angle, which nobody knows: across a bone edge that rises outward by
/// `slope` it tilts the ridge by slope * tan(angle). Mean over a normal angle, three-point
/// Gauss-Hermite (Abramowitz & Stegun 25.4.46); the rounding's help is not relied on in U.
struct Turned {
  double shift_mm, u_mm;
};
Turned horizontal(double rounding_mm, double slope, const Setting& s) {
  const double outer = std::tan(radians(std::sqrt(3.0) * kHorizontalAngleDeg));
  const double ridge = std::min(rounding_mm, s.reach_mm * slope * outer);
  return {ridge_shift_mm(rounding_mm, ridge) / 3,
          s.reach_mm * slope * std::tan(radians(kHorizontalAngleDeg))};
}

CrestLevel level_of(const ContactFit& fit, double grey_px, const Setting& s) {
  const double mm = s.mm_per_px, blur_mm = s.blur_px * mm, slope = std::abs(fit.slope);
  const double level_px = fit.v_px - s.platform.v_px;
  CrestLevel level;
  const double rounding_mm = fit.rounding_px * mm;
  const Turned turned = horizontal(rounding_mm, slope, s);
  const double tilted_mm =
      std::min(ridge_shift_mm(rounding_mm, s.ridge_mm) + kFlatTopShare * s.ridge_mm, s.ridge_mm);
  level.level_mm = level_px * mm + tilted_mm + turned.shift_mm;
  level.contact_px = fit.v_px;
  level.edge_slope = slope;
  const auto term = [&](double base_mm, double sigmas) {
    return std::hypot(base_mm, sigmas * blur_mm);
  };
  level.budget = {
      {"localisation", fit.sd_px * mm},
      {"onset model", term(kOnsetModelMm, kOnsetModelSigmas)},
      {"uneven bone", kUnevennessMm * fit.unevenness},
      {"flank line", slope * term(kFlankModelMm, kFlankModelSigmas)},
      {"platform", std::hypot(s.platform.sd_px * mm, term(kPlatformModelMm, kPlatformModelSigmas))},
      {"scale", std::abs(level_px) * s.mm_per_px_u},
      {"projection", std::hypot(s.along_u_mm, turned.u_mm)},
      {"grey values", grey_px * mm / std::sqrt(3.0)},  // rectangular over the tones tried
  };
  double sum = 0.0;
  for (const auto& c : level.budget) sum += c.standard_uncertainty_mm * c.standard_uncertainty_mm;
  level.expanded_uncertainty_mm = 2 * std::sqrt(sum);
  return level;
}

CrestLevel measure_side(const Frame& frame, const ImplantShape& shape, int side, const Setting& s) {
  if (!(side < 0 ? shape.minus_flank_in_view : shape.plus_flank_in_view))
    return refused("why.flank_cut");
  const FlankStrip strip = strip_of(frame, shape, side, s);
  const Reading reading = read_strip(strip, s);
  const auto& contour = reading.contour;
  if (!contour) return refused("why.little_beside_flank");
  if (contour->step * std::sqrt(kWindowMm / s.mm_per_px) < kLeastStepToNoise * contour->noise)
    return refused("why.bone_edge_in_noise");
  if (!contour->bone_goes_on) return refused("why.no_bone");
  if (contour->rival) return refused("why.two_bone_edges");
  if (!reading.fit) return refused("why.no_bone_edge");
  const EdgeLevels levels =
      levels_about(frame, shape, side, strip, *contour, 1.0 / s.mm_per_px, s.metal);
  if (like_gum(levels, s.darkest)) return refused("why.bone_or_gum");
  if (like_metal(levels)) return refused("why.metal_beside_flank");
  if (thin_bone(levels)) return refused("why.bone_thin_at_edge");
  if (std::abs(reading.fit->slope) > kSteepest) return refused("why.bone_edge_along_flank");
  if (reading.fit->sd_px * s.mm_per_px > kMostScatterMm) return refused("why.bone_edge_scattered");
  const double grey_px = grey_term_px(strip, frame, *reading.fit, s);
  if (grey_px * s.mm_per_px > kMostGreyMm) return refused("why.two_bone_edges");
  return level_of(*reading.fit, grey_px, s);
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
  Setting s;
  s.mm_per_px = mm_per_px;
  s.mm_per_px_u = 0.5 * scale.mm_per_px->expanded_uncertainty;
  s.blur_px = std::max(0.7, quality.blur_sigma_px.value_or(2.0));
  s.pitch_px = projection.thread_pitch_px.value_or(0.7 / mm_per_px);
  const char* doubt = !shape.platform_marked               ? "why.platform_not_marked"
                      : !shape.platform_certain(mm_per_px) ? "why.platform_not_certain"
                                                           : nullptr;
  if (doubt && shape.platform_lost(mm_per_px)) return refuse(doubt);
  const auto edge = find_platform_edge(frame, shape, s.blur_px, 1.0 / mm_per_px);
  s.platform = edge.value_or(PlatformEdge{0.0, shape.platform_sd_px.value_or(0.0)});
  s.darkest = darkest_of(frame);
  s.metal = metal_of(frame, shape);
  const double b = rules.follow_up.crest_half_width_mm;
  const auto& angle = projection.vertical_angle_deg;
  // Without an angle there is nothing to correct by: the whole 2b counts.
  const double tilt_deg = angle ? std::min(std::abs(angle->value), 40.0) : 0.0;
  s.reach_mm = 2 * b;
  s.ridge_mm = s.reach_mm * std::tan(radians(tilt_deg));
  s.along_u_mm = angle ? depth_term_mm(b, std::hypot(tilt_deg, 0.5 * angle->expanded_uncertainty))
                       : depth_term_mm(2 * b, kUsualAngleDeg);
  const bool minus_left = shape.axis.minus_is_left();
  for (const int side : {-1, 1}) {
    CrestLevel& level = (side < 0) == minus_left ? result.left : result.right;
    level = measure_side(frame, shape, side, s);
    if (doubt) level = contact_alone(std::move(level), doubt);
  }
  return result;
}

}  // namespace crestgate
