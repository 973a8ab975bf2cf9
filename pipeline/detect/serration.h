// Thread serration of a silhouette: edge position along v, detrended, and its period.
#pragma once
#include <vector>

namespace crestgate {

/// Edge position minus its running mean over `window` samples (triangular weights, so a straight or
/// tapered flank becomes 0); gaps (NaN) are bridged linearly first. Same length as the input.
std::vector<double> flank_serration(const std::vector<double>& edge_px, int window);

/// What the two flanks say about a common pitch. Periods in samples.
struct Serration {
  double pitch = 0.0;           ///< of the best common period; 0 = none found
  double strength = 0.0;        ///< share of both flanks' band variance at that period, 0..1
  double minus_strength = 0.0;  ///< the same per flank, at the flank's own best period
  double plus_strength = 0.0;
  double minus_pitch = 0.0, plus_pitch = 0.0;
  double minus_amplitude = 0.0, plus_amplitude = 0.0;  ///< sine amplitude at `pitch`, px
  double weaker_share = 0.0;   ///< variance share of `pitch` on the flank that shows it less
  bool pitches_agree = false;  ///< best periods of the two flanks equal within their resolution
  int first = 0, last = -1;    ///< samples over which all this holds (the threaded stretch)
  double offset = 0.0;  ///< phase plus - minus, in pitches, [0,1): 0.5 = odd starts, 0 = even
};

/// Signals of one side of the axis: one per column along v, equally long, outward or brighter = +.
using Side = std::vector<std::vector<double>>;

/// Looks for periods in [least, most] samples, in the whole and in sliding stretches of at least
/// `least_length` samples (a mounted part or a smooth neck has none), and returns the stretch where
/// the period explains most. Powers add over a side's columns, whatever their phases: under a
/// tilted beam the crests of a thread run across the body as stripes.
Serration find_period(const Side& minus, const Side& plus, double least_period, double most_period,
                      int least_length);

/// The same for the two edges of a silhouette.
Serration find_serration(const std::vector<double>& minus_edge,
                         const std::vector<double>& plus_edge, double least_period,
                         double most_period, int least_length);

}  // namespace crestgate
