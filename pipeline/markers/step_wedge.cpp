#include "pipeline/markers/step_wedge.h"

#include <algorithm>
#include <cmath>

#include "pipeline/image/strip.h"

namespace crestgate {
namespace {

constexpr int kLeastSteps = 3;
constexpr double kMiddle = 0.25;   // half of the sampled part: the middle half of a step
constexpr double kBesideMm = 0.5;  // clear of the staircase's edge by more than blur and placing
// Of the step to its neighbour. An even ramp has a trend of half a step, a staircase none.
constexpr double kMostTrend = 0.4, kMostScatter = 1.0;
constexpr int kGrid = 9;  // samples each way

struct Patch {
  bool inside = false, clipped = false;     ///< of the image; at either end of its range
  double grey = 0, scatter = 0, trend = 0;  ///< trend: end to end, the larger of both directions
};

double mean_of(const std::vector<double>& values) {
  double sum = 0;
  for (const double v : values) sum += v;
  return sum / static_cast<double>(values.size());
}

/// Grey values about `middle`, `half_x` and `half_z` mm to either side.
Patch patch_at(const Frame& frame, const JigPose& pose, const Place3& middle, double half_x,
               double half_z) {
  Patch patch;
  std::vector<double> all, parts[4];  // left, right, lower, upper third
  for (int ix = 0; ix < kGrid; ++ix)
    for (int iz = 0; iz < kGrid; ++iz) {
      const double x = 2.0 * ix / (kGrid - 1) - 1, z = 2.0 * iz / (kGrid - 1) - 1;
      const double grey = interpolate(
          frame, pose.to_image({middle.x + x * half_x, middle.y, middle.z + z * half_z}));
      if (!std::isfinite(grey)) return patch;
      patch.clipped = patch.clipped || clipped(frame, grey);
      all.push_back(grey);
      if (x < -0.3) parts[0].push_back(grey);
      if (x > 0.3) parts[1].push_back(grey);
      if (z < -0.3) parts[2].push_back(grey);
      if (z > 0.3) parts[3].push_back(grey);
    }
  patch.inside = true;
  patch.grey = mean_of(all);
  for (const double grey : all) patch.scatter += std::pow(grey - patch.grey, 2);
  patch.scatter = std::sqrt(patch.scatter / static_cast<double>(all.size() - 1));
  patch.trend = 1.5 * std::max(std::abs(mean_of(parts[1]) - mean_of(parts[0])),
                               std::abs(mean_of(parts[3]) - mean_of(parts[2])));
  return patch;
}

bool readable(const Patch& patch) { return patch.inside && !patch.clipped; }

/// What lies beside step `i`, beyond either end of its width; the darker. Unset: not in view.
std::optional<double> beside(const Frame& frame, const JigPose& pose, const StepWedge& wedge,
                             const Jig& jig, int i) {
  std::optional<double> darkest;
  for (const double side : {-1.0, 1.0}) {
    Place3 place = wedge_step_place(wedge, jig, i);
    place.z += side * (wedge.width_mm / 2 + kBesideMm + 0.25);
    const Patch patch = patch_at(frame, pose, place, kMiddle * wedge.step_length_mm, 0.2);
    if (patch.inside) darkest = std::min(darkest.value_or(patch.grey), patch.grey);
  }
  return darkest;
}

/// Grey values to the nearer of its readable neighbours; 0 without one.
double step_to_neighbour(const std::vector<Patch>& patches, std::size_t i) {
  double step = 0;
  for (const std::size_t k : {i - 1, i + 1}) {  // i - 1 of 0 is beyond the end
    if (k >= patches.size() || !readable(patches[k])) continue;
    const double to = std::abs(patches[k].grey - patches[i].grey);
    step = step > 0 ? std::min(step, to) : to;
  }
  return step;
}

}  // namespace

Place3 wedge_step_place(const StepWedge& wedge, const Jig& jig, int i) {
  const double s = jig.spacing_mm;
  return {s + (i + 0.5 - 0.5 * wedge.steps) * wedge.step_length_mm,
          -0.5 * (i + 1) * wedge.step_thickness_mm, 1.5 * s + 0.5 * wedge.width_mm};
}

WedgeReading read_step_wedge(const Frame& frame, const JigPose& pose, const StepWedge& wedge,
                             const Jig& jig) {
  std::vector<Patch> patches;
  for (int i = 0; i < wedge.steps; ++i)
    patches.push_back(patch_at(frame, pose, wedge_step_place(wedge, jig, i),
                               kMiddle * wedge.step_length_mm, kMiddle * wedge.width_mm));
  WedgeReading reading;
  int read = 0, seen = 0;
  bool rises = true;
  std::optional<double> last;
  for (int i = 0; i < wedge.steps; ++i) {
    const Patch& p = patches[static_cast<std::size_t>(i)];
    reading.steps.push_back({(i + 1) * wedge.step_thickness_mm, {}});
    if (!readable(p)) continue;
    ++seen;
    rises = rises && (!last || p.grey > *last);
    last = p.grey;
    const double step = step_to_neighbour(patches, static_cast<std::size_t>(i));
    const auto around = beside(frame, pose, wedge, jig, i);
    const bool even = p.trend < kMostTrend * step && p.scatter < kMostScatter * step;
    if (!even || !around || p.grey < *around + 0.5 * step) continue;
    ++read;
    const double scatter = p.scatter / kGrid;  // of the mean of kGrid^2 samples
    reading.steps.back().grey =
        Quantity{p.grey, 2 * std::hypot(scatter, 0.5 * p.trend / std::sqrt(3.0))};
  }
  reading.result = seen < kLeastSteps             ? "why.wedge_not_in_view"
                   : !rises || read < kLeastSteps ? "why.wedge_no_staircase"
                                                  : "why.wedge_found";
  if (reading.result != "why.wedge_found") reading.steps.clear();
  return reading;
}

}  // namespace crestgate
