#include "tests/support/truth.h"

#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "tests/support/image_ops.h"
#include "tests/support/ridge.h"
#include "tests/support/view.h"
#include "tests/support/world.h"

namespace crestgate::phantom {
namespace {

struct Canvas {
  double columns, rows, margin, bar;
  Opening opening;
  bool holds(Point p) const {
    return p.x >= margin && p.x <= columns - 1 - margin && p.y >= std::max(margin, bar) &&
           p.y <= rows - 1 - margin && opening.cone_cut(p.x, p.y) < 0.5 &&
           !opening.in_corner(p.x, p.y);
  }
};

double distance(Point a, Point b) { return std::hypot(a.x - b.x, a.y - b.y); }

std::string side_of(Point d) {  // direction in the image, y down
  if (std::abs(d.x) > std::abs(d.y)) return d.x > 0 ? "right" : "left";
  return d.y > 0 ? "down" : "up";
}

// The published rule's wording, design.md section 3.
std::string advice_for(const std::string& jaw, const std::string& source_too) {
  if (source_too == "none") return "";
  const bool coronal = source_too == "coronal";
  if (jaw == "mandible") {
    return coronal ? "lower the tube head, aim it more towards the ceiling"
                   : "raise the tube head, aim it more towards the floor";
  }
  if (jaw == "maxilla") {
    return coronal ? "raise the tube head, aim it more towards the floor"
                   : "lower the tube head, aim it more towards the ceiling";
  }
  return coronal ? "move the tube head towards the root end"
                 : "move the tube head towards the crown end";
}

ImplantTruth one(const Scene& scene, const View& view, const Ridge& ridge, const Canvas& canvas,
                 const Implant& m) {
  ImplantTruth t;
  const Pose pose = pose_apical(m.place);
  const auto to_image = [&](Vec local) {
    return read_out(view.pixel(pose.to_world(local)), scene);
  };
  t.platform_px = to_image({0, 0, 0});
  t.apex_px = to_image({0, 0, m.length_mm});
  const Vec along = unit(pose.origin - view.source());
  // pose.ez points apical: a ray travelling apically comes from a coronal source.
  t.vertical_angle_deg = degrees(std::asin(dot(along, pose.ez)));
  t.horizontal_angle_deg = degrees(std::atan2(dot(along, pose.ex), -dot(along, pose.ey)));
  const Point coronal{t.platform_px.x - t.apex_px.x, t.platform_px.y - t.apex_px.y};
  t.in_plane_angle_deg = degrees(std::atan2(coronal.x, -coronal.y));
  t.coronal_side = side_of(coronal);
  t.mm_per_px = scene.detector.pixel_mm / view.magnification(pose.origin);
  t.axial_px_per_mm = distance(to_image({0, 0, -0.05}), to_image({0, 0, 0.05})) / 0.1;
  t.right_handed = m.thread.right_handed;
  t.thread_depth_mm = m.thread.form == ThreadForm::none ? 0.0 : m.thread.depth_mm;
  if (m.thread.form != ThreadForm::none) {
    t.thread_pitch_mm = m.thread.pitch_mm;
    t.thread_starts = m.thread.starts;
    t.thread_pitch_px = m.thread.pitch_mm * distance(t.platform_px, t.apex_px) / m.length_mm;
  }
  t.outer_diameter_px = m.diameter_mm / t.mm_per_px;
  // Projected circle: half axes from two conjugate radii, which need not be perpendicular (a
  // horizontal angle shifts the one in depth sideways): singular values of the two as a matrix.
  const double r = m.platform_diameter_mm / 2;
  const Point right = to_image({r, 0, 0}), left = to_image({-r, 0, 0});
  const Point far = to_image({0, r, 0}), near = to_image({0, -r, 0});
  const Point a{right.x - left.x, right.y - left.y}, d{far.x - near.x, far.y - near.y};
  const double sum = a.x * a.x + a.y * a.y + d.x * d.x + d.y * d.y;
  const double area = std::abs(a.x * d.y - a.y * d.x);
  const double root = std::sqrt(std::max(0.0, sum * sum / 4 - area * area));
  t.platform_minor_axis_ratio = sum > 0 ? std::sqrt((sum / 2 - root) / (sum / 2 + root)) : 0.0;
  t.source_too = std::abs(t.vertical_angle_deg) < 0.05 ? "none"
                 : t.vertical_angle_deg > 0            ? "coronal"
                                                       : "apical";
  // World +x of the implant in the image: that is the right flank of design.md section 3.
  const Point plus = to_image({r, 0, 0}), minus = to_image({-r, 0, 0});
  const bool vertical = t.coronal_side == "up" || t.coronal_side == "down";
  const bool plus_is_right = vertical ? plus.x > minus.x : plus.y > minus.y;
  if (m.thread.form == ThreadForm::none || t.source_too == "none") {
    t.blurred_flank = "none";
  } else {
    const bool plus_blurred = (t.vertical_angle_deg > 0) == m.thread.right_handed;
    t.blurred_flank = plus_blurred == plus_is_right ? "right" : "left";
  }
  t.advice = advice_for(scene.identity.jaw, t.source_too);
  t.part_present = m.abutment.form != AbutmentForm::none;
  switch (m.connection.form) {
    case ConnectionForm::conical:
      t.connection = "conical";
      break;
    case ConnectionForm::solid:
      t.connection = "solid";
      break;
    default:
      t.connection = "butt joint";
  }
  if (t.part_present) {
    const double edge = std::min(r, m.abutment.base_diameter_mm / 2);
    const double open = edge * std::tan(radians(m.gap.tilt_deg));
    const double at_plus = std::max(0.0, m.gap.centre_mm + open);
    const double at_minus = std::max(0.0, m.gap.centre_mm - open);
    t.gap_right_mm = plus_is_right ? at_plus : at_minus;
    t.gap_left_mm = plus_is_right ? at_minus : at_plus;
  }
  if (scene.bone.present) {
    const double at_plus = first_contact_mm(ridge, m, 1), at_minus = first_contact_mm(ridge, m, -1);
    const auto known = [](double v) { return std::isnan(v) ? std::optional<double>{} : v; };
    t.crest_right_mm = known(plus_is_right ? at_plus : at_minus);
    t.crest_left_mm = known(plus_is_right ? at_minus : at_plus);
  }
  t.platform_in_view = canvas.holds(plus) && canvas.holds(minus);
  t.apex_in_view = canvas.holds(t.apex_px);
  const auto flank_in_view = [&](double side) {
    // In view over at least half of the body's length.
    int inside = 0;
    for (int i = 0; i <= 10; ++i) {
      const double v = m.length_mm * (0.02 + 0.095 * i);
      inside += canvas.holds(to_image({side * flank_radius_mm(m, v), 0, v}));
    }
    return inside >= 6;
  };
  t.right_flank_in_view = flank_in_view(plus_is_right ? 1.0 : -1.0);
  t.left_flank_in_view = flank_in_view(plus_is_right ? -1.0 : 1.0);
  int seen = 0, all = 0;
  for (double v = 0.025; v < 1.0; v += 0.05)
    for (double u = -0.95; u < 1.0; u += 0.1, ++all)
      seen += canvas.holds(to_image({0.5 * u * m.diameter_mm, 0, v * m.length_mm}));
  t.visible_share = static_cast<double>(seen) / all;
  return t;
}
}  // namespace

Truth truth_of(const Scene& scene) {
  const View view(scene);
  const Ridge ridge(scene);
  Truth truth;
  truth.pixel_mm = scene.detector.pixel_mm;
  const double m = view.magnification({});
  const double penumbra = scene.exposure.focal_spot_mm * (m - 1.0) / std::sqrt(12.0);
  truth.blur_sigma_px =
      std::hypot(penumbra, scene.detector.blur_sigma_mm) / scene.detector.pixel_mm;
  truth.jaw = scene.identity.jaw;
  truth.mirrored = scene.readout.mirrored;
  truth.seed = scene.detector.seed;
  const bool turned = scene.readout.quarter_turns % 2 != 0;
  const int columns = turned ? scene.detector.rows : scene.detector.columns;
  const int rows = turned ? scene.detector.columns : scene.detector.rows;
  const Canvas canvas{double(columns), double(rows), double(scene.readout.frame_px),
                      double(scene.readout.bar_px), Opening(scene, columns, rows)};
  for (const Implant& implant : scene.implants) {
    truth.implants.push_back(one(scene, view, ridge, canvas, implant));
  }
  return truth;
}

}  // namespace crestgate::phantom
