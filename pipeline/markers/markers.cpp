#include "pipeline/markers/markers.h"

#include <algorithm>
#include <cmath>

#include "pipeline/markers/circles.h"

namespace crestgate {
namespace {

constexpr double kCentreSdPx = 0.15;  // circle of some 70 edge points; checked on phantoms
constexpr double kModelSdDeg = 0.15;  // tilted receptor: perspective beyond the affine camera
// Balls of one maker are equal; shadows differ by depth (2 %) and by what lies over them.
constexpr double kRadiusSpread = 0.12;
// A receptor tilted by 15 degrees stretches one way by 3.5 %; placement adds to it.
constexpr double kMostDistortion = 0.08;

/// Distance source to jig, mm: header, else 200-400 mm (IEC 60601-2-65; from memory).
Quantity source_mm(const Acquisition& a) {
  if (a.source_to_patient_mm && *a.source_to_patient_mm > 50)
    return {*a.source_to_patient_mm, 20.0};
  if (a.source_to_detector_mm && *a.source_to_detector_mm > 60)
    return {*a.source_to_detector_mm - 12.0, 15.0};
  return {290.0, 110.0};
}

struct Fit {
  double cost = 1e9;
  std::array<Point, 4> balls;
  double mean_radius_px = 0;
  JigPose pose;
};

std::optional<Fit> fit_of(const std::array<const Circle*, 4>& c, const Jig& jig, double source) {
  Fit fit;
  for (std::size_t i = 0; i < 4; ++i) {
    fit.balls[i] = c[i]->centre;
    fit.mean_radius_px += c[i]->radius_px / 4;
  }
  for (const Circle* circle : c)
    if (std::abs(circle->radius_px / fit.mean_radius_px - 1) > kRadiusSpread) return {};
  const auto pose = jig_pose(fit.balls, jig_layout(jig), source);
  if (!pose || pose->distortion > kMostDistortion) return {};
  // Beyond 35 degrees balls hide each other and nobody takes such a view.
  if (std::abs(pose->theta_deg) > 35) return {};
  const double ball_px = jig.ball_diameter_mm * pose->px_per_mm_across;
  const double size = 2 * fit.mean_radius_px / ball_px - 1;
  if (std::abs(size) > 0.15) return {};
  fit.pose = *pose;
  fit.cost = std::hypot(pose->distortion / 0.03, size / 0.05);
  return fit;
}

/// Every four of the discs in every order; the best, and the best that differs from it in angle.
std::pair<Fit, Fit> best_two(const std::vector<Circle>& discs, const Jig& jig, double source) {
  Fit best, second;
  std::vector<Fit> all;
  std::array<std::size_t, 4> i{};
  const std::size_t n = discs.size();
  for (i[0] = 0; i[0] < n; ++i[0])
    for (i[1] = 0; i[1] < n; ++i[1])
      for (i[2] = 0; i[2] < n; ++i[2])
        for (i[3] = 0; i[3] < n; ++i[3]) {
          bool distinct = true;
          for (std::size_t a = 0; a < 4; ++a)
            for (std::size_t b = a + 1; b < 4; ++b) distinct = distinct && i[a] != i[b];
          if (!distinct) continue;
          if (auto fit =
                  fit_of({&discs[i[0]], &discs[i[1]], &discs[i[2]], &discs[i[3]]}, jig, source))
            all.push_back(*fit);
        }
  std::sort(all.begin(), all.end(), [](const Fit& a, const Fit& b) { return a.cost < b.cost; });
  if (!all.empty()) best = all.front();
  for (std::size_t k = 1; k < all.size(); ++k)
    if (std::abs(all[k].pose.theta_deg - best.pose.theta_deg) > 1.0) {
      second = all[k];
      break;
    }
  return {best, second};
}

/// Variances by ball centres and placement: GUM 5.1.2 with numerical sensitivities to every
/// coordinate of every ball, in image and jig.
struct Variances {
  double theta_deg2 = 0, across = 0, along = 0;  ///< scales: relative
};
Variances position_variances(const Fit& fit, const Jig& jig, double source) {
  const JigLayout layout = jig_layout(jig);
  Variances v;
  const auto add = [&](const std::array<Point, 4>& balls, const JigLayout& places) {
    const auto pose = jig_pose(balls, places, source);
    if (!pose) return;
    v.theta_deg2 += std::pow(pose->theta_deg - fit.pose.theta_deg, 2);
    v.across += std::pow(pose->px_per_mm_across / fit.pose.px_per_mm_across - 1, 2);
    v.along += std::pow(pose->px_per_mm_along / fit.pose.px_per_mm_along - 1, 2);
  };
  const double placed = jig.tolerance_mm / std::sqrt(3.0);
  for (std::size_t b = 0; b < 4; ++b) {
    for (double Point::*axis : {&Point::x, &Point::y}) {
      auto balls = fit.balls;
      balls[b].*axis += kCentreSdPx;
      add(balls, layout);
    }
    for (double Place3::*axis : {&Place3::x, &Place3::y, &Place3::z}) {
      JigLayout places = layout;
      places[b].*axis += placed;
      add(fit.balls, places);
    }
  }
  return v;
}

Scale scale_of(double px_per_mm, double position_variance, double source) {
  const double depth = 5.0 / std::sqrt(3.0) / source;  // implant up to 5 mm nearer or farther
  // A receptor turned by up to 10 degrees stretches by up to 1.5 %, elsewhere than at the jig less.
  const double stretch = 0.015 / std::sqrt(3.0);
  const double relative = std::sqrt(position_variance + depth * depth + stretch * stretch);
  Scale scale;
  scale.mm_per_px = Quantity{1 / px_per_mm, 2 * relative / px_per_mm};
  scale.source = "markers";
  return scale;
}

}  // namespace

Markers find_markers(const Frame& frame, const Acquisition& acquisition, const Jig& jig,
                     const Scale& scale) {
  Markers markers;
  // Without a scale: pixels of 15 to 70 um, the range of intraoral receptors and scans.
  double least = jig.ball_diameter_mm / 2 / 0.07, most = jig.ball_diameter_mm / 2 / 0.015;
  if (scale.mm_per_px) {
    const double radius = jig.ball_diameter_mm / 2 / scale.mm_per_px->value;
    least = 0.85 * radius, most = 1.15 * radius;
  }
  const std::vector<Circle> discs = find_discs(frame, std::max(4.0, least), most);
  const double source = source_mm(acquisition).value;
  if (discs.size() < 4) {
    markers.reason = "why.jig_balls_missing";
    return markers;
  }
  const auto [best, second] = best_two(discs, jig, source);
  if (best.cost > 3) {
    markers.reason = "why.jig_layout_not_found";
    return markers;
  }
  if (second.cost < best.cost + 0.5) {
    markers.reason = "why.jig_fits_twice";
    return markers;
  }
  markers.found = true;
  markers.pose = best.pose;
  const Variances v = position_variances(best, jig, source);
  markers.position_u_deg = 2 * std::sqrt(v.theta_deg2 + kModelSdDeg * kModelSdDeg);
  markers.across = scale_of(best.pose.px_per_mm_across, v.across, source);
  markers.along = scale_of(best.pose.px_per_mm_along, v.along, source);
  return markers;
}

bool apply_markers(const Markers& markers, const Jig& jig, const Acquisition& acquisition,
                   const ImplantShape& shape, ProjectionMeasures& projection) {
  if (!markers.found || !shape.coronal_known) return false;
  const Point a = shape.axis.apical, c = markers.pose.coronal;
  const double apart_deg = degrees(std::acos(std::clamp(-(a.x * c.x + a.y * c.y), -1.0, 1.0)));
  if (apart_deg > jig.alignment_deg + 2.0) return false;  // 2 degrees: axis and balls as measured
  // The ray turns by the beam's divergence between ball A and the platform.
  const Quantity source = source_mm(acquisition);
  const double apical_px = -shape.axis.from_image(markers.pose.foot_px).y;
  const double apical_mm = apical_px / markers.pose.px_per_mm_along;
  const double run_deg = degrees(apical_mm / source.value);
  const double run_u_deg = std::abs(run_deg) * source.expanded_uncertainty / source.value;
  const double aligned_u_deg = 2 * jig.alignment_deg / std::sqrt(3.0);
  const double u_deg = std::hypot(std::hypot(markers.position_u_deg, aligned_u_deg), run_u_deg);
  const double theta_deg = markers.pose.theta_deg + run_deg;
  const bool signed_reading = markers.pose.as_made && std::abs(theta_deg) > u_deg;
  if (const auto& now = projection.vertical_angle_deg) {
    const double other = projection.direction_resolved ? theta_deg : std::abs(theta_deg);
    const double mine = projection.direction_resolved && !markers.pose.as_made
                            ? std::copysign(theta_deg, now->value)
                            : other;
    const bool contradicts = std::abs(mine - now->value) > u_deg + now->expanded_uncertainty;
    if (contradicts) {
      projection.reason = "why.jig_contradicts_thread";
      return false;
    }
    if (now->expanded_uncertainty <= u_deg && (projection.direction_resolved || !signed_reading))
      return true;
  }
  projection.vertical_angle_deg = Quantity{signed_reading ? theta_deg : std::abs(theta_deg), u_deg};
  projection.direction_resolved = signed_reading;
  projection.basis = "markers";
  projection.reason = signed_reading         ? ""
                      : markers.pose.as_made ? "why.no_direction"
                                             : "why.jig_mirrored";
  return true;
}

}  // namespace crestgate
