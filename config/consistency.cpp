#include "config/consistency.h"

#include <algorithm>
#include <cctype>

namespace crestgate {
namespace {

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

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
      if (lower(rule.contains).find(lower(earlier.contains)) == std::string::npos) continue;
      out.push_back({place_of("intents.contains", i),
                     "this rule is never reached: every text with '" + rule.contains +
                         "' already matches '" + earlier.contains + "' in line " +
                         std::to_string(place_of("intents.contains", k).line) +
                         "; put the longer text first"});
      break;
    }
  }
}

}  // namespace

std::vector<Diagnostic> contradictions(const Rules& rules, const PlaceOf& place_of) {
  std::vector<Diagnostic> out;
  check_live(rules, place_of, out);
  check_intents(rules, place_of, out);
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
