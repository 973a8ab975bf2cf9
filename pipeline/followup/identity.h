// May two images be compared as images of one implant at all? Archives answer by Patient ID; that
// two images show the same person, site and implant is decided here, from what they say and show.
#pragma once
#include <string>
#include <vector>

#include "pipeline/image/analysis.h"

namespace crestgate {

/// What disagrees, or is not stated and must be, in plain words; empty: person and site agree.
/// Patient ID, issuer, birth date, site (ISO 3950), laterality, jaw, mirrored read-out.
std::vector<std::string> identity_conflicts(const Acquisition& now, const Acquisition& before,
                                            const Language& text = {});

/// What differs between two implants beyond its uncertainty: pitch over diameter (free of scale),
/// diameter, length. Empty: they may be the same. `compared`: how many of the three could be.
struct GeometryCheck {
  std::vector<std::string> differences;
  int compared = 0;
};
GeometryCheck compare_geometry(const Implant& now, const Scale& scale_now, const Implant& before,
                               const Scale& scale_before, const Language& text = {});

/// Which implant of `before` each judged implant of `now` is: indices into implants, -1 if it
/// cannot be told. Neighbours keep their order along the jaw.
std::vector<int> pair_implants(const Analysis& now, const Analysis& before);

}  // namespace crestgate
