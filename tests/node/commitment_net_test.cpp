// Storage commitment over the wire, against an archive that reports on the same or on another
// association, in part, late or never.
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <gtest/gtest.h>

#include "tests/support/net/net_client.h"
#include "tests/support/net/net_counting_scp.h"
#include "tests/support/net/net_image.h"
#include "tests/support/net/net_node.h"

namespace crestgate {
namespace {

class CommitmentNetTest : public ::testing::Test {
 protected:
  void begin(CommitmentMode mode, int answer_s = 3600) {
    archive.commitment = mode;
    archive.up();
    node.delivery_keys = ", commitment: true, commitment_answer_s: " + std::to_string(answer_s);
    ASSERT_TRUE(node.start(archive.port())) << node.log();
    archive.report_port = node.port();
  }
  void send_image(const std::string& uid) {
    ImageWish wish;
    wish.sop_instance_uid = uid;
    DcmDataset dataset;
    fill_image(dataset, wish);
    ASSERT_EQ(send(node.port(), dataset, {}), 0);
  }
  bool logged(const std::string& words) {
    return eventually([&] { return node.log().find(words) != std::string::npos; }, 20);
  }
  CountingScp archive;
  NodeProcess node;
};

TEST_F(CommitmentNetTest, OnTheSameAssociation) {
  begin(CommitmentMode::same_association);
  send_image("2.25.901");
  EXPECT_TRUE(logged("committed object=")) << node.log();
  EXPECT_TRUE(eventually([&] { return node.is_idle(); })) << node.log();
  EXPECT_EQ(archive.last_report_answer(), 0);
  EXPECT_EQ(archive.stored().size(), 2U);
}

TEST_F(CommitmentNetTest, OnAnAssociationOfTheArchivesOwn) {
  begin(CommitmentMode::separate_association);
  send_image("2.25.902");
  EXPECT_TRUE(logged("committed object=")) << node.log();
  EXPECT_TRUE(eventually([&] { return node.is_idle(); })) << node.log();
  EXPECT_EQ(archive.last_report_answer(), 0);
  EXPECT_NE(node.log().find("commitment-report"), std::string::npos);
}

TEST_F(CommitmentNetTest, WhatTheArchiveLostIsSentAgain) {
  std::atomic<int> times{0};
  archive.commit_rule([&](const std::string&) {
    return static_cast<std::uint16_t>(times++ == 0 ? 0x0112 : 0);  // one object, once
  });
  begin(CommitmentMode::same_association);
  send_image("2.25.903");
  EXPECT_TRUE(logged("not-committed object=")) << node.log();
  EXPECT_TRUE(eventually([&] { return node.is_idle(); })) << node.log();
  EXPECT_EQ(archive.instances().size(), 2U);
  EXPECT_EQ(archive.stored().size(), 3U);
  EXPECT_EQ(archive.changed_instances(), 0);
}

TEST_F(CommitmentNetTest, AnArchiveThatNeverAnswersIsAskedAgain) {
  begin(CommitmentMode::silent, 1);
  send_image("2.25.904");
  EXPECT_TRUE(archive.wait_for([](const CountingScp& a) { return a.commitment_requests() >= 2; }))
      << node.log();
  EXPECT_GT(node.count_in("outbox"), 0);
  EXPECT_NE(node.status_text().find("awaiting commitment: 2"), std::string::npos)
      << node.status_text();
  archive.commitment = CommitmentMode::same_association;
  EXPECT_TRUE(eventually([&] { return node.is_idle(); })) << node.log();
  EXPECT_EQ(archive.stored().size(), 2U);
}

TEST_F(CommitmentNetTest, KilledWhileWaitingItAsksAnew) {
  begin(CommitmentMode::silent);
  send_image("2.25.905");
  ASSERT_TRUE(archive.wait_for([](const CountingScp& a) { return a.commitment_requests() >= 1; }))
      << node.log();
  node.kill_hard();
  archive.commitment = CommitmentMode::same_association;
  ASSERT_TRUE(node.start(archive.port()));
  EXPECT_TRUE(eventually([&] { return node.is_idle(); })) << node.log();
  EXPECT_EQ(archive.instances().size(), 2U);
}

TEST_F(CommitmentNetTest, AnArchiveWithoutItKeepsTheObjectsHereAndTheLogSaysWhy) {
  begin(CommitmentMode::not_offered);
  send_image("2.25.906");
  EXPECT_TRUE(logged("archive does not offer it (delivery.commitment)")) << node.log();
  EXPECT_EQ(archive.instances().size(), 2U);
  EXPECT_GT(node.count_in("outbox"), 0);
}

TEST_F(CommitmentNetTest, ReportsNobodyAskedForAreNotAcceptedWithoutTheOption) {
  archive.up();
  ASSERT_TRUE(node.start(archive.port()));
  EXPECT_FALSE(accepts_class(node.port(), UID_StorageCommitmentPushModelSOPClass,
                             UID_LittleEndianImplicitTransferSyntax));
}

}  // namespace
}  // namespace crestgate
