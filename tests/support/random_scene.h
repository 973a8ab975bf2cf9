// Random scenes for property tests, accuracy runs and benchmarks. Equal seeds give equal scenes.
#pragma once
#include <cstdint>

#include "tests/support/scene.h"

namespace crestgate::phantom {

struct Range {
  double low, high;
};

/// What random_scene draws from; shares are probabilities.
struct Draw {
  Range vertical_angle_deg{-15.0, 15.0};
  Range pitch_mm{0.5, 1.25};
  Range thread_depth_mm{0.15, 0.45};
  Range diameter_mm{3.3, 5.0};
  Range length_mm{7.0, 14.0};
  Range pixel_mm{0.015, 0.064};
  Range edge_width_px{3.5, 8.0};  ///< 10-90 % width of a blurred edge
  Range gap_mm{0.0127, 0.2};      ///< where there is a gap
  double gap_share = 0.4;
  Range noise_photons{4000.0, 60000.0};
  double clipped_share = 0.25;  ///< metal core (partly) white
  double unthreaded_share = 0.06;
  double left_handed_share = 0.03;
  double mirrored_share = 0.05;
  double cut_share = 0.15;       ///< apex, flank or platform outside the image
  double lookalike_share = 0.4;  ///< teeth always; this share has root fillings, posts, ...
  double second_implant_share = 0.15;
  double artefact_share = 0.3;  ///< frame, bar, cone cut, text, corners: each drawn apart
  double motion_share = 0.1;
  double megapixels = 0.6;  ///< upper bound of the raster; keeps the field of view
};

Scene random_scene(std::uint64_t seed, const Draw& draw = {});

/// No implant, but full of things that look like one.
Scene implant_free_scene(std::uint64_t seed, const Draw& draw = {});

}  // namespace crestgate::phantom
