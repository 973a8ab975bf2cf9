#include "node/work.h"

#include <gtest/gtest.h>

#include "node/index.h"
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
  Exposure last;
  last.visit_key = "k";
  last.verdict = 1;
  last.angle_deg = Quantity{7.25, 1.5};
  job.exposures["k"] = {3, last, true, false};
  job.noted["s"] = {{"1.2.3", "2.25.1", "2.25.2", true, false}};
  job.visit_known = true;
  job.rules.language_text = "language: de # Größe\n";
  const auto back = decode_job(encode_job(job));
  ASSERT_TRUE(back.ok()) << back.status().text;
  const PastExposures past = back.value().exposures.at("k");
  EXPECT_EQ(back.value().noted.at("s").at(0).series_instance_uid, "2.25.2");
  EXPECT_EQ(past.count, 3);
  EXPECT_EQ(past.last.verdict, 1);
  EXPECT_EQ(past.last.angle_deg->value, 7.25);
  EXPECT_TRUE(past.seating_view && !past.placement_view && back.value().visit_known);
  EXPECT_EQ(back.value().rules.text, kBuiltInRules);
  EXPECT_EQ(back.value().rules.language_text, job.rules.language_text);
  EXPECT_FALSE(decode_job("{}").ok());
  EXPECT_FALSE(decode_job("\x01").ok());
}

/// The image of net_image with a tooth, so that exposures of its site are counted.
Bytes image_of_site(const std::string& uid) {
  ImageWish wish;
  wish.sop_instance_uid = uid;
  wish.tooth = true;
  return image_file(wish);
}

TEST(ProcessImage, TheSecondExposureOfASiteIsARepeatAndComparedWithTheFirst) {
  WorkerJob job;
  job.now_date = "20260101";
  job.visit_known = true;
  const Bundle first = process_image(image_of_site("2.25.1"), job);
  const auto manifest = nlohmann::json::parse(first.manifest);
  EXPECT_TRUE(manifest["element"]["repeat"].is_null());
  const Processed p = interpret(encode_bundle(first));
  ASSERT_EQ(p.outcome, Processed::Outcome::judged) << p.status.text;
  EXPECT_TRUE(p.exposure.site_known);

  auto index = Index::open(":memory:");
  ASSERT_TRUE(index.ok());
  ASSERT_TRUE(index.value()->record({"u1", "c1", p.exposure, 1000}).ok());
  job.exposures = index.value()->exposures_since(0);
  const auto again = nlohmann::json::parse(process_image(image_of_site("2.25.2"), job).manifest);
  EXPECT_EQ(again["element"]["repeat"]["attempt"], 2);
  EXPECT_EQ(again["element"]["repeat"]["result"], "same");
  // Another site of the same visit is no repeat.
  const auto other = nlohmann::json::parse(process_image(image_file({}), job).manifest);
  EXPECT_TRUE(other["element"]["repeat"].is_null());
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
