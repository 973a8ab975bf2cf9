// How long each stage takes on one 1500 x 1100 scene with one implant, processor time. Targets come
// with the performance issue; this only measures.
#include <benchmark/benchmark.h>

#include "pipeline/crest/crest.h"
#include "pipeline/detect/detect.h"
#include "pipeline/inspect.h"
#include "pipeline/platform/platform.h"
#include "pipeline/projection/projection.h"
#include "pipeline/quality/quality.h"
#include "pipeline/seating/seating.h"
#include "tests/support/render.h"

namespace crestgate {
namespace {

/// The scene and what earlier stages found on it, so that each stage is timed alone.
struct Prepared {
  Frame frame;
  Acquisition acquisition;
  Rules rules;
  std::vector<ImplantShape> shapes;
  QualityMeasures quality;
  Scale scale;
  ProjectionMeasures projection;

  Prepared() {
    phantom::Scene scene;
    scene.detector.columns = 1100;
    scene.detector.rows = 1500;
    scene.detector.pixel_mm = 0.02;
    scene.beam.vertical_angle_deg = 5.0;
    frame = phantom::to_frame(phantom::render(scene));
    acquisition.spacing = {0.02, 0.02, "imager"};
    shapes = detect_implants(frame, acquisition);
    quality = measure_quality(frame, shapes);
    scale = scale_from_header(acquisition);
    if (shapes.empty()) return;
    projection = measure_projection(frame, acquisition, shapes[0], quality, scale);
    settle_platform(frame, locate_platform(frame, shapes[0], projection, scale), &shapes[0]);
  }
};

const Prepared& prepared() {
  static const Prepared p;
  return p;
}

template <class F>
void time_stage(benchmark::State& state, bool needs_implant, F stage) {
  const Prepared& p = prepared();
  if (needs_implant && p.shapes.empty()) {
    state.SkipWithError("no implant found in the scene");
    return;
  }
  for (auto _ : state) benchmark::DoNotOptimize(stage(p));
}

void detect(benchmark::State& state) {
  time_stage(state, false,
             [](const Prepared& p) { return detect_implants(p.frame, p.acquisition); });
}
void quality(benchmark::State& state) {
  time_stage(state, false, [](const Prepared& p) { return measure_quality(p.frame, p.shapes); });
}
void projection(benchmark::State& state) {
  time_stage(state, true, [](const Prepared& p) {
    return measure_projection(p.frame, p.acquisition, p.shapes[0], p.quality, p.scale);
  });
}
void platform(benchmark::State& state) {
  time_stage(state, true, [](const Prepared& p) {
    return locate_platform(p.frame, p.shapes[0], p.projection, p.scale);
  });
}
void seating(benchmark::State& state) {
  time_stage(state, true, [](const Prepared& p) {
    return measure_joint(p.frame, p.acquisition, p.shapes[0], p.projection, p.quality, p.scale);
  });
}
void crest(benchmark::State& state) {
  time_stage(state, true, [](const Prepared& p) {
    return measure_crest(p.frame, p.shapes[0], p.projection, p.quality, p.scale, p.rules);
  });
}
void whole(benchmark::State& state) {
  time_stage(state, false,
             [](const Prepared& p) { return inspect(p.frame, p.acquisition, p.rules); });
}

BENCHMARK(detect)->Unit(benchmark::kMillisecond);
BENCHMARK(quality)->Unit(benchmark::kMillisecond);
BENCHMARK(projection)->Unit(benchmark::kMillisecond);
BENCHMARK(platform)->Unit(benchmark::kMillisecond);
BENCHMARK(seating)->Unit(benchmark::kMillisecond);
BENCHMARK(crest)->Unit(benchmark::kMillisecond);
BENCHMARK(whole)->Name("whole inspection")->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace crestgate
