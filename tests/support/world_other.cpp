// Teeth and the things that are not implants but look like one.
#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "tests/support/world.h"

namespace crestgate::phantom {
namespace {

// A bent tube: short lathes whose axes wander along x, as packed canals do.
void append_wavy(const Pose& base, double z_from, double z_to, double r_from, double r_to,
                 double sway_mm, Material material, std::vector<Body>* out) {
  constexpr int kPieces = 14;
  for (int i = 0; i < kPieces; ++i) {
    const double f0 = i / double(kPieces), f1 = (i + 1) / double(kPieces);
    const double z0 = z_from + (z_to - z_from) * f0, z1 = z_from + (z_to - z_from) * f1;
    const auto sway = [&](double f) {
      return sway_mm * (std::sin(5.0 * f + 0.7) + 0.4 * std::sin(13.0 * f));
    };
    const double wobble = 1.0 + 0.15 * std::sin(9.0 * f0 + 1.0);
    const double r0 = (r_from + (r_to - r_from) * f0) * wobble;
    Pose pose = base;
    pose.origin = base.to_world({sway((f0 + f1) / 2), 0, 0});
    out->push_back({Lathe({{z0, r0}, {z1, r0}}), pose, material});
  }
}

Item block_of(const Item& item, double dx, double dz, double width, double length) {
  Item part = item;
  part.kind = ItemKind::block;
  const double lean = radians(item.place.lean_deg);
  part.place.x_mm += dx * std::cos(lean) + dz * std::sin(lean);
  part.place.z_mm += dz * std::cos(lean) - dx * std::sin(lean);
  part.width_mm = width;
  part.length_mm = length;
  return part;
}

void append_screw(const Item& item, const Pose& pose, Thread thread, double root_share,
                  std::vector<Body>* out) {
  const double r = item.width_mm / 2, l = item.length_mm;
  thread.depth_mm = r * (1.0 - root_share);
  const Lathe outer({{0.0, r}, {l - 1.2 * r, r}, {l, 0.15 * r}});
  const Lathe root({{0.0, root_share * r}, {l - 1.2 * r, root_share * r}, {l, 0.1 * r}});
  out->push_back({Threaded(outer, root, {{0.0, l, thread}}), pose, item.material});
}

void append_clamp(const Item& item, std::vector<Body>* out) {
  // Two jaws and a bow of round wire above them.
  append_item(block_of(item, -item.width_mm / 2, 0, item.width_mm / 4, item.length_mm * 0.35), out);
  append_item(block_of(item, item.width_mm / 2, 0, item.width_mm / 4, item.length_mm * 0.35), out);
  constexpr int kPieces = 10;
  for (int i = 0; i <= kPieces; ++i) {
    const double a = kPi * i / kPieces;
    Item bead = block_of(item, -item.width_mm / 2 * std::cos(a),
                         item.length_mm * (0.2 + 0.6 * std::sin(a)), 1.6, 1.6);
    bead.kind = ItemKind::sphere;
    bead.depth_mm = 1.4;
    append_item(bead, out);
  }
}
}  // namespace

void append_item(const Item& item, std::vector<Body>* out) {
  const Pose pose = pose_apical(item.place);
  const double r = item.width_mm / 2, l = item.length_mm, deep = item.depth_mm;
  switch (item.kind) {
    case ItemKind::screw_post: {
      Thread thread;
      thread.pitch_mm = 0.6;
      append_screw(item, pose, thread, 0.75, out);
      out->push_back({Lathe({{-1.6, 1.3 * r}, {0.0, 1.3 * r}}), pose, item.material});
      return;
    }
    case ItemKind::drill: {
      Thread thread;
      thread.starts = 2;
      thread.pitch_mm = 2.5 * r;
      thread.form = ThreadForm::rounded;
      append_screw(item, pose, thread, 0.6, out);
      out->push_back({Lathe({{-7.0, 1.15}, {-0.5, 1.15}, {0.0, r}}), pose, item.material});
      return;
    }
    case ItemKind::cast_post:
      out->push_back(
          {Lathe({{-3.5, 0.8 * r}, {-2.5, 1.9 * r}, {0.0, 1.5 * r}, {0.3, r}, {l, 0.45 * r}}), pose,
           item.material});
      return;
    case ItemKind::root_filling:
      append_wavy(pose, 0.0, l, r, 0.35 * r, 0.25 * r, item.material, out);
      return;
    case ItemKind::silver_point:
      out->push_back({Lathe({{0.0, r}, {l, 0.6 * r}}), pose, item.material});
      return;
    case ItemKind::bracket:
      append_item(block_of(item, -0.3 * item.width_mm, 0, 0.35 * item.width_mm, l), out);
      append_item(block_of(item, 0.3 * item.width_mm, 0, 0.35 * item.width_mm, l), out);
      append_item(block_of(item, 0, 0, 4.5 * item.width_mm, 0.5), out);
      return;
    case ItemKind::clamp:
      append_clamp(item, out);
      return;
    case ItemKind::amalgam:
      out->push_back({Ellipsoid{{r, deep / 2, l / 2}}, pose, item.material});
      out->push_back({Ellipsoid{{0.6 * r, deep / 2.5, 0.4 * l}},
                      pose_apical({item.place.x_mm + 0.7 * r, item.place.y_mm,
                                   item.place.z_mm - 0.35 * l, 0, 0}),
                      item.material});
      return;
    case ItemKind::pontic: {
      Pose wide = pose;
      wide.scale = {1.0, deep / item.width_mm, 1.0};
      out->push_back({Lathe({{0.0, 0.5 * r},
                             {0.1 * l, 0.9 * r},
                             {0.45 * l, r},
                             {0.8 * l, 0.75 * r},
                             {l, 0.2 * r}}),
                      wide, item.material});
      return;
    }
    case ItemKind::sphere:
      out->push_back({Ellipsoid{{r, r, r}}, pose, item.material});
      return;
    case ItemKind::block:
      out->push_back({Box{{r, deep / 2, l / 2}}, pose, item.material});
      return;
  }
}

void append_tooth(const Tooth& t, const Ridge& ridge, std::vector<Body>* out) {
  Pose pose = pose_apical(t.place);
  const Pose plain = pose;
  pose.scale = {1.0, t.depth_ratio, 1.0};
  const double l = t.root_length_mm, neck = t.neck_width_mm / 2, crown = t.crown_width_mm / 2;
  const double h = t.crown_height_mm, pulp = t.pulp_width_mm / 2;
  const auto root = [&](double wider) {
    return std::vector<Lathe::Point>{{0.0, neck + wider},
                                     {0.35 * l, 0.88 * neck + wider},
                                     {0.7 * l, 0.62 * neck + wider},
                                     {0.92 * l, 0.38 * neck + wider},
                                     {l, 0.12 * neck + wider},
                                     {l + wider, 0.05 + wider * 0.3}};
  };
  if (t.root_filled) {
    append_wavy(plain, -0.5, l - 0.7, 0.8 * pulp + 0.25, 0.2, 0.12, Material::gutta_percha, out);
  } else {
    // Chamber and canal, soft tissue in dentin.
    out->push_back({Lathe({{-0.4 * h, 0.3 * pulp},
                           {-0.15 * h, 1.9 * pulp},
                           {0.1 * l, 1.4 * pulp},
                           {0.5 * l, pulp},
                           {l, 0.25 * pulp}}),
                    pose, Material::soft_tissue});
  }
  const double e = t.enamel_mm;
  out->push_back({Lathe({{-h + 1.3 * e, 0.55 * crown - e},
                         {-h + 1.8 * e, 0.85 * crown - e},
                         {-0.5 * h, crown - e},
                         {-0.15 * h, neck + 0.1},
                         {0.0, neck},
                         {0.35 * l, 0.88 * neck},
                         {0.7 * l, 0.62 * neck},
                         {0.92 * l, 0.38 * neck},
                         {l, 0.12 * neck}}),
                  pose, Material::dentin});
  out->push_back({Lathe({{-h, 0.5 * crown},
                         {-h + 0.5 * e, 0.82 * crown},
                         {-0.65 * h, crown},
                         {-0.4 * h, 0.98 * crown},
                         {0.0, neck}}),
                  pose, Material::enamel});
  const double beside = t.place.x_mm, reach = neck + 0.4;
  const double crest = std::min(ridge.crest_z(beside - reach), ridge.crest_z(beside + reach));
  const double start = std::max(0.12 * l, t.place.z_mm - crest + 0.2);
  if (t.ligament_mm > 0 && start < 0.34 * l) {
    std::vector<Lathe::Point> gap = root(t.ligament_mm),
                              lining = root(t.ligament_mm + t.lamina_dura_mm);
    gap.front().z = lining.front().z = start;
    out->push_back({Lathe(gap), pose, Material::soft_tissue});
    out->push_back({Lathe(lining), pose, Material::cortical_bone});
  }
}

}  // namespace crestgate::phantom
