// Image steps behind the renderer: blur, noise, vendor-like processing, read-out. Row-major floats.
#pragma once
#include <vector>

#include "tests/support/scene.h"

namespace crestgate::phantom {

struct Plane {
  int rows = 0, columns = 0;
  std::vector<float> values;
  float& at(int x, int y) { return values[static_cast<std::size_t>(y) * columns + x]; }
  float at(int x, int y) const { return values[static_cast<std::size_t>(y) * columns + x]; }
};

/// Separable Gaussian, border repeated.
void gaussian_blur(Plane* image, double sigma_px);
/// Mean along a straight stretch.
void motion_blur(Plane* image, double length_px, double direction_deg);

/// Transmission -> detector signal, 1 = saturation: scatter, blur, motion, noise, defects.
/// Returns the signal; penumbra from `magnification` at the site.
Plane detect(const Scene& scene, Plane transmission, double magnification);

/// Signal -> grey values 0..1, larger = more radiopaque: tone, window, gamma, equalisation,
/// unsharp mask; clipped at both ends.
Plane process(const Scene& scene, const Plane& signal);

/// What the collimator's circle and the sensor's rounded corners leave of a raster after turns.
class Opening {
 public:
  Opening(const Scene& scene, int columns, int rows);
  /// 0 inside the collimator's circle .. 1 outside, with its soft edge.
  double cone_cut(double x, double y) const;
  bool in_corner(double x, double y) const;

 private:
  double columns_, rows_, corner_ = 0.0;
  double x_ = 0.0, y_ = 0.0, radius_ = 0.0, soft_ = 1.0;  // circle; radius 0 = no cone cut
};

/// Mirror, turns, then what is laid over the picture: cone cut, corners, bar, text, ruler, frame.
Plane read_out_plane(const Scene& scene, const Plane& image);

/// Draws text in a 5x7 font, `scale` pixels per dot.
void draw_text(Plane* image, const std::string& text, int x, int y, int scale, float value);

}  // namespace crestgate::phantom
