#include "pipeline/crest/crest.h"

#include <algorithm>
#include <cmath>

#include "pipeline/crest/onset_fit.h"
#include "pipeline/crest/platform_edge.h"

namespace crestgate {
namespace {

constexpr double kCoronalMm = 2.2;    // looked for from this far coronal of the platform
constexpr double kLengthShare = 0.6;  // to this share of the implant's length
constexpr double kWidthMm = 0.8;      // of the strip beside the flank
constexpr double kWindowMm = 0.2;
constexpr double kUsualAngleDeg = 5.0;  // where no angle could be read
// Bevel, ellipse and tone shift the platform's half level by about this; measured on scenes.
constexpr double kPlatformModelMm = 0.02;

CrestLevel refused(const std::string& why) {
  CrestLevel level;
  level.state = "not assessable: " + why;
  return level;
}

double tilt_term_mm(const ProjectionMeasures& projection, double half_width_mm) {
  const auto& angle = projection.vertical_angle_deg;
  const double value = angle ? std::abs(angle->value) : kUsualAngleDeg;
  const double u = angle ? 0.5 * angle->expanded_uncertainty : kUsualAngleDeg;
  // The crest's place in depth is unknown within +-b: rectangular (GUM 4.3.7).
  const double largest = std::min(std::hypot(value, u), 40.0);
  return half_width_mm * std::tan(radians(largest)) / std::sqrt(3.0);
}

struct Site {
  FlankStrip strip;
  double blur_px, px_per_mm;
};

std::optional<ContactFit> contact(const Site& site) {
  const int window = std::max(3, static_cast<int>(std::lround(kWindowMm * site.px_per_mm)));
  const auto contour = find_contour(site.strip, window);
  if (!contour || contour->step < 3 * contour->noise / std::sqrt(window)) return std::nullopt;
  return fit_contact(site.strip, *contour, site.blur_px, site.px_per_mm);
}

}  // namespace

LeftRight<CrestLevel> measure_crest(const Frame& frame, const ImplantShape& shape,
                                    const ProjectionMeasures& projection,
                                    const QualityMeasures& quality, const Scale& scale,
                                    const Rules& rules) {
  LeftRight<CrestLevel> result;
  const auto refuse = [&](const std::string& why) {
    result.left = result.right = refused(why);
    return result;
  };
  if (!scale.mm_per_px) return refuse("scale unknown");
  if (!shape.coronal_known) return refuse("which end is coronal could not be told");
  if (!shape.platform_in_view) return refuse("the platform is not in view");
  const double mm_per_px = scale.mm_per_px->value, mm = 1.0 / mm_per_px;
  const double blur = quality.blur_sigma_px.value_or(2.0);
  const auto platform = find_platform_edge(frame, shape, blur, mm);
  if (!platform)
    return refuse("the platform's edge is not marked (part as wide as the implant, or hidden)");
  const double pitch = projection.thread_pitch_px.value_or(0.7 * mm);
  const Point right = shape.axis.right();
  const bool minus_left = std::abs(right.x) >= std::abs(right.y) ? right.x > 0 : right.y > 0;
  for (const int side : {-1, 1}) {
    CrestLevel& level = ((side < 0) == minus_left) ? result.left : result.right;
    if (!(side < 0 ? shape.minus_flank_in_view : shape.plus_flank_in_view)) {
      level = refused("this flank is not in view");
      continue;
    }
    const double d0 = 2.5 * blur + 1.0;
    const Site site{
        sample_flank(frame, shape, side, d0, d0 + kWidthMm * mm, platform->v_px - kCoronalMm * mm,
                     kLengthShare * shape.length_px, pitch),
        blur, mm};
    const auto fit = contact(site);
    if (!fit) {
      level = refused("no bone edge beside this flank");
      continue;
    }
    const double level_px = fit->v_px - platform->v_px;
    level.level_mm = level_px * mm_per_px;
    level.state = "measured";
    const auto add = [&](const char* name, double u_mm) { level.budget.push_back({name, u_mm}); };
    add("localisation", fit->sd_px * mm_per_px);
    add("platform", std::hypot(platform->sd_px * mm_per_px, kPlatformModelMm));
    add("scale", 0.5 * std::abs(level_px) * scale.mm_per_px->expanded_uncertainty);
    add("projection", tilt_term_mm(projection, rules.follow_up.crest_half_width_mm));
    double sum = 0.0;
    for (const auto& c : level.budget) sum += c.standard_uncertainty_mm * c.standard_uncertainty_mm;
    level.expanded_uncertainty_mm = 2 * std::sqrt(sum);
  }
  return result;
}

}  // namespace crestgate
