// Renders a Scene: ray-traced projection, detector, vendor-like processing, read-out, and the
// truth. Pure and deterministic: equal scenes give equal bytes (every random number comes from
// Detector::seed). Safe to call from several threads at once. Throws std::invalid_argument naming
// the key if the scene cannot be rendered.
#pragma once
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "pipeline/image/frame.h"
#include "tests/support/scene.h"

namespace crestgate::phantom {

/// Truth about one implant, in the final raster (after mirror and turn; pixel centres at integers).
/// left/right are image left/right; for an axis lying nearer to horizontal, left = smaller y.
struct ImplantTruth {
  Point platform_px, apex_px;         ///< may lie outside the image
  double vertical_angle_deg = 0.0;    ///< ray through the platform centre, + = source coronal
  double horizontal_angle_deg = 0.0;  ///< that ray, about the implant's axis
  double in_plane_angle_deg = 0.0;    ///< of the coronal direction: 0 = up, clockwise
  std::string coronal_side;           ///< "up", "down", "left", "right"
  double mm_per_px = 0.0;             ///< across the axis, in the plane of the platform centre
  double axial_px_per_mm = 0.0;       ///< along the axis at the platform
  double thread_pitch_px = 0.0;       ///< along the axis, mean over the body; 0 = no thread
  double thread_pitch_mm = 0.0;
  int thread_starts = 0;
  double thread_depth_mm = 0.0;
  bool right_handed = true;
  double outer_diameter_px = 0.0;
  double platform_minor_axis_ratio = 0.0;  ///< of the platform ellipse in the image
  std::string blurred_flank;               ///< "left", "right" (in the image) or "none"
  std::string source_too;                  ///< "coronal", "apical" or "none" (below 0.05 deg)
  std::string advice;                      ///< expected direction in words (design.md section 3)
  bool part_present = false;
  std::string connection;                               ///< "butt joint", "conical", "solid"
  double gap_left_mm = 0.0, gap_right_mm = 0.0;         ///< axial opening at the platform's edge
  std::optional<double> crest_left_mm, crest_right_mm;  ///< first bone contact on the flank line
  bool platform_in_view = false, apex_in_view = false;
  bool left_flank_in_view = false, right_flank_in_view = false;  ///< over half of the length
  double visible_share = 0.0;  ///< of diameter x length, inside the exposed picture
};

struct Truth {
  std::vector<ImplantTruth> implants;
  double pixel_mm = 0.0;                         ///< at the detector
  double blur_sigma_px = 0.0;                    ///< detector and focal spot, without motion
  double clipped_low = 0.0, clipped_high = 0.0;  ///< fraction of stored pixels, frame excluded
  std::string jaw;
  bool mirrored = false;
  std::uint64_t seed = 0;
};

struct Rendered {
  int rows = 0, columns = 0, bits = 12;
  std::vector<std::uint16_t> stored;  ///< row-major stored values
  bool monochrome1 = false;
  bool rgb = false;           ///< the writer repeats the channel
  Tone tone = Tone::unknown;  ///< what is true, not what the object says
  Truth truth;
};

/// Noise-free, unblurred projection (before read-out): the optics alone.
struct Projection {
  int rows = 0, columns = 0;
  std::vector<float> transmission;  ///< energy-weighted, air = 1
  float at(int x, int y) const { return transmission[static_cast<std::size_t>(y) * columns + x]; }
};

Projection project(const Scene& scene);
Rendered render(const Scene& scene);

/// The pipeline's input without a DICOM object in between.
Frame to_frame(const Rendered& rendered);

/// Truth as the sidecar's content; keys are the field names above.
nlohmann::json truth_json(const Truth& truth);

}  // namespace crestgate::phantom
