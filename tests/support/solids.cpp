#include "tests/support/solids.h"

#include <algorithm>

namespace crestgate::phantom {
namespace {
constexpr double kTouch = 1e-9;  // mm; stretches this close are one

struct Interval {
  double a, b;
  bool empty() const { return !(a < b); }
};

Interval slab(double o, double d, double low, double high) {
  if (std::abs(d) < 1e-15) return o >= low && o <= high ? Interval{-1e9, 1e9} : Interval{0, 0};
  double a = (low - o) / d, b = (high - o) / d;
  if (a > b) std::swap(a, b);
  return {a, b};
}

Interval clip(Interval i, Interval j) { return {std::max(i.a, j.a), std::min(i.b, j.b)}; }

// Frustum r(z) = r0 + k (z - z0): lateral quadratic, already clipped by the slab in z.
Interval frustum(const Ray& ray, Lathe::Point p, Lathe::Point q, Interval in_slab) {
  const Vec &o = ray.origin, &d = ray.direction;
  const double k = (q.r - p.r) / (q.z - p.z), r_o = p.r + k * (o.z - p.z), r_d = k * d.z;
  const double A = d.x * d.x + d.y * d.y - r_d * r_d;
  const double B = o.x * d.x + o.y * d.y - r_o * r_d;
  const double C = o.x * o.x + o.y * o.y - r_o * r_o;
  const double D = B * B - A * C;
  if (std::abs(A) < 1e-14) {
    if (std::abs(B) < 1e-14) return C <= 0 ? in_slab : Interval{0, 0};
    const double t = -C / (2 * B);
    return clip(in_slab, B > 0 ? Interval{-1e9, t} : Interval{t, 1e9});
  }
  if (A > 0) {
    if (D <= 0) return {0, 0};
    const double s = std::sqrt(D);
    return clip(in_slab, {(-B - s) / A, (-B + s) / A});
  }
  if (D <= 0) return in_slab;
  // Flatter than the ray: inside lies beyond either root; within the slab only one side is real.
  const double s = std::sqrt(D), t1 = (-B + s) / A, t2 = (-B - s) / A;
  const Interval first = clip(in_slab, {-1e9, t1}), second = clip(in_slab, {t2, 1e9});
  return first.empty() ? second : first;
}
}  // namespace

void Spans::add(double a, double b) {
  if (!(a < b)) return;
  if (count_ > 0 && (a <= edges_[2 * count_ - 1] + kTouch || count_ == kCapacity)) {
    edges_[2 * count_ - 1] = std::max(edges_[2 * count_ - 1], b);
    return;
  }
  edges_[2 * count_] = a;
  edges_[2 * count_ + 1] = b;
  ++count_;
}

double Spans::length() const {
  double sum = 0.0;
  for (int i = 0; i < count_; ++i) sum += to(i) - from(i);
  return sum;
}

void Spans::unite(const Spans& a, const Spans& b, Spans* out) {
  out->clear();
  int i = 0, j = 0;
  while (i < a.count_ || j < b.count_) {
    if (j == b.count_ || (i < a.count_ && a.from(i) <= b.from(j))) {
      out->add(a.from(i), a.to(i));
      ++i;
    } else {
      out->add(b.from(j), b.to(j));
      ++j;
    }
  }
}

void Spans::subtract(const Spans& a, const Spans& b, Spans* out) {
  out->clear();
  int j = 0;
  for (int i = 0; i < a.count_; ++i) {
    double start = a.from(i);
    while (j < b.count_ && b.to(j) <= start) ++j;
    for (int k = j; k < b.count_ && b.from(k) < a.to(i); ++k) {
      out->add(start, b.from(k));
      start = std::max(start, b.to(k));
    }
    out->add(start, a.to(i));
  }
}

Lathe::Lathe(std::vector<Point> points) : points_(std::move(points)) {
  for (const Point& p : points_) radius_max_ = std::max(radius_max_, p.r);
}

double Lathe::radius(double z) const {
  if (points_.empty() || z < z_low() || z > z_high()) return 0.0;
  for (std::size_t i = 1; i < points_.size(); ++i) {
    const Point &p = points_[i - 1], &q = points_[i];
    if (z <= q.z && q.z > p.z) return p.r + (q.r - p.r) * (z - p.z) / (q.z - p.z);
  }
  return points_.back().r;
}

void Lathe::intersect(const Ray& ray, Spans* out) const {
  out->clear();
  if (points_.size() < 2) return;
  const Vec &o = ray.origin, &d = ray.direction;
  const double A = d.x * d.x + d.y * d.y, B = o.x * d.x + o.y * d.y;
  const double C = o.x * o.x + o.y * o.y - radius_max_ * radius_max_;
  Interval hull = slab(o.z, d.z, z_low(), z_high());
  if (A > 1e-15) {
    const double D = B * B - A * C;
    if (D <= 0) return;
    const double s = std::sqrt(D);
    hull = clip(hull, {(-B - s) / A, (-B + s) / A});
  } else if (C > 0) {
    return;
  }
  if (hull.empty()) return;
  double za = o.z + hull.a * d.z, zb = o.z + hull.b * d.z;
  if (za > zb) std::swap(za, zb);
  const int n = static_cast<int>(points_.size()) - 1;
  for (int step = 0; step < n; ++step) {
    const int i = d.z >= 0 ? step : n - 1 - step;
    const Point &p = points_[i], &q = points_[i + 1];
    if (q.z <= p.z || q.z < za || p.z > zb) continue;
    const Interval in = frustum(ray, p, q, clip(hull, slab(o.z, d.z, p.z, q.z)));
    if (!in.empty()) out->add(in.a, in.b);
  }
}

void Box::intersect(const Ray& ray, Spans* out) const {
  out->clear();
  const Vec &o = ray.origin, &d = ray.direction;
  const Interval i = clip(clip(slab(o.x, d.x, -half.x, half.x), slab(o.y, d.y, -half.y, half.y)),
                          slab(o.z, d.z, -half.z, half.z));
  if (!i.empty()) out->add(i.a, i.b);
}

void Ellipsoid::intersect(const Ray& ray, Spans* out) const {
  out->clear();
  const Vec o{ray.origin.x / half.x, ray.origin.y / half.y, ray.origin.z / half.z};
  const Vec d{ray.direction.x / half.x, ray.direction.y / half.y, ray.direction.z / half.z};
  const double A = dot(d, d), B = dot(o, d), D = B * B - A * (dot(o, o) - 1.0);
  if (D <= 0) return;
  const double s = std::sqrt(D);
  out->add((-B - s) / A, (-B + s) / A);
}

std::pair<Vec, Vec> bounds(const Shape& shape) {
  const auto of_lathe = [](const Lathe& l) {
    const double r = l.radius_max();
    return std::pair<Vec, Vec>{{0, 0, (l.z_low() + l.z_high()) / 2},
                               {r, r, (l.z_high() - l.z_low()) / 2}};
  };
  if (const auto* lathe = std::get_if<Lathe>(&shape)) return of_lathe(*lathe);
  if (const auto* threaded = std::get_if<Threaded>(&shape)) return of_lathe(threaded->outer());
  if (const auto* box = std::get_if<Box>(&shape)) return {{}, box->half};
  return {{}, std::get<Ellipsoid>(shape).half};
}

}  // namespace crestgate::phantom
