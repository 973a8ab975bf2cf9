// What is known of a joint before its model is fitted: the metal on either side of it, whether a
// part is mounted, and what the outline says about how that part is seated.
#pragma once
#include <string>

#include "pipeline/image/analysis.h"
#include "pipeline/seating/joint_fit.h"

namespace crestgate {

enum class Seat {
  face_to_face,  ///< the part rests on the platform: a gap is a band between two bodies
  unknown,
  inside  ///< narrower than any part that rests on its platform: what looks like a gap is its neck
};

/// Half the implant's width right below its platform, by its silhouette: necks flare (tissue level)
/// and taper against the body.
double neck_radius_px(const ImplantShape& shape, double mm_per_px);

/// From the widths, unless the site's table names the joint ("butt joint", "conical", or empty).
Seat seat_of(const std::string& known_design, double part_over_implant);

struct JointSetup {
  JointFitInput in;
  bool part_present = false;
  Seat seat = Seat::unknown;
  std::string missing;  ///< key of what cannot be had; then the rest may be empty
};

/// `in` holds angle, scale, ends of the grey scale and where the platform should be;
/// `sigma_hint_px` is the image's blur.
JointSetup set_up_joint(const Strip& strip, const ImplantShape& shape, double sigma_hint_px,
                        JointFitInput in);

}  // namespace crestgate
