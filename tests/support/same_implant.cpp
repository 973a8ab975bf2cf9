#include "tests/support/same_implant.h"

#include <cmath>

namespace crestgate::phantom {
namespace {

constexpr double kClaimed = 0.4, kCovered = 0.3, kSameLine = 0.906;  // cos 25 degrees
constexpr double kMargin = 0.1;  // of radius and length: what a reader calls "on" it

struct Rectangle {
  AxisFrame axis;  // origin at the platform
  double radius = 0.0, length = 0.0;
  bool holds(Point image, double margin) const {
    const Point p = axis.from_image(image);
    return std::abs(p.x) <= (1 + margin) * radius && p.y >= -margin * length &&
           p.y <= (1 + margin) * length;
  }
};

/// Share of a's part inside the picture that lies on b; 0 if nothing of a is inside.
double share_on(const Rectangle& a, const Rectangle& b, int rows, int columns) {
  int inside = 0, on = 0;
  for (double v = 0.025; v < 1.0; v += 0.05)
    for (double u = -0.95; u < 1.0; u += 0.1) {
      const Point p = a.axis.to_image(u * a.radius, v * a.length);
      if (!(p.x >= 0 && p.y >= 0 && p.x <= columns - 1 && p.y <= rows - 1)) continue;
      ++inside;
      on += b.holds(p, kMargin);
    }
  return inside > 0 ? static_cast<double>(on) / inside : 0.0;
}

}  // namespace

bool lies_on(const ImplantShape& shape, const ImplantTruth& truth, int rows, int columns) {
  const Rectangle claimed{shape.axis, shape.radius_px, shape.length_px};
  Rectangle implant;
  const double dx = truth.apex_px.x - truth.platform_px.x;
  const double dy = truth.apex_px.y - truth.platform_px.y;
  implant.length = std::hypot(dx, dy);
  implant.radius = 0.5 * truth.outer_diameter_px;
  implant.axis.origin = truth.platform_px;
  implant.axis.apical = {dx / implant.length, dy / implant.length};
  const Point a = claimed.axis.apical, b = implant.axis.apical;
  return std::abs(a.x * b.x + a.y * b.y) > kSameLine &&
         share_on(claimed, implant, rows, columns) >= kClaimed &&
         share_on(implant, claimed, rows, columns) >= kCovered;
}

}  // namespace crestgate::phantom
