#include "tests/pipeline/read/sample_object.h"

#include <dcmtk/dcmdata/dcostrmb.h>
#include <dcmtk/oflog/oflog.h>
#include <gtest/gtest.h>

namespace crestgate::sample {

int ramp_value(const Layout& layout, std::size_t i) {
  const int span = 1 << layout.bits_stored;
  const int value = static_cast<int>((i * 37) % static_cast<std::size_t>(span));
  return layout.is_signed ? value - span / 2 : value;
}

std::unique_ptr<DcmFileFormat> object(const Layout& layout) {
  auto file = std::make_unique<DcmFileFormat>();
  DcmDataset& d = *file->getDataset();
  d.putAndInsertString(DCM_SOPClassUID, UID_DigitalIntraOralXRayImageStorageForPresentation);
  d.putAndInsertString(DCM_SOPInstanceUID, "2.25.1001");
  d.putAndInsertString(DCM_StudyInstanceUID, "2.25.1002");
  d.putAndInsertString(DCM_SeriesInstanceUID, "2.25.1003");
  d.putAndInsertString(DCM_Modality, "IO");
  d.putAndInsertString(DCM_PatientID, "TEST-1");
  d.putAndInsertString(DCM_StudyDate, "20261101");
  d.putAndInsertString(DCM_PresentationIntentType, "FOR PRESENTATION");
  d.putAndInsertString(DCM_ImagerPixelSpacing, "0.02\\0.02");
  d.putAndInsertUint16(DCM_SamplesPerPixel, 1);
  d.putAndInsertString(DCM_PhotometricInterpretation, layout.photometric);
  d.putAndInsertUint16(DCM_Rows, static_cast<Uint16>(layout.rows));
  d.putAndInsertUint16(DCM_Columns, static_cast<Uint16>(layout.columns));
  d.putAndInsertUint16(DCM_BitsAllocated, static_cast<Uint16>(layout.bits_allocated));
  d.putAndInsertUint16(DCM_BitsStored, static_cast<Uint16>(layout.bits_stored));
  d.putAndInsertUint16(DCM_HighBit, static_cast<Uint16>(layout.high_bit));
  d.putAndInsertUint16(DCM_PixelRepresentation, layout.is_signed ? 1 : 0);
  const std::size_t count = static_cast<std::size_t>(layout.rows) * layout.columns;
  const int mask = (1 << layout.bits_stored) - 1;
  std::vector<Uint16> words(count);
  for (std::size_t i = 0; i < count; ++i)
    words[i] = static_cast<Uint16>((ramp_value(layout, i) & mask)
                                   << (layout.high_bit + 1 - layout.bits_stored));
  if (layout.bits_allocated == 8) {
    const std::vector<Uint8> narrow(words.begin(), words.end());
    d.putAndInsertUint8Array(DCM_PixelData, narrow.data(), narrow.size());
  } else {
    d.putAndInsertUint16Array(DCM_PixelData, words.data(), words.size());
  }
  return file;
}

std::vector<std::uint8_t> bytes(DcmFileFormat& file, E_TransferSyntax syntax) {
  std::vector<char> buffer(4 << 20);
  DcmOutputBufferStream stream(buffer.data(), static_cast<offile_off_t>(buffer.size()));
  file.validateMetaInfo(syntax);
  file.transferInit();
  const OFCondition written = file.write(stream, syntax, EET_UndefinedLength, nullptr);
  file.transferEnd();
  EXPECT_TRUE(written.good()) << written.text();
  stream.flush();  // a deflating stream holds its tail back
  void* data = nullptr;
  offile_off_t size = 0;
  stream.flushBuffer(data, size);
  const auto* first = static_cast<const std::uint8_t*>(data);
  return {first, first + size};
}

void silence_dcmtk() { OFLog::configure(OFLogger::OFF_LOG_LEVEL); }

}  // namespace crestgate::sample
