#include "pipeline/crest/edge_levels.h"

#include <cmath>
#include <vector>

#include "pipeline/image/statistics.h"

namespace crestgate {
namespace {

struct Band {
  double from_mm, to_mm;  // from the edge, apical positive
};
constexpr Band kBefore{-0.7, -0.2}, kAt{-0.2, 0.2}, kAfter{0.2, 0.7}, kFurther{0.8, 1.8};
constexpr double kBoneFrom = 0.75, kBoneTo = 1.0;  // of the implant's length
constexpr double kDarkestShare = 0.03;  // of the image's pixels: what is left of air around the jaw
constexpr double kNearDarkest = 0.25;   // of the way from the darkest to the bone
constexpr double kAir = -0.2;           // of the same way: darker than what is left of air
constexpr double kWholeWay = 0.5;       // from before the edge to the bone
constexpr double kMetalShare = 0.1;     // of the way from the bone to the implant's metal
// Shares of a rise of grey.
constexpr double kThin = 0.7;  // before the edge to the bone, and the edge reaches less
constexpr double kFall = 0.6;  // before the edge to its brightest, and less is left apical of it

}  // namespace

double darkest_of(const Frame& frame) {
  std::vector<float> shown;
  for (const float x : frame.values)
    if (std::isfinite(x) && x > frame.lowest_storable) shown.push_back(x);
  return quantile_of(shown, kDarkestShare);
}

double metal_of(const Frame& frame, const ImplantShape& shape) {
  std::vector<float> metal;
  for (double v = 0.1 * shape.length_px; v < 0.5 * shape.length_px; v += 1.0)
    for (const double u : {-0.5, 0.5}) {
      const float x = interpolate(frame, shape.axis.to_image(u * shape.radius_px, v));
      if (std::isfinite(x)) metal.push_back(x);
    }
  return median_of(metal);
}

EdgeLevels levels_about(const Frame& frame, const ImplantShape& shape, int side,
                        const FlankStrip& strip, const Contour& contour, double px_per_mm,
                        double metal) {
  const auto within = [&](const Band& band) {
    std::vector<float> greys;
    for (int c = 0; c < strip.columns; ++c)
      for (int r = 0; r < strip.rows; ++r) {
        const double mm = (r - contour.row[c]) / px_per_mm;
        if (mm > band.from_mm && mm < band.to_mm && std::isfinite(strip.at(c, r)))
          greys.push_back(strip.at(c, r));
      }
    return median_of(greys);
  };
  std::vector<float> bone;
  for (double v = kBoneFrom * shape.length_px; v < kBoneTo * shape.length_px; v += 1.0)
    for (int c = 0; c < strip.columns; ++c) {
      const float x =
          interpolate(frame, shape.axis.to_image(side * (shape.radius_px + strip.d_px(c)), v));
      if (std::isfinite(x)) bone.push_back(x);
    }
  return {within(kBefore), within(kAt), within(kAfter), within(kFurther), median_of(bone), metal};
}

bool like_gum(const EdgeLevels& l, double darkest) {
  const double whole = l.bone - darkest;
  if (l.before - darkest < kAir * whole) return true;
  return l.before - darkest < kNearDarkest * whole &&
         l.after - l.before < kWholeWay * (l.bone - l.before);
}

bool thin_bone(const EdgeLevels& l) {
  return !((l.after + 2 * l.further) / 3 - l.before >= kThin * (l.bone - l.before));
}

bool like_metal(const EdgeLevels& l) {
  return l.after - l.bone > kMetalShare * (l.metal - l.bone) ||
         l.further - l.before < kFall * (std::fmax(l.at, l.after) - l.before);
}

}  // namespace crestgate
