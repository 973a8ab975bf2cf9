// An implant and its superstructure as solids. Local frame of the implant: z apical, platform at 0.
#include <algorithm>

#include "config/units.h"
#include "tests/support/world.h"

namespace crestgate::phantom {
namespace {

// Radius over the crests without bevel and apex.
double plain_radius(const Implant& m, double z) {
  const double platform = m.platform_diameter_mm / 2, body = m.diameter_mm / 2;
  if (z <= m.collar_mm) {
    // A collar wider or narrower than the body blends in over its lower half.
    const double f = std::clamp(2 * z / std::max(m.collar_mm, 0.01) - 1.0, 0.0, 1.0);
    return platform + (body - platform) * f;
  }
  const double start = std::max(m.taper_start_fraction * m.length_mm, m.collar_mm);
  double r = body - std::max(0.0, z - start) * std::tan(radians(m.taper_deg));
  if (z > 0.5 * m.length_mm) r -= m.step_mm;
  return std::max(r, 0.45 * body);
}

double apex_limit(const Implant& m, double z) {
  const double from_tip = m.length_mm - z, reach = std::max(m.apex_length_mm, 0.05);
  const double r = plain_radius(m, m.length_mm - reach);
  if (from_tip >= reach) return 1e9;
  const double f = 1.0 - from_tip / reach;
  switch (m.apex) {
    case Apex::round:
      return r * std::sqrt(std::max(0.0, 1.0 - 0.85 * f * f));
    case Apex::flat:
      return r - 0.25 * std::max(0.0, f - 0.7) / 0.3;
    case Apex::notch:
      return r * (1.0 - 0.25 * f);
  }
  return r;
}

double crest_radius(const Implant& m, double z) {
  double r = std::min(plain_radius(m, z), apex_limit(m, z));
  if (z < m.bevel_mm) r = std::min(r, plain_radius(m, 0.0) - (m.bevel_mm - z));
  return std::max(r, 0.05);
}

// Thread depth fades in and out over half a pitch.
double depth_at(const Implant& m, double z) {
  const double micro_end = m.collar_mm + m.micro_thread_length_mm;
  if (z < m.collar_mm) return 0.0;
  if (z < micro_end) return m.micro_thread_depth_mm;
  if (m.thread.form == ThreadForm::none) return 0.0;
  const double reach = 0.5 * m.thread.pitch_mm;
  const double in = std::clamp((z - micro_end) / reach, 0.0, 1.0);
  const double out = std::clamp((m.length_mm - 0.3 - z) / reach, 0.0, 1.0);
  return m.thread.depth_mm * std::min(in, out);
}

Threaded body_shape(const Implant& m) {
  // Knots: dense where the outline bends, every 0.5 mm elsewhere.
  std::vector<double> z{0.0, m.bevel_mm, m.collar_mm / 2, m.collar_mm};
  for (double at = 0.5; at < m.length_mm - m.apex_length_mm; at += 0.5) z.push_back(at);
  for (int i = 0; i <= 10; ++i) z.push_back(m.length_mm - m.apex_length_mm * (1.0 - i / 10.0));
  const double micro_end = m.collar_mm + m.micro_thread_length_mm;
  z.push_back(micro_end);
  z.push_back(micro_end + 0.5 * m.thread.pitch_mm);
  if (m.step_mm > 0) {
    z.push_back(0.5 * m.length_mm);
    z.push_back(0.5 * m.length_mm + 0.02);
  }
  std::sort(z.begin(), z.end());
  std::vector<Lathe::Point> outer, root;
  for (double at : z) {
    if (at < 0 || at > m.length_mm || (!outer.empty() && at - outer.back().z < 1e-6)) continue;
    const double r = crest_radius(m, at);
    outer.push_back({at, r});
    root.push_back({at, std::max(0.04, r - depth_at(m, at))});
  }
  std::vector<ThreadZone> zones;
  if (m.micro_thread_length_mm > 0) {
    Thread micro = m.thread;
    micro.pitch_mm = m.micro_thread_pitch_mm;
    micro.depth_mm = m.micro_thread_depth_mm;
    micro.form = ThreadForm::rounded;
    zones.push_back({m.collar_mm, micro_end, micro});
  }
  if (m.thread.form != ThreadForm::none) zones.push_back({micro_end, m.length_mm, m.thread});
  return Threaded(Lathe(std::move(outer)), Lathe(std::move(root)), std::move(zones));
}

// Bore and screw channel of the implant, as one empty solid of revolution.
std::vector<Lathe::Point> bore_points(const Implant& m) {
  const Connection& c = m.connection;
  const double end = std::min(c.channel_depth_mm, m.length_mm - 1.0);
  const double ch = c.channel_radius_mm;
  switch (c.form) {
    case ConnectionForm::solid:
      return {};
    case ConnectionForm::butt_external:
      return {{-c.bore_depth_mm - 0.01, ch}, {end, ch}, {end + 0.4, 0.1}};
    case ConnectionForm::butt_internal:
      return {{-0.001, c.bore_radius_mm},
              {c.bore_depth_mm, c.bore_radius_mm},
              {c.bore_depth_mm + 0.15, ch},
              {end, ch},
              {end + 0.4, 0.1}};
    case ConnectionForm::conical: {
      const double low = std::max(
          ch, c.bore_radius_mm - c.bore_depth_mm * std::tan(radians(c.cone_half_angle_deg)));
      return {{-0.001, c.bore_radius_mm},
              {c.bore_depth_mm, low},
              {c.bore_depth_mm + 0.1, ch},
              {end, ch},
              {end + 0.4, 0.1}};
    }
  }
  return {};
}

// Mounted part without holes, z apical: top (negative) to the end of the male part.
std::vector<Lathe::Point> abutment_points(const Implant& m) {
  const Abutment& a = m.abutment;
  const Connection& c = m.connection;
  const double base = a.base_diameter_mm / 2, top = a.top_diameter_mm / 2, bevel = a.bevel_mm;
  std::vector<Lathe::Point> p;
  switch (a.form) {
    case AbutmentForm::none:
      return {};
    case AbutmentForm::cover_screw:
      p = {{-0.6, base - 0.3}, {-0.45, base}};
      break;
    case AbutmentForm::healing:
      p = {{-a.height_mm, top - 0.25}, {-a.height_mm + 0.25, top}, {-a.height_mm + 1.0, top}};
      break;
    case AbutmentForm::ball:
    case AbutmentForm::ball_with_cap:
      for (int i = 0; i <= 10; ++i) {
        const double z = -a.height_mm + 2.25 * 0.85 * i / 10.0, q = z + a.height_mm - 1.125;
        p.push_back({z, std::sqrt(std::max(0.002, 1.2656 - q * q))});
      }
      p.push_back({-a.height_mm + 2.6, 0.75});
      break;
    case AbutmentForm::post:
      p = {{-a.height_mm, top}};
      break;
  }
  if (a.form != AbutmentForm::cover_screw) p.push_back({-a.collar_height_mm, base});
  p.push_back({-bevel, base});
  p.push_back({0.0, base - bevel});
  if (a.form == AbutmentForm::cover_screw) return p;
  // The male part; an external connection has a cavity instead (see append_implant).
  if (c.form == ConnectionForm::butt_internal) {
    const double r = c.bore_radius_mm - c.clearance_mm;
    p.insert(p.end(), {{0.0, r}, {c.bore_depth_mm - 0.5, r}, {c.bore_depth_mm - 0.3, r - 0.2}});
  } else if (c.form == ConnectionForm::conical) {
    // Seated faces touch: lifted by z they part by z sin(half angle) normal to the wall.
    const double reach = c.bore_depth_mm - 0.4;
    p.insert(p.end(),
             {{0.0, c.bore_radius_mm},
              {reach, c.bore_radius_mm - reach * std::tan(radians(c.cone_half_angle_deg))}});
  }
  return p;
}

std::vector<Lathe::Point> screw_points(const Implant& m) {
  const double ch = m.connection.channel_radius_mm;
  const double end = std::min(m.connection.channel_depth_mm, m.length_mm - 1.0) - 0.8;
  if (m.abutment.form == AbutmentForm::cover_screw) return {{-0.3, ch - 0.05}, {end, ch - 0.05}};
  if (m.abutment.form != AbutmentForm::post) return {{-1.0, ch - 0.05}, {end, ch - 0.05}};
  const double head = std::max(m.abutment.channel_radius_mm - 0.05, 0.5);
  // Head in the part's channel, shank with play, threaded end filling the implant's channel.
  return {{-2.0, head},           {-0.3, head},    {0.0, ch - 0.15}, {0.45 * end, ch - 0.15},
          {0.5 * end, ch - 0.04}, {end, ch - 0.04}};
}

Pose mounted_pose(const Implant& m) {
  Pose pose = pose_apical(m.place);
  const double tilt = radians(m.gap.tilt_deg);
  pose.origin = pose.to_world({0, 0, -m.gap.centre_mm});
  // Wider gap on +x: coronal axis turns towards -x.
  const Vec ex = pose.ex, ez = pose.ez;
  pose.ex = ex * std::cos(tilt) - ez * std::sin(tilt);
  pose.ez = ez * std::cos(tilt) + ex * std::sin(tilt);
  return pose;
}

void append_crown(const Implant& m, const Pose& mounted, std::vector<Body>* out) {
  const Crown& c = m.crown;
  if (!c.present) return;
  const double w = c.width_mm / 2, neck = c.neck_width_mm / 2, h = c.height_mm, z0 = -c.start_mm;
  Pose pose = mounted;
  pose.scale = {1.0, c.depth_mm / c.width_mm, 1.0};
  const std::vector<Lathe::Point> profile{
      {z0 - h, 0.45 * w}, {z0 - 0.97 * h, 0.72 * w}, {z0 - 0.88 * h, 0.9 * w},
      {z0 - 0.6 * h, w},  {z0 - 0.35 * h, 0.95 * w}, {z0 - 0.12 * h, neck + 0.55 * (w - neck)},
      {z0, neck}};
  if (c.screw_access) {
    out->push_back({Lathe({{z0 - h - 0.1, 1.15}, {-2.0, 1.15}}), mounted, Material::plastic});
  }
  if (c.cement_mm > 0) {
    const double t = c.cement_mm, top = m.abutment.top_diameter_mm / 2;
    const double base = m.abutment.base_diameter_mm / 2;
    out->push_back({Lathe({{-m.abutment.height_mm - t, top + t}, {z0, base + t}}), mounted,
                    Material::plastic});
  }
  if (c.metal_coping) {
    const double r = std::min(0.62 * w, m.abutment.base_diameter_mm / 2 + 0.6);
    out->push_back({Lathe({{-m.abutment.height_mm - 0.6, 0.8 * r},
                           {-m.abutment.height_mm, r},
                           {z0, std::min(r, neck)}}),
                    mounted, Material::gold_alloy});
  }
  out->push_back({Lathe(profile), pose, c.material});
}

// Raised part of an external connection with its screw hole; z apical, so negative.
void append_boss(const Implant& m, const Pose& pose, std::vector<Body>* out) {
  const double r = m.connection.bore_radius_mm, h = m.connection.bore_depth_mm;
  const double screw = m.connection.channel_radius_mm;
  out->push_back({Lathe({{-h - 0.02, screw}, {0.0, screw}}), pose, Material::air});
  out->push_back({Lathe({{-h, r - 0.1}, {-h + 0.1, r}, {0.0, r}}), pose, Material::titanium});
}

// Screw, access channel, boss with its cavity, then the mounted part itself.
void append_part(const Implant& m, const Pose& pose, const Pose& mounted, std::vector<Body>* out) {
  const Connection& c = m.connection;
  if (c.form != ConnectionForm::solid && m.abutment.screw) {
    out->push_back({Lathe(screw_points(m)), mounted, Material::titanium});
  }
  if (m.abutment.form == AbutmentForm::post && m.abutment.channel_radius_mm > 0) {
    const double r = m.abutment.channel_radius_mm;
    out->push_back({Lathe({{-m.abutment.height_mm - 0.01, r}, {-0.3, r}}), mounted,
                    m.crown.present ? Material::plastic : Material::air});
  }
  if (c.form == ConnectionForm::butt_external) {
    append_boss(m, pose, out);
    const double r = c.bore_radius_mm + c.clearance_mm;
    out->push_back({Lathe({{-c.bore_depth_mm - 0.1, r}, {0.001, r}}), mounted, Material::air});
  }
  out->push_back({Lathe(abutment_points(m)), mounted, m.abutment.material});
  if (m.abutment.form == AbutmentForm::ball_with_cap) {
    // Housing in the denture with its plastic insert.
    const double top = -m.abutment.height_mm;
    out->push_back({Lathe({{top - 0.1, 1.3}, {top + 1.5, 1.6}}), mounted, Material::plastic});
    out->push_back({Lathe({{top - 0.7, 1.9}, {top - 0.4, 2.2}, {top + 1.4, 2.2}}), mounted,
                    Material::titanium});
  }
}
}  // namespace

double flank_radius_mm(const Implant& m, double level_mm) {
  return level_mm < 0 || level_mm > m.length_mm ? 0.0 : crest_radius(m, level_mm);
}

void append_implant(const Implant& m, bool ridge_inside_window, std::vector<Body>* out) {
  const Pose pose = pose_apical(m.place), mounted = mounted_pose(m);
  const bool part = m.abutment.form != AbutmentForm::none;
  if (part) {
    append_part(m, pose, mounted, out);
  } else if (m.connection.form == ConnectionForm::butt_external) {
    append_boss(m, pose, out);
  }
  const std::vector<Lathe::Point> bore = bore_points(m);
  if (!bore.empty()) {
    // Without a part the bore fills with blood and saliva.
    out->push_back({Lathe(bore), pose, part ? Material::air : Material::soft_tissue});
  }
  if (m.window_width_mm > 0) {
    const double turn = radians(m.window_turn_deg);
    Pose window = pose;
    window.origin = pose.to_world({0, 0, m.length_mm - m.window_from_apex_mm});
    window.ex = pose.ex * std::cos(turn) + pose.ey * std::sin(turn);
    window.ey = pose.ey * std::cos(turn) - pose.ex * std::sin(turn);
    const double deep = crest_radius(m, m.length_mm - m.window_from_apex_mm);
    out->push_back({Box{{m.window_width_mm / 2, deep, m.window_height_mm / 2}}, window,
                    ridge_inside_window ? Material::soft_tissue : Material::air});
  }
  if (m.apex == Apex::notch) {
    Pose notch = pose;
    notch.origin = pose.to_world({0, 0, m.length_mm - m.apex_length_mm / 2});
    const double deep = crest_radius(m, m.length_mm - m.apex_length_mm);
    out->push_back({Box{{0.18 * m.diameter_mm, deep, m.apex_length_mm / 2}}, notch,
                    ridge_inside_window ? Material::soft_tissue : Material::air});
  }
  out->push_back({body_shape(m), pose, Material::titanium});
  append_crown(m, mounted, out);
}

}  // namespace crestgate::phantom
