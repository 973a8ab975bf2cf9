// From ribbons to worked-out candidates with their evidence; the best reading of each piece of
// metal.
#pragma once
#include <vector>

#include "pipeline/detect/body.h"
#include "pipeline/detect/ends.h"
#include "pipeline/detect/evidence.h"
#include "pipeline/detect/survey.h"

namespace crestgate {

struct Candidate {
  Body body;
  Ends ends;
  Evidence evidence;
  double confidence = 0.0;
  double rank = 0.0;  ///< confidence, among equals better serration and longer stretch
};

/// Every reading of every ribbon at least that confident, several of the same metal.
std::vector<Candidate> all_readings(const Frame& frame, const Survey& survey,
                                    const Acquisition& acquisition, double least_confidence);

/// One of each piece of metal, best first; at least 0.1 confident.
std::vector<Candidate> find_candidates(const Frame& frame, const Survey& survey,
                                       const Acquisition& acquisition);

}  // namespace crestgate
