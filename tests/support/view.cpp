#include "tests/support/view.h"

#include "config/units.h"

namespace crestgate::phantom {

View::View(const Scene& scene) {
  const Beam& b = scene.beam;
  const double theta = radians(b.vertical_angle_deg), h = radians(b.horizontal_angle_deg);
  const double phi = radians(b.detector_tilt_deg), psi = radians(b.detector_turn_deg);
  const double turn = radians(b.in_plane_turn_deg);
  const Vec along{std::sin(h) * std::cos(theta), std::cos(h) * std::cos(theta), -std::sin(theta)};
  source_ = along * -b.source_to_site_mm;
  site_on_detector_ = along * b.site_to_detector_mm;
  normal_ = {std::sin(psi) * std::cos(phi), std::cos(psi) * std::cos(phi), -std::sin(phi)};
  const Vec upright_right{std::cos(psi), -std::sin(psi), 0.0};
  const Vec up = cross(upright_right, normal_);
  right_ = upright_right * std::cos(turn) + up * std::sin(turn);
  down_ = upright_right * std::sin(turn) - up * std::cos(turn);
  pixel_mm_ = scene.detector.pixel_mm;
  site_column_ = b.site_column_fraction * (scene.detector.columns - 1);
  site_row_ = b.site_row_fraction * (scene.detector.rows - 1);
}

Ray View::ray(double column, double row) const {
  const Vec on_detector = site_on_detector_ + right_ * ((column - site_column_) * pixel_mm_) +
                          down_ * ((row - site_row_) * pixel_mm_);
  return {source_, unit(on_detector - source_)};
}

Point View::pixel(Vec world) const {
  const Vec d = world - source_;
  const double t = dot(site_on_detector_ - source_, normal_) / dot(d, normal_);
  const Vec q = source_ + d * t - site_on_detector_;
  return {site_column_ + dot(q, right_) / pixel_mm_, site_row_ + dot(q, down_) / pixel_mm_};
}

double View::magnification(Vec world) const {
  return dot(site_on_detector_ - source_, normal_) / dot(world - source_, normal_);
}

Pose pose_coronal(const Place& p) {
  const double lean = radians(p.lean_deg), tip = radians(p.tip_deg);
  Pose pose;
  pose.origin = {p.x_mm, p.y_mm, p.z_mm};
  pose.ez = {std::sin(lean) * std::cos(tip), std::sin(tip), std::cos(lean) * std::cos(tip)};
  pose.ex = unit(cross({0, 1, 0}, pose.ez));
  pose.ey = cross(pose.ez, pose.ex);
  return pose;
}

Pose pose_apical(const Place& p) {
  Pose pose = pose_coronal(p);
  pose.ey = pose.ey * -1.0;
  pose.ez = pose.ez * -1.0;
  return pose;
}

Point read_out(Point p, const Scene& scene) {
  double columns = scene.detector.columns, rows = scene.detector.rows;
  if (scene.readout.mirrored) p.x = columns - 1 - p.x;
  for (int i = 0; i < ((scene.readout.quarter_turns % 4) + 4) % 4; ++i) {
    p = {rows - 1 - p.y, p.x};
    std::swap(columns, rows);
  }
  return p;
}

}  // namespace crestgate::phantom
