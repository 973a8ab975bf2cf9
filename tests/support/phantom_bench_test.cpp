// Speed: at most one second of processor time per half megapixel, mean over varied scenes.
#include <gtest/gtest.h>

#include <cstdio>
#include <ctime>

#include "tests/support/random_scene.h"
#include "tests/support/render.h"

namespace crestgate::phantom {
namespace {

TEST(PhantomBench, HalfAMegapixelTakesAtMostASecond) {
  double seconds = 0.0, megapixels = 0.0, slowest = 0.0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    Draw draw;
    draw.megapixels = 0.5;
    draw.pixel_mm = {0.015, 0.03};  // raster at the bound
    const Scene s = random_scene(seed, draw);
    const std::clock_t start = std::clock();
    const Rendered r = render(s);
    const double took = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
    const double size = r.rows * r.columns / 1e6;
    seconds += took;
    megapixels += size;
    slowest = std::max(slowest, took / size * 0.5);
  }
  std::printf("mean %.2f s, slowest %.2f s per half megapixel\n", seconds / megapixels * 0.5,
              slowest);
  EXPECT_LE(seconds / megapixels * 0.5, 1.0);
}

}  // namespace
}  // namespace crestgate::phantom
