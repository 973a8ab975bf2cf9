// Writes every case's objects and picture into a folder, to be looked at and fed to other programs:
// write_cases FOLDER.
#include <filesystem>
#include <fstream>
#include <iostream>

#include "tests/node/report/cases.h"

using namespace crestgate;

namespace {

void save(const std::filesystem::path& path, const std::vector<std::uint8_t>& bytes) {
  std::ofstream(path, std::ios::binary)
      .write(reinterpret_cast<const char*>(bytes.data()),
             static_cast<std::streamsize>(bytes.size()));
}

bool write(const std::filesystem::path& folder, report_test::Case& c) {
  DcmDataset source;
  c.source(source);
  const auto built = build_objects(c.analysis, c.frame, source, c.rules, c.context);
  if (!built.ok()) {
    std::cerr << c.name << ": " << built.status().text << "\n";
    return false;
  }
  int index = 0;
  for (const BuiltObject& object : built.value()) {
    save(folder / (c.name + "-" + std::to_string(++index) + "-" + object.kind + ".dcm"),
         object.bytes);
  }
  const auto png = picture_png(c.analysis, c.frame, c.rules, c.context);
  if (png.ok()) save(folder / (c.name + ".png"), png.value());
  return png.ok();
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) {
    std::cerr << "usage: write_cases FOLDER\n";
    return 1;
  }
  const std::filesystem::path folder = argv[1];
  std::filesystem::create_directories(folder);
  for (report_test::Case& c : report_test::all_cases()) {
    if (!write(folder, c)) return 1;
  }
  return 0;
}
