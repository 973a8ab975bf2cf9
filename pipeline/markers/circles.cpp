#include "pipeline/markers/circles.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "config/units.h"
#include "pipeline/image/strip.h"

namespace crestgate {
namespace {

struct Small {
  int columns = 0, rows = 0, factor = 1;
  std::vector<float> values;
  float at(int x, int y) const { return values[static_cast<std::size_t>(y) * columns + x]; }
};

Small reduced(const Frame& frame, int factor) {
  Small s{frame.columns / factor, frame.rows / factor, factor, {}};
  s.values.resize(static_cast<std::size_t>(s.columns) * s.rows);
  for (int y = 0; y < s.rows; ++y)
    for (int x = 0; x < s.columns; ++x) {
      float sum = 0;
      for (int j = 0; j < factor; ++j)
        for (int i = 0; i < factor; ++i) sum += frame.at(x * factor + i, y * factor + j);
      s.values[static_cast<std::size_t>(y) * s.columns + x] =
          sum / static_cast<float>(factor * factor);
    }
  return s;
}

/// Votes for centres one radius uphill of every edge, weighted by nothing: a faint ball's outline
/// counts as much as a crown's.
std::vector<float> votes(const Small& s, double radius, float least_gradient) {
  std::vector<float> all(s.values.size(), 0.0F);
  for (int y = 1; y < s.rows - 1; ++y)
    for (int x = 1; x < s.columns - 1; ++x) {
      const float gx = s.at(x + 1, y) - s.at(x - 1, y), gy = s.at(x, y + 1) - s.at(x, y - 1);
      const float size = std::hypot(gx, gy);
      if (size < least_gradient) continue;
      for (double r = radius - 1; r <= radius + 1; r += 1) {
        const int cx = static_cast<int>(std::lround(x + r * gx / size));
        const int cy = static_cast<int>(std::lround(y + r * gy / size));
        if (cx >= 0 && cy >= 0 && cx < s.columns && cy < s.rows)
          all[static_cast<std::size_t>(cy) * s.columns + cx] += 1;
      }
    }
  return all;
}

struct Peak {
  Point centre;  ///< px at full resolution
  double radius_px, share;
};

void add_peaks(const Small& s, const std::vector<float>& all, double radius,
               std::vector<Peak>* peaks) {
  for (int y = 2; y < s.rows - 2; ++y)
    for (int x = 2; x < s.columns - 2; ++x) {
      double sum = 0;
      for (int j = -2; j <= 2; ++j)
        for (int i = -2; i <= 2; ++i)
          sum += all[static_cast<std::size_t>(y + j) * s.columns + x + i];
      // Three radii share the votes of an outline some two pixels wide.
      const double share = sum / (2 * kPi * radius);
      if (share > 0.9)
        peaks->push_back(
            {{(x + 0.5) * s.factor - 0.5, (y + 0.5) * s.factor - 0.5}, radius * s.factor, share});
    }
}

/// Distance from `centre` of the steepest fall outwards, refined by a parabola.
std::optional<double> edge_along(const Frame& frame, Point centre, double angle, double radius) {
  std::vector<double> fall;
  const double from = 0.5 * radius, to = 1.5 * radius, step = 0.5;
  const double c = std::cos(angle), s = std::sin(angle);
  const double half = std::max(1.0, 0.08 * radius);
  for (double r = from; r <= to; r += step) {
    const float in = interpolate(frame, {centre.x + (r - half) * c, centre.y + (r - half) * s});
    const float out = interpolate(frame, {centre.x + (r + half) * c, centre.y + (r + half) * s});
    fall.push_back(in - out);
  }
  const auto best = std::max_element(fall.begin(), fall.end());
  if (best == fall.begin() || best == fall.end() - 1 || !(*best > 0)) return {};
  const double a = *(best - 1), b = *best, d = *(best + 1), bend = a - 2 * b + d;
  const double shift = bend < 0 ? 0.5 * (a - d) / bend : 0.0;
  return from + step * (static_cast<double>(best - fall.begin()) + shift);
}

/// Solves the 3 x 3 normal equations of x^2 + y^2 = a x + b y + c (Kasa, IEEE Trans Instrum Meas
/// 1976;25:8), about the centre of the points.
Circle circle_through(const std::vector<Point>& points, Point near) {
  double sxx = 0, sxy = 0, syy = 0, sx = 0, sy = 0, sxz = 0, syz = 0, sz = 0;
  const double n = static_cast<double>(points.size());
  for (const Point& p : points) {
    const double x = p.x - near.x, y = p.y - near.y, z = x * x + y * y;
    sxx += x * x, sxy += x * y, syy += y * y, sx += x, sy += y;
    sxz += x * z, syz += y * z, sz += z;
  }
  const double mxx = sxx - sx * sx / n, mxy = sxy - sx * sy / n, myy = syy - sy * sy / n;
  const double mxz = sxz - sx * sz / n, myz = syz - sy * sz / n, det = mxx * myy - mxy * mxy;
  Circle circle;
  if (std::abs(det) < 1e-9) return circle;
  const double a = (mxz * myy - myz * mxy) / det, b = (myz * mxx - mxz * mxy) / det;
  const double c = (sz - a * sx - b * sy) / n;
  circle.centre = {near.x + a / 2, near.y + b / 2};
  circle.radius_px = std::sqrt(std::max(0.0, c + a * a / 4 + b * b / 4));
  double squares = 0;
  for (const Point& p : points)
    squares +=
        std::pow(std::hypot(p.x - circle.centre.x, p.y - circle.centre.y) - circle.radius_px, 2);
  circle.residual_px = std::sqrt(squares / n);
  return circle;
}

std::optional<Circle> refined(const Frame& frame, const Peak& peak) {
  constexpr int kDirections = 72;
  Circle circle{peak.centre, peak.radius_px, 0};
  for (int pass = 0; pass < 4; ++pass) {
    std::vector<Point> points;
    for (int i = 0; i < kDirections; ++i) {
      const double angle = 2 * kPi * i / kDirections;
      const auto r = edge_along(frame, circle.centre, angle, circle.radius_px);
      const double reach = pass == 0 ? 0.35 : 0.08;
      if (r && std::abs(*r - circle.radius_px) < std::max(1.5, reach * circle.radius_px))
        points.push_back(
            {circle.centre.x + *r * std::cos(angle), circle.centre.y + *r * std::sin(angle)});
    }
    if (4 * static_cast<int>(points.size()) < 3 * kDirections) return {};
    circle = circle_through(points, circle.centre);
    if (circle.radius_px < 0.5 * peak.radius_px || circle.radius_px > 2 * peak.radius_px) return {};
  }
  if (circle.residual_px > std::max(0.4, 0.04 * circle.radius_px)) return {};
  return circle;
}

}  // namespace

std::vector<Circle> find_discs(const Frame& frame, double least_radius_px, double most_radius_px) {
  std::vector<Circle> found;
  if (frame.empty() || least_radius_px < 3 || most_radius_px < least_radius_px) return found;
  for (double radius = least_radius_px; radius <= most_radius_px * 1.05; radius *= 1.12) {
    const int factor = std::max(1, static_cast<int>(radius / 8));
    const Small small = reduced(frame, factor);
    std::vector<float> sizes;
    for (std::size_t i = 1; i < small.values.size(); i += 3)
      sizes.push_back(std::abs(small.values[i] - small.values[i - 1]));
    if (sizes.size() < 100) continue;
    const auto high = sizes.begin() + static_cast<std::ptrdiff_t>(0.8 * sizes.size());
    std::nth_element(sizes.begin(), high, sizes.end());
    std::vector<Peak> peaks;
    add_peaks(small, votes(small, radius / factor, 2 * *high + 1e-6F), radius / factor, &peaks);
    std::sort(peaks.begin(), peaks.end(),
              [](const Peak& a, const Peak& b) { return a.share > b.share; });
    int tried = 0;
    std::vector<Point> seen;
    for (const Peak& peak : peaks) {
      const auto near = [&](Point p) {
        return std::hypot(p.x - peak.centre.x, p.y - peak.centre.y) < 0.7 * radius;
      };
      if (std::any_of(seen.begin(), seen.end(), near)) continue;
      if (++tried > 12) break;
      seen.push_back(peak.centre);
      const auto circle = refined(frame, peak);
      if (!circle || circle->radius_px < least_radius_px || circle->radius_px > most_radius_px)
        continue;
      const auto same = std::find_if(found.begin(), found.end(), [&](const Circle& c) {
        return std::hypot(c.centre.x - circle->centre.x, c.centre.y - circle->centre.y) <
               0.5 * circle->radius_px;
      });
      if (same == found.end())
        found.push_back(*circle);
      else if (circle->residual_px < same->residual_px)
        *same = *circle;
    }
  }
  std::sort(found.begin(), found.end(), [](const Circle& a, const Circle& b) {
    return a.residual_px / a.radius_px < b.residual_px / b.radius_px;
  });
  if (found.size() > 10) found.resize(10);
  return found;
}

}  // namespace crestgate
