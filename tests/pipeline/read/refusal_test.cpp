#include <gtest/gtest.h>

#include "pipeline/read/read.h"
#include "tests/pipeline/read/sample_object.h"

namespace crestgate {
namespace {

struct Refusal {
  const char* what;
  void (*spoil)(DcmDataset&);
  Code code;
  const char* tag;
};

const Refusal kRefusals[] = {
    {"multi-frame", [](DcmDataset& d) { d.putAndInsertString(DCM_NumberOfFrames, "3"); },
     Code::unsupported, "(0028,0008)"},
    {"frames no number", [](DcmDataset& d) { d.putAndInsertString(DCM_NumberOfFrames, "x"); },
     Code::invalid_input, "(0028,0008)"},
    {"zero rows", [](DcmDataset& d) { d.putAndInsertUint16(DCM_Rows, 0); }, Code::invalid_input,
     "(0028,0010)"},
    {"no columns", [](DcmDataset& d) { d.findAndDeleteElement(DCM_Columns); }, Code::invalid_input,
     "(0028,0011)"},
    {"more rows than pixels", [](DcmDataset& d) { d.putAndInsertUint16(DCM_Rows, 25); },
     Code::invalid_input, "(7FE0,0010)"},
    {"no pixel data", [](DcmDataset& d) { d.findAndDeleteElement(DCM_PixelData); },
     Code::invalid_input, "(7FE0,0010)"},
    {"empty pixel data",
     [](DcmDataset& d) { d.putAndInsertUint16Array(DCM_PixelData, nullptr, 0); },
     Code::invalid_input, "(7FE0,0010)"},
    {"32 bits", [](DcmDataset& d) { d.putAndInsertUint16(DCM_BitsAllocated, 32); },
     Code::unsupported, "(0028,0100)"},
    {"4 bits stored", [](DcmDataset& d) { d.putAndInsertUint16(DCM_BitsStored, 4); },
     Code::unsupported, "(0028,0101)"},
    {"17 bits stored", [](DcmDataset& d) { d.putAndInsertUint16(DCM_BitsStored, 17); },
     Code::invalid_input, "(0028,0101)"},
    {"high bit", [](DcmDataset& d) { d.putAndInsertUint16(DCM_HighBit, 9); }, Code::invalid_input,
     "(0028,0102)"},
    {"palette",
     [](DcmDataset& d) { d.putAndInsertString(DCM_PhotometricInterpretation, "PALETTE COLOR"); },
     Code::unsupported, "(0028,0004)"},
    {"CT", [](DcmDataset& d) { d.putAndInsertString(DCM_SOPClassUID, UID_CTImageStorage); },
     Code::unsupported, "(0008,0016)"},
    {"no class", [](DcmDataset& d) { d.findAndDeleteElement(DCM_SOPClassUID); },
     Code::invalid_input, "(0008,0016)"},
};

TEST(Refusal, NamesTheAttributeAndKeepsTheKind) {
  for (const Refusal& refusal : kRefusals) {
    SCOPED_TRACE(refusal.what);
    auto file = sample::object();
    refusal.spoil(*file->getDataset());
    const auto image = read_image(sample::bytes(*file));
    ASSERT_FALSE(image.ok());
    EXPECT_EQ(image.status().code, refusal.code) << image.status().text;
    EXPECT_EQ(image.status().tag, refusal.tag) << image.status().text;
    EXPECT_NE(image.status().text.find(refusal.tag), std::string::npos) << image.status().text;
  }
}

TEST(Refusal, TooManyPixels) {
  auto file = sample::object();
  const auto bytes = sample::bytes(*file);
  ReadLimits limits;
  limits.most_pixels = 24 * 32;
  EXPECT_TRUE(read_image(bytes, limits).ok());
  limits.most_pixels = 24 * 32 - 1;
  EXPECT_EQ(read_image(bytes, limits).status().code, Code::too_large);
}

TEST(Refusal, WhatIsNotDicom) {
  EXPECT_EQ(read_image({}).status().code, Code::invalid_input);
  const std::string text = "this is a letter, not a radiograph\n";
  const auto letter = read_image({text.begin(), text.end()});
  ASSERT_FALSE(letter.ok());
  EXPECT_EQ(letter.status().code, Code::invalid_input);
  EXPECT_NE(letter.status().text.find("not a DICOM file"), std::string::npos);
}

}  // namespace
}  // namespace crestgate
