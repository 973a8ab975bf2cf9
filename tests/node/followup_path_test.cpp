// The full path against a real archive process: baseline stored long before, a follow-up sent to
// the node, the comparison in the report and what else is written.
#include "tests/node/followup_path.h"

namespace crestgate {
namespace {

TEST_F(FollowUpPath, TheComparisonIsInTheReportAndInAPicture) {
  phantom::Scene now = site("20260112", "2.25.7002");
  now.bone.crest_left_mm = 2.2;  // 1.2 mm lost
  follow_up(now);
  ASSERT_TRUE(settled()) << node.log();
  const std::string report = only_report("2.25.7002");
  EXPECT_TRUE(holds(report, "Compared with the image of 2025-01-10 (2.25.7001): compared"))
      << report << node.log();
  EXPECT_TRUE(holds(report, "image left")) << report;
  EXPECT_TRUE(holds(report, "resolved: loss")) << report;
  EXPECT_TRUE(holds(report, "within measurement error")) << report;
  EXPECT_TRUE(holds(report, "the crest would move by")) << report;  // under other grey values
  EXPECT_EQ(archive.pictures(), 1);
}

/// Only where the rules want it, and only for a certain identity, is anything written into the
/// earlier image's study: one state.
TEST_F(FollowUpPath, TheEarlierImagesStudyIsAnnotatedOnlyByRule) {
  phantom::Scene now = site("20260112", "2.25.7002");
  now.bone.crest_left_mm = 2.2;
  follow_up(now);
  ASSERT_TRUE(settled()) << node.log();
  EXPECT_TRUE(archive.states_in("2.25.7001.1").empty());
  EXPECT_EQ(archive.states_in("2.25.7002.1").size(), 1U) << node.log();
  node.kill_hard();
  const std::string annotate =
      "mode: trial\nfollow_up: {annotate_baseline: true}\nintents:\n  - {attribute: "
      "StudyDescription, contains: bone check, intent: follow-up}\n";
  node.write_rules(annotate);
  ASSERT_TRUE(node.start(archive.port()));
  now = site("20260113", "2.25.7012");
  now.bone.crest_left_mm = 2.2;
  follow_up(now);
  ASSERT_TRUE(settled()) << node.log();
  const auto states = archive.states_in("2.25.7001.1");
  ASSERT_EQ(states.size(), 1U) << node.log();
  EXPECT_EQ(value_in(states[0], DCM_ReferencedSOPInstanceUID), "2.25.7001");
  const std::string words = value_in(states[0], DCM_UnformattedTextValue);
  EXPECT_TRUE(holds(words, "2026-01-13 (2.25.7012)") && holds(words, "loss")) << words;
  const Outcome judged = run("dciodvfy " + states[0]);
  ASSERT_NE(judged.exit_code, 127) << "dciodvfy (package dicom3tools) is not installed";
  EXPECT_TRUE(holds(judged.output, "GrayscaleSoftcopyPresentationState")) << judged.output;
  EXPECT_FALSE(holds(judged.output, "Error")) << judged.output;

  // A node that knows nothing of it sends the same object again.
  const std::string uid = value_in(states[0], DCM_SOPInstanceUID);
  std::filesystem::remove(states[0]);
  NodeProcess second;
  second.write_rules(annotate);
  ASSERT_TRUE(second.start(archive.port()));
  now.detector.noise_seed = 99;
  now.identity.study_description = "Bone check";
  store(now, second.port(), "CRESTGATE");
  ASSERT_TRUE(
      eventually([&] { return second.is_idle() && second.count_in("comparing") == 0; }, 240))
      << second.log();
  const auto anew = archive.states_in("2.25.7001.1");
  ASSERT_EQ(anew.size(), 1U) << second.log();
  EXPECT_EQ(value_in(anew[0], DCM_SOPInstanceUID), uid);

  phantom::Scene collision = site("20260114", "2.25.7003");
  collision.bone.crest_left_mm = 2.2;
  collision.identity.birth_date = "19850505";  // two people under one Patient ID
  follow_up(collision);
  ASSERT_TRUE(settled()) << node.log();
  EXPECT_EQ(archive.states_in("2.25.7001.1").size(), 1U) << node.log();
}

/// Live: one note 'of interest' on the image whose processing changed, none on the other.
TEST_F(FollowUpPath, ChangedProcessingIsSaidAndNoted) {
  node.kill_hard();
  node.write_rules(
      "mode: live\nalerts: {largest_image_age_days: 3650}\n"
      "commissioning: {by: A, date: 2026-01-01, own_images: 60, agreement_percent: 95, detectors: "
      "[SENSOR-1]}\n"
      "intents:\n  - {attribute: StudyDescription, contains: bone check, intent: follow-up}\n");
  ASSERT_TRUE(node.start(archive.port()));
  follow_up(site("20260112", "2.25.7002"));
  phantom::Scene other = site("20260113", "2.25.7021");
  other.processing.gamma = 1.5;
  follow_up(other);
  ASSERT_TRUE(settled()) << node.log();
  const std::string same = only_report("2.25.7002"), changed = only_report("2.25.7021");
  EXPECT_TRUE(holds(same, "no change seen")) << same << node.log();
  EXPECT_FALSE(holds(same, "processing changed")) << same;
  EXPECT_TRUE(holds(changed, "CG-215")) << changed;
  EXPECT_TRUE(holds(changed, "processing changed between the images: the map between their grey"))
      << changed;
  const auto notes = archive.notes();
  ASSERT_EQ(notes.size(), 1U);
  EXPECT_TRUE(holds(notes[0], "[2.25.7021]")) << notes[0];
  EXPECT_TRUE(holds(notes[0], "113000")) << notes[0];
  EXPECT_TRUE(holds(notes[0], "Image processing changed since the baseline")) << notes[0];
}

TEST_F(FollowUpPath, DoubtfulIdentityIsNotCompared) {
  phantom::Scene collision = site("20260112", "2.25.7003");
  collision.identity.birth_date = "19850505";  // two people under one Patient ID
  follow_up(collision);
  phantom::Scene swapped = site("20260113", "2.25.7004");
  swapped.identity.laterality = "R";
  follow_up(swapped);
  phantom::Scene other_tooth = site("20260114", "2.25.7005");
  other_tooth.identity.tooth = "35";
  follow_up(other_tooth);
  phantom::Scene replaced = site("20260115", "2.25.7006");
  replaced.implants[0].diameter_mm = replaced.implants[0].platform_diameter_mm = 5.0;
  replaced.implants[0].length_mm = 8.0;
  replaced.implants[0].thread.pitch_mm = 1.0;
  follow_up(replaced);
  ASSERT_TRUE(settled()) << node.log();
  EXPECT_TRUE(holds(only_report("2.25.7003"), "birth date differs")) << node.log();
  EXPECT_TRUE(holds(only_report("2.25.7004"), "laterality"));
  EXPECT_TRUE(holds(only_report("2.25.7005"), "earlier images of other sites: 36"));
  EXPECT_TRUE(holds(only_report("2.25.7006"), "this image begins anew"));
  EXPECT_EQ(archive.pictures(), 0);
}

}  // namespace
}  // namespace crestgate
