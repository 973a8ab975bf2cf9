#include "config/equipment_keys.h"

#include "config/schema_row.h"

namespace crestgate {

std::vector<Key<Rules>> known_dimension_keys() {
#define CRESTGATE_TYPE(name) CRESTGATE_ELEMENT(implant_types, name)
  return {
      row<Rules>("implant_types.name", plain(Kind::text), CRESTGATE_TYPE(name),
                 "What reports call it.", "", Presence::required),
      row<Rules>("implant_types.outer_diameter_mm", number("mm", 2, 8),
                 CRESTGATE_TYPE(outer_diameter_mm), "Over the crests of the thread.", "",
                 Presence::required),
      row<Rules>("implant_types.platform_diameter_mm", number("mm", 2, 9),
                 CRESTGATE_TYPE(platform_diameter_mm), "Of the platform's rim.", "",
                 Presence::required),
      row<Rules>("implant_types.thread_pitch_mm", number("mm", 0, 3),
                 CRESTGATE_TYPE(thread_pitch_mm),
                 "Crest to crest along the axis (not the lead); 0 for a body without thread.", "",
                 Presence::required),
      row<Rules>("implant_types.starts", integer("", 1, 4), CRESTGATE_TYPE(starts),
                 "Threads side by side.", "", Presence::required),
      row<Rules>("implant_types.length_mm", number("mm", 4, 25), CRESTGATE_TYPE(length_mm),
                 "From the platform to the apex.", "", Presence::required),
      row<Rules>("implant_types.connection", choice({"butt joint", "conical"}),
                 CRESTGATE_TYPE(connection),
                 "Flat faces that meet, or a cone in a cone: decides which gaps could be seen.", "",
                 Presence::required),
      row<Rules>("implant_types.tolerance_mm", number("mm", 0, 0.5), CRESTGATE_TYPE(tolerance_mm),
                 "Half width within which a made part keeps its dimensions; 0.05 if left out.",
                 "Value of this project; a nominal diameter is often rounded."),
      row<Rules>("implant_types.handedness", choice({"right", "left"}), CRESTGATE_TYPE(handedness),
                 "Of the thread; right if left out.",
                 "Screws are right-handed unless said otherwise."),
      row<Rules>("implant_types.attribute", choice(intent_attributes()), CRESTGATE_TYPE(attribute),
                 "DICOM keyword of the text looked at, with 'contains'.",
                 "Without it the type is chosen by its dimensions only."),
      row<Rules>("implant_types.contains", plain(Kind::text), CRESTGATE_TYPE(contains),
                 "Text the attribute must hold, upper or lower case alike.",
                 "Without it the type is chosen by its dimensions only."),
  };
#undef CRESTGATE_TYPE
}

std::vector<Key<Rules>> jig_keys() {
  const auto jig = [](auto field) {
    return [field](auto& r, std::size_t) -> auto& { return field(*r.jig); };
  };
  const auto wedge = [](auto field) {
    return [field](auto& r, std::size_t) -> auto& { return field(*r.step_wedge); };
  };
#define CRESTGATE_JIG(name) jig([](auto& j) -> auto& { return j.name; })
#define CRESTGATE_WEDGE(name) wedge([](auto& w) -> auto& { return w.name; })
  return {
      row<Rules>("jig.ball_diameter_mm", number("mm", 0.5, 5), CRESTGATE_JIG(ball_diameter_mm),
                 "Of every ball.", "", Presence::required),
      row<Rules>("jig.spacing_mm", number("mm", 2, 15), CRESTGATE_JIG(spacing_mm),
                 "Unit of the layout.", "", Presence::required),
      row<Rules>("jig.tolerance_mm", number("mm", 0.001, 1), CRESTGATE_JIG(tolerance_mm),
                 "Half width within which every ball's centre was placed; 0.05 if left out.",
                 "Value of this project: holes drilled with a pillar drill; measure your own."),
      row<Rules>(
          "jig.alignment_deg", number("deg", 0.1, 10), CRESTGATE_JIG(alignment_deg),
          "Half width within which the jig stands parallel to the implant's axis; 1 if left out.",
          "Value of this project: a post in the implant's own connection; more on a holder."),
      row<Rules>("step_wedge.steps", integer("", 3, 12), CRESTGATE_WEDGE(steps),
                 "How many; at least three of them must be readable in a picture.", "",
                 Presence::required),
      row<Rules>(
          "step_wedge.step_thickness_mm", number("mm", 0.2, 4), CRESTGATE_WEDGE(step_thickness_mm),
          "Aluminium of the first step, and added by each further one.", "", Presence::required),
      row<Rules>("step_wedge.step_length_mm", number("mm", 0.8, 6), CRESTGATE_WEDGE(step_length_mm),
                 "Of one step, along the staircase.", "", Presence::required),
      row<Rules>("step_wedge.width_mm", number("mm", 1, 10), CRESTGATE_WEDGE(width_mm),
                 "Of the staircase, along the implant's axis.", "", Presence::required),
  };
#undef CRESTGATE_JIG
#undef CRESTGATE_WEDGE
}

std::vector<Key<Rules>> positioning_keys() {
  const auto of = [](auto field) {
    return [field](auto& r, std::size_t) -> auto& { return field(*r.positioning); };
  };
#define CRESTGATE_POSITIONING(name) of([](auto& p) -> auto& { return p.name; })
  return {
      row<Rules>("positioning.attribute", choice(intent_attributes()),
                 CRESTGATE_POSITIONING(attribute), "DICOM keyword of the text that names it.", "",
                 Presence::required),
      row<Rules>("positioning.before", plain(Kind::text), CRESTGATE_POSITIONING(before),
                 "Its id is the word after this text, upper or lower case alike.", "",
                 Presence::required),
      row<Rules>(
          "positioning.largest_drift_deg", number("deg", 0.5, 30),
          CRESTGATE_POSITIONING(largest_drift_deg),
          "Largest difference of the vertical angle and of the turn in the picture plane "
          "against the first exposure made with it; beyond, it is to be made anew. 2 if left "
          "out.",
          "Value of this project: 2 deg shift a crest 1 mm off the axis by 0.035 mm, less "
          "than half of what readers repeat to."),
      row<Rules>(
          "positioning.largest_size_drift", number("", 0.005, 0.5),
          CRESTGATE_POSITIONING(largest_size_drift),
          "The same for the relative difference of the implant's size in mm; 0.02 if left out.",
          "Value of this project: 2 mm of receptor distance at 200 mm change the size by 1 %."),
  };
#undef CRESTGATE_POSITIONING
}

}  // namespace crestgate
