// Hand-built analyses and source headers for the report tests: an invented clinic, invented people.
#pragma once
#include <dcmtk/config/osconfig.h>

#include <dcmtk/dcmdata/dctk.h>

#include <functional>
#include <string>
#include <vector>

#include "config/rules.h"
#include "node/report/build.h"
#include "pipeline/image/analysis.h"

namespace crestgate::report_test {

struct Case {
  std::string name;
  Analysis analysis;
  Frame frame;
  Rules rules;
  ReportContext context;
  std::function<void(DcmDataset&)> source;  ///< fills the header of the source image
};

/// Header of a complete digital intra-oral image (tooth 36, mandible), without pixels.
void fill_source(DcmDataset& source);

/// Simple painted implant: crown up, axis through `platform`, radius and length in px.
Frame painted_frame(int rows, int columns, Point platform, double radius_px, double length_px);

/// One well-described implant on a painted frame; the start of most cases.
Case base_case(const std::string& name);

/// At least 15 different inputs: findings, verdicts, several or no implants, no scale, odd headers.
std::vector<Case> all_cases();

/// The case's structured report, printed element by element. Throws if it cannot be built.
std::string printed_report(const Case& c);

/// Parses built bytes back.
void parse(const BuiltObject& object, DcmFileFormat& file);

}  // namespace crestgate::report_test
