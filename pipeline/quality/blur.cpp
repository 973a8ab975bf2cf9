#include "pipeline/quality/blur.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "config/units.h"
#include "pipeline/image/statistics.h"
#include "pipeline/quality/edge_model.h"

namespace crestgate {
namespace {

constexpr int kLeastEdges = 8;
constexpr std::size_t kMostFits = 80;
// Drawn edges (text, frames, bars, cone cuts by software) are sharper than any optics: common
// practice is at least one pixel of blur, and one pixel's own aperture has 0.29.
constexpr double kSharpestOptics_px = 0.55;
constexpr double kWorstResidual = 0.05;

struct Edge {
  int x = 0, y = 0;
  double strength = 0, nx = 0, ny = 0;  ///< normal towards the metal
};

struct Fitted {
  double sigma_px, angle_deg, halo;  ///< angle of the normal, 0..180
};

class Gradient {
 public:
  Gradient(const Frame& f, int reach) : f_(f), reach_(reach) {}
  Point at(int x, int y) const {
    double gx = 0, gy = 0;
    for (int k = -1; k <= 1; ++k) {
      gx += f_.at(x + reach_, y + k) - f_.at(x - reach_, y + k);
      gy += f_.at(x + k, y + reach_) - f_.at(x + k, y - reach_);
    }
    return {gx / 3, gy / 3};
  }

 private:
  const Frame& f_;
  int reach_;
};

bool near_implant(const std::vector<ImplantShape>& implants, int x, int y) {
  if (implants.empty()) return true;
  for (const ImplantShape& s : implants) {
    const Point p = s.axis.from_image({static_cast<double>(x), static_cast<double>(y)});
    if (std::abs(p.x) < 1.5 * s.radius_px && p.y > -3 * s.radius_px && p.y < s.length_px)
      return true;
  }
  return false;
}

// Gradient maxima across the edge whose strength is a fair part of the metal's contrast.
std::vector<Edge> find_edges(const Frame& f, const Content& c, const Contrast& contrast,
                             const std::vector<ImplantShape>& implants) {
  constexpr int kReach = 2, kMargin = 12;
  const Gradient gradient(f, kReach);
  std::vector<Edge> edges;
  const double least = 0.25 * contrast.height();
  for (int y = c.y0 + kMargin; y < c.y1 - kMargin; ++y)
    for (int x = c.x0 + kMargin; x < c.x1 - kMargin; ++x) {
      const Point g = gradient.at(x, y);
      const double size = std::hypot(g.x, g.y);
      if (size < least || !near_implant(implants, x, y)) continue;
      const double nx = g.x / size, ny = g.y / size;
      const auto beside = [&](double step) {
        const Point b = gradient.at(x + static_cast<int>(std::lround(step * nx)),
                                    y + static_cast<int>(std::lround(step * ny)));
        return b.x * nx + b.y * ny;
      };
      if (beside(1.5) > size || beside(-1.5) > size) continue;
      edges.push_back({x, y, size, nx, ny});
    }
  return edges;
}

// Normal from the gradients along 9 px of edge; `straight` if they agree within a few degrees.
bool refine_normal(const Frame& f, Edge& e) {
  const Gradient gradient(f, 2);
  double xx = 0, xy = 0, yy = 0;
  for (int k = -4; k <= 4; ++k) {
    const Point g = gradient.at(e.x + static_cast<int>(std::lround(-k * e.ny)),
                                e.y + static_cast<int>(std::lround(k * e.nx)));
    xx += g.x * g.x, xy += g.x * g.y, yy += g.y * g.y;
  }
  const double trace = xx + yy, split = std::hypot(xx - yy, 2 * xy);
  if (!(split > 0.97 * trace)) return false;
  const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
  const double sign = std::cos(angle) * e.nx + std::sin(angle) * e.ny < 0 ? -1 : 1;
  e.nx = sign * std::cos(angle);
  e.ny = sign * std::sin(angle);
  return true;
}

// Mean of five lines across the edge; clipped samples are left out, for they say only 'beyond'.
bool sample_profile(const Frame& f, const ClipLevels& clip, const Edge& e, double outside_px,
                    double inside_px, Profile& profile) {
  profile = {};
  for (double x = -outside_px; x <= inside_px; x += 0.5) {
    double sum = 0;
    for (int k = -2; k <= 2; ++k) {
      const float value = interpolate(f, {e.x + x * e.nx - k * e.ny, e.y + x * e.ny + k * e.nx});
      if (std::isnan(value)) return false;
      if (clip.clipped(value)) {
        sum = std::nan("");
        break;
      }
      sum += value;
    }
    if (std::isnan(sum)) continue;
    profile.x_px.push_back(x);
    profile.value.push_back(sum / 5);
  }
  return profile.x_px.size() * 1.0 >= 0.8 * (2 * (outside_px + inside_px) + 1);
}

// Distance over which the profile rises from a quarter to three quarters of its height.
double rough_sigma(const Profile& p) {
  const auto [low, high] = std::minmax_element(p.value.begin(), p.value.end());
  const double quarter = *low + 0.25 * (*high - *low), three = *low + 0.75 * (*high - *low);
  double first = p.x_px.front(), last = p.x_px.back();
  for (std::size_t i = 0; i < p.value.size(); ++i)
    if (p.value[i] < quarter) first = p.x_px[i];
  for (std::size_t i = p.value.size(); i-- > 0;)
    if (p.value[i] > three && p.x_px[i] > first) last = p.x_px[i];
  return std::max(0.5, (last - first) / 1.35);
}

// Visits 0..n-1 once, each prefix spread over the whole range: golden section, made coprime to n.
std::size_t even_stride(std::size_t n) {
  auto stride = static_cast<std::size_t>(0.618 * static_cast<double>(n)) | 1;
  while (std::gcd(stride, n) > 1) ++stride;
  return stride;
}

double normal_angle_deg(const Edge& e) {
  const double angle = degrees(std::atan2(e.ny, e.nx));
  return angle < 0 ? angle + 180 : angle;
}

// The stronger half of each direction's edges: motion weakens one direction as a whole, which is
// just what has to stay in view.
void keep_stronger_half(std::vector<Edge>& edges) {
  constexpr int kBins = 6;
  const auto bin = [](const Edge& e) {
    return std::min(kBins - 1, static_cast<int>(normal_angle_deg(e) / (180.0 / kBins)));
  };
  std::vector<float> strengths[kBins];
  for (const Edge& e : edges) strengths[bin(e)].push_back(static_cast<float>(e.strength));
  double half[kBins];
  for (int i = 0; i < kBins; ++i) half[i] = median_of(strengths[i]);
  edges.erase(std::remove_if(edges.begin(), edges.end(),
                             [&](const Edge& e) { return e.strength < half[bin(e)]; }),
              edges.end());
}

std::vector<Fitted> fit_edges(const Frame& f, const ClipLevels& clip, const Contrast& contrast,
                              std::vector<Edge> edges) {
  keep_stronger_half(edges);
  std::vector<Fitted> fits;
  const std::size_t n = edges.size(), stride = even_stride(n);
  for (std::size_t k = 0; k < n && k < 6 * kMostFits && fits.size() < kMostFits; ++k) {
    Edge e = edges[k * stride % n];
    Profile profile;
    if (!refine_normal(f, e) || !sample_profile(f, clip, e, 6, 5, profile)) continue;
    const double sigma = rough_sigma(profile);
    if (sigma > 2.2 &&
        !sample_profile(f, clip, e, std::min(4 * sigma, 11.0), std::min(3 * sigma, 11.0), profile))
      continue;
    const EdgeFit fit = fit_edge(profile);
    if (fit.residual > kWorstResidual || fit.sigma_px < kSharpestOptics_px ||
        fit.height < 0.3 * contrast.height())
      continue;
    fits.push_back({fit.sigma_px, normal_angle_deg(e), fit.halo});
  }
  return fits;
}

// The sharpest tenth: oblique surfaces, threads and overlaps only widen an edge. Of few edges that
// would be the luckiest fit, so not below the third.
double sharp_end(const std::vector<Fitted>& fits, double centre_deg, double half_width_deg,
                 std::size_t& count) {
  std::vector<float> sigmas;
  for (const Fitted& fit : fits) {
    const double off = std::abs(std::remainder(fit.angle_deg - centre_deg, 180.0));
    if (off <= half_width_deg) sigmas.push_back(static_cast<float>(fit.sigma_px));
  }
  count = sigmas.size();
  if (count < 3) return std::nan("");
  return quantile_of(sigmas, std::max(0.1, 2.0 / static_cast<double>(count - 1)));
}

constexpr double kSector_deg = 25;

// Mean normal within the sector; angles repeat after 180 degrees, so doubled ones are averaged.
double mean_angle_deg(const std::vector<Fitted>& fits, double centre_deg) {
  double c = 0, s = 0;
  for (const Fitted& fit : fits) {
    if (std::abs(std::remainder(fit.angle_deg - centre_deg, 180.0)) > kSector_deg) continue;
    c += std::cos(radians(2 * fit.angle_deg));
    s += std::sin(radians(2 * fit.angle_deg));
  }
  const double angle = degrees(std::atan2(s, c)) / 2;
  return angle < 0 ? angle + 180 : angle;
}

// Motion widens edges across its direction only: clearly longer blur one way than the other.
std::optional<double> motion_direction(const std::vector<Fitted>& fits) {
  std::optional<double> direction;
  double largest_ratio = 1.7;
  for (double angle = 0; angle < 180; angle += 15) {
    std::size_t along = 0, across = 0;
    const double a = sharp_end(fits, angle, kSector_deg, along);
    const double b = sharp_end(fits, angle + 90, kSector_deg, across);
    if (along < 12 || across < 12 || !(a > largest_ratio * b)) continue;
    largest_ratio = a / b;
    direction = mean_angle_deg(fits, angle);
  }
  return direction;
}

}  // namespace

Blur measure_blur(const Frame& f, const Content& c, const ClipLevels& clip,
                  const Contrast& contrast, const std::vector<ImplantShape>& implants) {
  Blur blur;
  if (!(contrast.height() > 0)) return blur;
  const std::vector<Fitted> fits =
      fit_edges(f, clip, contrast, find_edges(f, c, contrast, implants));
  blur.edges = static_cast<int>(fits.size());
  if (blur.edges < kLeastEdges) return blur;
  std::size_t count = 0;
  blur.sigma_px = sharp_end(fits, 0, 90, count);
  blur.motion_direction_deg = motion_direction(fits);
  std::vector<float> halos;
  for (const Fitted& fit : fits) halos.push_back(static_cast<float>(fit.halo));
  blur.halo = median_of(halos);
  return blur;
}

}  // namespace crestgate
