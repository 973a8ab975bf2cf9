#include "pipeline/projection/projection.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "config/units.h"
#include "pipeline/projection/flank_edges.h"
#include "pipeline/projection/thread_fit.h"
#include "pipeline/projection/thread_signal.h"

namespace crestgate {
namespace {

// Within a factor of this in -2 log L a rival mode is not excluded (design, section 3).
constexpr double kRivalDistance = 4.0;
constexpr double kWidestAngleDeg = 25.0;

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

struct ThreadReading {
  ThreadSignal signal;
  ThreadFit fit;
};

/// The part of the body whose thread pattern is clearest: the whole body, or one half where another
/// pitch (micro-thread neck) or a smooth neck disturbs the rest.
std::optional<ThreadReading> read_thread(const Frame& frame, const ImplantShape& shape,
                                         const QualityMeasures& quality) {
  std::optional<ThreadSignal> best;
  const double spans[][2] = {{0.15, 0.92}, {0.35, 0.92}, {0.15, 0.6}};
  for (const auto& span : spans) {
    auto signal = thread_signal(frame, shape, span[0] * shape.length_px, span[1] * shape.length_px);
    if (!signal) continue;
    if (!best || signal->pitch_prominence > best->pitch_prominence) best = std::move(signal);
  }
  if (!best) return std::nullopt;
  ThreadReading reading{std::move(*best), {}};
  reading.fit = fit_thread(reading.signal, radians(kWidestAngleDeg), quality.blur_sigma_px);
  if (reading.fit.modes.empty()) return std::nullopt;
  return reading;
}

void take_angle(const ThreadReading& reading, const Acquisition& acquisition, const Scale& scale,
                ProjectionMeasures& result) {
  const ThreadFit& fit = reading.fit;
  const ThreadMode& best = fit.modes.front();
  const double diameter_px = 2 * reading.signal.crest_radius_px * best.view.radius_scale;

  // The fit gives the angle at the middle of the analysed part; the ray through the platform
  // differs by the beam's divergence over the distance between the two.
  const double middle_px = 0.5 * (reading.signal.v_begin_px + reading.signal.v_end_px);
  const Quantity distance = length_mm(middle_px, scale, diameter_px);
  const Quantity source = source_distance_mm(acquisition);
  const double run_deg = degrees(distance.value / source.value);
  const double run_u_deg = run_deg * std::hypot(source.expanded_uncertainty / source.value,
                                                distance.expanded_uncertainty / distance.value);

  const double theta_deg = degrees(best.theta_rad) - run_deg;
  // Columns share blur: one independent value per 2 sqrt(pi) sigma (correlation length of a
  // Gaussian).
  const double shared = std::max(2.0, 2 * std::sqrt(kPi) * best.view.blur_columns);
  const double fit_sd_deg =
      best.curvature > 0 ? degrees(std::sqrt(2 * shared * 2.0 / best.curvature)) : kWidestAngleDeg;
  const double radius_sd = 0.04;  // crest radius under blur and taper, relative: scales tan(theta)
  const double model_sd_deg = std::hypot(0.35, radius_sd * std::abs(degrees(best.theta_rad)));
  double u_deg = std::hypot(2 * std::hypot(fit_sd_deg, model_sd_deg), run_u_deg);

  result.direction_resolved = true;
  for (const ThreadMode& mode : fit.modes) {
    if (mode.minus_two_log_likelihood - best.minus_two_log_likelihood > shared * kRivalDistance)
      continue;
    const double rival_deg = degrees(mode.theta_rad) - run_deg;
    u_deg = std::max(u_deg, std::abs(rival_deg - theta_deg) + 0.5 * u_deg);
    if (rival_deg * theta_deg < 0 && std::abs(rival_deg) > 0.5) result.direction_resolved = false;
    if (mode.starts != best.starts) result.thread_starts.reset();
  }
  if (u_deg > kWidestAngleDeg / 2) {
    result.direction_resolved = false;
    result.reason = "the thread pattern fits several beam angles";
    return;
  }
  if (std::abs(theta_deg) <= u_deg) result.direction_resolved = false;
  result.vertical_angle_deg =
      Quantity{result.direction_resolved ? theta_deg : std::abs(theta_deg), u_deg};
  result.basis = "threads";
  if (!result.direction_resolved) result.reason = "direction not resolved within the uncertainty";
}

}  // namespace

ProjectionMeasures measure_projection(const Frame& frame, const Acquisition& acquisition,
                                      const ImplantShape& shape, const QualityMeasures& quality,
                                      const Scale& scale) {
  ProjectionMeasures result;
  result.outer_diameter_px = 2 * shape.radius_px;
  const auto reading = read_thread(frame, shape, quality);
  if (!reading || reading->signal.pitch_prominence < 12 || reading->fit.explained < 0.6) {
    result.reason = "no thread pattern that can be read";
    return result;
  }
  result.thread_pitch_px = reading->signal.pitch_px;
  result.thread_depth_px = reading->signal.depth_px;
  result.outer_diameter_px = 2 * reading->signal.crest_radius_px;
  result.crest_diameter_px =
      2 * reading->signal.crest_radius_px * reading->fit.modes.front().view.radius_scale;
  result.thread_starts = reading->fit.modes.front().starts;
  result.flank_edge_ratio =
      flank_edge_ratio(reading->signal, reading->fit.modes.front(), shape.axis);
  if (!shape.coronal_known) {
    result.reason = "which end is coronal could not be told";
    return result;
  }
  take_angle(*reading, acquisition, scale, result);
  return result;
}

}  // namespace crestgate
