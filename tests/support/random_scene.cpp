#include "tests/support/random_scene.h"

#include <algorithm>
#include <cmath>

#include "config/units.h"
#include "tests/support/random_parts.h"

namespace crestgate::phantom {
namespace {

void draw_geometry(Random* r, const Draw& d, Scene* s) {
  Beam& b = s->beam;
  b.source_to_site_mm = r->uniform(200, 400);
  b.site_to_detector_mm = r->uniform(4, 16);
  b.vertical_angle_deg = draw(r, d.vertical_angle_deg);
  b.horizontal_angle_deg = 6.0 * r->normal();
  b.horizontal_angle_deg = std::clamp(b.horizontal_angle_deg, -18.0, 18.0);
  // Paralleling: detector near the implant's axis. Bisecting: leaning with the beam.
  b.detector_tilt_deg =
      r->chance(0.7) ? 5.0 * r->normal() : b.vertical_angle_deg * r->uniform(0.3, 1.2);
  b.detector_turn_deg = b.horizontal_angle_deg * r->uniform(0.0, 1.0);
  const bool maxilla = r->chance(0.5);
  s->identity.jaw = maxilla ? "maxilla" : "mandible";
  s->identity.laterality = r->chance(0.5) ? "L" : "R";
  b.in_plane_turn_deg = (maxilla ? 180.0 : 0.0) + std::clamp(8.0 * r->normal(), -30.0, 30.0);
  s->readout.mirrored = r->chance(d.mirrored_share);
  if (r->chance(0.1)) s->readout.quarter_turns = r->integer(1, 3);
}

void draw_raster(Random* r, const Draw& d, Scene* s) {
  Detector& det = s->detector;
  const double pixel = draw_log(r, d.pixel_mm);
  double width = r->uniform(18, 27), height = width * r->uniform(1.25, 1.45);
  const double limit = d.megapixels * 1e6;
  // First a smaller field, down to 12.5 mm; then larger pixels.
  const double shrink = std::sqrt(std::min(1.0, limit * pixel * pixel / (width * height)));
  const double factor = std::max(shrink, std::min(1.0, 12.5 / width));
  width *= factor;
  height *= factor;
  det.pixel_mm = std::max(pixel, std::sqrt(width * height / limit));
  det.columns = static_cast<int>(width / det.pixel_mm);
  det.rows = static_cast<int>(height / det.pixel_mm);
  const double sigma_px = std::max(0.8, draw(r, d.edge_width_px) / 2.563);
  det.blur_sigma_mm = std::min(0.11, sigma_px * det.pixel_mm);
  if (r->chance(0.25 * d.artefact_share)) det.dead_pixels = r->integer(1, 12);
  if (r->chance(0.15 * d.artefact_share)) det.dead_lines = r->integer(1, 2);
  if (r->chance(0.3 * d.artefact_share)) {  // scanned film or plate
    det.scratches = r->integer(1, 6);
    det.dust = r->integer(3, 30);
    det.plate_wear = r->uniform(0.0, 0.02);
  }
}

void draw_exposure(Random* r, const Draw& d, Scene* s) {
  Exposure& e = s->exposure;
  e.tube_kv = 60.0 + 5.0 * r->integer(0, 2);
  e.filter_mm_al = r->uniform(1.5, 2.8);
  e.photons_per_pixel = draw_log(r, d.noise_photons);
  e.level = r->chance(0.15) ? r->uniform(1.0, 1.8) : r->uniform(0.4, 0.95);
  e.scatter_fraction = r->uniform(0.05, 0.3);
  e.focal_spot_mm = r->uniform(0.4, 0.8);
  if (r->chance(d.motion_share)) {
    e.motion_px = r->uniform(3, 12);
    e.motion_direction_deg = r->uniform(0, 180);
  }
}

void draw_processing(Random* r, const Draw& d, Scene* s) {
  Processing& p = s->processing;
  const bool raw = s->identity.object_class == ObjectClass::intraoral_processing;
  p.tone = r->chance(raw ? 0.5 : 0.25) ? ToneKind::linear : ToneKind::log;
  // Bone in the middle greys and metal well below white is what most pictures show.
  if (!raw && r->chance(0.85)) {
    p.gamma = p.tone == ToneKind::log ? r->uniform(0.4, 1.0) : r->uniform(0.9, 2.2);
  }
  if (!raw && r->chance(0.7)) p.toe = r->uniform(0.01, 0.06);
  p.headroom = r->uniform(1.04, 1.6);
  p.low_share = r->uniform(0.0005, 0.02);
  if (r->chance(d.clipped_share)) {
    p.headroom = r->uniform(0.6, 0.98);
  }
  static const int kBits[] = {8, 8, 8, 10, 12, 12, 12, 14, 16};
  p.bits = kBits[r->integer(0, 8)];
  if (!raw && r->chance(0.5)) {
    p.unsharp_amount = r->uniform(0.3, 2.0);
    p.unsharp_radius_px = r->uniform(2.0, 8.0);
  }
  if (!raw && r->chance(0.3)) p.equalise = r->uniform(0.15, 0.7);
}

void draw_readout(Random* r, const Draw& d, Scene* s) {
  Readout& o = s->readout;
  o.monochrome1 = r->chance(0.12);
  o.inverted = !o.monochrome1 && r->chance(0.01);
  const double share = d.artefact_share;
  if (r->chance(share)) {
    o.frame_px = r->integer(1, 10);
    o.frame_white = r->chance(0.5);
  }
  if (r->chance(0.6 * share)) o.corner_radius_mm = r->uniform(1.0, 4.0);
  if (r->chance(0.4 * share)) {
    o.cone_cut_mm = r->uniform(1.0, 5.0);
    o.cone_cut_direction_deg = 90.0 * r->integer(0, 3) + r->uniform(-30, 30);
  }
  if (r->chance(0.3 * share)) o.bar_px = r->integer(8, 60);
  if (r->chance(0.4 * share)) o.text = r->chance(0.5) ? "46 L" : "2026-01-05 10:15";
  if (r->chance(0.15 * share)) o.ruler = true;
}

void draw_identity(Random* r, std::uint64_t seed, Scene* s) {
  Identity& id = s->identity;
  const double k = r->uniform();
  if (k < 0.08)
    id.object_class = ObjectClass::intraoral_processing;
  else if (k < 0.14)
    id.object_class = ObjectClass::digital_xray;
  else if (k < 0.20)
    id.object_class = ObjectClass::computed_radiography;
  else if (k < 0.26)
    id.object_class = ObjectClass::secondary_capture;
  if (id.object_class == ObjectClass::secondary_capture) s->readout.rgb = r->chance(0.5);
  id.patient_id = "SAMPLE-" + std::to_string(seed);
  const bool upper = id.jaw == "maxilla", left = id.laterality == "L";
  const int quadrant = upper ? (left ? 2 : 1) : (left ? 3 : 4);
  if (r->chance(0.7)) id.tooth = std::to_string(quadrant * 10 + r->integer(3, 7));
}

// Site position as seen with the crown up, then turned with the picture.
void place_site(Scene* s, double column_fraction, double row_fraction) {
  const bool down = std::cos(radians(s->beam.in_plane_turn_deg)) < 0;
  s->beam.site_column_fraction = down ? 1.0 - column_fraction : column_fraction;
  s->beam.site_row_fraction = down ? 1.0 - row_fraction : row_fraction;
}

void draw_site(Random* r, const Draw& d, Scene* s) {
  double column = r->uniform(0.33, 0.67), row = 0.42;
  if (!s->implants.empty()) {
    // As much above as below, with some play; the apex stays inside unless it is to be cut.
    const double height_mm = s->detector.rows * s->detector.pixel_mm;
    const double below = s->implants[0].length_mm + 1.0;
    row = std::clamp(r->uniform(0.3, 0.55), 0.08, std::max(0.09, 1.0 - below / height_mm));
  }
  if (r->chance(d.cut_share)) {
    const int kind = r->integer(0, 2);
    if (kind == 0) row = r->uniform(0.7, 0.9);  // apex cut
    if (kind == 1) column = r->chance(0.5) ? r->uniform(-0.01, 0.04) : r->uniform(0.96, 1.01);
    if (kind == 2) row = r->uniform(-0.06, 0.03);  // platform cut
  }
  place_site(s, column, row);
}

void common(Random* r, std::uint64_t seed, const Draw& d, Scene* s) {
  s->detector.seed = seed;
  draw_identity(r, seed, s);
  draw_raster(r, d, s);
  draw_exposure(r, d, s);
  draw_processing(r, d, s);
  draw_readout(r, d, s);
  draw_bone(r, &s->bone);
}
}  // namespace

Scene random_scene(std::uint64_t seed, const Draw& d) {
  Random r(seed * 2654435761ULL + 1);
  Scene s;
  s.name = "random-" + std::to_string(seed);
  draw_geometry(&r, d, &s);
  common(&r, seed, d, &s);
  s.implants = {draw_implant(&r, d)};
  if (r.chance(d.second_implant_share)) {
    Implant second = draw_implant(&r, d);
    const double side = r.chance(0.5) ? 1.0 : -1.0;
    second.place = {side * r.uniform(7.0, 9.5), r.uniform(-0.8, 0.8), r.uniform(-1.0, 1.0),
                    side * r.uniform(-12, 18), r.uniform(-8, 8)};
    if (r.chance(0.06)) second.place.lean_deg = side * r.uniform(30, 60);
    if (r.chance(0.5)) {  // a pair made alike
      const Place place = second.place;
      second = s.implants[0];
      second.place = place;
      second.thread.phase_deg = r.uniform(0, 360);
      s.splinted = second.crown.present && r.chance(0.6);
    }
    s.implants.push_back(second);
    std::sort(s.implants.begin(), s.implants.end(),
              [](const Implant& a, const Implant& b) { return a.place.x_mm < b.place.x_mm; });
  }
  draw_neighbours(&r, d, &s);
  draw_site(&r, d, &s);
  return s;
}

Scene implant_free_scene(std::uint64_t seed, const Draw& d) {
  Random r(seed * 2654435761ULL + 2);
  Scene s;
  s.name = "implant-free-" + std::to_string(seed);
  draw_geometry(&r, d, &s);
  common(&r, seed, d, &s);
  s.implants.clear();
  draw_lookalikes(&r, &s);
  draw_site(&r, d, &s);
  return s;
}

}  // namespace crestgate::phantom
