#include "node/index.h"

#include <gtest/gtest.h>

#include <fstream>

#include "tests/support/net/net_client.h"

namespace crestgate {
namespace {

Exposure exposure(const std::string& key) {
  Exposure e;
  e.visit_key = key;
  e.site_known = true;
  return e;
}

TEST(Index, RemembersOverReopening) {
  const TempFolder folder;
  const std::string path = folder.path() + "/index.db";
  {
    auto index = Index::open(path);
    ASSERT_TRUE(index.ok()) << index.status().text;
    EXPECT_FALSE(index.value()->find("u1"));
    ASSERT_TRUE(index.value()->record({"u1", "c1", exposure("k"), 100}).ok());
    ASSERT_TRUE(index.value()->record({"u1", "c1", exposure("k"), 100}).ok());  // again is ok
  }
  auto index = Index::open(path);
  ASSERT_TRUE(index.ok());
  EXPECT_EQ(index.value()->find("u1"), "c1");
  EXPECT_EQ(index.value()->count(), 1);
}

TEST(Index, TellsWhatWasExposedInAVisit) {
  auto index = Index::open(":memory:");
  ASSERT_TRUE(index.ok());
  Exposure first = exposure("site a"), second = exposure("site a");
  first.verdict = 1;
  first.angle_deg = Quantity{8.5, 1.25};
  first.placement_view = true;
  second.seating_view = true;
  index.value()->record({"u1", "c", first, 100});
  index.value()->record({"u2", "c", second, 200});
  index.value()->record({"u3", "c", exposure("site b"), 200});
  index.value()->record({"u4", "c", {}, 200});
  const auto late = index.value()->exposures_since(150);
  EXPECT_EQ(late.size(), 2U);
  EXPECT_EQ(late.at("site a").count, 1);
  EXPECT_FALSE(late.at("site a").placement_view);
  const auto all = index.value()->exposures_since(100);
  EXPECT_EQ(all.at("site a").count, 2);
  EXPECT_TRUE(all.at("site a").placement_view && all.at("site a").seating_view);
  EXPECT_EQ(all.at("site a").last.verdict, 0);
  EXPECT_FALSE(all.at("site a").last.angle_deg);
}

TEST(Index, KnowsTheStudysImagesWithANoteAndNoOthersUids) {
  auto index = Index::open(":memory:");
  ASSERT_TRUE(index.ok());
  Exposure noted = exposure("k"), plain = exposure("k");
  noted.study_key = plain.study_key = "study";
  noted.noted = {"1.2.3", "2.25.1", "2.25.2", true, false};
  plain.noted = {"1.2.3", "2.25.5", "2.25.2", false, false};
  index.value()->record({"u1", "c", noted, 100});
  index.value()->record({"u2", "c", plain, 100});
  const auto all = index.value()->noted_since(0);
  ASSERT_EQ(all.at("study").size(), 1U);
  EXPECT_EQ(all.at("study")[0].sop_instance_uid, "2.25.1");
  EXPECT_TRUE(all.at("study")[0].repeat && !all.at("study")[0].finding);
  EXPECT_TRUE(index.value()->noted_since(101).empty());
}

TEST(Index, AnImageRecordedAgainIsOneExposureAndKeepsItsPlace) {
  auto index = Index::open(":memory:");
  ASSERT_TRUE(index.ok());
  Exposure first = exposure("k");
  first.angle_deg = Quantity{3.0, 1.0};
  index.value()->record({"u1", "c", first, 100});
  index.value()->record({"u2", "c", exposure("k"), 100});
  index.value()->record({"u1", "c", first, 100});
  const auto all = index.value()->exposures_since(0);
  EXPECT_EQ(all.at("k").count, 2);
  EXPECT_FALSE(all.at("k").last.angle_deg) << "the second is the later one";
}

TEST(Index, ForgetsWhatNothingNeedsAnyMore) {
  auto index = Index::open(":memory:");
  ASSERT_TRUE(index.ok());
  index.value()->record({"u1", "c", exposure("k"), 100});
  index.value()->record({"u2", "c", exposure("k"), 100 + kVisit_s + 1});
  EXPECT_EQ(index.value()->exposures_since(0).at("k").count, 1);
  EXPECT_TRUE(index.value()->find("u1")) << "still known again";
  index.value()->record({"u3", "c", exposure("k"), 101 + kRemembered_s});
  EXPECT_FALSE(index.value()->find("u1"));
  EXPECT_TRUE(index.value()->find("u2"));
}

TEST(Index, ADamagedFileIsKeptAsideAndANewOneBegun) {
  const TempFolder folder;
  const std::string path = folder.path() + "/index.db";
  std::ofstream(path) << "this is no database, and long enough not to be taken for an empty one";
  std::string replaced;
  auto index = Index::open(path, &replaced);
  ASSERT_TRUE(index.ok()) << index.status().text;
  EXPECT_NE(replaced.find(path), std::string::npos);
  EXPECT_TRUE(std::ifstream(path + ".damaged").good());
  EXPECT_EQ(index.value()->count(), 0);
}

}  // namespace
}  // namespace crestgate
