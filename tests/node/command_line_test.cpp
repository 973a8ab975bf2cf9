#include "node/command_line.h"

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "node/commands.h"
#include "tests/support/net/net_client.h"

namespace crestgate {
namespace {

CommandLine parse(std::vector<const char*> words) {
  words.insert(words.begin(), "crestgate");
  return parse_command_line(static_cast<int>(words.size()), words.data());
}

TEST(CommandLine, Commands) {
  EXPECT_EQ(parse({"serve", "--config", "c.yaml"}).command, CommandLine::Command::serve);
  EXPECT_EQ(parse({"serve", "--config", "c.yaml"}).config_file, "c.yaml");
  EXPECT_EQ(parse({"check-rules", "r.yaml"}).rules_file, "r.yaml");
  EXPECT_EQ(parse({"status", "--config", "c.yaml"}).command, CommandLine::Command::status);
  EXPECT_EQ(parse({"worker"}).command, CommandLine::Command::worker);
  const CommandLine line = parse(
      {"inspect", "--json", "a.dcm", "b.dcm", "--rules", "r", "--picture", "p", "--objects", "o"});
  EXPECT_EQ(line.command, CommandLine::Command::inspect);
  EXPECT_EQ(line.files, (std::vector<std::string>{"a.dcm", "b.dcm"}));
  EXPECT_TRUE(line.json);
  EXPECT_EQ(line.rules_file, "r");
  EXPECT_EQ(line.picture_folder, "p");
  EXPECT_EQ(line.objects_folder, "o");
}

TEST(CommandLine, WrongUseEndsWith64AndSaysWhy) {
  for (const auto& words : std::vector<std::vector<const char*>>{
           {}, {"serve"}, {"inspect"}, {"frobnicate"}, {"inspect", "--jsn", "f"}, {"status"}}) {
    const CommandLine line = parse(words);
    EXPECT_EQ(line.command, CommandLine::Command::none);
    EXPECT_EQ(line.exit, ExitStatus::usage);
    EXPECT_TRUE(line.message_is_error);
    EXPECT_FALSE(line.message.empty());
  }
}

TEST(CommandLine, HelpNamesEveryExitCodeAndNoHiddenCommand) {
  const CommandLine line = parse({"--help"});
  EXPECT_EQ(line.exit, ExitStatus::ok);
  for (const char* text : {"\n  0 ", "\n  1 ", "\n  2 ", "\n  64 ", "serve", "inspect",
                           "check-rules", "status", "HUP"}) {
    EXPECT_NE(line.message.find(text), std::string::npos) << text;
  }
  EXPECT_EQ(line.message.find("worker"), std::string::npos);
  EXPECT_EQ(parse({"--version"}).message.find("crestgate "), 0U);
}

TEST(CheckRules, ExitCodeTellsGoodFromBad) {
  const TempFolder folder;
  const std::string good = folder.path() + "/good.yaml", bad = folder.path() + "/bad.yaml";
  std::ofstream(good) << "mode: trial\n";
  std::ofstream(bad) << "mode: trail\n";
  std::ostringstream out, err;
  EXPECT_EQ(check_rules(good, out, err), ExitStatus::ok);
  EXPECT_NE(out.str().find("digest"), std::string::npos);
  EXPECT_EQ(check_rules(bad, out, err), ExitStatus::input_unusable);
  EXPECT_EQ(err.str().find(bad + ":1:7:"), 0U) << err.str();
  EXPECT_EQ(check_rules(folder.path() + "/none.yaml", out, err), ExitStatus::input_unusable);
}

}  // namespace
}  // namespace crestgate
