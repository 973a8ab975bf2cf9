// Made-up DICOM images for the node's tests: valid enough to be received, odd on demand.
#pragma once
#include <string>

#include "node/fs.h"

class DcmDataset;

namespace crestgate {

struct ImageWish {
  std::string sop_instance_uid = "2.25.1001";
  std::string sop_class_uid = "1.2.840.10008.5.1.4.1.1.1.3";  ///< intra-oral, for presentation
  std::string modality = "IO";
  std::string content_date = "20260101";
  int rows = 64, columns = 48;
  int frames = 1;
  bool colour = false;  ///< RGB with unequal channels
  std::string patient_name = "Invented^Nobody";
  bool tooth = false;  ///< says which tooth: 36
  unsigned seed = 1;   ///< of the grey values
};

void fill_image(DcmDataset& dataset, const ImageWish& wish);

/// The image as a Part 10 file, Explicit VR Little Endian.
Bytes image_file(const ImageWish& wish);

/// Today as YYYYMMDD.
std::string today();

void write_bytes(const std::string& path, const Bytes& bytes);

}  // namespace crestgate
