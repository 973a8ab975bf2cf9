// One NUM of a measurement group (TID 300) with its properties (TID 310: significance, uncertainty)
// and what it was inferred from (TID 320). Internal to the structured report.
#pragma once
#include <dcmtk/config/osconfig.h>

#include <dcmtk/dcmsr/cmr/tid1500.h>

#include <optional>
#include <string>
#include <vector>

#include "config/language.h"
#include "node/report/build.h"
#include "node/report/codes.h"
#include "node/report/identity.h"

namespace crestgate {

/// Without a value it is written as 'measurement failure' (looked for and not found) or
/// 'measurement not attempted' (CID 42), with the reason as comment.
struct Number {
  const CodedConcept& name;
  const CodedConcept& unit;
  std::optional<double> value;
  int decimals = 2;
  std::optional<double> expanded_uncertainty = {};
  std::string why_not = {};
  std::vector<Point> where_px = {};    ///< one point or the ends of a line, JSON pixel coordinates
  std::string basis = {};              ///< what the value was read from, in words
  const CodedConcept* side = nullptr;  ///< mesial or distal, where told
  const CodedConcept* significance = nullptr;  ///< CID 220
  std::string remark = {};                     ///< more words below the value
  std::optional<KnownDocument> baseline = {};  ///< earlier image the value was taken against
};

/// The first failed step is returned.
OFCondition add_number(CMR_TID1501_in_TID1500& group, const Number& what, const Shared& shared,
                       const Language& text);

/// Keeps the first failure of a row of steps.
inline void keep_first(OFCondition& result, const OFCondition& next) {
  if (result.good()) result = next;
}

}  // namespace crestgate
