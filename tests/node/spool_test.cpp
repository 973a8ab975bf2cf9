#include "node/spool.h"

#include <gtest/gtest.h>

#include "tests/support/net/net_fault_fs.h"

namespace crestgate {
namespace {

class SpoolTest : public ::testing::Test {
 protected:
  void SetUp() override { reopen(); }
  void reopen() {
    spool = std::make_unique<Spool>(fs, *index, "/s", 1000);
    notes.clear();
    ASSERT_TRUE(spool->open(notes).ok());
  }
  Result<Receipt> receive(const std::string& uid, const std::string& content) {
    auto incoming = spool->begin();
    if (!incoming.ok()) return incoming.status();
    EXPECT_TRUE(incoming.value()->append_header({'h'}).ok());
    EXPECT_TRUE(incoming.value()->append_data(content.data(), content.size()).ok());
    return spool->commit(std::move(incoming.value()), uid);
  }
  FaultFs fs;
  std::unique_ptr<Index> index = std::move(Index::open(":memory:").value());
  std::unique_ptr<Spool> spool;
  std::vector<std::string> notes;
};

TEST_F(SpoolTest, OneImageFromReceiptToOutbox) {
  ASSERT_EQ(receive("1.2.3", "pixels").value(), Receipt::stored);
  const auto entry = spool->try_take();
  ASSERT_TRUE(entry);
  EXPECT_EQ(fs.read(spool->working_path(*entry)).value(),
            (Bytes{'h', 'p', 'i', 'x', 'e', 'l', 's'}));
  EXPECT_TRUE(spool->in_work(entry->folder()));
  Exposure exposure;
  exposure.visit_key = "key";
  ASSERT_TRUE(spool->finish(*entry, {{"picture", {1}}, {"note", {2}}}, exposure, 50).ok());
  EXPECT_FALSE(spool->in_work(entry->folder()));
  EXPECT_EQ(fs.files(),
            (std::vector<std::string>{"/s/outbox/" + entry->folder() + "/01-picture.dcm",
                                      "/s/outbox/" + entry->folder() + "/02-note.dcm"}));
  EXPECT_EQ(index->exposures_since(0).at("key").count, 1);
  EXPECT_FALSE(spool->try_take());
}

TEST_F(SpoolTest, OrderOfArrivalIsKept) {
  receive("1", "a");
  receive("2", "b");
  reopen();
  receive("3", "c");
  EXPECT_EQ(spool->try_take()->sequence, 1U);
  EXPECT_EQ(spool->try_take()->sequence, 2U);
  EXPECT_EQ(spool->try_take()->sequence, 3U);
}

TEST_F(SpoolTest, SecondReceiptIsKnownInEveryState) {
  receive("1", "a");
  EXPECT_EQ(receive("1", "a").value(), Receipt::already_known);
  EXPECT_EQ(receive("1", "other").value(), Receipt::other_content);
  const auto entry = spool->try_take();
  EXPECT_EQ(receive("1", "a").value(), Receipt::already_known);
  ASSERT_TRUE(spool->finish(*entry, {}, {}, 1).ok());
  EXPECT_EQ(receive("1", "a").value(), Receipt::already_known);
  EXPECT_EQ(receive("1", "other").value(), Receipt::other_content);
  reopen();
  EXPECT_EQ(receive("1", "a").value(), Receipt::already_known);
  EXPECT_FALSE(spool->try_take());
  EXPECT_TRUE(fs.files().empty());
}

TEST_F(SpoolTest, AnImageSetAsideMayBeMended) {
  receive("1", "broken");
  const auto entry = spool->try_take();
  ASSERT_TRUE(spool->set_aside(*entry, "{}").ok());
  EXPECT_EQ(receive("1", "broken").value(), Receipt::already_known);
  EXPECT_EQ(receive("1", "mended").value(), Receipt::stored);
  EXPECT_TRUE(spool->try_take());
  reopen();
  EXPECT_EQ(receive("1", "broken").value(), Receipt::other_content);  // the mended one is in work
}

TEST_F(SpoolTest, AnAbandonedReceiptLeavesNothing) {
  {
    auto incoming = spool->begin();
    incoming.value()->append_data("x", 1);
    EXPECT_EQ(fs.files().size(), 1U);
  }
  EXPECT_TRUE(fs.files().empty());
}

TEST_F(SpoolTest, TooLittleSpaceIsSaid) {
  fs.free_space = 999;
  EXPECT_EQ(receive("1", "a").status().code, Code::no_space);
}

TEST_F(SpoolTest, AnImageThatStopsTheNodeAgainAndAgainIsSetAside) {
  receive("1", "poison");
  receive("2", "good");
  for (int start = 0; start < kMostStarts; ++start) {
    const auto entry = spool->try_take();
    ASSERT_TRUE(entry);
    EXPECT_EQ(entry->sequence, 1U);
    EXPECT_EQ(entry->starts, start);
    reopen();
  }
  EXPECT_EQ(spool->try_take()->sequence, 2U);
  const auto aside = fs.list("/s/set-aside");
  ASSERT_EQ(aside.value().size(), 2U);
  EXPECT_TRUE(is_reason_file(aside.value()[1]));
}

TEST_F(SpoolTest, StrangersAreLeftAlone) {
  fs.create("/s/ready/notes.txt");
  reopen();
  EXPECT_EQ(notes, (std::vector<std::string>{"left alone, not ours: /s/ready/notes.txt"}));
  EXPECT_TRUE(fs.exists("/s/ready/notes.txt"));
}

}  // namespace
}  // namespace crestgate
