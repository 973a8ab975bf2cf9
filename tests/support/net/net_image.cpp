#include "tests/support/net/net_image.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcostrmb.h>
#include <dcmtk/dcmdata/dctk.h>

#include <ctime>
#include <fstream>
#include <random>

namespace crestgate {
namespace {

void put(DcmDataset& dataset, const DcmTagKey& tag, const std::string& text) {
  dataset.putAndInsertString(tag, text.c_str());
}

void fill_pixels(DcmDataset& dataset, const ImageWish& wish) {
  const int samples = wish.colour ? 3 : 1;
  const auto count = static_cast<std::size_t>(wish.rows) * wish.columns * wish.frames * samples;
  std::mt19937 random(wish.seed);
  std::vector<Uint8> pixels(count + count % 2);
  for (Uint8& p : pixels) p = static_cast<Uint8>(random() >> 24);
  dataset.putAndInsertUint16(DCM_SamplesPerPixel, static_cast<Uint16>(samples));
  put(dataset, DCM_PhotometricInterpretation, wish.colour ? "RGB" : "MONOCHROME2");
  if (wish.colour) dataset.putAndInsertUint16(DCM_PlanarConfiguration, 0);
  dataset.putAndInsertUint16(DCM_Rows, static_cast<Uint16>(wish.rows));
  dataset.putAndInsertUint16(DCM_Columns, static_cast<Uint16>(wish.columns));
  if (wish.frames > 1) put(dataset, DCM_NumberOfFrames, std::to_string(wish.frames));
  dataset.putAndInsertUint16(DCM_BitsAllocated, 8);
  dataset.putAndInsertUint16(DCM_BitsStored, 8);
  dataset.putAndInsertUint16(DCM_HighBit, 7);
  dataset.putAndInsertUint16(DCM_PixelRepresentation, 0);
  dataset.putAndInsertUint8Array(DCM_PixelData, pixels.data(), pixels.size());
}

}  // namespace

void fill_image(DcmDataset& dataset, const ImageWish& wish) {
  put(dataset, DCM_SOPClassUID, wish.sop_class_uid);
  put(dataset, DCM_SOPInstanceUID, wish.sop_instance_uid);
  put(dataset, DCM_StudyDate, wish.content_date);
  put(dataset, DCM_ContentDate, wish.content_date);
  put(dataset, DCM_AcquisitionDate, wish.content_date);
  put(dataset, DCM_ContentTime, "101500");
  put(dataset, DCM_Modality, wish.modality);
  put(dataset, DCM_Manufacturer, "Invented Works");
  put(dataset, DCM_PatientName, wish.patient_name);
  put(dataset, DCM_PatientID, "P-1");
  put(dataset, DCM_StudyInstanceUID, "2.25.11");
  put(dataset, DCM_SeriesInstanceUID, "2.25.12");
  put(dataset, DCM_SeriesNumber, "1");
  put(dataset, DCM_InstanceNumber, "1");
  if (wish.tooth) {
    DcmItem* code = nullptr;
    dataset.findOrCreateSequenceItem(DCM_PrimaryAnatomicStructureSequence, code, -2);
    code->putAndInsertString(DCM_CodeValue, "866006002");  // 36, CID 4018
    code->putAndInsertString(DCM_CodingSchemeDesignator, "SCT");
    code->putAndInsertString(DCM_CodeMeaning, "Mandibular left first molar tooth");
  }
  fill_pixels(dataset, wish);
}

Bytes image_file(const ImageWish& wish) {
  DcmFileFormat file;
  fill_image(*file.getDataset(), wish);
  Bytes bytes(file.getDataset()->calcElementLength(EXS_LittleEndianExplicit, EET_ExplicitLength) +
              8192);
  DcmOutputBufferStream stream(bytes.data(), static_cast<offile_off_t>(bytes.size()));
  file.transferInit();
  file.write(stream, EXS_LittleEndianExplicit, EET_ExplicitLength, nullptr);
  file.transferEnd();
  void* buffer = nullptr;
  offile_off_t length = 0;
  stream.flushBuffer(buffer, length);
  bytes.resize(static_cast<std::size_t>(length));
  return bytes;
}

std::string today() {
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  localtime_r(&now, &local);
  char text[16];
  std::strftime(text, sizeof text, "%Y%m%d", &local);
  return text;
}

void write_bytes(const std::string& path, const Bytes& bytes) {
  std::ofstream out(path, std::ios::binary);
  out.write(reinterpret_cast<const char*>(bytes.data()),
            static_cast<std::streamsize>(bytes.size()));
}

}  // namespace crestgate
