#include "node/worker_process.h"

#include <fcntl.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <chrono>

#include "node/bundle.h"

namespace crestgate {
namespace {

Result<Bytes> run(const std::string& wish, WorkerLimits limits = {}) {
  const int fd = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  const auto result = run_worker(fd, wish, limits, BAD_WORKER);
  ::close(fd);
  return result;
}

std::string text_of(const Result<Bytes>& result) {
  return result.ok() ? "ok"
                     : std::string(code_name(result.status().code)) + ": " + result.status().text;
}

TEST(WorkerProcess, ACrashIsNamed) {
  EXPECT_EQ(text_of(run("crash")), "internal: worker ended by signal 11 (Segmentation fault)");
}

TEST(WorkerProcess, AnExitCodeIsNamed) {
  EXPECT_EQ(text_of(run("code 5")), "internal: worker ended with code 5");
}

TEST(WorkerProcess, ALoopEndsAtTheTimeLimit) {
  EXPECT_EQ(text_of(run("spin", {1, 2048})),
            "timeout: no result within workers.time_limit_s = 1 s");
}

TEST(WorkerProcess, AWorkerThatWaitsForeverIsEndedToo) {
  const auto begin = std::chrono::steady_clock::now();
  EXPECT_EQ(text_of(run("sleep", {1, 2048})),
            "timeout: no result within workers.time_limit_s = 1 s");
  EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(30));
}

#if !defined(__SANITIZE_ADDRESS__)
TEST(WorkerProcess, HungerForMemoryIsNamed) {
  EXPECT_EQ(text_of(run("memory", {20, 256})),
            "too_large: worker needs more than workers.memory_limit_mb = 256 MB");
}
#endif

TEST(WorkerProcess, AFloodIsCutOff) {
  EXPECT_EQ(text_of(run("flood")), "too_large: worker wrote more than a bundle may hold");
}

TEST(WorkerProcess, NoOtherDescriptorReachesIt) {
  const int leak = ::open("/dev/null", O_RDONLY);  // not close-on-exec
  const auto result = run("descriptors");
  ::close(leak);
  ASSERT_TRUE(result.ok()) << text_of(result);
  EXPECT_EQ(std::string(result.value().begin(), result.value().end()), "none");
}

TEST(WorkerProcess, NoProgramIsAnError) {
  const int fd = ::open("/dev/null", O_RDONLY | O_CLOEXEC);
  EXPECT_EQ(text_of(run_worker(fd, "x", {}, "/does/not/exist")),
            "internal: worker ended with code 127");
  ::close(fd);
}

TEST(WorkerProcess, HalfABundleIsReturnedAndDoesNotDecode) {
  const auto result = run("half");
  ASSERT_TRUE(result.ok());
  EXPECT_FALSE(decode_bundle(result.value()).ok());
}

}  // namespace
}  // namespace crestgate
