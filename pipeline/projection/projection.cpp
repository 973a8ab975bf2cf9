#include "pipeline/projection/projection.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "config/units.h"
#include "pipeline/projection/flank_edges.h"
#include "pipeline/projection/thread_consensus.h"
#include "pipeline/projection/thread_reading.h"

namespace crestgate {
namespace {

// Within a factor of this in -2 log L a rival mode is not excluded (design, section 3).
constexpr double kRivalDistance = 4.0;

/// Distance source to implant in mm for the run of the angle along the axis: from the header, else
/// 200-400 mm (IEC 60601-2-65 and RP 136 give >= 200 mm source-skin; evidence from memory).
Quantity source_distance_mm(const Acquisition& acquisition) {
  if (acquisition.source_to_patient_mm && *acquisition.source_to_patient_mm > 50)
    return {*acquisition.source_to_patient_mm, 20.0};
  if (acquisition.source_to_detector_mm && *acquisition.source_to_detector_mm > 60)
    return {*acquisition.source_to_detector_mm - 12.0, 15.0};
  return {290.0, 110.0};
}

/// mm in the implant's plane for a length in px: from the scale, else from a 4.2 mm wide body
/// (implants are 3 to 5.5 mm wide: common practice).
Quantity length_mm(double px, const Scale& scale, double diameter_px) {
  if (scale.mm_per_px)
    return {px * scale.mm_per_px->value, px * scale.mm_per_px->expanded_uncertainty};
  return {px * 4.2 / diameter_px, px * 1.2 / diameter_px};
}

/// 1 where the core is white and only the flanks speak: there depth, profile and angle trade off
/// (trial fits of edges alone: 2.75 degrees in the median); 0 where it is not.
double whiteness(const std::vector<ThreadReading>& readings) {
  double x = 0;
  for (const ThreadReading& r : readings) x = std::max(x, r.signal.white_x);
  return std::clamp((x - 0.3) / 0.4, 0.0, 1.0);
}

// Almost as far as the fit's bounds let it move the axis, in radii; 1 in 100 detected axes is off
// by as much, and is read once more about where the fit has it.
constexpr double kFarthest = 0.04;

double axis_offset(const std::vector<ThreadReading>& readings) {
  return readings.front().fit.modes.front().view.x_offset;
}

/// A thread shows most at its flanks, and at both. Seen about an axis half a radius off, under a
/// third of the evidence lies there, one flank has none, or the fit moves the axis as far as it can
/// (rendered scenes, axis moved on purpose).
bool lies_about_axis(const std::vector<ThreadReading>& readings, const ImplantShape& shape) {
  constexpr double kLeastShare = 0.6, kLeastBalance = 0.08;
  if (std::abs(axis_offset(readings)) > kFarthest) return false;
  double flank[2] = {}, all = 0;
  for (const ThreadReading& r : readings) {
    flank[0] += r.fit.flank_evidence[0];
    flank[1] += r.fit.flank_evidence[1];
    all += r.fit.evidence;
  }
  if (!shape.both_flanks_in_view()) return true;
  return flank[0] + flank[1] > kLeastShare * all &&
         std::min(flank[0], flank[1]) > kLeastBalance * std::max(flank[0], flank[1]);
}

/// The shape with its axis where the fit has it.
ImplantShape moved_aside(ImplantShape shape, const std::vector<ThreadReading>& readings) {
  const double by_px = axis_offset(readings) * readings.front().signal.crest_radius_px;
  shape.axis.origin = shape.axis.to_image(by_px, 0.0);
  for (auto* edge : {&shape.minus_edge_px, &shape.plus_edge_px})
    for (double& u : *edge) u -= by_px;
  return shape;
}

/// The angle's growth along the axis: over the distance from the platform to the middle of the
/// analysed part, with its expanded uncertainty.
struct Run {
  double rad = 0, u_rad = 0, per_px = 0;
};

Run run_of_beam(const ThreadReading& reading, const Acquisition& acquisition, const Scale& scale,
                const ImplantShape& shape) {
  const double diameter_px =
      2 * reading.signal.crest_radius_px * reading.fit.modes.front().view.radius_scale;
  const double middle_px = 0.5 * (reading.signal.v_begin_px + reading.signal.v_end_px);
  const Quantity distance = length_mm(middle_px, scale, diameter_px);
  const Quantity source = source_distance_mm(acquisition);
  Run run;
  run.rad = distance.value / source.value;
  run.u_rad = run.rad * std::hypot(source.expanded_uncertainty / source.value,
                                   distance.expanded_uncertainty / distance.value);
  run.per_px = run.rad / middle_px;
  run.u_rad = std::hypot(run.u_rad, 2 * shape.platform_sd_px.value_or(0.0) * run.per_px);
  return run;
}

bool few_turns(const ThreadReading& reading) { return reading.signal.turns() < kFewTurns; }

/// What the model itself does not know, standard deviation in degrees at the seen angle.
double model_sd_deg(const std::vector<ThreadReading>& readings, double seen_deg) {
  // Crest radius under blur and taper, relative: scales tan(theta). Both so that 96 % or more of
  // 384 angles in rendered scenes and 40 of 42 in an independent simulator's images lie inside U.
  constexpr double kRadiusSd = 0.035, kLeastSd = 0.31;
  double sd = std::hypot(kLeastSd, kRadiusSd * seen_deg);
  // One stretch alone cannot confirm itself (few turns: 6 of 7 errors in rendered scenes inside U).
  if (readings.size() == 1) sd = std::hypot(sd, few_turns(readings.front()) ? 1.5 : 1.0);
  return std::hypot(sd, whiteness(readings) * std::hypot(0.7, 0.25 * seen_deg));
}

void take_angle(const std::vector<ThreadReading>& readings, const Acquisition& acquisition,
                const Scale& scale, const ImplantShape& shape, ProjectionMeasures& result) {
  Run run = run_of_beam(readings.front(), acquisition, scale, shape);
  // Coronal end unknown: the platform is at either end; flipped by the header's own word: as seen
  // from the source or not. The run is then of either sign, part of U.
  const bool flipped = acquisition.horizontal_flip.value_or(false);
  if (!shape.coronal_known || flipped) run.u_rad = run.rad, run.per_px = 0;
  const auto consensus = thread_consensus(readings, run.per_px);
  if (!consensus) return;

  const double theta_deg = degrees(consensus->theta_rad);
  const double model = model_sd_deg(readings, std::abs(theta_deg) + degrees(run.rad));
  const double own_u_deg =
      std::hypot(2 * std::hypot(degrees(consensus->sd_rad), model), degrees(run.u_rad));
  double u_deg = own_u_deg;
  result.direction_resolved = shape.coronal_known && !flipped;
  result.thread_starts = consensus->starts;
  for (const ThreadRival& rival : consensus->rivals) {
    // Flanks alone do not tell 1 from 3 starts, nor one flank any number from another, however well
    // one of them fits.
    const bool other = rival.starts != consensus->starts;
    const bool same_parity = other && (rival.starts - consensus->starts) % 2 == 0;
    const bool one_flank = !shape.both_flanks_in_view();
    const double factor = other && one_flank ? 4.0
                          : same_parity      ? 1 + 3 * whiteness(readings)
                                             : 1.0;
    if (rival.distance > factor * kRivalDistance) continue;
    const double rival_deg = degrees(rival.theta_rad);
    const double away = std::abs(rival_deg - theta_deg);
    if (other) result.thread_starts.reset();
    if (away <= own_u_deg) continue;
    u_deg = std::max(u_deg, away + 0.5 * own_u_deg);
    if (rival_deg * theta_deg < 0 && std::abs(rival_deg) > 0.5) result.direction_resolved = false;
  }
  if (u_deg > kWidestAngleDeg / 2) {
    result.direction_resolved = false;
    result.reason = "why.several_angles";
    return;
  }
  if (std::abs(theta_deg) <= u_deg) result.direction_resolved = false;
  result.vertical_angle_deg =
      Quantity{result.direction_resolved ? theta_deg : std::abs(theta_deg), u_deg};
  result.basis = "threads";
  if (!shape.coronal_known)
    result.reason = "why.no_direction_coronal_unknown";
  else if (flipped)
    result.reason = "why.no_direction_flipped";
  else if (!result.direction_resolved)
    result.reason = "why.no_direction";
}

/// The thread model adds path lengths. A linear tone shows exposures, 0 at the highest storable
/// grey: its negative logarithm, floored where counts run out, comes back to path lengths.
Frame path_like(const Frame& linear) {
  constexpr double kFewestCounts = 0.01;  // of the range
  Frame path = linear;
  const double range = linear.highest_storable - linear.lowest_storable;
  for (float& x : path.values)
    x = static_cast<float>(
        -range * std::log(std::max(kFewestCounts, (linear.highest_storable - x) / range)));
  path.tone = Tone::log;
  path.lowest_storable = 0.0F;
  path.highest_storable = static_cast<float>(-range * std::log(kFewestCounts));
  return path;
}

}  // namespace

ProjectionMeasures measure_projection(const Frame& frame, const Acquisition& acquisition,
                                      const ImplantShape& shape, const QualityMeasures& quality,
                                      const Scale& scale) {
  ProjectionMeasures result;
  result.outer_diameter_px = 2 * shape.radius_px;
  const Frame path = frame.tone == Tone::linear ? path_like(frame) : Frame();
  const auto read = [&](const ImplantShape& about) {
    return read_thread(path.empty() ? frame : path, about, quality.blur_sigma_px);
  };
  auto readings = read(shape);
  if (!readings.empty() && shape.both_flanks_in_view() &&
      std::abs(axis_offset(readings)) > kFarthest)
    if (auto again = read(moved_aside(shape, readings)); !again.empty())
      readings = std::move(again);
  if (readings.empty()) {
    result.reason = "why.no_thread";
    return result;
  }
  if (!lies_about_axis(readings, shape)) {
    result.reason = "why.thread_off_axis";
    return result;
  }
  const ThreadReading& best = readings.front();
  if (!few_turns(best)) result.thread_pitch_px = best.signal.pitch_px;
  result.thread_depth_px = best.signal.depth_px;
  result.outer_diameter_px = 2 * best.signal.crest_radius_px;
  result.crest_diameter_px =
      2 * best.signal.crest_radius_px * best.fit.modes.front().view.radius_scale;
  result.flank_edge_ratio = flank_edge_ratio(best.signal, best.fit.modes.front(), shape.axis);
  take_angle(readings, acquisition, scale, shape, result);
  return result;
}

}  // namespace crestgate
