// Writes a rendered scene as a DICOM file (Explicit VR Little Endian): Digital Intra-Oral X-Ray for
// presentation or processing (PS3.3 A.28), Digital X-Ray, CR or Secondary Capture. Truth never gets
// in: only what a modality would know.
#pragma once
#include <string>

#include "tests/support/render.h"

namespace crestgate::phantom {

/// Throws std::runtime_error naming the file if it cannot be written.
void write_dicom(const Rendered& rendered, const Scene& scene, const std::string& path);

/// Truth beside the image, never inside: `path` gets the sidecar JSON.
void write_truth(const Rendered& rendered, const std::string& path);

}  // namespace crestgate::phantom
