// The learned trust in an edge of bone tells a reading of the edge from one beside it. How well
// over many images: tests/numbers/fit_edges.py, DEVELOPERS.md.
#include "pipeline/crest/trust.h"

#include <gtest/gtest.h>

#include "pipeline/inspect.h"
#include "tests/support/render.h"

namespace crestgate {
namespace {

struct Seen {
  FlankReading reading;
  EdgeView view;
  Trust trust;
};

/// The minus flank of a plain implant in a level ridge, its edge read so much too far apical.
Seen seen_off_by(double off_mm) {
  phantom::Scene scene;
  scene.detector.seed = 21;
  scene.detector.columns = 600;
  scene.detector.rows = 800;
  scene.detector.pixel_mm = 0.03;
  scene.implants.front().abutment.base_diameter_mm = 3.2;
  scene.bone.crest_left_mm = scene.bone.crest_right_mm = 1.5;
  const Frame frame = phantom::to_frame(phantom::render(scene));
  Acquisition acquisition;
  acquisition.spacing = {0.03, 0.03, "imager"};
  const Analysis analysis = inspect(frame, acquisition, Rules());
  const ImplantShape& shape = analysis.implants.at(0).shape;
  const FlankSetting setting = setting_of(frame, shape, analysis.implants.at(0).projection,
                                          analysis.quality, analysis.scale, Rules());
  Seen seen;
  seen.reading = read_flank(frame, shape, -1, setting);
  EXPECT_EQ(seen.reading.missing, "");
  read_bent(frame, setting, &seen.reading);
  const double off_px = off_mm / setting.mm_per_px;
  seen.reading.fit.v_px += off_px;
  for (double& row : seen.reading.contour.row) row += off_px;
  seen.reading.levels = levels_about(frame, shape, -1, seen.reading.strip, seen.reading.contour,
                                     1.0 / setting.mm_per_px, setting.metal);
  seen.view = view_edge(frame, shape, -1, setting, seen.reading);
  seen.trust = trust_in(seen.view, edge_signs(shape, setting, seen.reading));
  return seen;
}

TEST(Trust, APlainEdgeOfBoneIsTrusted) {
  const Seen seen = seen_off_by(0.0);
  EXPECT_LT(seen.trust.gross, 0.1);
  EXPECT_LT(seen.trust.sd_mm, 0.2);
}

TEST(Trust, TheViewIsDarkCoronalAndBrightApical) {
  const Seen seen = seen_off_by(0.0);
  ASSERT_EQ(seen.view.grey.size(), 48U * 24U);
  double coronal = 0.0, apical = 0.0;
  for (int row = 0; row < 10; ++row)
    for (int column = 10; column < 20; ++column) {
      coronal += seen.view.grey[static_cast<std::size_t>(12 + row) * 24 + column];
      apical += seen.view.grey[static_cast<std::size_t>(26 + row) * 24 + column];
    }
  EXPECT_GT(apical, coronal + 30.0);
}

// The same picture, read 1.5 mm beside the edge.
TEST(Trust, AReadingBesideTheEdgeIsNotTrusted) {
  for (const double off_mm : {-1.5, 1.5}) EXPECT_GT(seen_off_by(off_mm).trust.gross, 0.2) << off_mm;
}

}  // namespace
}  // namespace crestgate
