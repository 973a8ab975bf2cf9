// The same analysis on images from another simulator: a folder of DICOM files with truth.json
// (angles in degrees, positive = source coronal; lengths in mm; pixel at the detector).
#pragma once
#include <ostream>
#include <string>

namespace crestgate::numbers {

/// Markdown: one row per file and a summary. Throws std::runtime_error naming the file it cannot
/// use.
void write_extra_table(std::ostream& out, const std::string& folder);

}  // namespace crestgate::numbers
