// Languages: the table, its file, what a translator can get wrong, and what the digest makes of it.
#include "config/language_file.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>

#include "config/canonical.h"
#include "config/schema.h"

namespace crestgate {
namespace {

namespace fs = std::filesystem;

std::string slurp(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// English with one text in other words.
std::string danish() {
  Language::Texts texts = english_texts();
  texts["headline.no_gap"] = "Ingen spalte set; hvor små spalter der skjules, vides ikke";
  return language_yaml(Language("da", "Danish", texts));
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

/// First line of the report on English with `from` replaced by `to`.
std::string complaint(const std::string& from, const std::string& to) {
  const auto loaded = load_language(replaced(language_yaml(Language()), from, to), "x.yaml");
  EXPECT_FALSE(loaded.ok()) << to;
  const std::string report = loaded.report.substr(0, loaded.report.find('\n'));
  return std::regex_replace(report, std::regex("(^x.yaml:|in line )[0-9]+"), "$1LINE");
}

TEST(Language, ShippedEnglishIsTheTable) {
  const std::string wanted = language_yaml(Language());
  if (slurp(CRESTGATE_SHIPPED "/language/en.yaml") == wanted) return;
  const std::string right = testing::TempDir() + "en.yaml";
  std::ofstream(right) << wanted;
  ADD_FAILURE() << "config/language/en.yaml differs from the table; the right text is in " << right;
}

TEST(Language, AFileGivesBackWhatItWasWrittenFrom) {
  const auto loaded = load_language(danish(), "da.yaml");
  ASSERT_TRUE(loaded.ok()) << loaded.report;
  EXPECT_EQ(loaded.value.code(), "da");
  EXPECT_EQ(loaded.value.name(), "Danish");
  EXPECT_EQ(loaded.value.get("headline.no_gap").substr(0, 12), "Ingen spalte");
  EXPECT_EQ(loaded.value.get("advice.none"), Language().get("advice.none"));
  EXPECT_EQ(language_yaml(loaded.value), danish());
}

TEST(Language, EveryKeyIsAGroupAndALeaf) {
  for (const auto& [key, text] : english_texts()) {
    EXPECT_FALSE(group_of(key).empty()) << key;
    EXPECT_FALSE(text.empty()) << key;
  }
}

TEST(Language, PlaceholdersAreFilledOnce) {
  const Language language("x", "X", {{"a.b", "{one} { one } {two}{one} {}"}});
  EXPECT_EQ(language.get("a.b", {{"one", "{two}"}, {"two", "2"}}), "{two} { one } 2{two} {}");
  EXPECT_EQ(language.get("a.b"), "{one} { one } {two}{one} {}");
  EXPECT_EQ(language.get("nobody.has.this"), "nobody.has.this");
  EXPECT_EQ(placeholders_of("{one} { one } {two}{one} {}"), (std::set<std::string>{"one", "two"}));
}

TEST(Language, EveryMistakeIsNamedWithItsPlace) {
  EXPECT_EQ(
      complaint("  no_gap: ", "  no_gab: "),
      "x.yaml:LINE:1: 'headline.no_gap' is missing; in English: \"No gap seen; how small a gap "
      "could hide is not known\"");
  EXPECT_EQ(complaint("\nheadline:", "\nheadlines:"),
            "x.yaml:LINE:1: unknown key 'headlines'; did you mean 'headline'?");
  EXPECT_EQ(complaint("under {limit} µm\\n", "under {limt} µm\\n"),
            "x.yaml:LINE:10: 'limit.value' has no placeholder {limt}; did you mean 'limit'?");
  EXPECT_EQ(
      complaint("under {limit} µm\\n", "under µm\\n"),
      "x.yaml:LINE:10: 'limit.value': the placeholder {limit} is missing; in English: \"under "
      "{limit} µm\\n({design})\"");
  EXPECT_EQ(complaint("\"Not for diagnosis: open the original.\"", "\"\""),
            "x.yaml:LINE:3: 'caution.not_diagnosis': expected a text; in English: \"Not for "
            "diagnosis: open the original.\"");
  EXPECT_EQ(complaint("  bone: ", "  aid: \"twice\"\n  bone: "),
            "x.yaml:LINE:3: 'aid' stands here twice, first in line LINE");
}

TEST(Language, AFileThatIsNoneIsRefused) {
  EXPECT_EQ(load_language("", "x.yaml").report,
            "x.yaml: expected the texts of a language ('group:' and 'key: text')\n");
  EXPECT_EQ(load_language("[1, 2]\n", "x.yaml").report.substr(0, 18), "x.yaml:1:1: expect");
  EXPECT_NE(load_language("language: German\n", "x.yaml").report.find("x.yaml:1:1: 'language'"),
            std::string::npos);
  EXPECT_FALSE(load_language("language: de\nname: German\n", "x.yaml").ok());
}

TEST(Rules, TakeTheirWordsFromTheFileTheyName) {
  const auto loaded = load_rules({"language: da.yaml\n", "rules.yaml", danish()});
  ASSERT_TRUE(loaded.ok()) << loaded.report;
  EXPECT_EQ(loaded.value.words.code(), "da");
  EXPECT_EQ(load_rules("language: da.yaml\n", "rules.yaml").report,
            "rules.yaml:1:11: 'language': the language file 'da.yaml' is not at hand\n"
            "    language: da.yaml\n"
            "              ^\n");
}

TEST(Rules, SayWhatIsWrongWithTheLanguageFile) {
  const auto loaded = load_rules({"language: da.yaml\n", "rules.yaml",
                                  replaced(danish(), "under {limit} µm\\n", "under µm\\n")});
  EXPECT_FALSE(loaded.ok());
  EXPECT_EQ(loaded.report.find("rules.yaml:1:11: 'language': the language file has mistakes"), 0U)
      << loaded.report;
  EXPECT_NE(loaded.report.find("\nda.yaml:"), std::string::npos) << loaded.report;
}

TEST(Rules, FindALanguageFileBesideThem) {
  const fs::path folder = fs::path(testing::TempDir()) / "crestgate_language";
  fs::create_directories(folder / "words");
  std::ofstream(folder / "words/da.yaml") << danish();
  std::ofstream(folder / "rules.yaml") << "language: words/da.yaml\n";
  RulesText read;
  const auto loaded = load_rules_file((folder / "rules.yaml").string(), &read);
  ASSERT_TRUE(loaded.ok()) << loaded.report;
  EXPECT_EQ(read.language_text, danish());
  EXPECT_EQ(load_rules(read).value.digest, loaded.value.digest);
  fs::remove(folder / "words/da.yaml");
  EXPECT_NE(
      load_rules_file((folder / "rules.yaml").string())
          .report.find("rules.yaml:1:11: 'language': the language file 'words/da.yaml' cannot "
                       "be read"),
      std::string::npos);
  fs::remove_all(folder);
}

TEST(Digest, CountsALanguageByItsWords) {
  const std::string english = language_yaml(Language());
  const auto digest = [](const std::string& rules, const std::string& language) {
    const auto loaded = load_rules({rules, "r", language});
    EXPECT_TRUE(loaded.ok()) << loaded.report;
    return loaded.value.digest;
  };
  const std::string plain = digest("mode: trial\n", "");
  EXPECT_EQ(plain, rules_digest(Rules{}));
  EXPECT_EQ(digest("language: copy.yaml\n", english), plain);
  const std::string other = digest("language: da.yaml\n", danish());
  EXPECT_NE(other, plain);
  EXPECT_EQ(digest("language: elsewhere/dk.yaml\n", "# my copy\n" + danish()), other);
  EXPECT_NE(digest("language: da.yaml\n", replaced(danish(), "Ingen", "ingen")), other);
}

}  // namespace
}  // namespace crestgate
