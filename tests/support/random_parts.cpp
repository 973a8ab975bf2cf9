#include "tests/support/random_parts.h"

#include <algorithm>

#include "config/units.h"

namespace crestgate::phantom {
namespace {

ThreadForm draw_form(Random* r) {
  const double k = r->uniform();
  if (k < 0.32) return ThreadForm::v;
  if (k < 0.54) return ThreadForm::buttress;
  if (k < 0.64) return ThreadForm::reverse_buttress;
  if (k < 0.76) return ThreadForm::square;
  return k < 0.90 ? ThreadForm::rounded : ThreadForm::fins;
}

void draw_thread(Random* r, const Draw& d, Implant* m) {
  Thread& t = m->thread;
  t.form = r->chance(d.unthreaded_share) ? ThreadForm::none : draw_form(r);
  t.pitch_mm = draw(r, d.pitch_mm);
  const double k = r->uniform();
  t.starts = k < 0.6 ? 1 : k < 0.88 ? 2 : 3;
  // Deep threads need pitch: flanks steeper than common practice do not occur.
  t.depth_mm = std::min(draw(r, d.thread_depth_mm), 0.65 * t.pitch_mm);
  if (t.form == ThreadForm::rounded) t.depth_mm = std::min(t.depth_mm, 0.22);
  t.right_handed = !r->chance(d.left_handed_share);
  t.phase_deg = r->uniform(0, 360);
  t.crest_fraction = r->uniform(0.06, 0.25);
}

void draw_body(Random* r, const Draw& d, Implant* m) {
  m->diameter_mm = draw(r, d.diameter_mm);
  m->length_mm = draw(r, d.length_mm);
  m->platform_diameter_mm = m->diameter_mm + r->uniform(-0.25, 0.35);
  m->collar_mm = r->chance(0.15) ? r->uniform(1.5, 2.8) : r->uniform(0.1, 1.0);
  if (r->chance(0.18)) m->micro_thread_length_mm = r->uniform(1.0, 2.0);
  if (r->chance(0.55)) m->taper_deg = r->uniform(0.5, 4.0);
  m->taper_start_fraction = r->uniform(0.1, 0.6);
  if (r->chance(0.06)) m->step_mm = r->uniform(0.15, 0.3);
  const double k = r->uniform();
  m->apex = k < 0.55 ? Apex::round : k < 0.9 ? Apex::flat : Apex::notch;
  m->apex_length_mm = r->uniform(0.5, m->apex == Apex::notch ? 1.2 : 1.8);
  m->bevel_mm = draw_log(r, {0.03, 0.3});
  if (r->chance(0.2)) {
    m->window_width_mm = r->uniform(0.8, 1.3);
    m->window_height_mm = r->uniform(0.8, 1.6);
    m->window_from_apex_mm = r->uniform(1.8, 3.5);
    m->window_turn_deg = r->uniform(-90, 90);
  }
}

void draw_connection(Random* r, Implant* m) {
  Connection& c = m->connection;
  const double k = r->uniform(), radius = m->platform_diameter_mm / 2;
  c.channel_radius_mm = r->uniform(0.65, 0.85);
  if (k < 0.42) {
    c.form = ConnectionForm::butt_internal;
    c.bore_radius_mm = std::max(c.channel_radius_mm + 0.2, radius * r->uniform(0.55, 0.68));
    c.bore_depth_mm = r->uniform(1.8, 3.2);
  } else if (k < 0.58) {
    c.form = ConnectionForm::butt_external;
    c.bore_radius_mm = std::min(r->uniform(1.2, 1.38), radius - 0.35);
    c.bore_depth_mm = r->uniform(0.7, 1.1);
    c.channel_radius_mm = std::min(c.channel_radius_mm, c.bore_radius_mm - 0.35);
  } else {
    c.form = ConnectionForm::conical;
    c.bore_radius_mm = radius * r->uniform(0.62, 0.78);
    c.bore_depth_mm = r->uniform(2.2, 3.5);
    c.cone_half_angle_deg = r->uniform(3.0, 12.0);
    c.channel_radius_mm = std::min(c.channel_radius_mm, c.bore_radius_mm - 0.25);
  }
  c.channel_depth_mm = std::min(r->uniform(4.5, 7.0), m->length_mm - 1.8);
  c.clearance_mm = r->uniform(0.015, 0.05);
}

void draw_abutment(Random* r, Implant* m) {
  Abutment& a = m->abutment;
  const double k = r->uniform(), platform = m->platform_diameter_mm;
  a.form = k < 0.06   ? AbutmentForm::none
           : k < 0.13 ? AbutmentForm::cover_screw
           : k < 0.27 ? AbutmentForm::healing
           : k < 0.31 ? AbutmentForm::ball
           : k < 0.34 ? AbutmentForm::ball_with_cap
                      : AbutmentForm::post;
  const double fit = r->uniform();
  a.base_diameter_mm = fit < 0.35   ? platform - r->uniform(0.3, 0.9)
                       : fit < 0.75 ? platform
                                    : platform + r->uniform(0.1, 0.4);
  if (m->connection.form == ConnectionForm::conical) {
    // A cone's part leaves the platform's shoulder free.
    a.base_diameter_mm = 2 * m->connection.bore_radius_mm;
  }
  a.bevel_mm = m->connection.form == ConnectionForm::conical ? 0.0 : draw_log(r, {0.03, 0.2});
  a.base_diameter_mm =
      std::max(a.base_diameter_mm, 2 * m->connection.bore_radius_mm + 2 * a.bevel_mm);
  a.collar_height_mm = r->uniform(0.5, 2.0);
  a.height_mm = a.collar_height_mm + r->uniform(3.0, 5.5);
  a.top_diameter_mm = std::max(2.6, a.base_diameter_mm - r->uniform(0.4, 1.2));
  a.channel_radius_mm = std::min(r->uniform(0.95, 1.25), a.top_diameter_mm / 2 - 0.25);
  if (a.form == AbutmentForm::healing) {
    a.top_diameter_mm = platform + r->uniform(-0.2, 1.8);
    a.height_mm = a.collar_height_mm + r->uniform(1.6, 4.0);
  }
  if (a.form == AbutmentForm::post && r->chance(0.12)) {
    a.material = r->chance(0.5) ? Material::zirconia : Material::gold_alloy;
  }
  if (a.form == AbutmentForm::healing && r->chance(0.1)) a.material = Material::plastic;
  a.screw = a.form != AbutmentForm::none;
}

void draw_gap(Random* r, const Draw& d, Implant* m) {
  if (m->abutment.form == AbutmentForm::none || !r->chance(d.gap_share)) return;
  const double g = draw_log(r, d.gap_mm);
  const double edge = std::min(m->platform_diameter_mm, m->abutment.base_diameter_mm) / 2;
  m->gap.centre_mm = g;
  if (r->chance(0.4)) {  // closed on one side
    m->gap.centre_mm = g / 2;
    m->gap.tilt_deg = degrees(std::atan(g / 2 / edge)) * (r->chance(0.5) ? 1 : -1);
  }
}

void draw_crown(Random* r, Implant* m) {
  Crown& c = m->crown;
  c.present = m->abutment.form == AbutmentForm::post && r->chance(0.85);
  c.width_mm = r->uniform(6.0, 10.0);
  c.depth_mm = c.width_mm * r->uniform(0.85, 1.2);
  c.height_mm = r->uniform(6.0, 9.5);
  c.start_mm = std::max(0.3, m->abutment.collar_height_mm + r->uniform(-0.4, 0.3));
  c.height_mm = std::max(c.height_mm, m->abutment.height_mm - c.start_mm + 1.5);
  c.neck_width_mm = m->abutment.base_diameter_mm + r->uniform(0.2, 1.5);
  c.screw_access = r->chance(0.4);
  if (!c.screw_access && r->chance(0.4)) c.cement_mm = r->uniform(0.03, 0.15);
  const double k = r->uniform();
  c.material = k < 0.3 ? Material::zirconia : k < 0.45 ? Material::gold_alloy : Material::porcelain;
  c.metal_coping = c.material == Material::porcelain && r->chance(0.6);
}

Tooth draw_tooth(Random* r, double x, double lean) {
  Tooth t;
  t.place = {x, r->uniform(-1.0, 1.0), r->uniform(0.5, 3.0), lean, r->uniform(-5, 5)};
  t.root_length_mm = r->uniform(10, 16);
  t.neck_width_mm = r->uniform(4.2, 6.5);
  t.crown_width_mm = t.neck_width_mm + r->uniform(1.2, 3.0);
  t.crown_height_mm = r->uniform(6, 9);
  t.pulp_width_mm = r->uniform(0.5, 1.3);
  t.depth_ratio = r->uniform(1.0, 1.5);
  t.ligament_mm = r->uniform(0.15, 0.35);
  t.lamina_dura_mm = r->uniform(0.1, 0.35);
  return t;
}

// Posts and fillings sit in a tooth's root, brackets and amalgam on its crown.
Item item_in(Random* r, const Tooth& t, ItemKind kind) {
  Item item;
  item.kind = kind;
  item.place = t.place;
  switch (kind) {
    case ItemKind::screw_post:
      item.width_mm = r->uniform(1.0, 1.7);
      item.length_mm = r->uniform(6, 10);
      item.material = r->chance(0.5) ? Material::titanium : Material::steel;
      break;
    case ItemKind::cast_post:
      item.width_mm = r->uniform(1.2, 2.0);
      item.length_mm = r->uniform(6, 11);
      item.material = Material::gold_alloy;
      break;
    case ItemKind::silver_point:
      item.width_mm = r->uniform(0.4, 0.7);
      item.length_mm = t.root_length_mm - 0.5;
      item.material = Material::amalgam;
      break;
    case ItemKind::root_filling:
      item.width_mm = r->uniform(0.8, 1.5);
      item.length_mm = t.root_length_mm - 0.6;
      item.place.x_mm += r->uniform(-0.8, 0.8);
      item.material = Material::gutta_percha;
      break;
    case ItemKind::bracket:
      item.place.z_mm += 0.5 * t.crown_height_mm;
      item.place.y_mm -= 0.5 * t.crown_width_mm;
      item.width_mm = 3.2;
      item.length_mm = 3.0;
      item.depth_mm = 1.0;
      item.material = Material::steel;
      break;
    case ItemKind::amalgam:
      item.place.z_mm += 0.75 * t.crown_height_mm;
      item.width_mm = r->uniform(2.5, 5.0);
      item.length_mm = r->uniform(1.5, 3.0);
      item.depth_mm = r->uniform(2.0, 5.0);
      item.material = Material::amalgam;
      break;
    case ItemKind::clamp:
      item.place.z_mm += 1.0;
      item.width_mm = t.neck_width_mm + 2.0;
      item.length_mm = r->uniform(6, 9);
      item.depth_mm = 2.0;
      item.material = Material::steel;
      break;
    case ItemKind::drill:
      item.place.z_mm += r->uniform(-2, 3);
      item.width_mm = r->uniform(1.6, 2.8);
      item.length_mm = r->uniform(8, 13);
      item.material = Material::steel;
      break;
    case ItemKind::pontic:
      item.place.z_mm += 9.0;
      item.width_mm = r->uniform(6, 9);
      item.length_mm = r->uniform(7, 9);
      item.depth_mm = r->uniform(6, 9);
      item.material = r->chance(0.5) ? Material::gold_alloy : Material::zirconia;
      break;
    case ItemKind::sphere:
    case ItemKind::block:
      break;
  }
  return item;
}
}  // namespace

Implant draw_implant(Random* r, const Draw& d) {
  Implant m;
  draw_body(r, d, &m);
  draw_thread(r, d, &m);
  draw_connection(r, &m);
  draw_abutment(r, &m);
  draw_gap(r, d, &m);
  draw_crown(r, &m);
  return m;
}

void draw_bone(Random* r, Bone* b) {
  b->width_mm = r->uniform(6.0, 11.0);
  b->buccal_plate_mm = r->uniform(0.6, 2.2);
  b->lingual_plate_mm = r->uniform(0.8, 2.4);
  const double level = r->chance(0.6) ? r->uniform(-0.2, 1.5) : r->uniform(1.0, 4.5);
  b->crest_left_mm = level + 0.4 * r->normal();
  b->crest_right_mm = level + 0.4 * r->normal();
  if (r->chance(0.35)) b->saucer_depth_left_mm = r->uniform(0.3, 2.2);
  if (r->chance(0.35)) b->saucer_depth_right_mm = r->uniform(0.3, 2.2);
  b->crest_left_mm += b->saucer_depth_left_mm;
  b->crest_right_mm += b->saucer_depth_right_mm;
  b->saucer_width_mm = r->uniform(0.8, 2.5);
  b->outer_left_mm = r->uniform(-1.5, 2.0);
  b->outer_right_mm = r->uniform(-1.5, 2.0);
  b->buccal_drop_mm = r->uniform(0.0, 1.2);
  b->lingual_drop_mm = r->uniform(0.0, 1.2);
  b->slope_mm = r->uniform(0.3, 1.0);
  b->roughness_mm = r->uniform(0.03, 0.15);
  b->trabecular_density = r->uniform(0.25, 0.65);
  b->texture_contrast = r->uniform(0.12, 0.5);
  b->texture_size_mm = r->uniform(0.3, 0.8);
  if (r->chance(0.15)) b->canal_mm = r->uniform(13, 18);
  if (r->chance(0.15)) b->floor_mm = r->uniform(12, 17);
  b->cheek_mm = r->uniform(5, 16);
  b->gingiva_height_mm = r->uniform(1.0, 4.0);
}

void draw_neighbours(Random* r, const Draw& d, Scene* s) {
  const bool busy = r->chance(d.lookalike_share);
  const auto edge = [&](double side) {
    double x = 0.0;
    for (const Implant& m : s->implants) x = std::max(x, side * m.place.x_mm);
    return x;
  };
  for (const double side : {-1.0, 1.0}) {
    if (r->chance(0.3)) continue;
    const double x = side * (edge(side) + r->uniform(7.0, 10.0));
    Tooth tooth = draw_tooth(r, x, side * r->uniform(-4, 10));
    if (busy && r->chance(0.5)) {
      static const ItemKind kKinds[] = {ItemKind::screw_post,   ItemKind::cast_post,
                                        ItemKind::silver_point, ItemKind::root_filling,
                                        ItemKind::bracket,      ItemKind::amalgam};
      s->items.push_back(item_in(r, tooth, kKinds[r->integer(0, 5)]));
    }
    tooth.root_filled = busy && r->chance(0.4);
    s->teeth.push_back(tooth);
  }
}

void draw_lookalikes(Random* r, Scene* s) {
  const int teeth = r->integer(2, 4);
  double x = -r->uniform(7, 11);
  for (int i = 0; i < teeth; ++i, x += r->uniform(6.5, 9.5)) {
    Tooth tooth = draw_tooth(r, x, r->uniform(-8, 8));
    tooth.root_filled = r->chance(0.45);
    const int items = r->integer(0, 2);
    for (int k = 0; k < items; ++k) {
      static const ItemKind kKinds[] = {
          ItemKind::screw_post,   ItemKind::cast_post, ItemKind::silver_point,
          ItemKind::root_filling, ItemKind::bracket,   ItemKind::amalgam,
          ItemKind::clamp,        ItemKind::drill,     ItemKind::pontic};
      s->items.push_back(item_in(r, tooth, kKinds[r->integer(0, 8)]));
    }
    if (r->chance(0.85)) s->teeth.push_back(tooth);  // else a gap, perhaps under a pontic
  }
  if (r->chance(0.1)) {
    s->wedge.present = true;
    s->wedge.place = {r->uniform(-9, 9), -4.0, r->uniform(2, 8), r->chance(0.5) ? 90.0 : 0.0, 0};
  }
}

}  // namespace crestgate::phantom
