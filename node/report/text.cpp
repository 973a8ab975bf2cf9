#include "node/report/text.h"

#include <string_view>

namespace crestgate {

const std::map<std::string, std::string>& TextTable::english() {
  static const std::map<std::string, std::string> words = {
      // What leads: a finding, or what was looked for and how small it could be and still hide.
      {"headline.no_gap_limit", "No gap seen; gaps under {limit} µm could hide"},
      {"headline.no_gap", "No gap seen; how small a gap could hide is not known"},
      {"headline.joint_not_assessable", "Joint not assessable: a gap may or may not be there"},
      {"headline.no_part", "Nothing mounted on the implant: no joint to check"},
      {"headline.placement_whole", "Whole implant in view; two-dimensional picture"},
      {"headline.placement_cut", "Implant not wholly in view"},
      {"headline.no_implant", "No implant found; only the image itself was checked"},
      {"headline.possible_only", "Possibly an implant; not judged"},
      {"headline.unusable", "The image could not be used"},
      {"headline.gap", "Gap visible at implant {site}"},
      {"headline.bone_change", "Bone level changed at implant {site}"},
      {"sub.check_seating", "Check seating before the patient leaves."},
      {"sub.placement", "Placement: says nothing about facial-lingual clearance."},
      {"sub.inferred", "Why the image was taken is not stated; judged as {intent}."},
      {"sub.stated", "Judged as {intent}."},
      {"sub.more", "{n} more finding(s): see the report."},
      {"intent.seating", "seating view"},
      {"intent.placement", "placement view"},
      {"intent.follow-up", "follow-up view"},
      {"intent.constancy", "constancy view of the sensor"},
      {"intent.other", "general view"},
      {"verdict.usable", "Image usable"},
      {"verdict.usable with limits", "Image usable with limits"},
      {"verdict.repeat if justified", "Repeat the image if justified"},
      {"verdict.not assessable", "Image not assessable"},
      // Repeats and views of a visit
      {"repeat",
       "Exposure {n} of this site compared with exposure {before}: {result} ({verdict}, before: "
       "{verdict_before}; angle {angle}, before: {angle_before})."},
      {"repeat.better", "better"},
      {"repeat.same", "no difference beyond measurement error"},
      {"repeat.worse", "worse"},
      {"repeat.usable", "usable"},
      {"repeat.limits", "with limits"},
      {"repeat.no", "not assessable"},
      {"visit.no_placement", "This visit so far: no placement view (whole implant)."},
      {"visit.no_seating", "This visit so far: no seating view (joint assessable)."},
      {"visit.neither", "This visit so far: neither a seating nor a placement view."},
      {"attempt", "exposure {n} of this site"},
      {"advice.none", "No other exposure is suggested."},
      {"pictogram.root_end", "root end"},
      {"pictogram.no_direction", "direction not known"},
      {"pictogram.now", "now"},
      {"pictogram.next", "next"},
      // Picture panels
      {"panel.joint", "Joint"},
      {"panel.joint_marked", "Joint, marked"},
      {"panel.flank", "Flank, {side}"},
      {"panel.site", "Enlarged: {site}"},
      {"panel.site_of", "Enlarged: {site} ({n} of {count} implants)"},
      {"panel.nothing", "nothing to enlarge"},
      {"panel.cut", "outside the image"},
      {"panel.no_scale", "scale unknown: no mm bar"},
      {"panel.bar", "{mm} mm"},
      {"mark.site", "Implant {site}"},
      {"mark.possible", "possible implant"},
      {"mark.crown", "arrow: crown side"},
      {"mark.crown_unknown", "crown side not known"},
      {"mark.mirror", "mirror not excluded:\ndirection may be reversed"},
      {"legend", "▷ bone crest   — platform level   ┄ axis"},
      // Table of measures
      {"table.implant", "Implant"},
      {"table.angle", "Beam angle to implant"},
      {"table.limit", "Gap that could hide"},
      {"table.crest", "Bone crest below platform"},
      {"table.change", "Change of crest"},
      {"table.scale", "Scale"},
      {"table.more", "{n} more implant(s): see the report"},
      {"value.not_assessable", "not assessable"},
      {"value.because", "not assessable: {reason}"},
      {"value.within_error", "{value} ± {u}{unit}: within measurement error of 0"},
      {"value.plus_minus", "{value} ± {u}{unit}"},
      {"value.no_uncertainty", "{value}{unit}, uncertainty not known"},
      {"angle.coronal", "source too far to the crown side"},
      {"angle.apical", "source too far to the root side"},
      {"angle.unsigned", "direction not known"},
      {"limit.value", "under {limit} µm\n({design})"},
      {"crest.sides", "{left_name} {left}\n{right_name} {right}"},
      {"side.left", "image left"},
      {"side.right", "image right"},
      {"side.mesial", "mesial"},
      {"side.distal", "distal"},
      {"side.left_mesial", "mesial (left)"},
      {"side.left_distal", "distal (left)"},
      {"side.right_mesial", "mesial (right)"},
      {"side.right_distal", "distal (right)"},
      {"change.no_baseline", "not assessable:\nno earlier image compared"},
      {"change.size_loss", "loss {size}"},
      {"change.size_gain", "gain {size}"},
      {"change.pending", "pending: earlier images\nnot yet asked for"},
      {"scale.value", "{value} µm per pixel, {source}"},
      {"scale.none", "unknown: no lengths in mm"},
      {"spacing.none", "no source"},
      {"spacing.imager", "from detector pixel size"},
      {"spacing.pixel", "from pixel spacing, origin not stated"},
      {"spacing.pixel-geometry", "corrected for geometry"},
      {"spacing.pixel-fiducial", "calibrated on an object"},
      {"spacing.nominal-scanned", "nominal, scanned film or plate"},
      {"spacing.conflict", "sources disagree"},
      // Comparison with an earlier image
      {"compare.pending", "Comparison pending: {reason}; it will follow as a new report"},
      {"compare.head", "Compared with the image of {date} ({uid}): {state}"},
      {"compare.compared", "compared"},
      {"compare.not_comparable", "not comparable"},
      {"compare.identity", "identity not certain, not compared"},
      {"compare.new_baseline", "another implant at the site, this image begins anew"},
      {"compare.early", "early remodelling period"},
      {"compare.side", "Crestal bone, loss positive: {where}: {change}"},
      {"compare.grey",
       "the crest would move by {brightness} mm under ±10 % brightness, {contrast} mm under ±10 % "
       "contrast, {gamma} mm under gamma 0.8 to 1.25"},
      {"compare.mean",
       "Uncertainties are of this one pair. Random errors shrink in the mean of many sites; a bias "
       "common to all does not."},
      {"change.loss", "resolved: loss"},
      {"change.gain", "resolved: gain"},
      {"change.within_error", "within measurement error"},
      {"change.least", "smallest change this pair could resolve {mm} mm"},
      {"change.rate", "{mm} a year"},
      {"change.budget", "standard uncertainties in mm: {terms}"},
      // Cautions
      {"caution.not_diagnosis", "Not for diagnosis: open the original."},
      {"caution.bone", "Facial and lingual bone are not shown."},
      {"caution.tight", "No visible gap does not prove a tight screw."},
      {"caution.aid",
       "An aid to judging the image, not a diagnosis and not a cleared medical device."},
      {"caution.dose", "Repeat an exposure only if the clinician judges the dose justified."},
      {"caution.two_dimensional",
       "The radiograph is two-dimensional: facial and lingual bone and clearance are not shown."},
      {"caution.trial", "Trial mode: not commissioned at this site; no notes are raised."},
      // Foot
      {"foot.version", "crestgate {version} · rules {digest} · {time} · attempt {attempt}"},
      {"small.no_action", "No action needed for image quality"},
      // Structured report and notes
      {"report.reason", "{rule}: {text}"},
      {"report.intent_rule", "{intent}, stated by request or rule"},
      {"report.intent_inferred", "{intent}, inferred from the image"},
      {"picture.comparison",
       "Comparison with an earlier image - not for diagnosis: open the originals"},
      {"picture.baseline", "earlier image, {date}"},
      {"picture.follow_up", "this image, laid on it"},
      {"picture.difference", "difference, 3 times enlarged"},
      {"picture.change", "{side}: {change}"},
      {"picture.difference_note",
       "Grey = no change; dark = less dense now. Crown up. What moved with the beam shows, too."},
      {"report.no_baseline", "No earlier image was compared."},
      {"report.baseline_report", "The earlier image {uid} has report {report}."},
      {"report.image_group", "Whole image"},
      {"report.implant_group", "Implant {site}"},
      {"report.mirror", "A mirrored read-out is not excluded; the direction may be reversed."},
      {"note.repeat", "Advice on image quality, not a rejection: {advice}"},
      {"note.finding", "For the clinician's attention: {finding}"},
      {"note.others", "Earlier images of this study are named too: {n}."},
      {"series.trial", "trial: "},
  };
  return words;
}

std::string TextTable::get(const std::string& key, Values values) const {
  const auto own = words_.find(key);
  const auto common = english().find(key);
  if (common == english().end()) return key;
  std::string text = own != words_.end() ? own->second : common->second;
  for (const auto& [name, value] : values) {
    const std::string place = std::string("{") + name + "}";
    for (std::size_t at = text.find(place); at != std::string::npos;
         at = text.find(place, at + value.size())) {
      text.replace(at, place.size(), value);
    }
  }
  return text;
}

const TextTable& table_for(const std::string&) {
  static const TextTable english_only;
  return english_only;
}

std::string ascii_fold(const std::string& utf8) {
  static const std::pair<std::string_view, std::string_view> kSigns[] = {
      {"µ", "u"},  {"μ", "u"}, {"±", "+/-"}, {"°", " deg"}, {"·", "-"},
      {"–", "-"},  {"—", "-"}, {"→", "->"},  {"×", "x"},    {"≤", "<="},
      {"≥", ">="}, {"’", "'"}, {"“", "\""},  {"”", "\""},   {"θ", "theta"}};
  std::string ascii;
  for (std::size_t i = 0; i < utf8.size();) {
    const auto byte = static_cast<unsigned char>(utf8[i]);
    if (byte < 0x80) {
      ascii.push_back(utf8[i++]);
      continue;
    }
    const std::size_t length = byte >= 0xF0 ? 4 : byte >= 0xE0 ? 3 : 2;
    const std::string_view sign = std::string_view(utf8).substr(i, length);
    std::string_view plain = "?";
    for (const auto& [from, to] : kSigns) {
      if (sign == from) plain = to;
    }
    ascii += plain;
    i += length;
  }
  return ascii;
}

}  // namespace crestgate
