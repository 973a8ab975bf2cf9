#include "tests/support/world.h"

#include <algorithm>

#include "config/units.h"

namespace crestgate::phantom {
namespace {

void set_box(const View& view, const Scene& scene, Body* body) {
  const auto [centre, half] = bounds(body->shape);
  double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  for (int corner = 0; corner < 8; ++corner) {
    const Vec local{centre.x + (corner & 1 ? half.x : -half.x),
                    centre.y + (corner & 2 ? half.y : -half.y),
                    centre.z + (corner & 4 ? half.z : -half.z)};
    const Point p = view.pixel(body->pose.to_world(local));
    x0 = std::min(x0, p.x);
    y0 = std::min(y0, p.y);
    x1 = std::max(x1, p.x);
    y1 = std::max(y1, p.y);
  }
  const auto clamp_to = [](double v, int top) {
    return static_cast<int>(std::clamp(v, 0.0, static_cast<double>(top)));
  };
  body->x0 = clamp_to(std::floor(x0) - 1, scene.detector.columns);
  body->x1 = clamp_to(std::ceil(x1) + 2, scene.detector.columns);
  body->y0 = clamp_to(std::floor(y0) - 1, scene.detector.rows);
  body->y1 = clamp_to(std::ceil(y1) + 2, scene.detector.rows);
}

// A bar between neighbouring crowns, as wide as the distance of their axes.
void append_connector(const Implant& a, const Implant& b, std::vector<Body>* out) {
  const Pose pa = pose_coronal(a.place), pb = pose_coronal(b.place);
  const Vec from = pa.to_world({0, 0, a.crown.start_mm + 0.5 * a.crown.height_mm});
  const Vec to = pb.to_world({0, 0, b.crown.start_mm + 0.5 * b.crown.height_mm});
  const Vec d = to - from;
  Pose pose;
  pose.origin = (from + to) * 0.5;
  pose.ex = unit(d);
  pose.ey = unit(cross({0, 0, 1}, pose.ex));
  pose.ez = cross(pose.ex, pose.ey);
  const double half = 0.5 * std::sqrt(dot(d, d));
  out->push_back({Ellipsoid{{half, 0.3 * a.crown.depth_mm, 0.32 * a.crown.height_mm}}, pose,
                  a.crown.material});
}
}  // namespace

void append_wedge(const StepWedge& wedge, std::vector<Body>* out) {
  if (!wedge.present) return;
  const Pose base = pose_coronal(wedge.place);
  for (int i = 0; i < wedge.steps; ++i) {
    Pose pose = base;
    pose.origin = base.to_world({0, 0, -(i + 0.5) * wedge.step_length_mm});
    out->push_back(
        {Box{{wedge.width_mm / 2, (i + 1) * wedge.step_mm / 2, wedge.step_length_mm / 2}}, pose,
         wedge.material});
  }
}

std::vector<Body> make_bodies(const Scene& scene, const View& view, const Ridge& ridge) {
  std::vector<Body> bodies;
  for (const Implant& implant : scene.implants) {
    append_implant(implant, scene.bone.present, &bodies);
  }
  if (scene.splinted) {
    for (std::size_t i = 1; i < scene.implants.size(); ++i) {
      append_connector(scene.implants[i - 1], scene.implants[i], &bodies);
    }
  }
  for (const Item& item : scene.items) append_item(item, &bodies);
  for (const Tooth& tooth : scene.teeth) append_tooth(tooth, ridge, &bodies);
  append_wedge(scene.wedge, &bodies);
  for (Body& body : bodies) set_box(view, scene, &body);
  return bodies;
}

}  // namespace crestgate::phantom
