// Text for data sets whose character set cannot hold it.
#pragma once
#include <string>

namespace crestgate {

/// UTF-8 to ASCII, which every DICOM character set contains: our signs in words (um, +/-, deg),
/// Latin letters without their marks (a for ä), '?' for what has no such form.
std::string ascii_fold(const std::string& utf8);

}  // namespace crestgate
