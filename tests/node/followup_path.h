// A node beside a real archive process (DCMTK's dcmqrscp) that stored a baseline long ago.
#pragma once
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "tests/support/command.h"
#include "tests/support/dicom_writer.h"
#include "tests/support/net/net_client.h"
#include "tests/support/net/net_counting_scp.h"
#include "tests/support/net/net_node.h"
#include "tests/support/render.h"

namespace crestgate {

class Archive {
 public:
  Archive() : port_(free_port()) {
    std::filesystem::create_directories(folder_.path() + "/store");
    configure("");
  }
  ~Archive() { stop(); }
  Archive(const Archive&) = delete;
  Archive& operator=(const Archive&) = delete;

  /// Before start(): no C-GET; C-MOVE to the node at this port.
  void offer_move_only(int node_port) {
    configure("node = (CRESTGATE, 127.0.0.1, " + std::to_string(node_port) + ")\n");
    with_get_ = false;
  }

  bool start() {
    const std::string config = folder_.path() + "/archive.cfg";
    pid_ = fork();
    if (pid_ == 0) {
      const int log = ::open("/dev/null", O_WRONLY);
      dup2(log, 1);
      dup2(log, 2);
      execlp("dcmqrscp", "dcmqrscp", "-c", config.c_str(), with_get_ ? "-q" : "--disable-get",
             static_cast<char*>(nullptr));
      _exit(127);
    }
    SendOptions as_archive;
    as_archive.called = "ARCHIVE";
    return eventually([&] { return echo(port_, as_archive); });
  }
  void stop() {
    if (pid_ <= 0) return;
    kill(pid_, SIGTERM);
    waitpid(pid_, nullptr, 0);
    pid_ = -1;
  }
  int port() const { return port_; }

  /// Texts of every structured report that speaks of this source image, one string per report.
  std::vector<std::string> reports_on(const std::string& source_uid) const {
    std::vector<std::string> found;
    for_each("SR", [&](const std::string&, DcmDataset& report) {
      const std::string text = text_of(report);
      if (text.find("[" + source_uid + "]") != std::string::npos) found.push_back(text);
    });
    return found;
  }
  /// Texts of every key object note.
  std::vector<std::string> notes() const {
    std::vector<std::string> found;
    for_each("KO", [&](const std::string&, DcmDataset& note) { found.push_back(text_of(note)); });
    return found;
  }
  /// Files of the presentation states in a study.
  std::vector<std::string> states_in(const std::string& study_uid) const {
    std::vector<std::string> found;
    for_each("PR", [&](const std::string& path, DcmDataset& state) {
      if (string_of(state, DCM_StudyInstanceUID) == study_uid) found.push_back(path);
    });
    return found;
  }
  int pictures() const {
    int n = 0;
    for_each("OT", [&](const std::string&, DcmDataset& picture) {
      n += string_of(picture, DCM_SeriesDescription) ==
           "crestgate: comparison with an earlier image";
    });
    return n;
  }

 private:
  static std::string string_of(DcmDataset& object, const DcmTagKey& key) {
    OFString value;
    object.findAndGetOFString(key, value);
    return value.c_str();
  }
  static std::string text_of(DcmDataset& object) {
    std::ostringstream text;
    object.print(text, 0);
    return text.str();
  }
  /// Calls with path and data set of every stored object of the modality.
  template <class Use>
  void for_each(const std::string& modality, Use use) const {
    for (const auto& file : std::filesystem::directory_iterator(folder_.path() + "/store")) {
      DcmFileFormat dicom;
      if (dicom.loadFile(file.path().c_str()).bad()) continue;
      if (string_of(*dicom.getDataset(), DCM_Modality) == modality)
        use(file.path().string(), *dicom.getDataset());
    }
  }
  void configure(const std::string& hosts) {
    std::ofstream(folder_.path() + "/archive.cfg")
        << "NetworkTCPPort = " << port_ << "\nMaxPDUSize = 16384\nMaxAssociations = 16\n"
        << "HostTable BEGIN\n"
        << hosts << "HostTable END\nVendorTable BEGIN\nVendorTable END\nAETable BEGIN\n"
        << "ARCHIVE " << folder_.path() << "/store RW (500, 1024mb) ANY\nAETable END\n";
  }
  TempFolder folder_;
  int port_;
  bool with_get_ = true;
  pid_t pid_ = -1;
};

inline phantom::Scene site(const std::string& date, const std::string& uid) {
  phantom::Scene s;
  s.identity.tooth = "36";
  s.identity.laterality = "L";
  s.identity.date = date;
  s.identity.study_uid = uid + ".1";
  s.identity.series_uid = uid + ".2";
  s.identity.sop_uid = uid;
  s.implants[0].abutment.base_diameter_mm = 3.4;
  s.bone.crest_left_mm = s.bone.crest_right_mm = 1.0;
  return s;
}

class FollowUpPath : public ::testing::Test {
 protected:
  void SetUp() override {
    ASSERT_TRUE(archive.start()) << "dcmqrscp (package dcmtk) does not answer";
    node.write_rules(
        "mode: trial\nintents:\n  - {attribute: StudyDescription, contains: bone check, intent: "
        "follow-up}\n  - {attribute: StudyDescription, contains: surgery, intent: placement}\n"
        "positioning: {attribute: StudyDescription, before: holder}\n");
    ASSERT_TRUE(node.start(archive.port()));
    phantom::Scene baseline = site("20250110", "2.25.7001");
    store(baseline, archive.port(), "ARCHIVE");
  }
  void store(const phantom::Scene& scene, int port, const std::string& called) {
    const std::string path = folder.path() + "/image.dcm";
    phantom::write_dicom(phantom::render(scene), scene, path);
    DcmFileFormat file;
    ASSERT_TRUE(file.loadFile(path.c_str()).good());
    SendOptions options;
    options.called = called;
    ASSERT_EQ(send(port, *file.getDataset(), options), 0x0000);
  }
  void follow_up(phantom::Scene scene) {
    scene.detector.noise_seed = 99;
    scene.identity.study_description = "Bone check";
    store(scene, node.port(), "CRESTGATE");
  }
  /// Waits until the node has nothing more to do and owes nothing.
  bool settled() {
    return eventually([&] { return node.is_idle() && node.count_in("comparing") == 0; }, 240);
  }
  std::string only_report(const std::string& uid) {
    const auto all = archive.reports_on(uid);
    return all.size() == 1 ? all[0] : std::to_string(all.size()) + " reports";
  }
  TempFolder folder;
  Archive archive;
  NodeProcess node;
};

inline bool holds(const std::string& text, const std::string& words) {
  return text.find(words) != std::string::npos;
}

inline std::string value_in(const std::string& path, const DcmTagKey& key) {
  DcmFileFormat dicom;
  OFString value;
  if (dicom.loadFile(path.c_str()).good())
    dicom.getDataset()->findAndGetOFStringArray(key, value, true);
  return value.c_str();
}

}  // namespace crestgate
