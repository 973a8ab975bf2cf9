// The one place where image coordinates leave the program.
#pragma once
#include "pipeline/image/frame.h"

namespace crestgate {

/// Pixel coordinates of the JSON (pixel centres at integers) to those of graphic annotations and
/// SCOORD, which count from the top left corner of the first pixel (PS3.3 C.10.5.1.2, C.18.6.1.2).
inline Point to_dicom_graphic(Point pixel) { return {pixel.x + 0.5, pixel.y + 0.5}; }

}  // namespace crestgate
