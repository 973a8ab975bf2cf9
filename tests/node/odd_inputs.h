// One rendered radiograph in every guise a clinic may send it in: each transfer syntax, depth, sign
// and photometric, and headers with gaps, empty values and multi-byte names. Made with the phantom
// renderer, DCMTK's data sets and the command-line converters of DCMTK and GDCM.
#pragma once
#include <string>
#include <vector>

namespace crestgate {

struct OddInput {
  std::string name;            ///< also the file's, NAME.dcm
  std::string same_pixels_as;  ///< lossless recoding of that input; empty: pixels of its own
  std::string lossy_form_of;   ///< lossy recoding of that input
};

/// Writes NAME.dcm for each into `folder`. Throws std::runtime_error naming the step that failed, a
/// converter that is not installed included.
std::vector<OddInput> write_odd_inputs(const std::string& folder);

/// Live mode with a commissioning record, so that notes are written too.
std::string rules_for_odd_inputs();

}  // namespace crestgate
