// Anatomy as coded in intra-oral images: jaw regions (CID 4016) and permanent teeth (CID 4018).
#pragma once
#include <string>

#include "pipeline/image/acquisition.h"

namespace crestgate {

/// Jaw named by an Anatomic Region code, SCT or the retired SRT/SNM3 spelling; unknown if neither.
Jaw jaw_of_region_code(const std::string& code);

/// ISO 3950 designation ("36") of a Primary Anatomic Structure code, empty if it is no tooth of
/// CID 4018. Accepts SCT codes and the retired SRT spelling (T-54210 ..).
std::string tooth_of_code(const std::string& code);

/// Quadrants 1, 2 (5, 6 deciduous) are maxillary, 3, 4 (7, 8) mandibular (ISO 3950).
Jaw jaw_of_tooth(const std::string& iso3950);

/// Weaker source: words such as 'maxilla' or 'lower jaw' in a description; unknown if both occur.
Jaw jaw_of_text(const std::string& text);

}  // namespace crestgate
