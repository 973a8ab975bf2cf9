#include "node/never_judged.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <gtest/gtest.h>

#include "tests/support/net/net_image.h"

namespace crestgate {
namespace {

TEST(Dates, DaysBetween) {
  bool good = false;
  EXPECT_EQ(days_between("20260101", "20260101", good), 0);
  EXPECT_EQ(days_between("20240228", "20240301", good), 2);  // leap year
  EXPECT_EQ(days_between("20250228", "20250301", good), 1);
  EXPECT_EQ(days_between("19991231", "20000101", good), 1);
  EXPECT_EQ(days_between("20000101", "20260101", good), 9497);  // 26 years, 7 leap days
  EXPECT_TRUE(good);
  for (const char* bad : {"", "2026", "2026-01-01", "20261301", "20260100"}) {
    days_between(bad, "20260101", good);
    EXPECT_FALSE(good) << bad;
  }
}

Acquisition taken_on(const std::string& date) {
  Acquisition a;
  a.content_date = date;
  a.detector_id = "D-1";
  return a;
}

TEST(Notes, NotForImagesOlderThanTheRule) {
  Rules rules;
  rules.alerts.largest_image_age_days = 14;
  EXPECT_EQ(why_no_note(taken_on("20260101"), rules, "20260101"), "");
  EXPECT_EQ(why_no_note(taken_on("20260101"), rules, "20260115"), "");
  EXPECT_EQ(why_no_note(taken_on("20260101"), rules, "20260116"), "the image is 15 days old");
  EXPECT_NE(why_no_note(taken_on(""), rules, "20260116"), "");
}

TEST(Notes, LiveOnlyForDetectorsOfTheCommissioningRecord) {
  Rules rules;
  rules.mode = Mode::live;
  rules.commissioning.emplace();
  rules.commissioning->detectors = {"D-1"};
  EXPECT_EQ(why_no_note(taken_on("20260101"), rules, "20260101"), "");
  rules.commissioning->detectors = {"D-2"};
  EXPECT_NE(why_no_note(taken_on("20260101"), rules, "20260101"), "");
}

TEST(NotJudged, ReportClassesAndForeignSecondaryCaptures) {
  Rules rules;
  auto why = [&](const ImageWish& wish, const std::string& sender, bool any) {
    DcmDataset dataset;
    fill_image(dataset, wish);
    return why_not_judged(dataset, rules, sender, any);
  };
  ImageWish wish;
  EXPECT_EQ(why(wish, "X", false), "");
  wish.sop_class_uid = UID_SecondaryCaptureImageStorage;
  EXPECT_EQ(why(wish, "X", false), "");  // modality IO
  wish.modality = "XC";
  EXPECT_NE(why(wish, "X", false).find("(0008,0060)"), std::string::npos);
  EXPECT_EQ(why(wish, "X", true), "");
  rules.secondary_capture_senders = {"X"};
  EXPECT_EQ(why(wish, "X", false), "");
  wish.sop_class_uid = UID_ComprehensiveSRStorage;
  EXPECT_EQ(why(wish, "X", true), "not an image");
}

}  // namespace
}  // namespace crestgate
