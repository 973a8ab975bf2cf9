// Cone-beam geometry of a scene: rays of pixels, pixels of points, before the read-out's turns.
#pragma once
#include "pipeline/image/frame.h"
#include "tests/support/solids.h"

namespace crestgate::phantom {

class View {
 public:
  explicit View(const Scene& scene);
  /// Ray from the source through a raster position (pixel centres at integers).
  Ray ray(double column, double row) const;
  Point pixel(Vec world) const;
  Vec source() const { return source_; }
  /// Source-detector over source-point distance along the detector's normal.
  double magnification(Vec world) const;

 private:
  Vec source_, site_on_detector_, normal_, right_, down_;
  double pixel_mm_, site_column_, site_row_;
};

/// Axes of a placed part: local z coronal.
Pose pose_coronal(const Place& place);
/// The same with local z apical (turned about x, so still right-handed).
Pose pose_apical(const Place& place);

/// Where the read-out puts a raster position: mirror, then quarter turns clockwise.
Point read_out(Point p, const Scene& scene);

}  // namespace crestgate::phantom
