// The whole node in its own process, killed and started again, and an archive that routes
// everything back.
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <gtest/gtest.h>
#include <signal.h>

#include <atomic>
#include <map>
#include <mutex>
#include <set>

#include "node/fs.h"
#include "tests/support/net/net_client.h"
#include "tests/support/net/net_counting_scp.h"
#include "tests/support/net/net_image.h"
#include "tests/support/net/net_node.h"

namespace crestgate {
namespace {

/// Objects the archive holds per source image.
std::map<std::string, int> sets(const CountingScp& archive) {
  std::map<std::string, std::set<std::string>> per_source;
  for (const auto& s : archive.stored()) per_source[s.source_uid].insert(s.sop_instance_uid);
  std::map<std::string, int> counts;
  for (const auto& [source, uids] : per_source) counts[source] = static_cast<int>(uids.size());
  return counts;
}

class ServeTest : public ::testing::Test {
 protected:
  int send_image(const std::string& uid, const std::string& date = today()) {
    ImageWish wish;
    wish.sop_instance_uid = uid;
    wish.content_date = date;
    DcmDataset dataset;
    fill_image(dataset, wish);
    return send(node.port(), dataset, {});
  }
  CountingScp archive;
  NodeProcess node;
  std::atomic<int> routed{0};
  std::mutex answers_mutex;
  std::set<int> routed_answers;
};

TEST_F(ServeTest, AnImageComesBackAsReportAndPicture) {
  archive.up();
  ASSERT_TRUE(node.start(archive.port()));
  EXPECT_EQ(send_image("2.25.501"), 0x0000);
  ASSERT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() == 2; }))
      << node.log();
  std::set<std::string> classes;
  for (const auto& s : archive.stored()) classes.insert(s.sop_class_uid);
  EXPECT_EQ(classes,
            (std::set<std::string>{UID_ComprehensiveSRStorage, UID_SecondaryCaptureImageStorage}));
  EXPECT_TRUE(eventually([&] { return node.is_idle(); }));
  EXPECT_EQ(node.terminate(), 0);
  EXPECT_NE(node.log().find("judged sop=2.25.501"), std::string::npos) << node.log();
  EXPECT_EQ(node.log().find("Invented^Nobody"), std::string::npos);
}

TEST_F(ServeTest, KilledBetweenReceiptAndReportYieldsOneSetPerImage) {
  archive.up();
  for (int kill = 0; kill < 4; ++kill) {
    ASSERT_TRUE(node.start(archive.port())) << node.log();
    for (int i = 0; i < 2; ++i) {
      const std::string uid = "2.25.6" + std::to_string(kill) + std::to_string(i);
      ASSERT_EQ(send_image(uid), 0x0000);
    }
    // At moments that differ from round to round: right after the answer, while a worker runs,
    // around the first delivery.
    if (kill % 2 == 1) eventually([&] { return node.count_in("working") > 0; }, 5);
    if (kill == 2) {
      archive.wait_for([](const CountingScp& a) { return a.stored().size() > 2; }, 10);
    }
    node.kill_hard();
  }
  ASSERT_TRUE(node.start(archive.port()));
  for (int i = 0; i < 2; ++i) ASSERT_EQ(send_image("2.25.60" + std::to_string(i)), 0x0000);
  EXPECT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() >= 16; }))
      << node.log();
  EXPECT_TRUE(eventually([&] { return node.is_idle(); })) << node.log();
  const auto counts = sets(archive);
  EXPECT_EQ(counts.size(), 8U);
  for (const auto& [source, objects] : counts) EXPECT_EQ(objects, 2) << source;
  EXPECT_EQ(node.count_in("set-aside"), 0);
}

TEST_F(ServeTest, AnArchiveThatRoutesEverythingBackCausesNoLoop) {
  archive.on_stored = [this](DcmDataset& object) {
    SendOptions options;
    options.calling = "ARCHIVE";
    const int answer = send(node.port(), object, options);
    const std::lock_guard<std::mutex> lock(answers_mutex);
    routed_answers.insert(answer);
    ++routed;
  };
  archive.up();
  ASSERT_TRUE(node.start(archive.port()));
  EXPECT_EQ(send_image("2.25.701"), 0x0000);
  ASSERT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() == 2; }))
      << node.log();
  ASSERT_TRUE(eventually([&] { return routed == 2 && node.is_idle(); })) << node.log();
  // The image itself comes back as well.
  EXPECT_EQ(send_image("2.25.701"), 0x0000);
  EXPECT_TRUE(eventually([&] { return node.is_idle(); }));
  EXPECT_EQ(node.terminate(), 0);  // drained: nothing more can come
  EXPECT_EQ(routed_answers, std::set<int>{0});
  EXPECT_EQ(archive.stored().size(), 2U) << node.log();
  EXPECT_NE(node.log().find("why=\"written by crestgate\""), std::string::npos) << node.log();
}

TEST_F(ServeTest, AnArchiveThatWasDownIsServedWhenItComesBack) {
  archive.up();
  const int port = archive.port();
  archive.down();
  ASSERT_TRUE(node.start(port));
  EXPECT_EQ(send_image("2.25.801"), 0x0000);
  ASSERT_TRUE(eventually([&] {
    return node.log().find("archive-unreachable") != std::string::npos;
  })) << node.log();
  EXPECT_NE(node.status_text().find("archive:   not reachable"), std::string::npos);
  node.kill_hard();
  archive.up();
  ASSERT_EQ(archive.port(), port);
  ASSERT_TRUE(node.start(port));
  EXPECT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() == 2; }))
      << node.log();
  EXPECT_EQ(archive.changed_instances(), 0);
}

TEST_F(ServeTest, ARefusedObjectIsKeptAndShown) {
  archive.answer([](const std::string& sop_class, const std::string&) {
    return static_cast<std::uint16_t>(sop_class == UID_ComprehensiveSRStorage ? 0xC001 : 0);
  });
  archive.up();
  ASSERT_TRUE(node.start(archive.port()));
  EXPECT_EQ(send_image("2.25.851"), 0x0000);
  ASSERT_TRUE(eventually([&] { return node.count_in("dead") == 2; })) << node.log();
  EXPECT_NE(node.status_text().find("archive answered C001"), std::string::npos)
      << node.status_text();
  EXPECT_EQ(archive.instances().size(), 1U);
}

TEST_F(ServeTest, ReloadTakesGoodRulesAndKeepsTheOldOnesOtherwise) {
  archive.up();
  ASSERT_TRUE(node.start(archive.port()));
  node.write_rules("mode: trial\nexposure: {largest_noise: 0.04}\n");
  node.signal(SIGHUP);
  ASSERT_TRUE(eventually([&] { return node.log().find("rules-reloaded") != std::string::npos; }));
  node.write_rules("mode: nonsense\n");
  node.signal(SIGHUP);
  ASSERT_TRUE(eventually([&] { return node.log().find("rules-kept") != std::string::npos; }));
  EXPECT_NE(node.log().find(":1:7:"), std::string::npos) << node.log();
  EXPECT_EQ(send_image("2.25.861"), 0x0000);
  EXPECT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() == 2; }));
}

TEST_F(ServeTest, TwoNodesOnOneStateFolderAreNotAllowed) {
  archive.up();
  ASSERT_TRUE(node.start(archive.port()));
  EXPECT_EQ(node.run_second(), 1);
}

TEST_F(ServeTest, BadSettingsOrRulesEndWithCode2) {
  node.write_rules("mode: nonsense\n");
  EXPECT_EQ(node.run_to_end(1234), 2);
  EXPECT_NE(node.log().find(":1:7:"), std::string::npos) << node.log();
}

// ---- inputs the node cannot use; the next image is always processed ----

class BadInputTest : public ServeTest {
 protected:
  void SetUp() override {
    archive.up();
    ASSERT_TRUE(node.start(archive.port()));
  }
  /// After what was sent before: a good image goes through, and status says `reason`.
  void expect_reason(const std::string& reason, const std::string& tag) {
    ASSERT_EQ(send_image("2.25.999"), 0x0000);
    ASSERT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() == 2; }))
        << node.log();
    const std::string status = node.status_text();
    EXPECT_NE(status.find("set aside: 1"), std::string::npos) << status;
    EXPECT_NE(status.find(reason), std::string::npos) << status;
    EXPECT_NE(status.find(tag), std::string::npos) << status;
    EXPECT_NE(node.log().find("set-aside "), std::string::npos);
  }
  int send_wish(const ImageWish& wish) {
    DcmDataset dataset;
    fill_image(dataset, wish);
    return send(node.port(), dataset, {});
  }
};

TEST_F(BadInputTest, MultiFrame) {
  ImageWish wish;
  wish.frames = 3;
  EXPECT_EQ(send_wish(wish), 0x0000);
  expect_reason("frame", "(0028,0008)");
}

TEST_F(BadInputTest, ColourPhoto) {
  ImageWish wish;
  wish.sop_class_uid = UID_SecondaryCaptureImageStorage;
  wish.colour = true;
  EXPECT_EQ(send_wish(wish), 0x0000);
  expect_reason("colour", "(0028,");
}

TEST_F(BadInputTest, ZeroRows) {
  ImageWish wish;
  wish.rows = 0;
  EXPECT_EQ(send_wish(wish), 0x0000);
  expect_reason("", "(0028,0010)");
}

TEST_F(BadInputTest, TruncatedPixelData) {
  DcmDataset dataset;
  fill_image(dataset, {});
  const Uint8 few[16] = {};
  dataset.putAndInsertUint8Array(DCM_PixelData, few, 16);
  EXPECT_EQ(send(node.port(), dataset, {}), 0x0000);
  expect_reason("", "(7FE0,0010)");
}

TEST_F(BadInputTest, EncapsulatedPixelsNobodyCanDecode) {
  EXPECT_EQ(node.store_garbage_jpeg("2.25.900"), 0x0000);
  expect_reason("", "");
}

TEST_F(BadInputTest, TwoHundredMegabytesAreRefusedBeforeTheyAreRead) {
  ImageWish wish;
  wish.rows = 20000;
  wish.columns = 10000;  // 200 MB; the limit of these settings is 128 MB
  EXPECT_EQ(send_wish(wish), 0xA700);
  ASSERT_EQ(send_image("2.25.999"), 0x0000);
  EXPECT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() == 2; }));
  EXPECT_NE(node.log().find("listen.max_object_mb"), std::string::npos);
}

TEST_F(BadInputTest, NotDicomInTheSpoolFolder) {
  // As if the disk had eaten a file that was answered with success.
  node.kill_hard();
  const std::string name =
      "0000000000000001-" + std::string(32, 'a') + "-" + std::string(32, 'b') + "-0.dcm";
  write_bytes(node.state_folder() + "/ready/" + name, Bytes(1000, 'x'));
  ASSERT_TRUE(node.start(archive.port()));
  expect_reason("not a DICOM file", "");
}

TEST_F(ServeTest, AnOldImageGetsReportAndPictureAndTheLogSaysWhyNoNote) {
  archive.up();
  ASSERT_TRUE(node.start(archive.port()));
  EXPECT_EQ(send_image("2.25.871", "20150301"), 0x0000);
  ASSERT_TRUE(archive.wait_for([](const CountingScp& a) { return a.instances().size() == 2; }));
  EXPECT_TRUE(eventually([&] { return node.log().find("note_withheld=") != std::string::npos; }));
}

}  // namespace
}  // namespace crestgate
