// Solids for the ray tracer: every shape answers with the stretches of a ray inside it.
// Lengths in mm; rays are given in the shape's own frame, t stays the world's ray parameter.
#pragma once
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>
#include <variant>
#include <vector>

#include "tests/support/scene.h"

namespace crestgate::phantom {

struct Vec {
  double x = 0.0, y = 0.0, z = 0.0;
};
inline Vec operator+(Vec a, Vec b) { return {a.x + b.x, a.y + b.y, a.z + b.z}; }
inline Vec operator-(Vec a, Vec b) { return {a.x - b.x, a.y - b.y, a.z - b.z}; }
inline Vec operator*(Vec a, double k) { return {a.x * k, a.y * k, a.z * k}; }
inline double dot(Vec a, Vec b) { return a.x * b.x + a.y * b.y + a.z * b.z; }
inline Vec cross(Vec a, Vec b) {
  return {a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
inline Vec unit(Vec a) { return a * (1.0 / std::sqrt(dot(a, a))); }

/// direction has unit length in the world, so that t is mm.
struct Ray {
  Vec origin, direction;
};

/// Right-handed axes (unit vectors) and an optional widening along them.
struct Pose {
  Vec origin, ex{1, 0, 0}, ey{0, 1, 0}, ez{0, 0, 1};
  Vec scale{1, 1, 1};
  Vec to_world(Vec p) const {
    return origin + ex * (p.x * scale.x) + ey * (p.y * scale.y) + ez * (p.z * scale.z);
  }
  Vec direction_in(Vec d) const {
    return {dot(d, ex) / scale.x, dot(d, ey) / scale.y, dot(d, ez) / scale.z};
  }
  Ray ray_in(const Ray& r) const {
    return {direction_in(r.origin - origin), direction_in(r.direction)};
  }
};

/// Ordered, disjoint stretches of a ray. Beyond the capacity the last one is lengthened.
class Spans {
 public:
  Spans() = default;
  Spans(const Spans& other) { *this = other; }
  Spans& operator=(const Spans& other) {  // only what is in use: this is the tracer's inner loop
    count_ = other.count_;
    std::copy_n(other.edges_.data(), 2 * count_, edges_.data());
    return *this;
  }
  void clear() { count_ = 0; }
  bool empty() const { return count_ == 0; }
  int count() const { return count_; }
  double from(int i) const { return edges_[2 * i]; }
  double to(int i) const { return edges_[2 * i + 1]; }
  /// Appends; from >= the last one's start. Touching or overlapping stretches become one.
  void add(double a, double b);
  double length() const;
  static void unite(const Spans& a, const Spans& b, Spans* out);
  static void subtract(const Spans& a, const Spans& b, Spans* out);

 private:
  static constexpr int kCapacity = 64;
  int count_ = 0;
  std::array<double, 2 * kCapacity> edges_;
};

/// Solid of revolution about z: piecewise linear radius over ascending z (equal z = a step).
class Lathe {
 public:
  struct Point {
    double z, r;
  };
  Lathe() = default;
  explicit Lathe(std::vector<Point> points);
  void intersect(const Ray& local, Spans* out) const;
  double radius(double z) const;
  double z_low() const { return points_.front().z; }
  double z_high() const { return points_.back().z; }
  double radius_max() const { return radius_max_; }
  bool empty() const { return points_.empty(); }

 private:
  std::vector<Point> points_;
  double radius_max_ = 0.0;
};

/// One threaded stretch of a body, z_low..z_high along its axis (z apical).
struct ThreadZone {
  double z_low, z_high;
  Thread thread;
};

/// Body of revolution with helical threads cut between an outer and a root surface:
/// r(z, f) = root + (outer - root) profile(z / pitch - starts f / 2 pi), so lead = pitch x starts.
class Threaded {
 public:
  Threaded(Lathe outer, Lathe root, std::vector<ThreadZone> zones);
  void intersect(const Ray& local, Spans* out) const;
  const Lathe& outer() const { return outer_; }
  double radius(double z, double azimuth_rad) const;

 private:
  /// A zone ready for the inner loop: phase = z * per_pitch - turns_per_turn * azimuth + offset.
  struct Cut {
    double z_low, z_high, per_pitch, per_turn, offset;
    std::vector<float> profile;  ///< over one pitch, closed
  };
  const Cut* cut_at(double z) const;
  void march(const Ray& local, double a, double b, Spans* out) const;
  Lathe outer_, root_;
  std::vector<Cut> cuts_;
  std::vector<float> table_outer_, table_root_;  ///< radius over z, for speed
  double step_mm_ = 0.06;
};

struct Box {
  Vec half;
  void intersect(const Ray& local, Spans* out) const;
};

struct Ellipsoid {
  Vec half;
  void intersect(const Ray& local, Spans* out) const;
};

using Shape = std::variant<Lathe, Threaded, Box, Ellipsoid>;

/// Half extents and centre of the shape's box in its own frame.
std::pair<Vec, Vec> bounds(const Shape& shape);

/// Thread profile over one pitch, phase 0 = centre of the crest: 1 at the crest, 0 at the root.
double thread_profile(const Thread& thread, double phase);

}  // namespace crestgate::phantom
