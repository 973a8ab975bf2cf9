// The daemon in this process, with a worker that misbehaves: it costs the image, not the listener.
#include "node/daemon.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <gtest/gtest.h>
#include <stdlib.h>

#include <fstream>

#include "tests/support/net/net_client.h"
#include "tests/support/net/net_counting_scp.h"
#include "tests/support/net/net_image.h"

namespace crestgate {
namespace {

class DaemonTest : public ::testing::Test {
 protected:
  DaemonTest() {
    std::ofstream(folder.path() + "/rules.yaml") << "mode: trial\n";
    settings.rules_file = folder.path() + "/rules.yaml";
    settings.listen.address = "127.0.0.1";
    settings.listen.port = 0;
    settings.archive = {"ARCHIVE", "127.0.0.1", free_port()};  // down
    settings.state.folder = folder.path() + "/state";
    settings.state.least_free_mb = 1;
  }
  ~DaemonTest() override { unsetenv("BAD_WORKER_WISH"); }
  int send_image(int port, const std::string& uid) {
    ImageWish wish;
    wish.sop_instance_uid = uid;
    DcmDataset dataset;
    fill_image(dataset, wish);
    return send(port, dataset, {});
  }
  std::vector<std::string> in(const char* name) {
    const auto names = PosixFs().list(settings.state.folder + "/" + name);
    return names.ok() ? names.value() : std::vector<std::string>{};
  }
  /// Sends two images to a node with this worker; the reasons they were set aside for.
  std::vector<std::string> reasons_with(const char* wish) {
    setenv("BAD_WORKER_WISH", wish, 1);
    settings.workers.time_limit_s = 1;
    Daemon daemon(settings, BAD_WORKER);
    const Status started = daemon.start();
    EXPECT_TRUE(started.ok()) << started.text;
    EXPECT_EQ(send_image(daemon.port(), "2.25.1"), 0);
    EXPECT_TRUE(eventually([&] { return in("set-aside").size() == 2; }));
    EXPECT_EQ(send_image(daemon.port(), "2.25.2"), 0);
    EXPECT_TRUE(eventually([&] { return in("set-aside").size() == 4 && in("working").empty(); }));
    std::vector<std::string> reasons;
    for (const std::string& name : in("set-aside")) {
      if (!is_reason_file(name)) continue;
      const Bytes b = PosixFs().read(settings.state.folder + "/set-aside/" + name).value();
      reasons.emplace_back(b.begin(), b.end());
    }
    return reasons;
  }
  TempFolder folder;
  Settings settings;
};

TEST_F(DaemonTest, ACrashingDecoderCostsOneImageEach) {
  const auto reasons = reasons_with("crash");
  ASSERT_EQ(reasons.size(), 2U);
  EXPECT_NE(reasons[0].find("Segmentation fault"), std::string::npos) << reasons[0];
}

TEST_F(DaemonTest, ADecoderThatNeverEndsToo) {
  const auto reasons = reasons_with("sleep");
  ASSERT_EQ(reasons.size(), 2U);
  EXPECT_NE(reasons[0].find("workers.time_limit_s"), std::string::npos) << reasons[0];
}

TEST_F(DaemonTest, AWorkerThatLiesToo) {
  const auto reasons = reasons_with("half");
  ASSERT_EQ(reasons.size(), 2U);
  EXPECT_NE(reasons[0].find("worker bundle"), std::string::npos) << reasons[0];
}

TEST_F(DaemonTest, StopKeepsWhatTheArchiveHasNotGot) {
  Daemon daemon(settings, CRESTGATE_BINARY);
  ASSERT_TRUE(daemon.start().ok());
  EXPECT_EQ(send_image(daemon.port(), "2.25.1"), 0);
  EXPECT_TRUE(eventually([&] { return in("outbox").size() == 1 && in("working").empty(); }));
  daemon.stop();
  EXPECT_EQ(in("outbox").size(), 1U);
  EXPECT_TRUE(in("set-aside").empty());
}

}  // namespace
}  // namespace crestgate
