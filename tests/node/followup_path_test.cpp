// The full path against a real archive process (DCMTK's dcmqrscp): baseline stored long before, a
// follow-up sent to the node, the comparison in the report; the archive stopped in between.
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "node/archive_search.h"
#include "tests/support/command.h"
#include "tests/support/dicom_writer.h"
#include "tests/support/net/net_client.h"
#include "tests/support/net/net_counting_scp.h"
#include "tests/support/net/net_node.h"
#include "tests/support/render.h"

namespace crestgate {
namespace {

class Archive {
 public:
  Archive() : port_(free_port()) {
    std::filesystem::create_directories(folder_.path() + "/store");
    configure("");
  }
  ~Archive() { stop(); }
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  /// Before start(): no C-GET; C-MOVE to the node at this port.
  void offer_move_only(int node_port) {
    configure("node = (CRESTGATE, 127.0.0.1, " + std::to_string(node_port) + ")\n");
    with_get_ = false;
  }

  bool start() {
    const std::string config = folder_.path() + "/archive.cfg";
    pid_ = fork();
    if (pid_ == 0) {
      const int log = ::open("/dev/null", O_WRONLY);
      dup2(log, 1);
      dup2(log, 2);
      execlp("dcmqrscp", "dcmqrscp", "-c", config.c_str(), with_get_ ? "-q" : "--disable-get",
             static_cast<char*>(nullptr));
      _exit(127);
    }
    SendOptions as_archive;
    as_archive.called = "ARCHIVE";
    return eventually([&] { return echo(port_, as_archive); });
  }
  void stop() {
    if (pid_ <= 0) return;
    kill(pid_, SIGTERM);
    waitpid(pid_, nullptr, 0);
    pid_ = -1;
  }
  int port() const { return port_; }

  /// Texts of every structured report that speaks of this source image, one string per report.
  std::vector<std::string> reports_on(const std::string& source_uid) const {
    std::vector<std::string> found;
    for (const auto& file : std::filesystem::directory_iterator(folder_.path() + "/store")) {
      DcmFileFormat dicom;
      if (dicom.loadFile(file.path().c_str()).bad()) continue;
      OFString modality;
      dicom.getDataset()->findAndGetOFString(DCM_Modality, modality);
      if (modality != "SR") continue;
      std::ostringstream text;
      dicom.getDataset()->print(text, 0);
      if (text.str().find("[" + source_uid + "]") != std::string::npos) found.push_back(text.str());
    }
    return found;
  }
  /// Texts of every key object note.
  std::vector<std::string> notes() const {
    std::vector<std::string> found;
    for (const auto& file : std::filesystem::directory_iterator(folder_.path() + "/store")) {
      DcmFileFormat dicom;
      OFString modality;
      if (dicom.loadFile(file.path().c_str()).bad()) continue;
      dicom.getDataset()->findAndGetOFString(DCM_Modality, modality);
      std::ostringstream text;
      dicom.getDataset()->print(text, 0);
      if (modality == "KO") found.push_back(text.str());
    }
    return found;
  }
  /// Files of the presentation states in a study.
  std::vector<std::string> states_in(const std::string& study_uid) const {
    std::vector<std::string> found;
    for (const auto& file : std::filesystem::directory_iterator(folder_.path() + "/store")) {
      DcmFileFormat dicom;
      OFString modality, study;
      if (dicom.loadFile(file.path().c_str()).bad()) continue;
      dicom.getDataset()->findAndGetOFString(DCM_Modality, modality);
      dicom.getDataset()->findAndGetOFString(DCM_StudyInstanceUID, study);
      if (modality == "PR" && study == study_uid.c_str()) found.push_back(file.path().string());
    }
    return found;
  }
  int pictures() const {
    int n = 0;
    for (const auto& file : std::filesystem::directory_iterator(folder_.path() + "/store")) {
      DcmFileFormat dicom;
      OFString words;
      if (dicom.loadFile(file.path().c_str()).good())
        dicom.getDataset()->findAndGetOFString(DCM_SeriesDescription, words);
      n += words == "crestgate: comparison with an earlier image";
    }
    return n;
  }

 private:
  void configure(const std::string& hosts) {
    std::ofstream(folder_.path() + "/archive.cfg")
        << "NetworkTCPPort = " << port_ << "\nMaxPDUSize = 16384\nMaxAssociations = 16\n"
        << "HostTable BEGIN\n"
        << hosts << "HostTable END\nVendorTable BEGIN\nVendorTable END\nAETable BEGIN\n"
        << "ARCHIVE " << folder_.path() << "/store RW (500, 1024mb) ANY\nAETable END\n";
  }
  TempFolder folder_;
  int port_;
  bool with_get_ = true;
  pid_t pid_ = -1;
};

phantom::Scene site(const std::string& date, const std::string& uid) {
  phantom::Scene s;
  s.identity.tooth = "36";
  s.identity.laterality = "L";
  s.identity.date = date;
  s.identity.study_uid = uid + ".1";
  s.identity.series_uid = uid + ".2";
  s.identity.sop_uid = uid;
  s.implants[0].abutment.base_diameter_mm = 3.4;
  s.bone.crest_left_mm = s.bone.crest_right_mm = 1.0;
  return s;
}

class FollowUpPath : public ::testing::Test {
 protected:
  void SetUp() override {
    ASSERT_TRUE(archive.start()) << "dcmqrscp (package dcmtk) does not answer";
    node.write_rules(
        "mode: trial\nintents:\n  - {attribute: StudyDescription, contains: bone check, intent: "
        "follow-up}\n  - {attribute: StudyDescription, contains: surgery, intent: placement}\n"
        "positioning: {attribute: StudyDescription, before: holder}\n");
    ASSERT_TRUE(node.start(archive.port()));
    phantom::Scene baseline = site("20250110", "2.25.7001");
    store(baseline, archive.port(), "ARCHIVE");
  }
  void store(const phantom::Scene& scene, int port, const std::string& called) {
    const std::string path = folder.path() + "/image.dcm";
    phantom::write_dicom(phantom::render(scene), scene, path);
    DcmFileFormat file;
    ASSERT_TRUE(file.loadFile(path.c_str()).good());
    SendOptions options;
    options.called = called;
    ASSERT_EQ(send(port, *file.getDataset(), options), 0x0000);
  }
  void follow_up(phantom::Scene scene) {
    scene.detector.noise_seed = 99;
    scene.identity.study_description = "Bone check";
    store(scene, node.port(), "CRESTGATE");
  }
  /// Waits until the node has nothing more to do and owes nothing.
  bool settled() {
    return eventually([&] { return node.is_idle() && node.count_in("comparing") == 0; }, 240);
  }
  std::string only_report(const std::string& uid) {
    const auto all = archive.reports_on(uid);
    return all.size() == 1 ? all[0] : std::to_string(all.size()) + " reports";
  }
  TempFolder folder;
  Archive archive;
  NodeProcess node;
};

bool holds(const std::string& text, const std::string& words) {
  return text.find(words) != std::string::npos;
}

std::string value_in(const std::string& path, const DcmTagKey& key) {
  DcmFileFormat dicom;
  OFString value;
  if (dicom.loadFile(path.c_str()).good())
    dicom.getDataset()->findAndGetOFStringArray(key, value, true);
  return value.c_str();
}

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
