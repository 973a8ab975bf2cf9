// The full path against a real archive process: which earlier images it is asked for, how they
// come, and what happens while it is stopped.
#include "node/archive_search.h"
#include "tests/node/followup_path.h"

namespace crestgate {
namespace {

SearchKeys keys_of(const std::string& tooth, Baseline baseline) {
  SearchKeys keys;
  const phantom::Scene s;
  keys.patient_id = s.identity.patient_id;
  keys.issuer_of_patient_id = s.identity.issuer_of_patient_id;
  keys.sop_instance_uid = "2.25.7002";
  keys.content_date = "20260112";
  keys.teeth = {tooth};
  keys.baseline = baseline;
  return keys;
}

/// Beyond the rule's number the oldest and the newest are compared, and the rest is said.
TEST_F(FollowUpPath, AllEarlierImagesUpToTheRulesNumber) {
  for (int year = 11; year <= 16; ++year)
    store(site("20" + std::to_string(year) + "0601", "2.25.70" + std::to_string(year)),
          archive.port(), "ARCHIVE");
  phantom::Scene elsewhere = site("20170601", "2.25.7017");
  elsewhere.identity.tooth = "45";
  elsewhere.identity.laterality = "R";
  store(elsewhere, archive.port(), "ARCHIVE");
  const Peer peer{"ARCHIVE", "127.0.0.1", archive.port()};
  SearchKeys keys = keys_of("36", Baseline::all);
  const auto all = find_earlier_images(peer, "CRESTGATE", keys);
  ASSERT_TRUE(all.ok()) << all.status().text;
  EXPECT_EQ(all.value().files.size(), 7U);
  EXPECT_EQ(all.value().left_out, 0);
  keys.most_compared = 2;
  const auto two = find_earlier_images(peer, "CRESTGATE", keys);
  ASSERT_TRUE(two.ok()) << two.status().text;
  EXPECT_EQ(two.value().files.size(), 2U);
  EXPECT_EQ(two.value().fetched, 2);
  EXPECT_EQ(two.value().left_out, 6);  // the other site is among those nobody looked at

  node.kill_hard();
  node.write_rules(
      "mode: trial\nfollow_up: {baseline: all, most_compared: 2}\n"
      "intents:\n  - {attribute: StudyDescription, contains: bone check, intent: follow-up}\n");
  ASSERT_TRUE(node.start(archive.port()));
  follow_up(site("20260112", "2.25.7002"));
  ASSERT_TRUE(settled()) << node.log();
  const std::string report = only_report("2.25.7002");
  EXPECT_TRUE(holds(report, "Compared with the image of 2011-06-01 (2.25.7011): compared"))
      << report << node.log();
  EXPECT_TRUE(holds(report, "Compared with the image of 2025-01-10 (2.25.7001): compared"));
  EXPECT_FALSE(holds(report, "Compared with the image of 2016-06-01"));
  EXPECT_TRUE(holds(report,
                    "follow_up.most_compared: earlier images of this patient neither looked at nor "
                    "compared: 6 (the rule allows 2)"))
      << report;
}

/// Our own reports in the archive: the baseline's is named by the comparison, and an image that its
/// report gives to another site is not fetched at all.
TEST_F(FollowUpPath, EarlierReportsAreReadFirst) {
  store(site("20250110", "2.25.7001"), node.port(), "CRESTGATE");  // judged: now it has a report
  phantom::Scene elsewhere = site("20250210", "2.25.7011");
  elsewhere.identity.tooth = "45";
  elsewhere.identity.laterality = "R";
  store(elsewhere, archive.port(), "ARCHIVE");
  store(elsewhere, node.port(), "CRESTGATE");
  ASSERT_TRUE(settled()) << node.log();
  const Peer peer{"ARCHIVE", "127.0.0.1", archive.port()};
  const auto found = find_earlier_images(peer, "CRESTGATE", keys_of("36", Baseline::last));
  ASSERT_TRUE(found.ok()) << found.status().text;
  EXPECT_EQ(found.value().files.size(), 1U);
  EXPECT_EQ(found.value().fetched, 1);
  EXPECT_EQ(found.value().other_sites, std::vector<std::string>{"45"});
  ASSERT_EQ(found.value().reports.count("2.25.7001"), 1U);

  follow_up(site("20260112", "2.25.7002"));
  ASSERT_TRUE(settled()) << node.log();
  const std::string report = only_report("2.25.7002");
  const std::size_t evidence = report.find("PertinentOtherEvidenceSequence");
  ASSERT_NE(evidence, std::string::npos) << report;
  const KnownDocument& earlier = found.value().reports.at("2.25.7001");
  EXPECT_NE(report.find("[" + earlier.sop_instance_uid + "]", evidence), std::string::npos);
}

/// Taken earlier than the baseline and showing a part, but for another question.
TEST_F(FollowUpPath, AViewOfThePlacementIsNoBaselineWhereThereIsABetterOne) {
  phantom::Scene placed = site("20241202", "2.25.7012");
  placed.identity.study_description = "Implant surgery";
  store(placed, archive.port(), "ARCHIVE");
  follow_up(site("20260112", "2.25.7002"));
  ASSERT_TRUE(settled()) << node.log();
  const std::string report = only_report("2.25.7002");
  EXPECT_TRUE(holds(report, "Compared with the image of 2025-01-10 (2.25.7001): compared"))
      << report << node.log();
  EXPECT_FALSE(holds(report, "Compared with the image of 2024-12-02")) << report;
  EXPECT_TRUE(
      holds(report,
            "Baseline chosen: the first that shows a part mounted on the implant (why it was "
            "taken is not stated); left aside, taken for another question: 1"))
      << report;

  SearchKeys keys = keys_of("36", Baseline::last);
  keys.content_date = "20250101";  // when there was nothing else yet, it is what there is
  keys.intents = {{"StudyDescription", "surgery", Intent::placement}};
  const auto found =
      find_earlier_images({"ARCHIVE", "127.0.0.1", archive.port()}, "CRESTGATE", keys);
  ASSERT_TRUE(found.ok()) << found.status().text;
  EXPECT_EQ(found.value().files.size(), 1U);
}

/// A holder made after the baseline: judged against its own first exposure, found in the archive.
TEST_F(FollowUpPath, AHolderThatDriftsIsToBeMadeAnew) {
  phantom::Scene first = site("20250601", "2.25.7013");
  first.identity.study_description = "Bone check, holder A7";
  store(first, archive.port(), "ARCHIVE");
  phantom::Scene now = site("20260112", "2.25.7002");
  now.identity.study_description = "Bone check, Holder a7";
  now.detector.noise_seed = 99;
  now.beam.vertical_angle_deg += 4.5;
  store(now, node.port(), "CRESTGATE");
  ASSERT_TRUE(settled()) << node.log();
  const std::string report = only_report("2.25.7002");
  EXPECT_TRUE(holds(report, "Compared with the image of 2025-01-10")) << report;
  EXPECT_TRUE(holds(report, "a7, against its exposure of 2025-06-01: vertical angle")) << report;
  EXPECT_TRUE(holds(report, "make a7 anew")) << report;

  SearchKeys keys = keys_of("36", Baseline::first_after_loading);
  keys.jig = "a7";
  keys.positioning = Positioning{"StudyDescription", "holder", 2.0, 0.02};
  const auto found =
      find_earlier_images({"ARCHIVE", "127.0.0.1", archive.port()}, "CRESTGATE", keys);
  ASSERT_TRUE(found.ok()) << found.status().text;
  EXPECT_EQ(found.value().files.size(), 2U);
}

TEST_F(FollowUpPath, AnArchiveWithoutCGetIsAskedToMove) {
  archive.stop();
  archive.offer_move_only(node.port());
  ASSERT_TRUE(archive.start());
  const Peer peer{"ARCHIVE", "127.0.0.1", archive.port()};
  const auto alone = find_earlier_images(peer, "CRESTGATE", keys_of("36", Baseline::last));
  EXPECT_FALSE(alone.ok());  // nobody listens for the answers: C-GET was all there was
  follow_up(site("20260112", "2.25.7002"));
  ASSERT_TRUE(settled()) << node.log();
  EXPECT_TRUE(holds(only_report("2.25.7002"),
                    "Compared with the image of 2025-01-10 (2.25.7001): compared"))
      << node.log();
  EXPECT_TRUE(holds(node.log(), "answer to our own retrieval")) << node.log();
}

TEST_F(FollowUpPath, AStoppedArchiveDelaysTheComparisonAndLosesNothing) {
  archive.stop();
  follow_up(site("20260112", "2.25.7002"));
  ASSERT_TRUE(eventually(
      [&] {
        return node.count_in("comparing") == 2 && node.count_in("working") == 0 &&
               node.count_in("ready") == 0 && node.count_in("incoming") == 0;
      },
      240))
      << node.log();
  EXPECT_GT(node.count_in("outbox"), 0);  // the single-image result waits for nothing
  node.kill_hard();                       // and the node falls over, too
  ASSERT_TRUE(archive.start());
  ASSERT_TRUE(node.start(archive.port()));
  ASSERT_TRUE(settled()) << node.log();
  const auto reports = archive.reports_on("2.25.7002");
  ASSERT_EQ(reports.size(), 2U) << node.log();
  const bool first_pending = holds(reports[0], "Comparison pending");
  const std::string& pending = reports[first_pending ? 0 : 1];
  const std::string& later = reports[first_pending ? 1 : 0];
  EXPECT_TRUE(holds(pending, "Comparison pending")) << pending;
  EXPECT_TRUE(holds(later, "Compared with the image of 2025-01-10")) << later;
  EXPECT_TRUE(holds(later, "PredecessorDocumentsSequence")) << later;
}

}  // namespace
}  // namespace crestgate
