// Corpora: every good/*.yaml loads, every bad/*.yaml gives exactly the text of its .expected file.
// A file named rules_* is read as rules, settings_* as settings. Adding a file adds a test.
#include "config/load.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace crestgate {
namespace {

namespace fs = std::filesystem;

std::string slurp(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

std::vector<std::string> corpus(const std::string& folder) {
  std::vector<std::string> names;
  for (const auto& entry : fs::directory_iterator(fs::path(CRESTGATE_CORPUS) / folder)) {
    if (entry.path().extension() == ".yaml") names.push_back(entry.path().stem().string());
  }
  std::sort(names.begin(), names.end());
  return names;
}

/// Loads by the file's name; the report is all a test looks at.
std::string report_of(const std::string& folder, const std::string& name) {
  const fs::path path = fs::path(CRESTGATE_CORPUS) / folder / (name + ".yaml");
  const std::string shown = name + ".yaml";
  if (name.rfind("rules_", 0) == 0) return load_rules(slurp(path), shown).report;
  if (name.rfind("settings_", 0) == 0) return load_settings(slurp(path), shown).report;
  return "the name must begin with rules_ or settings_";
}

class Good : public testing::TestWithParam<std::string> {};
TEST_P(Good, LoadsWithoutAWord) { EXPECT_EQ(report_of("good", GetParam()), ""); }

class Bad : public testing::TestWithParam<std::string> {};
TEST_P(Bad, IsRefusedWithTheExpectedText) {
  const fs::path expected = fs::path(CRESTGATE_CORPUS) / "bad" / (GetParam() + ".expected");
  ASSERT_TRUE(fs::exists(expected)) << expected << " is missing; the loader said:\n"
                                    << report_of("bad", GetParam());
  EXPECT_EQ(report_of("bad", GetParam()), slurp(expected));
}

std::string as_is(const testing::TestParamInfo<std::string>& info) { return info.param; }
INSTANTIATE_TEST_SUITE_P(Corpus, Good, testing::ValuesIn(corpus("good")), as_is);
INSTANTIATE_TEST_SUITE_P(Corpus, Bad, testing::ValuesIn(corpus("bad")), as_is);

TEST(LoadRules, PutsValuesIntoTheirFields) {
  const auto loaded = load_rules(
      "mode: live\n"
      "commissioning: {by: Somebody, date: 2026-02-28, own_images: 60, agreement_percent: 93.5,\n"
      "                detectors: [0017, 'B 2']}\n"
      "intents:\n"
      "  - {attribute: StudyDescription, contains: Seating, intent: seating}\n"
      "  - {attribute: StudyDescription, contains: recall, intent: follow-up}\n"
      "secondary_capture_senders: [ROUTER]\n"
      "seating: {largest_vertical_angle_deg: 4.25}\n"
      "alerts: {most_advised_repeats: 2}\n"
      "output: {picture: false}\n",
      "rules.yaml");
  ASSERT_TRUE(loaded.ok()) << loaded.report;
  const Rules& r = loaded.value;
  EXPECT_EQ(r.mode, Mode::live);
  ASSERT_TRUE(r.commissioning);
  EXPECT_EQ(r.commissioning->by, "Somebody");
  EXPECT_EQ(r.commissioning->date, "2026-02-28");
  EXPECT_EQ(r.commissioning->own_images, 60);
  EXPECT_EQ(r.commissioning->agreement_percent, 93.5);
  EXPECT_EQ(r.commissioning->detectors, (std::vector<std::string>{"0017", "B 2"}));
  ASSERT_EQ(r.intents.size(), 2u);
  EXPECT_EQ(r.intents[0].intent, Intent::seating);
  EXPECT_EQ(r.intents[1].contains, "recall");
  EXPECT_EQ(r.intents[1].intent, Intent::follow_up);
  EXPECT_EQ(r.secondary_capture_senders, std::vector<std::string>{"ROUTER"});
  EXPECT_EQ(r.seating.largest_vertical_angle_deg, 4.25);
  EXPECT_EQ(r.seating.largest_hidden_gap_mm, Rules{}.seating.largest_hidden_gap_mm);
  EXPECT_EQ(r.alerts.most_advised_repeats, 2);
  EXPECT_FALSE(r.output.picture);
  EXPECT_TRUE(r.output.notes);
}

TEST(LoadSettings, PutsValuesIntoTheirFields) {
  const auto loaded = load_settings(
      "rules_file: my.yaml\n"
      "listen: {ae_title: GATE, port: 4242, allowed_callers: [IO1, IO2]}\n"
      "archive: {ae_title: STORE, host: archive.example, port: 104}\n"
      "log: {level: warning}\n",
      "crestgate.yaml");
  ASSERT_TRUE(loaded.ok()) << loaded.report;
  EXPECT_EQ(loaded.value.rules_file, "my.yaml");
  EXPECT_EQ(loaded.value.listen.ae_title, "GATE");
  EXPECT_EQ(loaded.value.listen.port, 4242);
  EXPECT_EQ(loaded.value.listen.allowed_callers, (std::vector<std::string>{"IO1", "IO2"}));
  EXPECT_EQ(loaded.value.archive.host, "archive.example");
  EXPECT_EQ(loaded.value.archive.port, 104);
  EXPECT_EQ(loaded.value.log.level, "warning");
}

TEST(LoadFile, NamesAFileThatIsNotThere) {
  EXPECT_EQ(load_rules_file("/nowhere/rules.yaml").report,
            "/nowhere/rules.yaml: cannot be read: No such file or directory\n");
  EXPECT_EQ(load_settings_file("/").report, "/: not a file\n");
}

TEST(LoadFile, FindsTheRuleFileBesideTheSettings) {
  const fs::path path = fs::path(testing::TempDir()) / "crestgate_beside.yaml";
  std::ofstream(path) << "rules_file: r.yaml\narchive: {ae_title: A, host: h, port: 104}\n";
  const auto loaded = load_settings_file(path.string());
  ASSERT_TRUE(loaded.ok()) << loaded.report;
  EXPECT_EQ(loaded.value.rules_file, (path.parent_path() / "r.yaml").string());
  fs::remove(path);
}

TEST(LoadRules, ReportsEveryMistakeOfAFileAtOnceInItsOrder) {
  const auto loaded = load_rules(
      "mode: maybe\nsurprise: 1\nseating: {largest_hidden_gap_mm: .nan}\n", "rules.yaml");
  ASSERT_EQ(loaded.problems.size(), 3u) << loaded.report;
  EXPECT_LT(loaded.report.find("rules.yaml:1:7"), loaded.report.find("rules.yaml:2:1"));
  EXPECT_LT(loaded.report.find("rules.yaml:2:1"), loaded.report.find("rules.yaml:3:34"));
}

TEST(LoadRules, SurvivesHostileText) {
  const std::string deep(20000, '[');
  EXPECT_FALSE(load_rules(deep, "x").ok());
  EXPECT_FALSE(load_rules(std::string(2 << 20, '#'), "x").ok());
  EXPECT_FALSE(
      load_rules("seating: {largest_hidden_gap_mm: " + std::string(900000, '1') + "}", "x").ok());
  EXPECT_FALSE(load_rules(std::string(900000, 'k') + ": 1", "x").ok());
  std::string many;
  for (int i = 0; i < 20000; ++i) many += "k: 1\n";
  const std::string report = load_rules(many, "x").report;
  EXPECT_NE(report.find("x: and 19950 more mistakes\n"), std::string::npos)
      << report.substr(report.size() > 200 ? report.size() - 200 : 0);
  EXPECT_FALSE(load_rules("mode: tr\xC0\xAFial", "x").ok());
  EXPECT_FALSE(load_rules(std::string("mode: tri\0al", 12), "x").ok());
}

}  // namespace
}  // namespace crestgate
