#include "pipeline/crest/flank_reading.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace crestgate {
namespace {

constexpr double kCoronalMm = 2.2;           // looked for from this far coronal of the platform
constexpr double kLengthShare = 0.6;         // to this share of the implant's length
constexpr double kWidthMm = 0.8;             // of the strip beside the flank
constexpr double kHorizontalAngleDeg = 8.0;  // standard uncertainty: common practice
constexpr double kUsualAngleDeg = 5.0;       // of a vertical angle not read
// Texture and blur round the onset too, so that its rounding makes a flat top look round. Of what a
// flat top would shift, this share counts besides (ours and three other renderers: -0.15 to 0.5);
// the rest is in the projection's rectangular term.
constexpr double kFlatTopShare = 0.25;

FlankStrip strip_of(const Frame& frame, const ImplantShape& shape, int side,
                    const FlankSetting& s) {
  const double mm = 1.0 / s.mm_per_px;
  const double d0 = (2.5 - kHalfLevelInsideSigmas) * s.blur_px + 1.0;
  return sample_flank(frame, shape, side, d0, d0 + kWidthMm * mm, s.platform.v_px - kCoronalMm * mm,
                      kLengthShare * shape.length_px, s.pitch_px, s.blur_px);
}

/// The contour, then its continuation to the flank.
struct Edge {
  std::optional<Contour> contour;
  std::optional<ContactFit> fit;
};

Edge edge_in(const FlankStrip& strip, const FlankSetting& s) {
  const double mm = 1.0 / s.mm_per_px;
  Edge r;
  r.contour = find_contour(strip, std::max(3, static_cast<int>(std::lround(kStepWindowMm * mm))));
  if (r.contour) r.fit = fit_contact(strip, *r.contour, s.blur_px, mm);
  return r;
}

/// How far the contact moves when a viewer or processing bends the tone: gamma 0.8 to 1.25 of the
/// storable range. (Brightness and contrast alone move nothing: the fit is linear in grey value.)
double grey_term_px(const FlankStrip& strip, const Frame& frame, const ContactFit& fit,
                    const FlankSetting& s) {
  const double range = frame.highest_storable - frame.lowest_storable;
  if (!(range > 0)) return 0.0;
  double largest = 0.0;
  for (const double gamma : {0.8, 1.25}) {
    FlankStrip bent = strip;
    for (float& x : bent.values) {
      const double f = std::clamp((x - frame.lowest_storable) / range, 0.0, 1.0);
      if (std::isfinite(x)) x = static_cast<float>(range * std::pow(f, gamma));
    }
    const Edge moved = edge_in(bent, s);
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

/// Sets level and uncertainty.
void correct_for_ridge(const FlankSetting& s, FlankReading* r) {
  const double rounding_mm = r->fit.rounding_px * s.mm_per_px, reach_mm = 2 * s.half_width_mm;
  // Without an angle there is nothing to correct by: the whole 2b counts as uncertainty.
  const double ridge_mm = reach_mm * std::tan(radians(s.tilt_deg.value_or(0.0)));
  const double tilted_mm =
      std::min(ridge_shift_mm(rounding_mm, ridge_mm) + kFlatTopShare * ridge_mm, ridge_mm);
  // The same for a horizontal angle, which nobody knows: across a bone edge that rises outward by
  // `slope` it tilts the ridge by slope * tan(angle). Mean over a normal angle, three-point
  // Gauss-Hermite (Abramowitz & Stegun 25.4.46); the rounding's help is not relied on in U.
  const double slope = std::abs(r->fit.slope);
  const double outer = std::tan(radians(std::sqrt(3.0) * kHorizontalAngleDeg));
  const double turned = std::min(rounding_mm, reach_mm * slope * outer);
  const double turned_mm = ridge_shift_mm(rounding_mm, turned) / 3;
  r->turned_u_mm = reach_mm * slope * std::tan(radians(kHorizontalAngleDeg));
  r->level_mm = (r->fit.v_px - s.platform.v_px) * s.mm_per_px + tilted_mm + turned_mm;
}

}  // namespace

FlankSetting setting_of(const Frame& frame, const ImplantShape& shape,
                        const ProjectionMeasures& projection, const QualityMeasures& quality,
                        const Scale& scale, const Rules& rules) {
  FlankSetting s;
  s.mm_per_px = scale.mm_per_px->value;
  s.mm_per_px_u = 0.5 * scale.mm_per_px->expanded_uncertainty;
  s.blur_px = std::max(0.7, quality.blur_sigma_px.value_or(2.0));
  s.pitch_px = projection.thread_pitch_px.value_or(0.7 / s.mm_per_px);
  s.platform = find_platform_edge(frame, shape, s.blur_px, 1.0 / s.mm_per_px)
                   .value_or(PlatformEdge{0.0, shape.platform_sd_px.value_or(0.0)});
  s.darkest = darkest_of(frame);
  s.metal = metal_of(frame, shape);
  s.half_width_mm = rules.follow_up.crest_half_width_mm;
  s.tilt_u_deg = kUsualAngleDeg;
  if (const auto& angle = projection.vertical_angle_deg) {
    s.tilt_deg = std::min(std::abs(angle->value), 40.0);
    s.tilt_u_deg = 0.5 * angle->expanded_uncertainty;
  }
  return s;
}

FlankReading read_flank(const Frame& frame, const ImplantShape& shape, int side,
                        const FlankSetting& s) {
  FlankReading r;
  r.strip = strip_of(frame, shape, side, s);
  const Edge edge = edge_in(r.strip, s);
  if (!edge.contour) {
    r.missing = "why.little_beside_flank";
    return r;
  }
  r.contour = *edge.contour;
  if (!edge.fit) {
    r.missing = "why.no_bone_edge";
    return r;
  }
  r.fit = *edge.fit;
  r.levels = levels_about(frame, shape, side, r.strip, r.contour, 1.0 / s.mm_per_px, s.metal);
  correct_for_ridge(s, &r);
  return r;
}

void read_bent(const Frame& frame, const FlankSetting& s, FlankReading* r) {
  r->grey_px = grey_term_px(r->strip, frame, r->fit, s);
}

}  // namespace crestgate
