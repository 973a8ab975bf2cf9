// Stops the node at every operation on the disk, drops what was not synced, starts it again, and
// counts: every image that was answered with success has exactly one set of objects in the archive.
#include <gtest/gtest.h>

#include <map>
#include <set>

#include "node/outbox.h"
#include "node/spool.h"
#include "node/work.h"
#include "tests/support/net/net_fault_fs.h"

namespace crestgate {
namespace {

class HandClock : public Clock {
 public:
  std::int64_t now_s() const override { return now; }
  std::int64_t now = 1000;
};

const std::vector<std::string> kUids = {"1.2.1", "1.2.2", "1.2.3"};
std::string content_of(const std::string& uid) { return "data set of " + uid; }

/// What outlives the node's process.
struct World {
  FaultFs fs;
  std::unique_ptr<Index> index = std::move(Index::open(":memory:").value());
  HandClock clock;
  std::set<std::string> acknowledged;  ///< what senders believe is safe
  std::map<std::string, int> archive;  ///< object -> times stored

  /// A node's life: recover, receive, work, deliver. Throws Stopped.
  void run(bool resend_all) {
    Spool spool(fs, *index, "/s", 0);
    std::vector<std::string> notes;
    ASSERT_TRUE(spool.open(notes).ok());
    Outbox outbox(
        fs, clock, "/s", 1, 1, [&](const std::string& f) { return spool.in_work(f); },
        [this](const std::vector<Bytes>& objects) -> Result<std::vector<DeliveryAnswer>> {
          for (const Bytes& b : objects) ++archive[{b.begin(), b.end()}];
          return std::vector<DeliveryAnswer>(objects.size(), {Delivery::delivered, ""});
        });
    for (const std::string& uid : kUids) {
      if (!resend_all && acknowledged.count(uid) != 0) continue;
      receive(spool, uid);
      work(spool, 1);
      std::vector<OutboxEvent> events;
      outbox.step(events);
    }
    work(spool, 100);
    std::vector<OutboxEvent> events;
    outbox.step(events);
  }

  void receive(Spool& spool, const std::string& uid) {
    auto incoming = spool.begin();
    ASSERT_TRUE(incoming.ok());
    const std::string content = content_of(uid);
    ASSERT_TRUE(incoming.value()->append_header({'h'}).ok());
    ASSERT_TRUE(incoming.value()->append_data(content.data(), content.size()).ok());
    const auto receipt = spool.commit(std::move(incoming.value()), uid);
    ASSERT_TRUE(receipt.ok()) << receipt.status().text;
    ASSERT_NE(receipt.value(), Receipt::other_content);
    acknowledged.insert(uid);
  }

  void work(Spool& spool, int most) {
    const Processor process = [this](const EntryName&, const std::string& path) {
      const auto bytes = fs.read(path);
      const std::string text = bytes.ok() ? std::string(bytes.value().begin(), bytes.value().end())
                                          : bytes.status().text;
      Processed p;
      p.outcome = Processed::Outcome::judged;
      // The objects quote the image: a cut or empty file would show in the archive.
      for (const char* kind : {"report", "picture"}) {
        const std::string object = std::string(kind) + " of " + text;
        p.objects.push_back({kind, {object.begin(), object.end()}});
      }
      if (text.find("1.2.2") != std::string::npos) {  // one image cannot be used
        p.objects.clear();
        p.outcome = Processed::Outcome::unusable;
        p.status = Status::error(Code::invalid_input, "made up");
      }
      return p;
    };
    for (int i = 0; i < most; ++i) {
      const auto entry = spool.try_take();
      if (!entry) return;
      ASSERT_TRUE(work_one(spool, clock, process, *entry).ok());
    }
  }

  void check(const std::string& where, bool every_object_once) {
    EXPECT_EQ(acknowledged.size(), kUids.size()) << where;
    std::set<std::string> wanted, found;
    for (const std::string& uid : {kUids[0], kUids[2]}) {
      for (const char* kind : {"report", "picture"}) {
        wanted.insert(std::string(kind) + " of h" + content_of(uid));
      }
    }
    for (const auto& [object, times] : archive) {
      found.insert(object);
      if (every_object_once) {
        EXPECT_EQ(times, 1) << where << ": " << object;
      }
    }
    EXPECT_EQ(found, wanted) << where;
    std::vector<std::string> left;
    int aside = 0;
    for (const std::string& path : fs.files()) {
      if (path.find("/s/set-aside/") == 0) {
        ++aside;
      } else {
        left.push_back(path);
      }
    }
    EXPECT_EQ(left, std::vector<std::string>{}) << where;
    EXPECT_EQ(aside, 2) << where << ": the unusable image and its reason";
  }
};

const char* name(Survives s) {
  return s == Survives::nothing ? "nothing" : s == Survives::half ? "half" : "everything";
}

/// False once the run ends before the stop.
bool stop_at(World& world, int operation, bool resend_all) {
  world.fs.stop_after(operation);
  try {
    world.run(resend_all);
    return false;
  } catch (const Stopped&) {
    return true;
  }
}

TEST(SpoolCrash, WithoutAStopEachObjectIsSentOnce) {
  World world;
  world.run(false);
  world.check("no stop", true);
}

TEST(SpoolCrash, AStopAtAnyOperationLosesAndDoublesNothing) {
  for (const Survives survives : {Survives::nothing, Survives::half, Survives::everything}) {
    for (const bool index_lost : {false, true}) {
      for (const bool resend_all : {false, true}) {
        int operation = 0;
        for (;; ++operation) {
          World world;
          if (!stop_at(world, operation, false)) break;
          world.fs.restart(survives);
          if (index_lost) world.index = std::move(Index::open(":memory:").value());
          world.run(resend_all);
          world.check("stopped at " + std::to_string(operation) + ", survives " + name(survives) +
                          (index_lost ? ", index lost" : "") + (resend_all ? ", all resent" : ""),
                      false);
          if (HasFailure()) return;
        }
        EXPECT_GT(operation, 60);  // 74 when written: the run is not cut short by something else
      }
    }
  }
}

TEST(SpoolCrash, ASecondStopDuringRecoveryToo) {
  for (const Survives survives : {Survives::nothing, Survives::everything}) {
    for (int first = 3; first < 120; first += 7) {
      for (int second = 0; second < 60; ++second) {
        World world;
        if (!stop_at(world, first, false)) break;
        world.fs.restart(survives);
        const bool stopped = stop_at(world, second, false);
        if (stopped) {
          world.fs.restart(survives);
          world.run(false);
        }
        world.check("stopped at " + std::to_string(first) + " and " + std::to_string(second) +
                        ", survives " + name(survives),
                    false);
        if (HasFailure()) return;
        if (!stopped) break;
      }
    }
  }
}

}  // namespace
}  // namespace crestgate
