#include "tests/support/ridge.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "tests/support/view.h"
#include "tests/support/world.h"

namespace crestgate::phantom {
namespace {
double smooth(double f) {
  f = std::clamp(f, 0.0, 1.0);
  return f * f * (3 - 2 * f);
}

struct Flanks {
  double left_x, left_z, right_x, right_z;  // where the wanted crest meets the flank lines
};

Flanks flanks_of(const Implant& m, const Bone& b) {
  const Pose pose = pose_apical(m.place);
  const auto radius = [&](double level) {
    return level < m.bevel_mm ? m.platform_diameter_mm / 2
                              : flank_radius_mm(m, std::min(level, m.length_mm));
  };
  const double rl = radius(b.crest_left_mm), rr = radius(b.crest_right_mm);
  const Vec l = pose.to_world({-rl, 0, b.crest_left_mm});
  const Vec r = pose.to_world({rr, 0, b.crest_right_mm});
  return {l.x, l.z, r.x, r.z};
}

double left_of(const Spans& spans, const Spans& occupied) {
  if (occupied.empty()) return spans.length();
  Spans rest;
  Spans::subtract(spans, occupied, &rest);
  return rest.length();
}

// The stretch between two depths, narrowed about its middle, minus what is occupied; mm.
double free_length(const Ray& ray, const Spans& occupied, double y0, double y1, double share) {
  const double a = (y0 - ray.origin.y) / ray.direction.y, b = (y1 - ray.origin.y) / ray.direction.y;
  const double middle = (a + b) / 2, half = share * (b - a) / 2;
  Spans slab;
  slab.add(middle - half, middle + half);
  return left_of(slab, occupied);
}

Vec at_depth(const Ray& ray, double y) {
  const double t = (y - ray.origin.y) / ray.direction.y;
  return {ray.origin.x + t * ray.direction.x, y, ray.origin.z + t * ray.direction.z};
}

void add(Material material, double mm, std::array<float, kMaterials>* path) {
  (*path)[static_cast<int>(material)] += static_cast<float>(mm);
}

}  // namespace

Ridge::Ridge(const Scene& scene) : bone_(scene.bone), implants_(scene.implants) {
  std::sort(implants_.begin(), implants_.end(),
            [](const Implant& a, const Implant& b) { return a.place.x_mm < b.place.x_mm; });
  Random random(scene.detector.seed * 7919 + 11);
  const double phase1 = random.uniform(0, 6.28), phase2 = random.uniform(0, 6.28);
  const double phase3 = random.uniform(0, 6.28);
  plate_phase_ = random.uniform(0, 6.28);
  for (int i = 0; i * kStep < 2 * kReach; ++i) {
    const double x = -kReach + i * kStep;
    double nearest = 1e9;
    for (const Implant& m : implants_) {
      const Flanks f = flanks_of(m, bone_);
      nearest = std::min(nearest, std::max({f.left_x - x, x - f.right_x, 0.0}));
    }
    // The crest line wanders, but not where the truth is taken.
    const double wander = 0.8 * std::sin(1.1 * x + phase1) + 0.7 * std::sin(2.3 * x + phase2) +
                          0.6 * std::sin(5.1 * x + phase3);
    const double z =
        smooth_crest_z(x) + bone_.roughness_mm * wander * smooth((nearest - 0.2) / 1.0);
    table_.push_back(static_cast<float>(z));
  }
  for (int i = 0; i < 3; ++i) {
    texture_[i] = NoiseTile(scene.detector.seed * 31 + i, bone_.texture_size_mm * (0.8 + 0.25 * i));
  }
}

double Ridge::smooth_crest_z(double x) const {
  const double ol = -bone_.outer_left_mm, orr = -bone_.outer_right_mm;
  if (implants_.empty()) return ol + (orr - ol) * smooth((x + 5) / 10);
  for (std::size_t i = 0; i < implants_.size(); ++i) {
    const Flanks f = flanks_of(implants_[i], bone_);
    if (x >= f.left_x && x <= f.right_x) {
      return f.left_z + (f.right_z - f.left_z) * (x - f.left_x) / (f.right_x - f.left_x);
    }
    const bool to_left = x < f.left_x;
    double reach = 5.0, outer = to_left ? ol : orr;
    if (to_left && i > 0) {
      const Flanks before = flanks_of(implants_[i - 1], bone_);
      reach = std::clamp((f.left_x - before.right_x) / 2, 0.3, 5.0);
      if (x < f.left_x - reach) continue;
      outer = (ol + orr) / 2;
    } else if (!to_left && i + 1 < implants_.size()) {
      const Flanks after = flanks_of(implants_[i + 1], bone_);
      reach = std::clamp((after.left_x - f.right_x) / 2, 0.3, 5.0);
      if (x > f.right_x + reach) continue;
      outer = (ol + orr) / 2;
    }
    const double s = to_left ? f.left_x - x : x - f.right_x;
    const double depth = to_left ? bone_.saucer_depth_left_mm : bone_.saucer_depth_right_mm;
    const double funnel = 1.0 - std::min(1.0, s / std::max(bone_.saucer_width_mm, 0.05));
    const double rim = (to_left ? f.left_z : f.right_z) + depth;  // z is coronal
    return rim + (outer - rim) * smooth(s / reach) - depth * funnel * std::sqrt(funnel);
  }
  return (ol + orr) / 2;
}

double Ridge::crest_z(double x) const {
  const double f = std::clamp((x + kReach) / kStep, 0.0, table_.size() - 2.0);
  const int i = static_cast<int>(f);
  return table_[i] + (table_[i + 1] - table_[i]) * (f - i);
}

double Ridge::plate_share(double x, double z, double drop, double phase) const {
  const double wave = 1.0 + 0.45 * std::sin(0.8 * x + phase) + 0.25 * std::sin(2.1 * x + 2 * phase);
  const double below = crest_z(x) - drop * wave - z;
  if (below <= 0) return 0.0;
  return smooth(below / std::max(0.6 * bone_.slope_mm, 0.02));
}

// The trabecular core's top is half an ellipse across the ridge, slope_mm high, its crown on the
// crest line at mid-depth; a ray that is turned up or down meets it elsewhere than at mid-depth.
Spans Ridge::core_of(const Ray& ray, double y0, double y1) const {
  const double centre = (y0 + y1) / 2, half = (y1 - y0) / 2;
  const double height = std::max(bone_.slope_mm, 0.02);
  const auto above = [&](double y) {  // of the ellipse's centre line
    const Vec p = at_depth(ray, y);
    return p.z - crest_z(p.x) + height;
  };
  // Along the ray that is a + b (y - centre): the crest line is straight enough over the ridge.
  const double at0 = above(y0), at1 = above(y1);
  const double a = (at0 + at1) / 2, b = (at1 - at0) / (2 * half);
  const double qa = b * b + height * height / (half * half), qb = a * b,
               qc = a * a - height * height;
  const double square = qb * qb - qa * qc;
  Spans inside;
  double low = y0, high = y1;
  if (at0 > 0 || at1 > 0) {
    if (square <= 0) return inside;
    const double root = std::sqrt(square);
    if (at0 > 0) low = centre + (-qb - root) / qa;
    if (at1 > 0) high = centre + (-qb + root) / qa;
  }
  const auto t = [&](double y) { return (y - ray.origin.y) / ray.direction.y; };
  if (high > low) inside.add(t(low), t(high));
  return inside;
}

void Ridge::add_paths(const Ray& ray, const Spans& occupied,
                      std::array<float, kMaterials>* path) const {
  if (bone_.cheek_mm > 0) add(Material::soft_tissue, bone_.cheek_mm / ray.direction.y, path);
  if (!bone_.present || ray.direction.y < 0.05) return;
  const Vec middle = at_depth(ray, 0.0);
  const double top = crest_z(middle.x), gum = bone_.gingiva_mm;
  if (gum > 0 && middle.z < bone_.gingiva_height_mm) {
    const double share = smooth((bone_.gingiva_height_mm - middle.z) / 1.2) *
                         std::clamp(middle.z - top + 1.0, 0.0, 1.0);
    add(Material::soft_tissue, free_length(ray, occupied, -gum / 2, gum / 2, share), path);
  }
  const bool beyond_floor = bone_.floor_mm > 0 && middle.z < -bone_.floor_mm;
  if (middle.z < top + 2.0 && !beyond_floor) add_bone(ray, occupied, middle, path);
}

void Ridge::add_bone(const Ray& ray, const Spans& occupied, Vec middle,
                     std::array<float, kMaterials>* path) const {
  // Buccal is the side of the source.
  const double half = bone_.width_mm / 2, in_b = half - bone_.buccal_plate_mm;
  const double in_l = half - bone_.lingual_plate_mm;
  const Vec pb = at_depth(ray, -(half + in_b) / 2), pl = at_depth(ray, (half + in_l) / 2);
  double cortical = free_length(ray, occupied, -half, -in_b, 1.0) *
                        plate_share(pb.x, pb.z, bone_.buccal_drop_mm, plate_phase_) +
                    free_length(ray, occupied, in_l, half, 1.0) *
                        plate_share(pl.x, pl.z, bone_.lingual_drop_mm, plate_phase_ + 2.0);
  const double core = left_of(core_of(ray, -in_b, in_l), occupied);
  float texture = 0.0F;
  for (int i = 0; i < 3; ++i) {
    const Vec p = at_depth(ray, (i - 1) * 0.3 * half);
    texture += texture_[i].at(p.x + 3.1 * i, p.z);
  }
  double density = bone_.trabecular_density * (1.0 + bone_.texture_contrast * texture / 1.732);
  density = std::clamp(density, 0.02, 1.0);
  if (bone_.canal_mm > 0) {
    const double away = std::abs(middle.z + bone_.canal_mm);
    if (away < 1.3) density *= 0.45;
    if (away >= 1.3 && away < 1.7) cortical += 0.5;
  }
  if (bone_.floor_mm > 0 && middle.z < -bone_.floor_mm + 0.8) cortical += 1.5;
  add(Material::cortical_bone, cortical, path);
  add(Material::trabecular_bone, core * density, path);
  add(Material::soft_tissue, core * (1.0 - density), path);
}

double first_contact_mm(const Ridge& ridge, const Implant& implant, int side) {
  const Pose pose = pose_apical(implant.place);
  const double r0 = implant.platform_diameter_mm / 2;  // continued coronally
  for (double v = -3.0; v < implant.length_mm; v += 0.002) {
    const double r = v < implant.bevel_mm ? r0 : flank_radius_mm(implant, v);
    const Vec p = pose.to_world({side * r, 0, v});
    if (p.z <= ridge.crest_z(p.x)) return v;
  }
  return std::numeric_limits<double>::quiet_NaN();
}

}  // namespace crestgate::phantom
