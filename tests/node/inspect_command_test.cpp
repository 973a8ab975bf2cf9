// `crestgate inspect` as a person or a script uses it.
#include <gtest/gtest.h>

#include <filesystem>
#include <sstream>

#include "node/commands.h"
#include "tests/node/inspect_schema.h"
#include "tests/support/net/net_client.h"
#include "tests/support/net/net_image.h"

namespace crestgate {
namespace {

class InspectTest : public ::testing::Test {
 protected:
  std::string file(const std::string& name, const Bytes& bytes) {
    write_bytes(folder.path() + "/" + name, bytes);
    return folder.path() + "/" + name;
  }
  ExitStatus run(const std::string& program = CRESTGATE_BINARY) {
    out.str("");
    err.str("");
    return inspect_files(line, out, err, program);
  }
  nlohmann::json json() { return nlohmann::json::parse(out.str(), nullptr, false); }
  TempFolder folder;
  CommandLine line;
  std::ostringstream out, err;
};

TEST_F(InspectTest, OneElementPerFileInOrderWhateverTheFilesAre) {
  ImageWish frames;
  frames.frames = 2;
  ImageWish empty;
  empty.rows = 0;
  Bytes cut = image_file({});
  cut.resize(cut.size() - 1000);
  line.files = {file("good.dcm", image_file({})),
                file("text.dcm", Bytes(500, 'x')),
                file("frames.dcm", image_file(frames)),
                file("empty.dcm", image_file(empty)),
                file("cut.dcm", cut),
                folder.path() + "/none.dcm",
                folder.path(),
                file("nothing.dcm", {}),
                file("again.dcm", image_file({}))};
  line.json = true;
  EXPECT_EQ(run(), ExitStatus::input_unusable);
  const auto elements = json();
  EXPECT_EQ(schema_complaints(elements), "");
  ASSERT_EQ(elements.size(), line.files.size());
  for (std::size_t i = 0; i < elements.size(); ++i) {
    EXPECT_EQ(elements[i]["file"], line.files[i]);
    const bool good = i == 0 || i + 1 == elements.size();
    EXPECT_EQ(elements[i]["error"].is_null(), good) << elements[i].dump(1);
  }
  EXPECT_EQ(elements[0]["sop_instance_uid"], "2.25.1001");
  EXPECT_EQ(elements[0]["image"]["rows"], 64);
  EXPECT_EQ(elements[2]["error"]["tag"], "(0028,0008)");
  EXPECT_EQ(elements[3]["error"]["tag"], "(0028,0010)");
  EXPECT_EQ(elements[5]["error"]["code"], "not_found");
}

TEST_F(InspectTest, GoodFilesEndWithCode0AndText) {
  line.files = {file("good.dcm", image_file({}))};
  EXPECT_EQ(run(), ExitStatus::ok);
  EXPECT_NE(out.str().find("verdict: "), std::string::npos);
}

TEST_F(InspectTest, WritesPictureAndObjects) {
  std::filesystem::create_directory(folder.path() + "/sub");
  line.files = {file("a.dcm", image_file({})), file("sub/a.dcm", image_file({}))};
  line.picture_folder = folder.path() + "/pictures";
  line.objects_folder = folder.path() + "/objects";
  EXPECT_EQ(run(), ExitStatus::ok) << err.str();
  EXPECT_TRUE(std::filesystem::exists(line.picture_folder + "/a.png"));
  EXPECT_TRUE(std::filesystem::exists(line.picture_folder + "/a-2.png"));
  const auto names = PosixFs().list(line.objects_folder).value();
  ASSERT_EQ(names.size(), 4U);
  EXPECT_EQ(names[0], "a-01-structured-report.dcm");
}

TEST_F(InspectTest, AFolderThatCannotBeWrittenIsAFailure) {
  line.files = {file("a.dcm", image_file({}))};
  line.picture_folder = "/proc/nothing/here";
  EXPECT_EQ(run(), ExitStatus::failed);
  EXPECT_NE(err.str().find("/proc/nothing/here"), std::string::npos);
}

TEST_F(InspectTest, BadRulesAreReportedWithTheirPlace) {
  const std::string text = "mode: nonsense\n";
  line.rules_file = file("rules.yaml", {text.begin(), text.end()});
  line.files = {file("a.dcm", image_file({}))};
  EXPECT_EQ(run(), ExitStatus::input_unusable);
  EXPECT_EQ(err.str().find(line.rules_file + ":1:7:"), 0U) << err.str();
}

}  // namespace
}  // namespace crestgate
