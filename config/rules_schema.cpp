#include "config/equipment_keys.h"
#include "config/schema_row.h"

namespace crestgate {
namespace {

using Form = Group<Rules>::Form;

std::vector<Group<Rules>> groups() {
  std::vector<Group<Rules>> g;
  g.push_back({"commissioning", Form::optional,
               "Who tried these rules on the site's own images. Needed for mode: live.",
               "commissioning:\n"
               "  by: Invented Name, responsible for dental imaging\n"
               "  date: 2026-01-31\n"
               "  own_images: 60\n"
               "  agreement_percent: 93.5\n"
               "  detectors: [SENSOR-0001, SENSOR-0002]\n",
               [](const Rules& r) { return std::size_t{r.commissioning ? 1u : 0u}; },
               [](Rules& r, std::size_t) { r.commissioning.emplace(); }});
  g.push_back({"intents", Form::list,
               "Why an image was taken, from what the request says; the first rule that matches "
               "decides. Without a match the intent is inferred from content, stated as such, and "
               "no repeat note is written.",
               "intents:\n"
               "  - attribute: RequestedProcedureDescription\n"
               "    contains: seating check\n"
               "    intent: seating\n",
               [](const Rules& r) { return r.intents.size(); },
               [](Rules& r, std::size_t count) { r.intents.resize(count); }});
  g.push_back(
      {"implant_types", Form::list,
       "Types of implants the site uses. A known type gives millimetres per pixel, tells "
       "shortening from enlargement and says which joint to expect. Chosen by the request's "
       "text where one is given, else where exactly one type fits the picture.",
       "implant_types:\n"
       "  - name: Example 4.1 x 10 butt\n"
       "    outer_diameter_mm: 4.1\n"
       "    platform_diameter_mm: 4.1\n"
       "    thread_pitch_mm: 0.8\n"
       "    starts: 1\n"
       "    length_mm: 10\n"
       "    connection: butt joint\n"
       "    attribute: RequestedProcedureComments\n"
       "    contains: example 4.1\n",
       [](const Rules& r) { return r.implant_types.size(); },
       [](Rules& r, std::size_t count) { r.implant_types.resize(count); }});
  g.push_back({"jig", Form::optional,
               "A jig of steel balls the site holds in the picture (DEVELOPERS.md, 'Jig'). Without "
               "this block none is looked for.",
               "jig:\n"
               "  ball_diameter_mm: 2\n"
               "  spacing_mm: 5\n",
               [](const Rules& r) { return std::size_t{r.jig ? 1u : 0u}; },
               [](Rules& r, std::size_t) { r.jig.emplace(); }});
  g.push_back({"step_wedge", Form::optional,
               "A staircase of aluminium on that jig (DEVELOPERS.md, 'Jig'): ties the grey values "
               "of a site's images to each other. Needs 'jig'. Without this block none is looked "
               "for.",
               "step_wedge:\n"
               "  steps: 6\n"
               "  step_thickness_mm: 1\n"
               "  step_length_mm: 1.6\n"
               "  width_mm: 3\n",
               [](const Rules& r) { return std::size_t{r.step_wedge ? 1u : 0u}; },
               [](Rules& r, std::size_t) { r.step_wedge.emplace(); }});
  g.push_back(
      {"positioning", Form::optional,
       "A holder or bite index made for one site, named in the request: it is judged by how "
       "it repeats the projection of the first exposure made with it.",
       "positioning:\n"
       "  attribute: RequestedProcedureComments\n"
       "  before: index\n",
       [](const Rules& r) { return std::size_t{r.positioning ? 1u : 0u}; },
       [](Rules& r, std::size_t) { r.positioning.emplace(); }});
  for (const auto& [name, meaning] : std::vector<std::pair<std::string, std::string>>{
           {"detection", "What counts as an implant."},
           {"seating", "Images that ask: is the part fully seated?"},
           {"placement", "Images that ask: is the implant clear of nerve, sinus and neighbours?"},
           {"follow_up", "Images that ask: did crestal bone change?"},
           {"exposure", "Image quality that bounds every question."},
           {"alerts", "When notes are written and repeats advised."},
           {"output", "Which objects are written back to the archive."}}) {
    g.push_back({name, Form::single, meaning, "", {}, {}});
  }
  return g;
}

std::vector<std::string> intent_words() {
  return {intent_name(Intent::seating), intent_name(Intent::placement),
          intent_name(Intent::follow_up), intent_name(Intent::constancy),
          intent_name(Intent::other)};
}

std::vector<Key<Rules>> site_keys() {
  const auto record = [](auto field) {
    return [field](auto& r, std::size_t) -> auto& { return field(*r.commissioning); };
  };
#define CRESTGATE_RECORD(name) record([](auto& c) -> auto& { return c.name; })
  return {
      row<Rules>(
          "mode", choice({"trial", "live"}), CRESTGATE_FIELD(mode),
          "trial: report and picture only. live: notes as well.",
          "A rule must be seen to agree with the site's own readers before it raises notes."),
      row<Rules>("language", plain(Kind::text), CRESTGATE_FIELD(language),
                 "Language of reports, pictures, notes and advice: en, or a language file "
                 "(relative: beside this file).",
                 "English is compiled in; a translation is a site's own, see language/en.yaml."),
      row<Rules>("secondary_capture_senders", plain(Kind::ae_titles),
                 CRESTGATE_FIELD(secondary_capture_senders),
                 "Calling AE titles whose Secondary Capture images are judged although their "
                 "modality is not IO.",
                 "Secondary Capture holds anything; only a named sender is known to send intraoral "
                 "images."),
      row<Rules>("commissioning.by", plain(Kind::text), CRESTGATE_RECORD(by), "Who is responsible.",
                 "", Presence::required),
      row<Rules>("commissioning.date", plain(Kind::date), CRESTGATE_RECORD(date),
                 "Day the record was signed, YYYY-MM-DD.", "", Presence::required),
      row<Rules>("commissioning.own_images", integer("", 1, 1000000), CRESTGATE_RECORD(own_images),
                 "How many of the site's own images were compared.", "", Presence::required),
      row<Rules>("commissioning.agreement_percent", number("%", 0, 100),
                 CRESTGATE_RECORD(agreement_percent),
                 "Agreement of verdicts with the site's own readers.", "", Presence::required),
      row<Rules>(
          "commissioning.detectors", plain(Kind::texts), CRESTGATE_RECORD(detectors),
          "Detector IDs (0018,700A) or serial numbers covered; any other detector is treated "
          "as in trial.",
          "", Presence::required),
      row<Rules>("intents.attribute", choice(intent_attributes()),
                 CRESTGATE_ELEMENT(intents, attribute), "DICOM keyword of the text looked at.", "",
                 Presence::required),
      row<Rules>("intents.contains", plain(Kind::text), CRESTGATE_ELEMENT(intents, contains),
                 "Text it must hold, upper or lower case alike.", "", Presence::required),
      row<Rules>("intents.intent", choice(intent_words()), CRESTGATE_ELEMENT(intents, intent),
                 "What such an image is judged for.", "", Presence::required),
  };
#undef CRESTGATE_RECORD
}

std::vector<Key<Rules>> limit_keys() {
  return {
      row<Rules>("detection.least_confidence", number("", 0.05, 1),
                 CRESTGATE_FIELD(detection.least_confidence),
                 "Confidence below which a shape is reported as 'possible implant' and not judged.",
                 "Value of this project; a post or a bracket must not raise an implant's alarm."),
      row<Rules>(
          "seating.largest_vertical_angle_deg", number("deg", 0.5, 30),
          CRESTGATE_FIELD(seating.largest_vertical_angle_deg),
          "Largest angle between the ray through the platform and the plane perpendicular to "
          "the implant's axis.",
          "A bench study with expert readers saw gaps of 0.013 mm up to 5 deg, 0.025 to 0.038 "
          "mm up to 10 deg and 0.051 mm up to 15 deg (Int J Oral Maxillofac Implants "
          "2011;26:807); 6 keeps the uncertainty of the angle inside that reach."),
      row<Rules>("seating.largest_hidden_gap_mm", number("mm", 0.0127, 0.5),
                 CRESTGATE_FIELD(seating.largest_hidden_gap_mm),
                 "Largest gap that may stay invisible in an image called usable.",
                 "Vertical misfit of cast parts starts at about 0.05 mm (doi "
                 "10.4103/ejd.ejd_162_17). 0.0127 mm is the smallest gap tested in the bench study "
                 "above."),
      row<Rules>("placement.least_apical_margin_mm", number("mm", 0, 20),
                 CRESTGATE_FIELD(placement.least_apical_margin_mm),
                 "Least distance in view beyond the apex.",
                 "Common practice: 2 mm is the clearance asked for above the mandibular canal."),
      row<Rules>("follow_up.largest_vertical_angle_deg", number("deg", 0.5, 30),
                 CRESTGATE_FIELD(follow_up.largest_vertical_angle_deg),
                 "As for seating; a crest off the axis by b appears shifted by b tan(angle).",
                 "5 deg shifts a crest 1 mm off the axis by 0.09 mm, about what readers repeat to "
                 "(0.08 to 0.14 mm, Clin Oral Implants Res 1998;9:243)."),
      row<Rules>("follow_up.crest_half_width_mm", number("mm", 0.1, 5),
                 CRESTGATE_FIELD(follow_up.crest_half_width_mm),
                 "b: how far towards cheek or tongue the crest may lie from the axis.",
                 "Value of this project."),
  };
}

std::vector<Key<Rules>> comparison_keys() {
  return {
      row<Rules>("follow_up.compare",
                 choice({compare_name(Compare::follow_up), compare_name(Compare::always),
                         compare_name(Compare::never)}),
                 CRESTGATE_FIELD(follow_up.compare),
                 "Which images are compared with an earlier one of the archive: follow-up: those a "
                 "rule under intents calls follow-up; always; never.",
                 "Only a request says that bone is the question; a search costs the archive."),
      row<Rules>("follow_up.baseline",
                 choice({baseline_name(Baseline::first_after_loading),
                         baseline_name(Baseline::last), baseline_name(Baseline::all)}),
                 CRESTGATE_FIELD(follow_up.baseline),
                 "Which earlier image of the site: the first that shows a part mounted, the last, "
                 "or all of them.",
                 "Loss is counted from loading (common practice); chains of small steps add up "
                 "their errors."),
      row<Rules>("follow_up.most_compared", integer("", 1, 12),
                 CRESTGATE_FIELD(follow_up.most_compared),
                 "With baseline: all, how many earlier images one image is compared with: the "
                 "oldest, then the newest; the report says how many were left out.",
                 "Each costs seconds and a picture; eight are eight years of yearly images."),
      row<Rules>("follow_up.largest_angle_difference_deg", number("deg", 0.5, 30),
                 CRESTGATE_FIELD(follow_up.largest_angle_difference_deg),
                 "Largest difference of the vertical angle between the two images.",
                 "As largest_vertical_angle_deg; the change's uncertainty grows with it."),
      row<Rules>("follow_up.largest_in_plane_difference_deg", number("deg", 1, 180),
                 CRESTGATE_FIELD(follow_up.largest_in_plane_difference_deg),
                 "Largest turn of the picture between the two images, quarter turns not counted.",
                 "A turn in the plane moves nothing by itself, but tells that the receptor was "
                 "placed anew. Value of this project."),
      row<Rules>("follow_up.largest_scale_difference", number("", 0.005, 0.5),
                 CRESTGATE_FIELD(follow_up.largest_scale_difference),
                 "Largest relative difference of the implant's size in mm between the two images.",
                 "Usual magnifications differ by up to 5 % (1.02 to 1.07, computed from 200 to 400 "
                 "mm source distance)."),
      row<Rules>("follow_up.largest_registration_rest_mm", number("mm", 0.01, 0.5),
                 CRESTGATE_FIELD(follow_up.largest_registration_rest_mm),
                 "Largest distance left between the implant's outlines when one is laid on the "
                 "other.",
                 "Value of this project: about two pixels of a coarse sensor."),
      row<Rules>("follow_up.early_period_months", integer("months", 0, 60),
                 CRESTGATE_FIELD(follow_up.early_period_months),
                 "Until then bone remodels; the yearly limit holds afterwards.",
                 "'After the first year': Int J Oral Maxillofac Implants 1986;1:11."),
      row<Rules>("follow_up.largest_yearly_loss_mm", number("mm", 0.01, 5),
                 CRESTGATE_FIELD(follow_up.largest_yearly_loss_mm),
                 "Loss per year beyond which a resolved change is named in the advice.",
                 "Less than 0.2 mm a year: Int J Oral Maxillofac Implants 1986;1:11."),
      row<Rules>("follow_up.largest_tone_bend", number("", 0.005, 0.5),
                 CRESTGATE_FIELD(follow_up.largest_tone_bend),
                 "Processing is said to have changed between the two images when the map between "
                 "their grey values departs from a straight line by more than this share of the "
                 "range and its own uncertainty together.",
                 "Value of this project: other exposure, bone and projection bent it by less on "
                 "rendered pairs, a gamma of 0.75 or 1.35 by more (DEVELOPERS.md)."),
      row<Rules>("follow_up.stated_processing", plain(Kind::boolean),
                 CRESTGATE_FIELD(follow_up.stated_processing),
                 "A difference the headers state counts as changed processing too: software "
                 "versions, processing function, device processing, intensity relationship, "
                 "presentation intent.",
                 "A new software version is the usual way processing changes unnoticed; set false "
                 "where versions change without the images."),
      row<Rules>("follow_up.subtraction_picture", plain(Kind::boolean),
                 CRESTGATE_FIELD(follow_up.subtraction_picture),
                 "A second picture: baseline, follow-up laid on it, and their difference.",
                 "Lets a clinician see what the number rests on."),
      row<Rules>("follow_up.annotate_baseline", plain(Kind::boolean),
                 CRESTGATE_FIELD(follow_up.annotate_baseline),
                 "One presentation state more, in the baseline's own study: where platform and "
                 "crest were measured there, which later image it was compared with, and the "
                 "outcome. Only for a pair that was compared; whatever "
                 "output.presentation_state says.",
                 "A study of the past stays as it was closed unless the site wants it otherwise; "
                 "many viewers apply a new state unasked."),
  };
}

std::vector<Key<Rules>> image_keys() {
  return {
      row<Rules>("exposure.largest_blur_sigma_mm", number("mm", 0.01, 1),
                 CRESTGATE_FIELD(exposure.largest_blur_sigma_mm),
                 "Largest blur (standard deviation of the edge spread).",
                 "Value of this project; compare with the site's own sharp images."),
      row<Rules>("exposure.largest_noise", number("", 0.001, 1),
                 CRESTGATE_FIELD(exposure.largest_noise),
                 "Largest noise: standard deviation over the step from background to metal.",
                 "5 % is the noisiest seen on real intraoral images read for this project."),
      row<Rules>("exposure.largest_clipped_fraction", number("", 0, 1),
                 CRESTGATE_FIELD(exposure.largest_clipped_fraction),
                 "Largest fraction of the joint's neighbourhood that is clipped.",
                 "Value of this project."),
      row<Rules>("alerts.largest_image_age_days", integer("days", 0, 3650),
                 CRESTGATE_FIELD(alerts.largest_image_age_days),
                 "Older images get report and picture, never a note.",
                 "A migration replays years of images; nobody can act on those."),
      row<Rules>("alerts.most_advised_repeats", integer("", 0, 5),
                 CRESTGATE_FIELD(alerts.most_advised_repeats),
                 "Repeats of one site in one visit that may be advised.",
                 "Guided by the blurred side, readers needed two exposures on average "
                 "(Dentomaxillofac Radiol 2012;41:298): one repeat."),
      row<Rules>("output.structured_report", plain(Kind::boolean),
                 CRESTGATE_FIELD(output.structured_report),
                 "Structured report, for machines and researchers.", "The full result."),
      row<Rules>("output.picture", plain(Kind::boolean), CRESTGATE_FIELD(output.picture),
                 "Annotated picture, for every viewer.", "What a clinician sees first."),
      row<Rules>(
          "output.small_picture_when_usable", plain(Kind::boolean),
          CRESTGATE_FIELD(output.small_picture_when_usable),
          "A quarter-size picture without enlarged parts for usable images without findings.",
          "Off: a clinician who wants to check the joint finds the enlarged parts."),
      row<Rules>("output.presentation_state", plain(Kind::boolean),
                 CRESTGATE_FIELD(output.presentation_state),
                 "Marks as a presentation state, for viewers that draw it over the original.",
                 "Many viewers apply the newest state unasked: set false where that disturbs."),
      row<Rules>("output.notes", plain(Kind::boolean), CRESTGATE_FIELD(output.notes),
                 "Key object notes on findings and advised repeats; written in mode: live only.",
                 "What worklists and viewers show."),
  };
}

}  // namespace

const Schema<Rules>& rules_schema() {
  static const Schema<Rules> schema = [] {
    Schema<Rules> s;
    s.title = "crestgate rules: what an image must show, and what is written back.";
    s.groups = groups();
    s.keys = site_keys();
    for (const auto& keys : {known_dimension_keys, jig_keys, positioning_keys, limit_keys,
                             comparison_keys, image_keys})
      for (Key<Rules>& key : keys()) s.keys.push_back(std::move(key));
    return s;
  }();
  return schema;
}

}  // namespace crestgate
