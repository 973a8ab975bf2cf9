// The schema table: complete, readable, and the one source of the shipped files and the digest.
#include "config/schema.h"

#include <gtest/gtest.h>

#include <fstream>
#include <set>
#include <sstream>

#include "config/canonical.h"
#include "config/load.h"

namespace crestgate {
namespace {

std::string slurp(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// The shipped file must be what the table says; on a mismatch the right text is left in the
/// test's folder, to be looked at and copied.
template <class T>
void expect_shipped(const Schema<T>& schema, const std::string& name) {
  const std::string shipped = slurp(std::string(CRESTGATE_SHIPPED) + "/" + name);
  const std::string wanted = commented_yaml(schema);
  if (shipped == wanted) return;
  const std::string right = testing::TempDir() + name;
  std::ofstream(right) << wanted;
  ADD_FAILURE() << "config/" << name << " differs from the schema table; the right text is in "
                << right;
}

template <class T>
void expect_complete(const Schema<T>& schema) {
  std::set<std::string> seen;
  const T defaults;
  for (const Key<T>& key : schema.keys) {
    SCOPED_TRACE(key.path);
    EXPECT_TRUE(seen.insert(key.path).second) << "twice in the table";
    EXPECT_FALSE(key.meaning.empty());
    EXPECT_TRUE(!key.reason.empty() || key.presence == Presence::required)
        << "default without reason";
    const std::string group = group_of(key.path);
    EXPECT_TRUE(group.empty() || schema.group(group) != nullptr) << "unknown group";
    if (key.kind == Kind::number || key.kind == Kind::integer) {
      EXPECT_LT(key.least, key.most);
      // House rule: the unit stands in the key.
      const std::string unit = key.unit == "%" ? "percent" : key.unit == "MB" ? "mb" : key.unit;
      if (!unit.empty()) {
        EXPECT_EQ(key.path.substr(key.path.size() - unit.size()), unit);
      }
    }
    if (!group.empty() && schema.group(group)->form != Group<T>::Form::single) continue;
    if (key.kind == Kind::number) {
      EXPECT_GE(std::get<double>(key.get(defaults, 0)), key.least);
      EXPECT_LE(std::get<double>(key.get(defaults, 0)), key.most);
    }
    if (key.kind == Kind::integer) {
      EXPECT_GE(std::get<int>(key.get(defaults, 0)), key.least);
      EXPECT_LE(std::get<int>(key.get(defaults, 0)), key.most);
    }
  }
}

TEST(Schema, EveryRowIsComplete) {
  expect_complete(rules_schema());
  expect_complete(settings_schema());
}

TEST(Schema, ShippedRulesAreTheTable) { expect_shipped(rules_schema(), "rules.yaml"); }
TEST(Schema, ShippedSettingsAreTheTable) { expect_shipped(settings_schema(), "crestgate.yaml"); }

TEST(Schema, ShippedFilesLoadToTheDefaults) {
  const auto rules = load_rules_file(std::string(CRESTGATE_SHIPPED) + "/rules.yaml");
  ASSERT_TRUE(rules.ok()) << rules.report;
  EXPECT_EQ(rules.value.digest, rules_digest(Rules{}));
  EXPECT_EQ(rules.value.mode, Mode::trial);
  const auto settings = load_settings_file(std::string(CRESTGATE_SHIPPED) + "/crestgate.yaml");
  ASSERT_TRUE(settings.ok()) << settings.report;
  for (const auto& key : settings_schema().keys) {
    if (key.path == "rules_file") continue;  // made to start at the file's folder
    EXPECT_EQ(key.get(settings.value, 0), key.get(Settings{}, 0)) << key.path;
  }
}

TEST(Schema, ExamplesInTheShippedRulesLoad) {
  std::string examples = "mode: live\n";
  for (const auto& group : rules_schema().groups) examples += group.example;
  const auto loaded = load_rules(examples, "examples.yaml");
  EXPECT_TRUE(loaded.ok()) << loaded.report;
}

TEST(Digest, IgnoresCommentsOrderSpellingAndOmittedDefaults) {
  const auto a =
      load_rules("seating: {largest_vertical_angle_deg: 7, largest_hidden_gap_mm: 0.05}\n", "a");
  const auto b = load_rules(
      "# another hand\nmode: trial\nseating:\n  largest_hidden_gap_mm: 5e-2\n"
      "  largest_vertical_angle_deg: 7.0  # wide\n",
      "b");
  ASSERT_TRUE(a.ok() && b.ok()) << a.report << b.report;
  EXPECT_EQ(a.value.digest, b.value.digest);
  EXPECT_EQ(a.value.digest.size(), 64u);
}

TEST(Digest, ChangesWithEveryValue) {
  std::set<std::string> digests{rules_digest(Rules{})};
  std::size_t changed = 0;
  Rules rules;
  rules.commissioning.emplace();
  rules.intents.resize(1);
  rules.implant_types.resize(1);
  rules.jig.emplace();
  rules.step_wedge.emplace();
  rules.positioning.emplace();
  EXPECT_TRUE(digests.insert(rules_digest(rules)).second);
  for (const auto& key : rules_schema().keys) {
    if (key.path == "language") continue;  // counts by its words: language_test
    Rules other = rules;
    Value value = key.get(rules, 0);
    if (auto* b = std::get_if<bool>(&value)) *b = !*b;
    if (auto* i = std::get_if<int>(&value)) *i += 1;
    if (auto* d = std::get_if<double>(&value)) *d *= 1.0 + 1e-12, *d += 1e-12;
    if (auto* t = std::get_if<std::string>(&value))
      *t = key.choices.empty() ? *t + "x" : key.choices[1];
    if (auto* l = std::get_if<std::vector<std::string>>(&value)) l->push_back("x");
    if (key.path == "intents.intent") value = std::string("seating");
    key.set(other, 0, value);
    EXPECT_TRUE(digests.insert(rules_digest(other)).second) << key.path << " is not in the digest";
    ++changed;
  }
  EXPECT_EQ(changed, rules_schema().keys.size() - 1);
}

}  // namespace
}  // namespace crestgate
