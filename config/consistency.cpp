#include "config/consistency.h"

#include "config/lower_case.h"

namespace crestgate {
namespace {

void check_live(const Rules& rules, const PlaceOf& place_of, std::vector<Diagnostic>& out) {
  if (rules.mode != Mode::live) return;
  if (!rules.commissioning) {
    out.push_back({place_of("mode", 0),
                   "'mode: live' needs a 'commissioning' record: by (who is responsible), date "
                   "(YYYY-MM-DD), own_images (how many of the site's images were compared), "
                   "agreement_percent (with the site's readers), detectors (which are covered)"});
  } else if (rules.commissioning->detectors.empty()) {
    out.push_back(
        {place_of("commissioning.detectors", 0),
         "'mode: live' with no detector listed would never write a note: list the Detector "
         "IDs or serial numbers that were tried"});
  }
  if (!rules.output.notes) {
    out.push_back({place_of("output.notes", 0),
                   "'mode: live' means that notes are written, but 'output.notes' is false: use "
                   "'mode: trial'"});
  }
}

void check_intents(const Rules& rules, const PlaceOf& place_of, std::vector<Diagnostic>& out) {
  for (std::size_t i = 0; i < rules.intents.size(); ++i) {
    for (std::size_t k = 0; k < i; ++k) {
      const IntentRule& earlier = rules.intents[k];
      const IntentRule& rule = rules.intents[i];
      if (earlier.attribute != rule.attribute) continue;
      if (lower_case(rule.contains).find(lower_case(earlier.contains)) == std::string::npos)
        continue;
      out.push_back({place_of("intents.contains", i),
                     "this rule is never reached: every text with '" + rule.contains +
                         "' already matches '" + earlier.contains + "' in line " +
                         std::to_string(place_of("intents.contains", k).line) +
                         "; put the longer text first"});
      break;
    }
  }
}

void check_type_texts(const Rules& rules, std::size_t i, const PlaceOf& place_of,
                      std::vector<Diagnostic>& out) {
  const ImplantType& type = rules.implant_types[i];
  if (type.attribute.empty() != type.contains.empty()) {
    const char* given =
        type.attribute.empty() ? "implant_types.contains" : "implant_types.attribute";
    out.push_back(
        {place_of(given, i), "'attribute' and 'contains' belong together: give both, or neither"});
    return;
  }
  if (type.attribute.empty()) return;
  for (std::size_t k = 0; k < i; ++k) {
    const ImplantType& earlier = rules.implant_types[k];
    if (earlier.attribute != type.attribute || earlier.contains.empty()) continue;
    if (lower_case(type.contains).find(lower_case(earlier.contains)) == std::string::npos) continue;
    out.push_back({place_of("implant_types.contains", i),
                   "this text never chooses '" + type.name + "': every text with '" +
                       type.contains + "' already matches '" + earlier.contains + "' in line " +
                       std::to_string(place_of("implant_types.contains", k).line) +
                       "; put the longer text first"});
    return;
  }
}

void check_types(const Rules& rules, const PlaceOf& place_of, std::vector<Diagnostic>& out) {
  for (std::size_t i = 0; i < rules.implant_types.size(); ++i) {
    const ImplantType& type = rules.implant_types[i];
    for (std::size_t k = 0; k < i; ++k) {
      if (lower_case(rules.implant_types[k].name) != lower_case(type.name)) continue;
      out.push_back({place_of("implant_types.name", i),
                     "two types are called '" + type.name + "', the first in line " +
                         std::to_string(place_of("implant_types.name", k).line)});
      break;
    }
    if (type.thread_pitch_mm > 0 && type.thread_pitch_mm < 0.2)
      out.push_back({place_of("implant_types.thread_pitch_mm", i),
                     "a pitch below 0.2 mm is no thread an image shows; 0 means no thread"});
    check_type_texts(rules, i, place_of, out);
  }
}

void check_jig(const Rules& rules, const PlaceOf& place_of, std::vector<Diagnostic>& out) {
  if (rules.step_wedge && !rules.jig)
    out.push_back({place_of("step_wedge.steps", 0),
                   "the step wedge is found by the balls of the jig it stands on: give 'jig' too"});
  if (!rules.jig || rules.jig->spacing_mm >= 2 * rules.jig->ball_diameter_mm) return;
  out.push_back({place_of("jig.spacing_mm", 0),
                 "the balls would overlap in a tilted view: at least twice the ball's diameter"});
}

}  // namespace

std::vector<Diagnostic> contradictions(const Rules& rules, const PlaceOf& place_of) {
  std::vector<Diagnostic> out;
  check_live(rules, place_of, out);
  check_intents(rules, place_of, out);
  check_types(rules, place_of, out);
  check_jig(rules, place_of, out);
  const auto& output = rules.output;
  if (!output.structured_report && !output.picture && !output.presentation_state && !output.notes) {
    out.push_back({place_of("output.structured_report", 0),
                   "every object under 'output' is switched off: the node would do nothing"});
  }
  if (output.small_picture_when_usable && !output.picture) {
    out.push_back({place_of("output.small_picture_when_usable", 0),
                   "a small picture is asked for, but 'output.picture' is false"});
  }
  return out;
}

std::vector<Diagnostic> contradictions(const Settings& settings, const PlaceOf& place_of) {
  std::vector<Diagnostic> out;
  if (settings.delivery.first_retry_s > settings.delivery.longest_retry_s) {
    out.push_back({place_of("delivery.first_retry_s", 0),
                   "the first wait (" + std::to_string(settings.delivery.first_retry_s) +
                       " s) is longer than 'delivery.longest_retry_s' (" +
                       std::to_string(settings.delivery.longest_retry_s) + " s)"});
  }
  const std::string& host = settings.archive.host;
  const bool here = host == settings.listen.address || host == "localhost" || host == "127.0.0.1" ||
                    host == "::1";
  if (here && settings.archive.port == settings.listen.port) {
    out.push_back({place_of("archive.port", 0),
                   "the archive is this node itself: same machine and same port as 'listen.port'"});
  }
  return out;
}

}  // namespace crestgate
