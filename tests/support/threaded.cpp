// The helical part of solids.h. A ray through a threaded body lies inside the root surface, outside
// the outer surface, or in between, where the crests are found by small steps and a secant.
#include <algorithm>

#include "config/units.h"
#include "tests/support/solids.h"

namespace crestgate::phantom {
namespace {
constexpr int kTable = 1024, kProfile = 512;

// atan2 / 2 pi in turns; error below 2e-5 turns (a polynomial for atan on 0..1, minimax, checked by
// the thread test), i.e. 0.03 um of a 1.2 mm lead.
inline double turns(double y, double x) {
  const double ax = std::abs(x), ay = std::abs(y);
  const double hi = std::max(ax, ay), lo = std::min(ax, ay);
  if (hi == 0.0) return 0.0;
  const double a = lo / hi, s = a * a;
  double r = ((((0.0208351 * s - 0.0851330) * s + 0.1801410) * s - 0.3302995) * s + 0.9998660) * a;
  if (ay > ax) r = kPi / 2 - r;
  if (x < 0) r = kPi - r;
  if (y < 0) r = -r;
  return r / (2 * kPi);
}

inline double profile_at(const std::vector<float>& profile, double phase) {
  // Phases stay within some hundred turns; std::floor is a call on plain x86-64.
  const double f = (phase + 4096.0 - static_cast<int>(phase + 4096.0)) * kProfile;
  const int i = static_cast<int>(f);
  return profile[i] + (profile[i + 1] - profile[i]) * (f - i);
}

struct Trapezoid {
  double crest, apical_flank, coronal_flank;  // widths as shares of the pitch
};

// Common practice shapes; phase grows towards apical.
Trapezoid trapezoid(const Thread& t) {
  const double c = t.crest_fraction, rest = 1.0 - c;
  switch (t.form) {
    case ThreadForm::v:
      return {c, 0.46 * rest, 0.46 * rest};
    case ThreadForm::buttress:
      return {c, 0.68 * rest, 0.12 * rest};
    case ThreadForm::reverse_buttress:
      return {c, 0.12 * rest, 0.68 * rest};
    case ThreadForm::square:
      return {std::max(c, 0.35), 0.05, 0.05};
    case ThreadForm::fins:
      return {std::min(c, 0.14), 0.07, 0.07};
    case ThreadForm::rounded:
    case ThreadForm::none:
      break;
  }
  return {c, 0.5 * rest, 0.5 * rest};
}
}  // namespace

double thread_profile(const Thread& thread, double phase) {
  double f = phase - std::floor(phase);
  if (thread.form == ThreadForm::none) return 1.0;
  if (thread.form == ThreadForm::rounded) return 0.5 + 0.5 * std::cos(2 * kPi * f);
  if (f > 0.5) f -= 1.0;
  const Trapezoid t = trapezoid(thread);
  // Measured from the crest's edges; the apical flank follows at larger phase.
  const double beyond_apical = f - t.crest / 2, beyond_coronal = -f - t.crest / 2;
  if (beyond_apical <= 0 && beyond_coronal <= 0) return 1.0;
  const auto value = [&](double apical, double coronal) {
    const double a = apical > 0 ? 1.0 - apical / t.apical_flank : 0.0;
    const double c = coronal > 0 ? 1.0 - coronal / t.coronal_flank : 0.0;
    return std::max(a, c);
  };
  // A long flank may reach past half a pitch: look from the neighbouring crest too.
  const double near = value(beyond_apical, beyond_coronal);
  const double other =
      f > 0 ? value(0.0, 1.0 - f - t.crest / 2) : value(1.0 + f - t.crest / 2, 0.0);
  return std::clamp(std::max(near, other), 0.0, 1.0);
}

Threaded::Threaded(Lathe outer, Lathe root, std::vector<ThreadZone> zones)
    : outer_(std::move(outer)), root_(std::move(root)) {
  for (int i = 0; i < kTable; ++i) {
    const double z = outer_.z_low() + (outer_.z_high() - outer_.z_low()) * (i + 0.5) / kTable;
    table_outer_.push_back(static_cast<float>(outer_.radius(z)));
    table_root_.push_back(static_cast<float>(root_.radius(z)));
  }
  for (const ThreadZone& zone : zones) {
    const Thread& t = zone.thread;
    Cut cut{zone.z_low, zone.z_high, 1.0 / t.pitch_mm, t.starts * (t.right_handed ? 1.0 : -1.0),
            0.0,        {}};
    cut.offset = -zone.z_low / t.pitch_mm - t.starts * t.phase_deg / 360.0;
    for (int i = 0; i <= kProfile; ++i) {
      cut.profile.push_back(static_cast<float>(thread_profile(t, i / double(kProfile))));
    }
    cuts_.push_back(std::move(cut));
    step_mm_ = std::min(step_mm_, 0.25 * std::max(t.depth_mm, 0.08));
  }
}

const Threaded::Cut* Threaded::cut_at(double z) const {
  for (const Cut& cut : cuts_) {
    if (z >= cut.z_low && z <= cut.z_high) return &cut;
  }
  return nullptr;
}

double Threaded::radius(double z, double azimuth_rad) const {
  const Cut* cut = cut_at(z);
  if (cut == nullptr) return outer_.radius(z);
  const double phase = z * cut->per_pitch - cut->per_turn * azimuth_rad / (2 * kPi) + cut->offset;
  const double root = root_.radius(z);
  return root + (outer_.radius(z) - root) * profile_at(cut->profile, phase);
}

void Threaded::march(const Ray& ray, double a, double b, Spans* out) const {
  if (!(b - a > 1e-9)) return;
  const double per_z = kTable / (outer_.z_high() - outer_.z_low());
  const auto outside = [&](double t) {  // > 0: outside the metal, mm
    const double x = ray.origin.x + t * ray.direction.x, y = ray.origin.y + t * ray.direction.y;
    const double z = ray.origin.z + t * ray.direction.z;
    const int i = std::clamp(static_cast<int>((z - outer_.z_low()) * per_z), 0, kTable - 1);
    double r = table_outer_[i];
    if (const Cut* cut = cut_at(z)) {
      const double phase = z * cut->per_pitch - cut->per_turn * turns(y, x) + cut->offset;
      r = table_root_[i] + (r - table_root_[i]) * profile_at(cut->profile, phase);
    }
    return std::sqrt(x * x + y * y) - r;
  };
  const int steps = std::clamp(static_cast<int>(std::ceil((b - a) / step_mm_)), 2, 400);
  const double h = (b - a) / steps;
  // A little in from the ends: on the surfaces themselves the sign is a matter of rounding.
  double t0 = a, f0 = outside(a + 1e-3 * h), start = a;
  for (int i = 1; i <= steps; ++i) {
    const double t1 = i == steps ? b : a + i * h;
    const double f1 = outside(i == steps ? b - 1e-3 * h : t1);
    if ((f0 <= 0) != (f1 <= 0)) {
      const double root = t0 + (t1 - t0) * f0 / (f0 - f1);
      if (f0 <= 0) {
        out->add(start, root);
      } else {
        start = root;
      }
    }
    if (i == steps && f1 <= 0) out->add(start, b);
    t0 = t1;
    f0 = f1;
  }
}

void Threaded::intersect(const Ray& ray, Spans* out) const {
  out->clear();
  Spans hull, inner;
  outer_.intersect(ray, &hull);
  if (hull.empty()) return;
  bool threaded = false;
  for (const Cut& cut : cuts_) {
    const double za = ray.origin.z + hull.from(0) * ray.direction.z;
    const double zb = ray.origin.z + hull.to(hull.count() - 1) * ray.direction.z;
    threaded |= std::max(za, zb) > cut.z_low && std::min(za, zb) < cut.z_high;
  }
  if (!threaded) {
    *out = hull;
    return;
  }
  root_.intersect(ray, &inner);
  int j = 0;
  for (int i = 0; i < hull.count(); ++i) {
    double cursor = hull.from(i);
    for (; j < inner.count() && inner.to(j) <= hull.to(i) + 1e-6; ++j) {
      march(ray, cursor, inner.from(j), out);
      out->add(inner.from(j), inner.to(j));
      cursor = std::max(cursor, inner.to(j));
    }
    march(ray, cursor, hull.to(i), out);
  }
}

}  // namespace crestgate::phantom
