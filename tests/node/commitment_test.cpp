// Outbox and storage commitment together, on a disk that may stop: an object leaves the outbox only
// once the archive has committed to it.
#include "node/commitment.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

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

std::string text(const Bytes& bytes) { return {bytes.begin(), bytes.end()}; }

/// The content of a made-up object is its SOP Instance UID.
class CommitmentTest : public ::testing::Test {
 protected:
  void SetUp() override {
    fs.make_dirs("/s/outbox");
    fs.make_dirs("/s/dead");
    start();
  }
  void start() {
    outbox = std::make_unique<Outbox>(
        fs, clock, "/s", 2, 900, [](const std::string&) { return false; },
        [this](const std::vector<Bytes>& objects) -> Result<std::vector<DeliveryAnswer>> {
          for (const Bytes& b : objects) archive.insert(text(b)), sent.push_back(text(b));
          return std::vector<DeliveryAnswer>(objects.size(), {Delivery::delivered, ""});
        },
        true);
    commitments = std::make_unique<Commitments>(
        fs, clock, "/s", 2, 900, 60,
        CommitmentPeer{[this] { return "2.25." + std::to_string(++transactions); },
                       [](const Bytes& b) -> Result<Instance> {
                         return Instance{"class", text(b)};
                       },
                       [this](const std::string& uid, const std::vector<Instance>& wanted) {
                         return ask(uid, wanted);
                       }});
  }
  Result<std::optional<CommitmentReport>> ask(const std::string& uid,
                                              const std::vector<Instance>& wanted) {
    ++asked;
    if (!reachable) return Status::error(Code::unavailable, "no answer");
    CommitmentReport report;
    report.transaction_uid = uid;
    for (const Instance& instance : wanted) {
      const auto fails = failing.find(instance.sop_instance_uid);
      if (archive.count(instance.sop_instance_uid) == 0) {
        report.failed[instance.sop_instance_uid] = 0x0112;
      } else if (fails != failing.end()) {
        report.failed[instance.sop_instance_uid] = fails->second;
      } else {
        report.committed.push_back(instance.sop_instance_uid);
        committed.insert(instance.sop_instance_uid);
      }
    }
    last = report;
    if (silent) return std::optional<CommitmentReport>{};
    return std::optional<CommitmentReport>{report};
  }
  void add(std::uint64_t sequence, const std::vector<std::string>& uids) {
    EntryName entry;
    entry.sequence = sequence;
    entry.uid_hash = short_hash(std::to_string(sequence));
    const std::string folder = "/s/outbox/" + entry.folder();
    fs.make_dirs(folder);
    int n = 0;
    for (const std::string& uid : uids) {
      write_file(fs, folder + "/" + object_file(++n, "a"), uid.data(), uid.size());
    }
    fs.sync_dir(folder);
    fs.sync_dir("/s/outbox");
  }
  std::int64_t step() {
    events.clear();
    const std::int64_t first = outbox->step(events);
    return std::min(first, commitments->step(events));
  }
  int count(OutboxEvent::Kind kind) const {
    return static_cast<int>(std::count_if(events.begin(), events.end(),
                                          [&](const OutboxEvent& e) { return e.kind == kind; }));
  }
  FaultFs fs;
  HandClock clock;
  std::set<std::string> archive, committed;
  std::map<std::string, std::uint16_t> failing;
  std::vector<std::string> sent;
  CommitmentReport last;
  int asked = 0, transactions = 0;
  bool reachable = true, silent = false;
  std::vector<OutboxEvent> events;
  std::unique_ptr<Outbox> outbox;
  std::unique_ptr<Commitments> commitments;
};

TEST_F(CommitmentTest, CommittedObjectsLeaveTheOutbox) {
  add(1, {"a", "b"});
  step();
  EXPECT_EQ(count(OutboxEvent::Kind::committed), 2);
  EXPECT_EQ(asked, 1);
  EXPECT_TRUE(fs.files().empty());
  EXPECT_TRUE(fs.list("/s/outbox").value().empty());
}

TEST_F(CommitmentTest, AReportThatComesLaterCountsToo) {
  silent = true;
  add(1, {"a", "b"});
  step();
  EXPECT_EQ(fs.files().size(), 2U);
  step();
  EXPECT_EQ(asked, 1) << "asked twice for one answer";
  EXPECT_TRUE(commitments->report(last));
  step();
  EXPECT_TRUE(fs.files().empty());
  EXPECT_FALSE(commitments->report(last)) << "a transaction is closed by its report";
}

TEST_F(CommitmentTest, AReportOfAStrangersTransactionChangesNothing) {
  silent = true;
  add(1, {"a"});
  step();
  CommitmentReport forged = last;
  forged.transaction_uid = "2.25.999";
  EXPECT_FALSE(commitments->report(forged));
  step();
  EXPECT_EQ(fs.files().size(), 1U);
}

TEST_F(CommitmentTest, WhatFailsIsSentAgainAndAskedForAgain) {
  failing["b"] = 0x0110;
  add(1, {"a", "b", "c"});
  step();
  EXPECT_EQ(count(OutboxEvent::Kind::committed), 2);
  EXPECT_EQ(count(OutboxEvent::Kind::not_committed), 1);
  EXPECT_EQ(sent, (std::vector<std::string>{"a", "b", "c"}));
  failing.clear();
  step();
  EXPECT_EQ(sent.size(), 3U) << "no back-off";
  clock.now += 2;
  step();  // back in the outbox
  step();
  EXPECT_EQ(sent, (std::vector<std::string>{"a", "b", "c", "b"}));
  EXPECT_TRUE(fs.files().empty());
}

TEST_F(CommitmentTest, EndlessFailureNeitherLosesNorHammers) {
  failing["a"] = 0x0213;
  add(1, {"a"});
  const std::int64_t end = clock.now + 24 * 3600;
  while (clock.now < end) clock.now = std::max(step(), clock.now + 1);
  EXPECT_EQ(fs.files().size(), 1U);
  EXPECT_GT(sent.size(), 50U);
  EXPECT_LT(sent.size(), 24 * 4 + 15U);
}

TEST_F(CommitmentTest, AClassItWillNeverCommitToGoesToDead) {
  failing["a"] = 0x0122;
  add(1, {"a"});
  step();
  EXPECT_EQ(count(OutboxEvent::Kind::refused), 1);
  ASSERT_EQ(fs.files().size(), 2U);
  EXPECT_EQ(fs.files()[0].rfind("/s/dead/", 0), 0U);
}

TEST_F(CommitmentTest, NoAnswerInTimeMeansAskingAgain) {
  silent = true;
  add(1, {"a"});
  EXPECT_EQ(step(), clock.now + 60);
  clock.now += 59;
  step();
  EXPECT_EQ(asked, 1);
  silent = false;
  clock.now += 1;
  step();
  EXPECT_EQ(asked, 2);
  EXPECT_TRUE(fs.files().empty());
  EXPECT_EQ(sent.size(), 1U) << "asked again, not sent again";
}

TEST_F(CommitmentTest, AnArchiveThatCannotBeAskedCostsOneLineAndABackOff) {
  reachable = false;
  add(1, {"a"});
  EXPECT_EQ(step(), clock.now + 2);
  EXPECT_EQ(count(OutboxEvent::Kind::commitment_unanswered), 1);
  clock.now += 2;
  EXPECT_EQ(step(), clock.now + 4);
  EXPECT_EQ(events.size(), 0U);
  reachable = true;
  clock.now += 4;
  step();
  EXPECT_TRUE(fs.files().empty());
}

TEST_F(CommitmentTest, AfterARestartItIsAskedAnew) {
  silent = true;
  add(1, {"a"});
  step();
  start();
  silent = false;
  step();
  EXPECT_EQ(asked, 2);
  EXPECT_EQ(sent.size(), 1U);
  EXPECT_TRUE(fs.files().empty());
}

TEST_F(CommitmentTest, AStopAtAnyOperationLosesNothing) {
  for (const Survives survives : {Survives::nothing, Survives::half, Survives::everything}) {
    bool stopped = true;
    for (int n = 0; stopped; ++n) {
      SCOPED_TRACE(n);
      fs = FaultFs();
      fs.make_dirs("/s/outbox");
      fs.make_dirs("/s/dead");
      fs.sync_dir("/s");
      archive.clear();
      committed.clear();
      failing = {{"b", 0x0110}};
      add(1, {"a", "b"});
      start();
      fs.stop_after(n);
      try {
        step();
        failing.clear();
        clock.now += 2;
        step();
        step();
      } catch (const Stopped&) {
      }
      stopped = fs.stopped();
      failing.clear();
      fs.restart(survives);
      start();
      for (int i = 0; i < 4; ++i) {
        step();
        clock.now += 900;
      }
      EXPECT_EQ(committed, (std::set<std::string>{"a", "b"}));
      EXPECT_TRUE(fs.files().empty());
    }
  }
}

}  // namespace
}  // namespace crestgate
