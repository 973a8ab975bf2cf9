// Rendered scenes for the detection tests, as the pipeline sees them, with their truth.
#pragma once
#include <cstdint>
#include <vector>

#include "pipeline/image/acquisition.h"
#include "pipeline/image/analysis.h"
#include "tests/support/random_scene.h"
#include "tests/support/render.h"

namespace crestgate::test {

struct Seen {
  Frame frame;
  Acquisition acquisition;
  phantom::Truth truth;
};

Seen see(const phantom::Scene& scene);

/// Detections at or above the shipped rule's confidence (detection.least_confidence).
std::vector<ImplantShape> sure(const std::vector<ImplantShape>& shapes);

/// The detection lying on this implant of the picture, or nullptr.
const ImplantShape* on(const std::vector<ImplantShape>& shapes, const phantom::ImplantTruth& truth,
                       const Frame& frame);

/// How many of `all` scenes to run: all with CRESTGATE_ALL_SCENES set, else 15 %.
int share_of(int all);

/// A scene any reader would call easy: one threaded implant in the middle, both flanks in view.
phantom::Scene plain_scene(std::uint64_t seed);

}  // namespace crestgate::test
