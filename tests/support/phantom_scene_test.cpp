// Scenes as JSON, random scenes, read-out, objects.
#include <gtest/gtest.h>
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>

#include "config/units.h"
#include "tests/support/dicom_writer.h"
#include "tests/support/phantom_test_scenes.h"
#include "tests/support/random_scene.h"
#include "tests/support/ridge.h"
#include "tests/support/scene_json.h"
#include "tests/support/view.h"

namespace crestgate::phantom {
namespace {

std::string message_of(const std::string& json) {
  try {
    scene_from_json(nlohmann::json::parse(json));
  } catch (const std::invalid_argument& e) {
    return e.what();
  }
  return "no error";
}

TEST(SceneJson, ErrorsNameTheKey) {
  EXPECT_EQ(message_of(R"({"beam": {"vertical_angel_deg": 3}})"),
            "beam.vertical_angel_deg: unknown key");
  EXPECT_EQ(message_of(R"({"implants": [{}, {"length_mm": "long"}]})"),
            "implants[1].length_mm: a number is expected");
  EXPECT_EQ(message_of(R"({"implants": [{"apex": "sharp"}]})"),
            "implants[0].apex: one of these is expected: round, flat, notch");
  EXPECT_EQ(message_of(R"({"detector": {"pixel_mm": 0}})"),
            "detector.pixel_mm: more than 0.001 is expected");
  EXPECT_EQ(message_of(R"({"detector": {"rows": 10.5}})"),
            "detector.rows: a whole number is expected");
  EXPECT_EQ(message_of(R"({"splinted": 1})"), "splinted: true or false is expected");
  EXPECT_EQ(message_of("[]"), "scene: an object is expected");
  EXPECT_EQ(message_of("{}"), "no error");
}

TEST(RandomScene, EveryDrawIsRenderableAndSurvivesJson) {
  for (std::uint64_t seed = 1; seed <= 400; ++seed) {
    for (const Scene& s : {random_scene(seed), implant_free_scene(seed)}) {
      ASSERT_NO_THROW(check(s)) << s.name;
      const nlohmann::json j = scene_to_json(s);
      EXPECT_EQ(scene_to_json(scene_from_json(j)), j) << s.name;
      EXPECT_LE(s.detector.columns * double(s.detector.rows), 0.62e6) << s.name;
    }
    EXPECT_TRUE(implant_free_scene(seed).implants.empty());
  }
}

Scene small(std::uint64_t seed) {
  Draw draw;
  draw.megapixels = 0.03;
  return random_scene(seed, draw);
}

TEST(Render, EqualScenesGiveEqualBytesAndSeedsDiffer) {
  const Scene s = small(7);
  const Rendered a = render(s), b = render(s);
  EXPECT_EQ(a.stored, b.stored);
  EXPECT_EQ(truth_json(a.truth), truth_json(b.truth));
  Scene other = s;
  other.detector.seed += 1;
  EXPECT_NE(render(other).stored, a.stored);
}

TEST(Render, ReadOutMovesPixelsAndTruthAlike) {
  Scene s = small(3);
  s.readout = Readout{};
  const Rendered plain = render(s);
  for (const bool mirrored : {false, true}) {
    for (int turns = 0; turns < 4; ++turns) {
      s.readout.mirrored = mirrored;
      s.readout.quarter_turns = turns;
      const Rendered turned = render(s);
      for (const Point p : {Point{0, 0}, Point{11, 5}, Point{40, 60}}) {
        const Point q = read_out(p, s);
        EXPECT_EQ(turned.stored[int(q.y) * turned.columns + int(q.x)],
                  plain.stored[int(p.y) * plain.columns + int(p.x)]);
      }
      Scene upright = s;
      upright.readout = Readout{};
      const Point at = read_out(plain.truth.implants[0].platform_px, s);
      EXPECT_NEAR(turned.truth.implants[0].platform_px.x, at.x, 1e-9);
      EXPECT_NEAR(turned.truth.implants[0].platform_px.y, at.y, 1e-9);
      EXPECT_NEAR(turned.truth.implants[0].vertical_angle_deg,
                  plain.truth.implants[0].vertical_angle_deg, 1e-9);
    }
  }
}

TEST(Render, InvertedStorageIsUndoneInTheFrame) {
  Scene s = small(5);
  s.readout.monochrome1 = false;
  s.readout.inverted = false;
  const Rendered plain = render(s);
  s.readout.monochrome1 = true;
  const Rendered one = render(s);
  EXPECT_NE(one.stored, plain.stored);
  EXPECT_EQ(to_frame(one).values, to_frame(plain).values);
}

TEST(Truth, CrestIsWhereTheSceneSaysOnAnUprightImplant) {
  Scene s;
  s.bone.crest_left_mm = 1.7;
  s.bone.crest_right_mm = 3.2;
  s.bone.saucer_depth_right_mm = 1.0;
  s.detector.columns = s.detector.rows = 64;
  ImplantTruth t = render(s).truth.implants[0];
  EXPECT_NEAR(*t.crest_left_mm, 1.7, 0.01);
  EXPECT_NEAR(*t.crest_right_mm, 3.2, 0.01);
  s.beam.in_plane_turn_deg = 180.0;  // left and right are those of the image
  t = render(s).truth.implants[0];
  EXPECT_NEAR(*t.crest_left_mm, 3.2, 0.01);
  EXPECT_EQ(t.coronal_side, "down");
}

// ---- objects ------------------------------------------------------------------------------------

std::string output_of(const std::string& command) {
  std::string text;
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return "cannot run";
  std::array<char, 512> buffer;
  while (fgets(buffer.data(), buffer.size(), pipe) != nullptr) text += buffer.data();
  pclose(pipe);
  return text;
}

class Objects : public testing::TestWithParam<ObjectClass> {};

TEST_P(Objects, PassTheOutsideValidator) {
  ASSERT_FALSE(output_of("command -v dciodvfy").empty()) << "dicom3tools is not installed";
  const auto dir =
      std::filesystem::temp_directory_path() / ("phantom-objects-" + std::to_string(::getpid()) +
                                                "-" + std::to_string(static_cast<int>(GetParam())));
  std::filesystem::create_directories(dir);
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    Scene s = small(seed);
    s.identity.object_class = GetParam();
    s.readout.rgb = GetParam() == ObjectClass::secondary_capture && seed % 2 == 0;
    if (seed == 3) s.identity.requested_procedure = "Check of seating";
    s.identity.tooth = seed == 4 ? "" : "36";
    const std::string file = (dir / (std::to_string(seed) + ".dcm")).string();
    const Rendered r = render(s);
    write_dicom(r, s, file);
    const std::string said = output_of("dciodvfy " + file);
    EXPECT_EQ(said.find("Error"), std::string::npos) << s.name << "\n" << said;
    // Truth never travels with the image.
    std::ifstream in(file, std::ios::binary);
    const std::string bytes((std::istreambuf_iterator<char>(in)), {});
    EXPECT_GT(bytes.size(), r.stored.size());
    EXPECT_EQ(bytes.find("angle"), std::string::npos);
  }
  std::filesystem::remove_all(dir);
}

INSTANTIATE_TEST_SUITE_P(AllClasses, Objects,
                         testing::Values(ObjectClass::intraoral_presentation,
                                         ObjectClass::intraoral_processing,
                                         ObjectClass::digital_xray,
                                         ObjectClass::computed_radiography,
                                         ObjectClass::secondary_capture));

TEST(Objects, AnUnwritablePathIsNamed) {
  const Scene s = small(1);
  try {
    write_dicom(render(s), s, "/nonexistent/x.dcm");
    FAIL() << "an error is expected";
  } catch (const std::runtime_error& e) {
    EXPECT_NE(std::string(e.what()).find("/nonexistent/x.dcm"), std::string::npos);
  }
}

// ---- Ridge --------------------------------------------------------------------------------------

TEST(Ridge, ATurnedRaySeesItsRoundTopCoronalOfTheCrest) {
  // The tangent to an ellipse of half axes b (depth) and h (height), closed form: its height above
  // the crown, where it crosses mid-depth, is hypot(h, b tan(theta)) - h.
  Scene s = bare(60);
  s.bone.present = true;
  s.bone.gingiva_mm = s.bone.buccal_drop_mm = s.bone.lingual_drop_mm = 0.0;
  s.bone.roughness_mm = s.bone.texture_contrast = 0.0;
  s.bone.buccal_plate_mm = s.bone.lingual_plate_mm = 1.0;
  s.bone.width_mm = 9.0;
  s.bone.slope_mm = 0.6;
  const Ridge ridge(s);
  for (const double degrees : {0.0, 4.0, -4.0, 12.0}) {
    const double tangent = std::tan(radians(degrees));
    double seen = -1e9;
    for (double z = -2.0; z < 3.0; z += 0.002) {
      std::array<float, kMaterials> path{};
      const double norm = std::hypot(1.0, tangent);
      const Vec direction{0.0, 1.0 / norm, -tangent / norm};
      ridge.add_paths({{0.0, -100.0, z + 100.0 * tangent}, direction}, Spans(), &path);
      if (path[static_cast<int>(Material::trabecular_bone)] > 0) seen = z;
    }
    EXPECT_NEAR(seen - ridge.crest_z(0.0), std::hypot(0.6, 3.5 * tangent) - 0.6, 0.004) << degrees;
  }
}

}  // namespace
}  // namespace crestgate::phantom
