#include "pipeline/read/anatomy.h"

#include <gtest/gtest.h>

namespace crestgate {
namespace {

TEST(Anatomy, RegionsOfCid4016InBothSpellings) {
  EXPECT_EQ(jaw_of_region_code("70925003"), Jaw::maxilla);
  EXPECT_EQ(jaw_of_region_code("T-11170"), Jaw::maxilla);
  EXPECT_EQ(jaw_of_region_code("91609006"), Jaw::mandible);
  EXPECT_EQ(jaw_of_region_code("T-11180"), Jaw::mandible);
  EXPECT_EQ(jaw_of_region_code("661005"), Jaw::unknown);  // jaw region: says neither
  EXPECT_EQ(jaw_of_region_code(""), Jaw::unknown);
}

// The pairs that pydicom 2.3.1's SCT-to-SRT table holds for teeth of CID 4018 (read 2026-11-25).
TEST(Anatomy, RetiredCodesAgreeWithThePublicTable) {
  const char* const pairs[][3] = {
      {"68085002", "T-54210", "18"}, {"36492000", "T-54240", "15"}, {"57826002", "T-54250", "14"},
      {"61897005", "T-54320", "24"}, {"23226009", "T-54330", "25"}, {"87704003", "T-54360", "28"},
      {"74344005", "T-54370", "38"}, {"24573005", "T-54400", "35"}, {"2400006", "T-54410", "34"},
      {"80140008", "T-54480", "44"}, {"8873007", "T-54490", "45"},  {"38994002", "T-54520", "48"}};
  for (const auto& [sct, srt, tooth] : pairs) {
    EXPECT_EQ(tooth_of_code(sct), tooth);
    EXPECT_EQ(tooth_of_code(srt), tooth);
  }
  EXPECT_EQ(tooth_of_code("866006002"), "36");
  EXPECT_EQ(tooth_of_code("T-54530"), "");
  EXPECT_EQ(tooth_of_code("12738006"), "");  // brain
}

TEST(Anatomy, JawOfToothAndText) {
  for (const char* tooth : {"18", "21", "55", "61"}) EXPECT_EQ(jaw_of_tooth(tooth), Jaw::maxilla);
  for (const char* tooth : {"31", "48", "75", "81"}) EXPECT_EQ(jaw_of_tooth(tooth), Jaw::mandible);
  EXPECT_EQ(jaw_of_tooth("9"), Jaw::unknown);
  EXPECT_EQ(jaw_of_text("PA Maxilla left"), Jaw::maxilla);
  EXPECT_EQ(jaw_of_text("MANDIBULAR molar"), Jaw::mandible);
  EXPECT_EQ(jaw_of_text("maxilla and mandible"), Jaw::unknown);
  EXPECT_EQ(jaw_of_text("bitewing"), Jaw::unknown);
}

}  // namespace
}  // namespace crestgate
