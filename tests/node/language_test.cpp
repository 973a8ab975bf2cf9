// Another language reaches the reader everywhere: rendered radiographs are judged, compared and
// reported in an invented language whose words are English with every vowel changed, so that a
// sentence that does not come from the table is seen at once.
#include <dcmtk/config/osconfig.h>

#include <dcmtk/dcmdata/dcistrmb.h>
#include <dcmtk/dcmdata/dctk.h>
#include <gtest/gtest.h>

#include <fstream>
#include <map>
#include <regex>
#include <set>

#include "config/language_file.h"
#include "node/inspect_json.h"
#include "node/report/build.h"
#include "node/report/canvas.h"
#include "node/report/codes.h"
#include "node/report/picture.h"
#include "node/report/subtraction_picture.h"
#include "node/worker.h"
#include "pipeline/inspect.h"
#include "pipeline/read/read.h"
#include "tests/support/dicom_writer.h"
#include "tests/support/net/net_client.h"
#include "tests/support/render.h"
#include "tests/support/scene_json.h"

namespace crestgate {
namespace {

/// "No gap seen" -> "Nö gäp sëën"; placeholders stay.
std::string changed(const std::string& english) {
  static const std::map<char, const char*> vowels = {{'a', "ä"}, {'e', "ë"}, {'i', "ï"}, {'o', "ö"},
                                                     {'u', "ü"}, {'A', "Ä"}, {'E', "Ë"}, {'I', "Ï"},
                                                     {'O', "Ö"}, {'U', "Ü"}};
  std::string out;
  bool placeholder = false;
  for (const char c : english) {
    placeholder = c == '{' || (placeholder && c != '}');
    const auto vowel = vowels.find(c);
    out += placeholder || vowel == vowels.end() ? std::string(1, c) : vowel->second;
  }
  return out;
}

RulesText invented_rules() {
  Language::Texts texts;
  for (const auto& [key, text] : english_texts()) texts[key] = changed(text);
  return {
      "mode: live\n"
      "commissioning: {by: Somebody, date: 2026-02-28, own_images: 60, agreement_percent: 93.5,\n"
      "                detectors: [DEMO-SENSOR-1]}\n"
      "language: invented.yaml\n"
      "intents: [{attribute: RequestedProcedureDescription, contains: seating, intent: seating}]\n"
      "implant_types: [{name: T4, outer_diameter_mm: 4, platform_diameter_mm: 4,\n"
      "                 thread_pitch_mm: 0.8, starts: 1, length_mm: 10,\n"
      "                 tolerance_mm: 0.05, connection: butt joint, handedness: right}]\n"
      "follow_up: {compare: always, annotate_baseline: true}\n"
      "jig: {ball_diameter_mm: 2, spacing_mm: 4, tolerance_mm: 0.05, alignment_deg: 1}\n",
      "rules.yaml", language_yaml(Language("qaa", "Invented", texts))};
}

/// Words with an unchanged vowel: those of no table. Names with digits, dots or '_' (rules, UIDs,
/// types), what stands in quotes (the header's own text) and our name are not words.
std::string untranslated(std::string text) {
  text = std::regex_replace(text, std::regex("'[^']*'|[A-Z][a-z]+([A-Z][a-z]+)+|crestgate"), "");
  static const std::regex word("[A-Za-z0-9_.\\x80-\\xFF]+");
  std::string found;
  for (auto i = std::sregex_iterator(text.begin(), text.end(), word); i != std::sregex_iterator();
       ++i) {
    const std::string w = i->str();
    if (w.find_first_of("0123456789_") != std::string::npos) continue;
    if (w.find('.') != std::string::npos && w.find('.') + 1 < w.size()) continue;
    if (w.find_first_of("aeiouAEIOU") != std::string::npos) found += " " + w;
  }
  return found;
}

void expect_translated(const std::string& text, const std::string& where, int& checked) {
  EXPECT_EQ(untranslated(text), "") << where << ": " << text;
  EXPECT_EQ(placeholders_of(text), std::set<std::string>{}) << where << ": " << text;
  ++checked;
}

class InventedLanguage : public testing::Test {
 protected:
  static const Rules& rules() {
    static const Rules loaded = [] {
      const auto rules = load_rules(invented_rules());
      EXPECT_TRUE(rules.ok()) << rules.report;
      return rules.value;
    }();
    return loaded;
  }

  static Bytes render(phantom::Scene scene) {
    static const TempFolder folder;
    const std::string path = folder.path() + "/image.dcm";
    phantom::write_dicom(phantom::render(scene), scene, path);
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
  }
  /// A sample scene with coarse pixels: this is about words, not about accuracy.
  static phantom::Scene scene(const std::string& name) {
    phantom::Scene s = phantom::read_scene(SOURCE_DIR "/samples/scenes/" + name + ".json");
    const double coarser = 0.05 / s.detector.pixel_mm;
    s.detector.columns = static_cast<int>(s.detector.columns / coarser);
    s.detector.rows = static_cast<int>(s.detector.rows / coarser);
    s.detector.pixel_mm = 0.05;
    return s;
  }

  static WorkerJob job_now() {
    WorkerJob job;
    job.now_date = "20260112";
    job.now_time = "101500";
    job.timezone_offset = "+0000";
    job.station_name = "STATION";
    job.any_sender = true;
    return job;
  }

  void check_json(const nlohmann::ordered_json& e) {
    const auto check = [&](const nlohmann::ordered_json& text, const std::string& where) {
      if (text.is_string()) expect_translated(text.get<std::string>(), where, checked_);
    };
    check(e["advice"], "advice");
    for (const auto& finding : e["findings"]) check(finding["text"], "finding");
    for (const auto& reason : e["reasons"]) check(reason["text"], "reason");
    check(e["image"]["scale_disagreement"], "scales");
    for (const auto& implant : e["implants"]) {
      check(implant["known_type"]["reason"], "type");
      for (const char* side : {"left", "right"}) {
        const std::string state = implant["crest"][side]["state"];
        const std::string fixed = "not assessable: ";
        if (state != "measured") {
          ASSERT_EQ(state.rfind(fixed, 0), 0U) << state;
          check(state.substr(fixed.size()), "crest");
        }
      }
    }
    for (const auto& comparison : e["comparisons"]) {
      for (const auto& reason : comparison["reasons"]) check(reason, "comparison");
      for (const auto& implant : comparison["implants"])
        for (const char* side : {"left", "right"})
          check(implant["crest"][side]["reason"], "change");
    }
  }

  /// Every TEXT of reports and notes but names of devices and programs and the image's orientation.
  void check_content(DcmItem& item, const std::string& where) {
    static const std::set<std::string> names = {"121013", "121014", "121015", "111001",
                                                "111002", "111043", "111044", "111003"};
    OFString type, text;
    item.findAndGetOFString(DCM_ValueType, type);
    item.findAndGetOFStringArray(DCM_TextValue, text);
    DcmItem* concept_name = nullptr;
    OFString code;
    if (item.findAndGetSequenceItem(DCM_ConceptNameCodeSequence, concept_name, 0).good())
      concept_name->findAndGetOFString(DCM_CodeValue, code);
    std::string words = text.c_str();
    if (code == codes::kReason.value) words.erase(0, words.find(": "));  // the rule's key
    if (type == "TEXT" && names.count(code.c_str()) == 0)
      expect_translated(words, where + " " + code.c_str(), checked_);
    DcmSequenceOfItems* children = nullptr;
    if (item.findAndGetSequence(DCM_ContentSequence, children).bad()) return;
    for (unsigned long i = 0; i < children->card(); ++i)
      check_content(*children->getItem(i), where);
  }

  void check_objects(const std::vector<Bytes>& objects) {
    for (const Bytes& bytes : objects) {
      DcmInputBufferStream stream;
      stream.setBuffer(bytes.data(), static_cast<offile_off_t>(bytes.size()));
      stream.setEos();
      DcmFileFormat file;
      file.transferInit();
      ASSERT_TRUE(file.read(stream).good());
      file.transferEnd();
      OFString modality;
      file.getDataset()->findAndGetOFString(DCM_Modality, modality);
      kinds_.insert(modality.c_str());
      check_content(*file.getDataset(), modality.c_str());
      OFString words;  // a presentation state's own text
      if (file.getDataset()
              ->findAndGetOFStringArray(DCM_UnformattedTextValue, words, true)
              .good()) {
        expect_translated(words.c_str(), "state's text", checked_);
        OFString set;  // the words have letters that are not ASCII's
        file.getDataset()->findAndGetOFString(DCM_SpecificCharacterSet, set);
        EXPECT_EQ(set, "ISO_IR 192");
        ++state_texts_;
      }
    }
  }

  void check_picture(const Analysis& analysis, const Frame& frame) {
    ReportContext context;
    context.software_version = "0";
    context.now_date = "20260112";
    context.now_time = "101500";
    context.views = VisitViews{};
    for (const bool small : {false, true}) {
      Canvas canvas(small ? kSmallPictureWidth : kPictureWidth,
                    small ? kSmallPictureHeight : kPictureHeight);
      (small ? draw_small_picture : draw_picture)(canvas, analysis, frame, rules(), context,
                                                  rules().words);
      for (const std::string& words : canvas.texts()) expect_translated(words, "picture", checked_);
    }
  }

  /// Everything one image gives, as the worker makes it, and the picture's words.
  void check_image(const Bytes& bytes, WorkerJob job) {
    job.rules = invented_rules();
    const Bundle bundle = process_image(bytes, job);
    const auto manifest = nlohmann::ordered_json::parse(bundle.manifest);
    ASSERT_EQ(manifest["outcome"], "judged") << bundle.manifest;
    element_ = manifest["element"];
    check_json(element_);
    check_objects(bundle.objects);
    const auto read = read_image(bytes);
    ASSERT_TRUE(read.ok());
    check_picture(inspect(read.value().frame, read.value().acquisition, rules()),
                  read.value().frame);
  }

  nlohmann::ordered_json element_;
  std::multiset<std::string> kinds_;
  int checked_ = 0, state_texts_ = 0;
};

TEST_F(InventedLanguage, IsAllAReaderSeesOfASceneOfEachKind) {
  for (const char* name : {"03-seating-tilted-open", "05-teeth-only", "07-splinted-pair"}) {
    SCOPED_TRACE(name);
    check_image(render(scene(name)), job_now());
  }
  phantom::Scene bare = scene("02-seating-tilted");
  bare.identity.object_class = phantom::ObjectClass::secondary_capture;  // no scale
  check_image(render(bare), job_now());
  EXPECT_GT(checked_, 200);
  EXPECT_GE(kinds_.count("SR"), 4U);
  EXPECT_GE(kinds_.count("KO"), 2U) << "a finding and a repeat";
  EXPECT_GE(kinds_.count("OT"), 4U);
}

TEST_F(InventedLanguage, LeavesTheContractOfMachinesAlone) {
  check_image(render(scene("03-seating-tilted-open")), job_now());
  const std::set<std::string> verdicts = {"usable", "usable with limits", "repeat if justified",
                                          "not assessable"};
  EXPECT_EQ(verdicts.count(element_["verdict"]), 1U);
  ASSERT_EQ(element_["findings"].size(), 1U) << element_;
  EXPECT_EQ(element_["findings"][0]["kind"], "gap visible");
  EXPECT_EQ(element_["implants"][0]["interface"]["state"], "gap visible");
  EXPECT_EQ(element_["findings"][0]["text"].get<std::string>().rfind("gäp vïsïblë ät ïmplänt", 0),
            0U);
}

TEST_F(InventedLanguage, TellsAComparisonWithAnEarlierImage) {
  phantom::Scene s;
  s.detector.pixel_mm = 0.04;
  s.detector.columns = 520;
  s.detector.rows = 720;
  s.identity.tooth = "36";
  s.identity.laterality = "L";
  s.implants[0].abutment.base_diameter_mm = 3.4;
  s.bone.crest_left_mm = s.bone.crest_right_mm = 1.0;
  s.identity.date = "20250110";
  s.identity.sop_uid = "2.25.8101";
  const Bytes before = render(s);
  s.identity.date = "20260112";
  s.identity.sop_uid = "2.25.8102";
  s.bone.crest_left_mm = 2.2;
  s.detector.noise_seed = 99;
  const Bytes now = render(s);
  WorkerJob job = job_now();
  job.archive = WorkerJob::Archive::asked;
  job.earlier = {before};
  check_image(now, job);
  ASSERT_EQ(element_["comparisons"].size(), 1U);
  EXPECT_EQ(element_["comparisons"][0]["state"], "compared") << element_["comparisons"];
  EXPECT_EQ(state_texts_, 1);
  job.archive = WorkerJob::Archive::pending;
  job.earlier.clear();
  check_image(now, job);
  job.archive = WorkerJob::Archive::asked;
  job.other_sites = {"46"};
  check_image(now, job);
}

TEST_F(InventedLanguage, GivesObjectsOtherUids) {
  const Bytes bytes = render(scene("03-seating-tilted-open"));
  const auto uids = [&](const RulesText& rules) {
    WorkerJob job = job_now();
    job.rules = rules;
    std::set<std::string> all;
    const Bundle bundle = process_image(bytes, job);
    const auto manifest = nlohmann::json::parse(bundle.manifest);
    for (const auto& object : manifest["objects"])
      all.insert(object["sop_instance_uid"].get<std::string>());
    return all;
  };
  RulesText english = invented_rules(), renamed = invented_rules();
  const std::string name = "language: invented.yaml\n";
  english.text.replace(english.text.find(name), name.size(), "");
  renamed.text.replace(renamed.text.find(name), name.size(), "language: elsewhere/same.yaml\n");
  const auto invented = uids(invented_rules());
  EXPECT_FALSE(invented.empty());
  EXPECT_EQ(invented, uids(renamed));
  for (const std::string& uid : uids(english)) EXPECT_EQ(invented.count(uid), 0U) << uid;
}

}  // namespace
}  // namespace crestgate
