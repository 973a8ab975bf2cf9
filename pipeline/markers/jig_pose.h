// Where the ray comes from, from four balls of known places. Private to this folder.
//
// Jig frame (mm): x to the right seen from the source, y away from the source, z coronal (along the
// implant's axis). Layout in units of spacing: A (0, 0, 0), B (2, 0, 0), C (0, 0, 1) in the plane
// towards the source, D (1, 1.5, 0.5) behind it. Four points not in one plane fix the affine camera
// p = M X + t exactly (Koenderink and van Doorn, J Opt Soc Am A 1991;8:377; scaled orthography as
// in DeMenthon and Davis, Int J Comput Vis 1995;15:123). The direction of the ray is the null
// vector of M, whatever the receptor's tilt and the pixel's shape do to the picture: they only mix
// the rows.
#pragma once
#include <array>
#include <optional>

#include "config/rules.h"
#include "pipeline/image/frame.h"

namespace crestgate {

struct Place3 {
  double x = 0, y = 0, z = 0;  ///< mm in the jig frame
};
using JigLayout = std::array<Place3, 4>;
JigLayout jig_layout(const Jig& jig);

struct JigPose {
  double theta_deg = 0;         ///< ray through A; positive = source coronal
  Point coronal;                ///< unit vector in the image of the jig's z axis
  double px_per_mm_across = 0;  ///< perpendicular to the jig's axis
  double px_per_mm_along = 0;   ///< of a length along the jig's axis
  double distortion = 0;        ///< how far M is from a scaled rotation, 0 = is one
  bool as_made = true;          ///< false: seen mirrored, or the jig stands back to front
  Place3 row_x, row_y, ray;     ///< of M, px per mm; the ray's direction
  Point foot_px;                ///< ball A
  double source_mm = 0;         ///< from A
  /// Where a point of the jig is seen.
  Point to_image(const Place3& jig_mm) const;
};

/// Balls in the order A, B, C, D. `source_mm`: distance from source to jig, which makes what lies
/// behind smaller. Empty if the balls do not span the layout.
std::optional<JigPose> jig_pose(const std::array<Point, 4>& balls_px, const JigLayout& layout,
                                double source_mm);

}  // namespace crestgate
