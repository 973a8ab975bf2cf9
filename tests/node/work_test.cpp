#include "node/work.h"

#include <gtest/gtest.h>

#include "node/worker.h"
#include "tests/support/net/net_image.h"

namespace crestgate {
namespace {

TEST(Interpret, AStartThatFailedIsPostponedAndEverythingElseIsSetAside) {
  EXPECT_EQ(interpret(Status::error(Code::unavailable, "x")).outcome,
            Processed::Outcome::postponed);
  for (const Code code : {Code::internal, Code::timeout, Code::too_large}) {
    EXPECT_EQ(interpret(Status::error(code, "x")).outcome, Processed::Outcome::unusable);
  }
}

TEST(Interpret, AMalformedManifestIsTheImagesFault) {
  for (const char* manifest :
       {"", "[]", "{}", "{\"outcome\":\"judged\"}", "{\"outcome\":7,\"element\":{}}",
        "{\"outcome\":\"judged\",\"element\":{\"sop_instance_uid\":5},\"objects\":3}"}) {
    Bundle bundle;
    bundle.manifest = manifest;
    const Processed p = interpret(encode_bundle(bundle));
    EXPECT_EQ(p.outcome, Processed::Outcome::unusable) << manifest;
    EXPECT_FALSE(p.status.ok());
  }
}

TEST(ProcessImage, BadBytesGiveAReasonNotAnException) {
  WorkerJob job;
  job.file = "x.dcm";
  job.now_date = "20260101";
  for (const Bytes& bytes : {Bytes{}, Bytes(10, 0), Bytes(100000, 0xff)}) {
    const Processed p = interpret(encode_bundle(process_image(bytes, job)));
    EXPECT_EQ(p.outcome, Processed::Outcome::unusable);
    EXPECT_EQ(p.status.code, Code::invalid_input) << p.status.text;
  }
}

TEST(ProcessImage, JobTextRoundTripKeepsOddBytes) {
  WorkerJob job;
  job.file = "a\xff\"b";
  job.exposures = {{"k", 3}};
  const auto back = decode_job(encode_job(job));
  ASSERT_TRUE(back.ok()) << back.status().text;
  EXPECT_EQ(back.value().exposures, job.exposures);
  EXPECT_EQ(back.value().rules_text, kBuiltInRules);
  EXPECT_FALSE(decode_job("{}").ok());
  EXPECT_FALSE(decode_job("\x01").ok());
}

TEST(ProcessImage, EveryCutOfAnImageIsAnError) {
  const Bytes whole = image_file({});
  WorkerJob job;
  job.now_date = "20260101";
  for (std::size_t size = 0; size < whole.size(); size += 97) {
    const Processed p = interpret(encode_bundle(
        process_image({whole.begin(), whole.begin() + static_cast<long>(size)}, job)));
    EXPECT_EQ(p.outcome, Processed::Outcome::unusable) << size;
  }
}

}  // namespace
}  // namespace crestgate
