#include "pipeline/read/read.h"

#include <gtest/gtest.h>

#include "tests/pipeline/read/sample_object.h"

namespace crestgate {
namespace {

using sample::Layout;

void expect_ramp(const Frame& frame, const Layout& layout) {
  ASSERT_EQ(frame.rows, layout.rows);
  ASSERT_EQ(frame.columns, layout.columns);
  for (std::size_t i = 0; i < frame.values.size(); ++i)
    ASSERT_EQ(frame.values[i], sample::ramp_value(layout, i)) << "pixel " << i;
}

TEST(Read, ReadsEveryDepthSignAndPositionOfTheStoredBits) {
  const Layout layouts[] = {
      {24, 32, 8, 8, 7},          {24, 32, 8, 6, 5},      {24, 32, 16, 6, 5},
      {24, 32, 16, 10, 9},        {24, 32, 16, 12, 11},   {24, 32, 16, 12, 15},
      {24, 32, 16, 16, 15},       {23, 31, 8, 8, 7},      {24, 32, 16, 12, 11, true},
      {24, 32, 16, 16, 15, true}, {24, 32, 8, 8, 7, true}};
  for (const Layout& layout : layouts) {
    SCOPED_TRACE(testing::Message()
                 << layout.bits_stored << " of " << layout.bits_allocated << " bits, high bit "
                 << layout.high_bit << ", signed " << layout.is_signed);
    auto file = sample::object(layout);
    const auto image = read_image(sample::bytes(*file));
    ASSERT_TRUE(image.ok()) << image.status().text;
    expect_ramp(image.value().frame, layout);
    const int span = 1 << layout.bits_stored, low = layout.is_signed ? -span / 2 : 0;
    EXPECT_EQ(image.value().frame.lowest_storable, low);
    EXPECT_EQ(image.value().frame.highest_storable, low + span - 1);
  }
}

TEST(Read, BitsOutsideTheStoredOnesAreIgnored) {
  auto file = sample::object();
  Uint16* words = nullptr;
  unsigned long count = 0;
  ASSERT_TRUE(file->getDataset()
                  ->findAndGetUint16Array(DCM_PixelData, const_cast<const Uint16*&>(words), &count)
                  .good());
  std::vector<Uint16> with_overlay(words, words + count);
  for (Uint16& word : with_overlay) word |= 0xA000;  // overlay planes of the old kind
  file->getDataset()->putAndInsertUint16Array(DCM_PixelData, with_overlay.data(), count);
  const auto image = read_image(sample::bytes(*file));
  ASSERT_TRUE(image.ok()) << image.status().text;
  expect_ramp(image.value().frame, {});
}

TEST(Read, Monochrome1IsTurnedSoThatLargerIsMoreRadiopaque) {
  Layout layout;
  layout.photometric = "MONOCHROME1";
  auto file = sample::object(layout);
  const auto image = read_image(sample::bytes(*file));
  ASSERT_TRUE(image.ok()) << image.status().text;
  EXPECT_EQ(image.value().frame.values[0], 4095 - sample::ramp_value(layout, 0));
  EXPECT_EQ(image.value().frame.values[5], 4095 - sample::ramp_value(layout, 5));
}

TEST(Read, ForProcessingFollowsTheStatedSignAndTone) {
  auto file = sample::object();
  DcmDataset& d = *file->getDataset();
  d.putAndInsertString(DCM_SOPClassUID, UID_DigitalIntraOralXRayImageStorageForProcessing);
  d.putAndInsertString(DCM_PresentationIntentType, "FOR PROCESSING");
  d.putAndInsertString(DCM_PixelIntensityRelationship, "LIN");
  d.putAndInsertSint16(DCM_PixelIntensityRelationshipSign, 1);
  const auto image = read_image(sample::bytes(*file));
  ASSERT_TRUE(image.ok()) << image.status().text;
  EXPECT_EQ(image.value().frame.tone, Tone::linear);
  EXPECT_EQ(image.value().frame.values[3], 4095 - sample::ramp_value({}, 3));
  d.putAndInsertString(DCM_PresentationIntentType, "FOR PRESENTATION");
  EXPECT_EQ(read_image(sample::bytes(*file)).value().frame.tone, Tone::unknown);
}

TEST(Read, PaddingValueAndRangeAreMarked) {
  Layout layout;
  layout.is_signed = true;
  auto file = sample::object(layout);
  file->getDataset()->putAndInsertSint16(DCM_PixelPaddingValue, -2048);
  file->getDataset()->putAndInsertSint16(DCM_PixelPaddingRangeLimit, -2000);
  const auto image = read_image(sample::bytes(*file));
  ASSERT_TRUE(image.ok()) << image.status().text;
  const Frame& frame = image.value().frame;
  ASSERT_EQ(frame.padding.size(), frame.values.size());
  for (std::size_t i = 0; i < frame.values.size(); ++i)
    EXPECT_EQ(frame.padding[i] == 1, frame.values[i] <= -2000) << i;
}

TEST(Read, ImplicitAndBigEndianAndBareDatasetsAreRead) {
  for (E_TransferSyntax syntax : {EXS_LittleEndianImplicit, EXS_BigEndianExplicit}) {
    auto file = sample::object();
    const auto image = read_image(sample::bytes(*file, syntax));
    ASSERT_TRUE(image.ok()) << image.status().text;
    expect_ramp(image.value().frame, {});
  }
  auto file = sample::object();
  std::vector<std::uint8_t> bytes = sample::bytes(*file);
  // Preamble, prefix and group 0002 taken off: the dataset starts at its first tag, (0008,0016).
  const std::uint8_t first_tag[] = {0x08, 0x00, 0x16, 0x00};
  const auto start = std::search(bytes.begin(), bytes.end(), first_tag, first_tag + 4);
  ASSERT_NE(start, bytes.end());
  const auto image = read_image({start, bytes.end()});
  ASSERT_TRUE(image.ok()) << image.status().text;
  expect_ramp(image.value().frame, {});
}

class Colour : public testing::Test {
 protected:
  static std::vector<std::uint8_t> object(const char* photometric, bool planar, int tint) {
    Layout layout{6, 8, 8, 8, 7, false, photometric};
    auto file = sample::object(layout);
    DcmDataset& d = *file->getDataset();
    d.putAndInsertString(DCM_SOPClassUID, UID_SecondaryCaptureImageStorage);
    d.putAndInsertUint16(DCM_SamplesPerPixel, 3);
    d.putAndInsertUint16(DCM_PlanarConfiguration, planar ? 1 : 0);
    const bool ybr = photometric[0] == 'Y';
    std::vector<Uint8> samples(48 * 3);
    for (int i = 0; i < 48; ++i)
      for (int c = 0; c < 3; ++c) {
        const int grey = 5 * i, value = c == 0 ? grey : ybr ? 128 : grey;
        samples[static_cast<std::size_t>(planar ? c * 48 + i : 3 * i + c)] =
            static_cast<Uint8>(value + (c == 2 && i == 40 ? tint : 0));
      }
    d.putAndInsertUint8Array(DCM_PixelData, samples.data(), samples.size());
    return sample::bytes(*file);
  }
};

TEST_F(Colour, EqualChannelsAreReadAsGreyAndUnequalOnesRefused) {
  for (const char* photometric : {"RGB", "YBR_FULL"})
    for (bool planar : {false, true}) {
      const auto image = read_image(object(photometric, planar, 0));
      ASSERT_TRUE(image.ok()) << photometric << ": " << image.status().text;
      EXPECT_EQ(image.value().frame.values[47], 5 * 47);
      const auto tinted = read_image(object(photometric, planar, 1));
      ASSERT_FALSE(tinted.ok());
      EXPECT_EQ(tinted.status().code, Code::unsupported);
      EXPECT_EQ(tinted.status().tag, "(0028,0004)");
    }
}

}  // namespace
}  // namespace crestgate
