#include "pipeline/projection/thread_consensus.h"

#include <algorithm>
#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

constexpr double kCap = 16.0;  ///< one stretch alone cannot rule a mode out
constexpr double kWidest = 0.4;

struct Basin {
  double theta;  ///< at the platform
  int starts;
  double distance;  ///< from the stretch's best, per independent value
};

struct Stretch {
  std::vector<Basin> modes;
  double sd = kWidest;
};

Stretch stretch_of(const ThreadReading& reading, double run_rad_per_px) {
  Stretch s;
  const ThreadMode& best = reading.fit.modes.front();
  // Columns share blur: one independent value per 2 sqrt(pi) sigma (correlation length of a
  // Gaussian).
  const double shared = std::max(2.0, 2 * std::sqrt(kPi) * best.view.blur_columns);
  const double run = run_rad_per_px * 0.5 * (reading.signal.v_begin_px + reading.signal.v_end_px);
  for (const ThreadMode& m : reading.fit.modes)
    s.modes.push_back({m.theta_rad - run, m.starts,
                       (m.minus_two_log_likelihood - best.minus_two_log_likelihood) / shared});
  if (best.curvature > 0) s.sd = std::min(kWidest, std::sqrt(shared * 2.0 / best.curvature));
  s.sd = std::max(s.sd, radians(0.05));
  return s;
}

/// The stretch's mode of these starts that suits theta best, and what it costs.
struct Nearest {
  const Basin* mode = nullptr;
  double cost = kCap;
};
Nearest nearest(const Stretch& s, double theta, int starts) {
  // A mode's own place is no better known than two degrees of model error allow.
  const double sd = std::hypot(s.sd, radians(0.5));
  Nearest best;
  for (const Basin& m : s.modes) {
    if (m.starts != starts) continue;
    const double cost = m.distance + std::pow((m.theta - theta) / sd, 2);
    if (cost < best.cost) best = {&m, cost};
  }
  return best;
}

double mean_cost(const std::vector<Stretch>& all, double theta, int starts) {
  double sum = 0;
  for (const Stretch& s : all) sum += nearest(s, theta, starts).cost;
  return sum / static_cast<double>(all.size());
}

/// What is known before the image, once and not per stretch: films are aimed, one start is usual,
/// three are rare (common practice).
double prior_cost(double theta, int starts) {
  return std::pow(theta / radians(10), 2) + 1.4 * (starts - 1);
}

/// Mean square distance of the stretches' nearest modes, those that the mean leaves out included: a
/// stretch that says something else is a warning, though not of more than kFarthest.
double square_scatter(const std::vector<Stretch>& all, double theta, int starts) {
  const double kFarthest = radians(3.0);
  double sum = 0;
  int n = 0;
  for (const Stretch& s : all) {
    double least = kFarthest;
    bool any = false;
    for (const Basin& m : s.modes) {
      if (m.starts != starts || m.distance > 0.5 * kCap) continue;
      least = std::min(least, std::abs(m.theta - theta));
      any = true;
    }
    if (any) sum += least * least, ++n;
  }
  return n > 0 ? sum / n : 0.0;
}

}  // namespace

std::optional<ThreadConsensus> thread_consensus(const std::vector<ThreadReading>& readings,
                                                double run_rad_per_px) {
  std::vector<Stretch> all;
  for (const ThreadReading& r : readings)
    if (!r.fit.modes.empty()) all.push_back(stretch_of(r, run_rad_per_px));
  if (all.empty()) return std::nullopt;

  std::vector<ThreadRival> modes;
  for (const Stretch& s : all)
    for (const Basin& m : s.modes)
      modes.push_back(
          {m.theta, m.starts, mean_cost(all, m.theta, m.starts) + prior_cost(m.theta, m.starts)});
  std::sort(modes.begin(), modes.end(),
            [](const ThreadRival& a, const ThreadRival& b) { return a.distance < b.distance; });

  ThreadConsensus result;
  result.starts = modes.front().starts;
  double weight = 0, sum = 0;
  for (const Stretch& s : all) {
    const Nearest n = nearest(s, modes.front().theta_rad, result.starts);
    if (!n.mode || n.cost > 0.5 * kCap) continue;
    const double w = 1 / (s.sd * s.sd + std::pow(radians(0.3), 2));
    weight += w;
    sum += w * n.mode->theta;
  }
  result.theta_rad = sum / weight;
  const double scatter = square_scatter(all, result.theta_rad, result.starts);
  double smallest = kWidest;
  for (const Stretch& s : all) smallest = std::min(smallest, s.sd);
  // Stretches overlap: their mean is no better known than that of two of them.
  result.sd_rad = std::sqrt(smallest * smallest + 0.5 * scatter);
  for (ThreadRival& m : modes) {
    m.distance -= modes.front().distance;
    result.rivals.push_back(m);
  }
  return result;
}

}  // namespace crestgate
