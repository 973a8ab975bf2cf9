#include "node/outbox.h"

#include <gtest/gtest.h>

#include "node/entry_names.h"
#include "node/hash.h"
#include "tests/support/net/net_fault_fs.h"

namespace crestgate {
namespace {

class HandClock : public Clock {
 public:
  std::int64_t now_s() const override { return now; }
  std::int64_t now = 1000;
};

class OutboxTest : public ::testing::Test {
 protected:
  void SetUp() override {
    fs.make_dirs("/s/outbox");
    fs.make_dirs("/s/dead");
  }
  std::string add(std::uint64_t sequence, const std::vector<std::string>& kinds) {
    EntryName entry;
    entry.sequence = sequence;
    entry.uid_hash = short_hash(std::to_string(sequence));
    fs.make_dirs("/s/outbox/" + entry.folder());
    int n = 0;
    for (const std::string& kind : kinds) {
      write_file(fs, "/s/outbox/" + entry.folder() + "/" + object_file(++n, kind), kind.data(),
                 kind.size());
    }
    return entry.folder();
  }
  std::int64_t step() {
    events.clear();
    return outbox.step(events);
  }
  FaultFs fs;
  HandClock clock;
  std::set<std::string> held;
  std::vector<OutboxEvent> events;
  std::vector<std::string> sent;  ///< contents, in order
  int calls = 0;
  bool archive_up = true;
  DeliveryAnswer answer{Delivery::delivered, ""};
  Outbox outbox{fs,
                clock,
                "/s",
                2,
                900,
                [this](const std::string& f) { return held.count(f) != 0; },
                [this](const std::vector<Bytes>& objects) -> Result<std::vector<DeliveryAnswer>> {
                  ++calls;
                  if (!archive_up) return Status::error(Code::unavailable, "no answer");
                  for (const Bytes& b : objects) sent.emplace_back(b.begin(), b.end());
                  return std::vector<DeliveryAnswer>(objects.size(), answer);
                }};
};

TEST_F(OutboxTest, DeliversInOrderAndForgets) {
  add(2, {"c"});
  add(1, {"a", "b"});
  step();
  EXPECT_EQ(sent, (std::vector<std::string>{"a", "b", "c"}));
  EXPECT_TRUE(fs.files().empty());
  EXPECT_TRUE(fs.list("/s/outbox").value().empty());
}

TEST_F(OutboxTest, MoreThanABatchGoesInOneStep) {
  for (std::uint64_t i = 1; i <= 70; ++i) add(i, {"a"});
  step();
  EXPECT_EQ(sent.size(), 70U);
  EXPECT_EQ(calls, 3);
}

TEST_F(OutboxTest, FoldersOfImagesInWorkAreNotTouched) {
  held.insert(add(1, {"a"}));
  step();
  EXPECT_TRUE(sent.empty());
  held.clear();
  step();
  EXPECT_EQ(sent.size(), 1U);
}

TEST_F(OutboxTest, AnArchiveDownForAWeekIsNoIncident) {
  add(1, {"a"});
  archive_up = false;
  const std::int64_t end = clock.now + 7 * 24 * 3600;
  std::size_t lines = 0;
  std::vector<std::int64_t> waits;
  while (clock.now < end) {
    const std::int64_t next = step();
    lines += events.size();
    ASSERT_GT(next, clock.now);
    waits.push_back(next - clock.now);
    clock.now = next;
  }
  EXPECT_EQ(waits[0], 2);
  EXPECT_EQ(waits[1], 4);
  EXPECT_EQ(waits[2], 8);
  EXPECT_EQ(waits.back(), 900);
  EXPECT_EQ(lines, 1U);
  EXPECT_LE(calls, 7 * 24 * 4 + 12);
  archive_up = true;
  step();
  EXPECT_EQ(sent, (std::vector<std::string>{"a"}));
  EXPECT_EQ(events[0].kind, OutboxEvent::Kind::reachable_again);
}

TEST_F(OutboxTest, AnObjectItCannotTakeNowDoesNotHoldUpTheOthers) {
  add(1, {"a"});
  answer = {Delivery::try_again, "archive answered A700"};
  EXPECT_EQ(step(), clock.now + 2);
  EXPECT_EQ(events.size(), 1U);
  add(2, {"b"});
  answer = {Delivery::delivered, ""};
  step();
  EXPECT_EQ(sent.back(), "b");
  clock.now += 2;
  step();
  EXPECT_EQ(sent.back(), "a");
  EXPECT_TRUE(fs.files().empty());
}

TEST_F(OutboxTest, ARefusedObjectGoesToDeadWithTheReason) {
  const std::string folder = add(1, {"a"});
  answer = {Delivery::refused, "archive answered 0122"};
  step();
  const std::string dead = "/s/dead/" + dead_file(folder, "01-a.dcm");
  EXPECT_EQ(fs.files(), (std::vector<std::string>{dead, reason_file(dead)}));
  const Bytes reason = fs.read(reason_file(dead)).value();
  EXPECT_NE(std::string(reason.begin(), reason.end()).find("archive answered 0122"),
            std::string::npos);
  step();
  EXPECT_EQ(calls, 1);
}

}  // namespace
}  // namespace crestgate
