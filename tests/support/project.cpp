// The optics: one ray per pixel, more where metal edges or the joint need it.
#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "tests/support/attenuation.h"
#include "tests/support/render.h"
#include "tests/support/ridge.h"
#include "tests/support/scene_json.h"
#include "tests/support/view.h"
#include "tests/support/world.h"

namespace crestgate::phantom {
namespace {
/// A neighbour differing by more than this in -ln(transmission) asks for sub-rays.
constexpr float kEdge = 0.06F;
/// A strong edge: more of them, so that silhouettes are true to an eighth of a pixel.
constexpr float kStrongEdge = 0.5F;
enum Fineness : std::uint8_t { kPlain, kSub2x2, kSub2x4, kSub4x4 };

class Tracer {
 public:
  explicit Tracer(const Scene& scene)
      : view_(scene),
        ridge_(scene),
        bodies_(make_bodies(scene, view_, ridge_)),
        spectrum_(make_spectrum(scene.exposure)) {}

  using Row = std::vector<const Body*>;
  /// Bodies whose shadow touches a row.
  void row_bodies(int y, Row* out) const {
    out->clear();
    for (const Body& body : bodies_) {
      if (y >= body.y0 && y < body.y1) out->push_back(&body);
    }
  }

  float transmission(const Row& bodies, int x, double column, double row) const {
    const Ray ray = view_.ray(column, row);
    std::array<float, kMaterials> path{};
    Spans occupied, in, own, merged;
    occupied.clear();
    for (const Body* at : bodies) {
      const Body& body = *at;
      if (x < body.x0 || x >= body.x1) continue;
      const Ray local = body.pose.ray_in(ray);
      std::visit([&](const auto& shape) { shape.intersect(local, &in); }, body.shape);
      if (in.empty()) continue;
      if (occupied.empty()) {
        path[static_cast<int>(body.material)] += static_cast<float>(in.length());
        occupied = in;
        continue;
      }
      Spans::subtract(in, occupied, &own);
      path[static_cast<int>(body.material)] += static_cast<float>(own.length());
      Spans::unite(occupied, in, &merged);
      occupied = merged;
    }
    ridge_.add_paths(ray, occupied, &path);
    return spectrum_.transmission(path);
  }

  const View& view() const { return view_; }

 private:
  View view_;
  Ridge ridge_;
  std::vector<Body> bodies_;
  Spectrum spectrum_;
};

// Marks pixels near a joint: a gap of a hundredth of a millimetre shows on few rays.
void mark_joints(const Scene& scene, const View& view, std::vector<std::uint8_t>* fine) {
  const int columns = scene.detector.columns, rows = scene.detector.rows;
  for (const Implant& m : scene.implants) {
    if (m.abutment.form == AbutmentForm::none) continue;
    const Pose pose = pose_apical(m.place);
    const double r = m.platform_diameter_mm / 2;
    const double lift = m.gap.centre_mm + r * std::abs(std::tan(radians(m.gap.tilt_deg))) + 0.04;
    double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
    for (int i = 0; i < 32; ++i) {
      const double f = 2 * kPi * (i % 16) / 16;
      const Point p =
          view.pixel(pose.to_world({r * std::cos(f), r * std::sin(f), i < 16 ? -lift : 0.04}));
      x0 = std::min(x0, p.x);
      x1 = std::max(x1, p.x);
      y0 = std::min(y0, p.y);
      y1 = std::max(y1, p.y);
    }
    // Seen at a slant the gap's shadow is wider than a pixel and ordinary sub-rays do.
    const double slant = std::abs(dot(unit(pose.origin - view.source()), pose.ez));
    const std::uint8_t mark = slant < 0.05 ? kSub2x4 : kSub2x2;
    for (int y = std::max(0, int(y0) - 1); y < std::min(rows, int(y1) + 3); ++y) {
      for (int x = std::max(0, int(x0) - 1); x < std::min(columns, int(x1) + 3); ++x) {
        (*fine)[static_cast<std::size_t>(y) * columns + x] = mark;
      }
    }
  }
}

float average(const Tracer& tracer, const Tracer::Row& bodies, int x, int y, int nx, int ny) {
  float sum = 0.0F;
  for (int j = 0; j < ny; ++j) {
    for (int i = 0; i < nx; ++i) {
      sum += tracer.transmission(bodies, x, x + (i + 0.5) / nx - 0.5, y + (j + 0.5) / ny - 0.5);
    }
  }
  return sum / static_cast<float>(nx * ny);
}
}  // namespace

Projection project(const Scene& scene) {
  check(scene);
  const Tracer tracer(scene);
  Projection p;
  p.rows = scene.detector.rows;
  p.columns = scene.detector.columns;
  const std::size_t n = static_cast<std::size_t>(p.rows) * p.columns;
  std::vector<float> first(n), log_first(n);
  Tracer::Row bodies;
  for (int y = 0; y < p.rows; ++y) {
    tracer.row_bodies(y, &bodies);
    for (int x = 0; x < p.columns; ++x) {
      const std::size_t i = static_cast<std::size_t>(y) * p.columns + x;
      first[i] = tracer.transmission(bodies, x, x, y);
      log_first[i] = std::log(std::max(first[i], 1e-6F));
    }
  }
  std::vector<std::uint8_t> fine(n, kPlain);
  mark_joints(scene, tracer.view(), &fine);
  for (int y = 0; y < p.rows; ++y) {
    for (int x = 0; x < p.columns; ++x) {
      const std::size_t i = static_cast<std::size_t>(y) * p.columns + x;
      const auto edge = [&](std::size_t j) {
        const float step = std::abs(log_first[i] - log_first[j]);
        if (step <= kEdge) return;
        const std::uint8_t need = step > kStrongEdge ? kSub4x4 : kSub2x2;
        fine[i] = std::max(fine[i], need);
        fine[j] = std::max(fine[j], need);
      };
      if (x + 1 < p.columns) edge(i + 1);
      if (y + 1 < p.rows) edge(i + p.columns);
    }
  }
  p.transmission = std::move(first);
  for (int y = 0; y < p.rows; ++y) {
    tracer.row_bodies(y, &bodies);
    for (int x = 0; x < p.columns; ++x) {
      const std::size_t i = static_cast<std::size_t>(y) * p.columns + x;
      if (fine[i] == kPlain) continue;
      const int nx = fine[i] == kSub4x4 ? 4 : 2, ny = fine[i] == kSub2x2 ? 2 : 4;
      p.transmission[i] = average(tracer, bodies, x, y, nx, ny);
    }
  }
  return p;
}

}  // namespace crestgate::phantom
