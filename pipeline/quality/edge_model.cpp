#include "pipeline/quality/edge_model.h"

#include <array>
#include <cmath>

#include "config/units.h"

namespace crestgate {
namespace {

// Flank shapes by q = m sqrt(sigma): the profile in units of sigma. The last is a step.
constexpr std::array<double, 6> kShapes = {0.35, 0.7, 1.2, 2.2, 4.5, 1e9};
constexpr double kMostHalo = 3.0;
constexpr double kReach = 12.0, kStep = 0.02;
constexpr int kTable = static_cast<int>(2 * kReach / kStep) + 1;

using Tables = std::array<std::array<float, kTable>, kShapes.size()>;

double raw_shape(std::size_t shape, double s) {
  return s <= 0 ? 0.0 : 1 - std::exp(-kShapes[shape] * std::sqrt(s));
}

// Convolution with the unit Gaussian by quadrature in the depth s, graded towards the edge.
Tables make_tables() {
  Tables tables{};
  for (std::size_t shape = 0; shape < kShapes.size(); ++shape)
    for (int i = 0; i < kTable; ++i) {
      const double x = -kReach + i * kStep;
      if (shape + 1 == kShapes.size()) {
        tables[shape][static_cast<std::size_t>(i)] =
            static_cast<float>(0.5 * std::erfc(-x / std::sqrt(2.0)));
        continue;
      }
      double sum = 0;
      const double ds = 0.1;
      for (double s = std::max(0.0, x - 6); s < x + 6; s += ds)
        sum += raw_shape(shape, s + ds / 2) * std::exp(-0.5 * (x - s - ds / 2) * (x - s - ds / 2));
      tables[shape][static_cast<std::size_t>(i)] =
          static_cast<float>(sum * ds / std::sqrt(2 * kPi));
    }
  return tables;
}

double lookup(const std::array<float, kTable>& table, double t) {
  const double at = (t + kReach) / kStep;
  if (at <= 0) return table.front();
  if (at >= kTable - 1) return table.back();
  const auto i = static_cast<std::size_t>(at);
  return table[i] + (at - static_cast<double>(i)) * (table[i + 1] - table[i]);
}

// Normal equations of value = B + C f, or with the halo term = B + C f + H g.
struct Linear {
  double n = 0, f = 0, g = 0, y = 0, ff = 0, fg = 0, gg = 0, fy = 0, gy = 0, yy = 0;
  void add(double fi, double gi, double yi) {
    n += 1, f += fi, g += gi, y += yi;
    ff += fi * fi, fg += fi * gi, gg += gi * gi, fy += fi * yi, gy += gi * yi, yy += yi * yi;
  }
};

struct Solution {
  double height = 0, halo = 0, sum_squares = 1e300;
};

Solution solve(const Linear& l) {
  const double ff = l.ff - l.f * l.f / l.n, fg = l.fg - l.f * l.g / l.n,
               gg = l.gg - l.g * l.g / l.n;
  const double fy = l.fy - l.f * l.y / l.n, gy = l.gy - l.g * l.y / l.n,
               yy = l.yy - l.y * l.y / l.n;
  Solution s;
  const double det = ff * gg - fg * fg;
  if (det > 1e-9 * ff * gg) {
    s.height = (fy * gg - gy * fg) / det;
    s.halo = (gy * ff - fy * fg) / det;
    s.sum_squares = yy - s.height * fy - s.halo * gy;
  }
  // Unsharp masking only adds, and by a few times at most: else the plain edge is fitted.
  if (s.halo <= 0 || s.height <= 0 || s.halo > kMostHalo * s.height) {
    s.height = ff > 0 ? fy / ff : 0;
    s.halo = 0;
    s.sum_squares = yy - s.height * fy;
  }
  return s;
}

struct Trial {
  double sigma = 1, centre = 0, radius = 2;
  std::size_t shape = 0;
};

class Search {
 public:
  explicit Search(const Profile& profile) : profile_(profile) {}

  void evaluate(const Trial& t) {
    const double wide = std::hypot(t.sigma, t.radius);
    Linear l;
    for (std::size_t i = 0; i < profile_.x_px.size(); ++i) {
      const double x = profile_.x_px[i] - t.centre;
      const double f = lookup(tables()[t.shape], x / t.sigma);
      l.add(f, f - lookup(tables()[t.shape], x / wide), profile_.value[i]);
    }
    const Solution s = solve(l);
    if (!(s.sum_squares < least_) || s.height <= 0) return;
    least_ = s.sum_squares;
    best_ = t;
    const double n = static_cast<double>(profile_.x_px.size());
    fit_ = {t.sigma, s.halo / s.height, s.height, std::sqrt(std::max(0.0, least_) / n) / s.height};
  }
  const Trial& best() const { return best_; }
  const EdgeFit& fit() const { return fit_; }

 private:
  static const Tables& tables() {
    static const Tables made = make_tables();
    return made;
  }
  const Profile& profile_;
  Trial best_;
  EdgeFit fit_;
  double least_ = 1e300;
};

}  // namespace

EdgeFit fit_edge(const Profile& profile) {
  Search search(profile);
  for (double sigma = 0.4; sigma < 8; sigma *= 1.25)
    for (std::size_t shape = 0; shape < kShapes.size(); ++shape)
      for (double centre = -2.0; centre <= 2.01; centre += 0.5)
        search.evaluate({sigma, centre, 3.0, shape});
  const Trial coarse = search.best();
  for (double step = -4; step <= 4; ++step)
    for (int shape = -1; shape <= 1; ++shape) {
      const int index = static_cast<int>(coarse.shape) + shape;
      if (index < 0 || index >= static_cast<int>(kShapes.size())) continue;
      for (double centre = -0.5; centre <= 0.51; centre += 0.125)
        for (double radius : {2.0, 4.5})
          search.evaluate({coarse.sigma * std::pow(1.06, step), coarse.centre + centre, radius,
                           static_cast<std::size_t>(index)});
    }
  return search.fit();
}

}  // namespace crestgate
