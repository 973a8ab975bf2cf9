// The same analysis on images from another simulator: a folder of DICOM files with truth.json
// (angles in degrees, positive = source coronal; lengths in mm; pixel at the detector).
#pragma once
#include <nlohmann/json.hpp>
#include <ostream>
#include <string>

#include "pipeline/read/read.h"

namespace crestgate::numbers {

/// Throws std::runtime_error naming the file.
ReadImage read_file(const std::string& path);

/// A file's implants in the truth: the list of that name, or the file's own entry if it has one.
nlohmann::json implants_of(const nlohmann::json& truth_of_file);

/// Markdown: one row per file and a summary. Throws std::runtime_error naming the file it cannot
/// use.
void write_extra_table(std::ostream& out, const std::string& folder);

}  // namespace crestgate::numbers
