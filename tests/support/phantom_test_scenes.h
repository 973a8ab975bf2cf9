// Bare scenes for the renderer's own tests.
#pragma once
#include <cmath>

#include "tests/support/render.h"

namespace crestgate::phantom {

/// One block, nothing else, monochromatic, 20 um pixels, all but parallel beam.
inline Scene bare(double kev) {
  Scene s;
  s.implants.clear();
  s.bone.present = false;
  s.bone.cheek_mm = 0.0;
  s.exposure.mono_kev = kev;
  s.detector.columns = s.detector.rows = 201;
  s.detector.pixel_mm = 0.02;
  s.beam.site_row_fraction = 0.5;
  s.beam.source_to_site_mm = 1e6;
  s.beam.site_to_detector_mm = 8.0;
  return s;
}

inline Item block(Material material, double width, double length, double depth) {
  Item item;
  item.kind = ItemKind::block;
  item.material = material;
  item.width_mm = width;
  item.length_mm = length;
  item.depth_mm = depth;
  return item;
}

/// Solid titanium cylinder with or without thread.
inline Implant cylinder(double diameter) {
  Implant m;
  m.diameter_mm = m.platform_diameter_mm = diameter;
  m.connection.form = ConnectionForm::solid;
  m.abutment.form = AbutmentForm::none;
  m.crown.present = false;
  m.thread.form = ThreadForm::none;
  m.bevel_mm = 0.0;
  return m;
}

/// Titanium path behind a pixel of a monochromatic 60 keV projection, mm.
inline double titanium_mm(const Projection& p, int x, int y) {
  return -std::log(p.at(x, y)) / (0.7661 * 4.54 / 10.0);
}

}  // namespace crestgate::phantom
