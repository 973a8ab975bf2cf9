#include "node/archive_search.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcostrmb.h>
#include <dcmtk/dcmdata/dctk.h>

#include <algorithm>
#include <set>

#include "node/archive_scu.h"
#include "node/report/own_objects.h"
#include "node/report/own_report.h"
#include "pipeline/followup/baseline.h"
#include "pipeline/followup/jig_repeat.h"
#include "pipeline/judge/intent.h"
#include "pipeline/read/header.h"

namespace crestgate {
namespace {

/// An instance of an earlier day.
struct Found {
  InstanceKey key;
  std::string date;  ///< of its study
};

std::string text_of(DcmItem& item, const DcmTagKey& tag) {
  OFString text;
  item.findAndGetOFString(tag, text);
  return text.c_str();
}

Bytes part_10(DcmDataset& dataset) {
  DcmFileFormat file(&dataset);
  const E_TransferSyntax syntax = dataset.getOriginalXfer();
  if (file.validateMetaInfo(syntax).bad()) return {};
  constexpr std::size_t kHeaderRoom = 65536;
  Bytes bytes(dataset.calcElementLength(syntax, EET_ExplicitLength) + kHeaderRoom);
  DcmOutputBufferStream stream(bytes.data(), static_cast<offile_off_t>(bytes.size()));
  file.transferInit();
  const OFCondition written = file.write(stream, syntax, EET_ExplicitLength, nullptr);
  file.transferEnd();
  if (written.bad()) return {};
  void* start = nullptr;
  offile_off_t length = 0;
  stream.flushBuffer(start, length);
  bytes.resize(static_cast<std::size_t>(length));
  return bytes;
}

bool shares_site(const std::vector<std::string>& a, const std::vector<std::string>& b) {
  return std::any_of(a.begin(), a.end(), [&](const std::string& tooth) {
    return std::find(b.begin(), b.end(), tooth) != b.end();
  });
}

class Search {
 public:
  Search(ArchiveScu& scu, const SearchKeys& keys)
      : scu_(scu),
        keys_(keys),
        most_(keys.baseline == Baseline::all ? static_cast<std::size_t>(keys.most_compared)
                                             : kMostCandidates) {}

  Status run() {
    if (Status s = find_studies(); !s.ok()) return s;
    if (Status s = read_reports(); !s.ok()) return s;
    return fetch_images();
  }
  EarlierImages take() {
    for (Candidate& other : other_questions_) candidates_.push_back(std::move(other));
    std::sort(candidates_.begin(), candidates_.end(),
              [](const Candidate& a, const Candidate& b) { return a.date < b.date; });
    for (const Candidate& candidate : candidates_) {
      Bytes file = part_10(*candidate.dataset);
      if (!file.empty()) result_.files.push_back(std::move(file));
    }
    for (const auto& [image, report] : reports_) result_.reports[image] = report.document;
    return std::move(result_);
  }

 private:
  struct Candidate {
    std::string date;
    std::unique_ptr<DcmDataset> dataset;
  };

  /// Images and structured reports of earlier days, oldest first.
  Status find_studies() {
    std::vector<std::unique_ptr<DcmDataset>> studies;
    Status s = scu_.find("STUDY",
                         {{DCM_PatientID, keys_.patient_id},
                          {DCM_IssuerOfPatientID, keys_.issuer_of_patient_id},
                          {DCM_StudyInstanceUID, ""},
                          {DCM_StudyDate, ""}},
                         studies);
    if (!s.ok()) {  // an archive may refuse keys it does not know
      studies.clear();
      s = scu_.find(
          "STUDY",
          {{DCM_PatientID, keys_.patient_id}, {DCM_StudyInstanceUID, ""}, {DCM_StudyDate, ""}},
          studies);
    }
    if (!s.ok()) return s;
    for (const auto& study : studies) {
      Found f;
      f.key.study = text_of(*study, DCM_StudyInstanceUID);
      f.date = text_of(*study, DCM_StudyDate);
      if (f.key.study.empty() || (!f.date.empty() && f.date >= keys_.content_date.substr(0, 8)))
        continue;
      if (s = find_series(f); !s.ok()) return s;
    }
    for (std::vector<Found>* all : {&images_, &report_objects_})
      std::stable_sort(all->begin(), all->end(),
                       [](const Found& a, const Found& b) { return a.date < b.date; });
    return {};
  }

  Status find_series(Found f) {
    std::vector<std::unique_ptr<DcmDataset>> series;
    Status s = scu_.find(
        "SERIES",
        {{DCM_StudyInstanceUID, f.key.study}, {DCM_SeriesInstanceUID, ""}, {DCM_Modality, ""}},
        series);
    for (const auto& one : series) {
      if (!s.ok()) break;
      const std::string modality = text_of(*one, DCM_Modality);
      f.key.series = text_of(*one, DCM_SeriesInstanceUID);
      if (f.key.series.empty()) continue;
      if (modality == "IO" || modality == "DX" || modality == "CR") s = find_instances(f, images_);
      if (modality == "SR") s = find_instances(f, report_objects_);
    }
    return s;
  }

  Status find_instances(Found f, std::vector<Found>& all) {
    std::vector<std::unique_ptr<DcmDataset>> instances;
    const Status s = scu_.find("IMAGE",
                               {{DCM_StudyInstanceUID, f.key.study},
                                {DCM_SeriesInstanceUID, f.key.series},
                                {DCM_SOPInstanceUID, ""}},
                               instances);
    for (const auto& one : instances) {
      f.key.sop = text_of(*one, DCM_SOPInstanceUID);
      if (!f.key.sop.empty()) all.push_back(f);
    }
    return s;
  }

  /// Our own reports, newest first: small, and they say which images are worth their pixels.
  Status read_reports() {
    int read = 0;
    for (auto f = report_objects_.rbegin(); f != report_objects_.rend(); ++f) {
      if (++read > kMostFetchedReports) break;
      auto got = scu_.retrieve(f->key);
      if (!got.ok()) return got.status();
      if (!got.value()) continue;
      const auto report = read_own_report(*got.value());
      if (!report || report->patient_id != keys_.patient_id) continue;
      EarlierReport& known = reports_[report->image_uid];
      if (known.written <= report->written) known = *report;
    }
    return {};
  }

  /// Looks at one image; false: the archive failed.
  Status look_at(const Found& f) {
    const auto report = reports_.find(f.key.sop);
    if (of_another_site(f)) {
      add_other_sites(report->second.sites);
      return {};
    }
    auto got = scu_.retrieve(f.key);
    if (!got.ok()) return got.status();
    ++result_.fetched;
    if (!got.value()) return {};
    const Acquisition a = read_acquisition(*got.value());
    if (a.patient_id != keys_.patient_id || is_own_object(*got.value()) ||
        a.sop_instance_uid == keys_.sop_instance_uid ||
        a.content_date.substr(0, 8) >= keys_.content_date.substr(0, 8))
      return {};
    // An image that does not state its site is handed over, to be refused in words.
    if (!keys_.teeth.empty() && !a.teeth.empty() && !shares_site(keys_.teeth, a.teeth)) {
      add_other_sites(a.teeth);
      return {};
    }
    const bool same_jig =
        !keys_.jig.empty() && !jig_seen_ && jig_id(a, keys_.positioning) == keys_.jig;
    jig_seen_ = jig_seen_ || same_jig;
    if (enough_ && !same_jig) {
      ++left_out_;
      return {};
    }
    Candidate candidate{a.content_date + a.content_time, std::move(got.value())};
    const auto stated = stated_intent(a, keys_.intents);
    if (stated && !asks_of_bone(*stated)) {
      if (other_questions_.size() < most_ || same_jig)
        other_questions_.push_back(std::move(candidate));
      else
        ++left_out_;
      return {};
    }
    candidates_.push_back(std::move(candidate));
    const bool loaded = report != reports_.end() && report->second.part_seen;
    sure_ = sure_ || (keys_.baseline == Baseline::last ? loaded || stated : loaded);
    return {};
  }

  void add_other_sites(const std::vector<std::string>& sites) {
    auto& all = result_.other_sites;
    for (const std::string& site : sites)
      if (std::find(all.begin(), all.end(), site) == all.end()) all.push_back(site);
  }

  bool of_another_site(const Found& f) const {
    const auto report = reports_.find(f.key.sop);
    return report != reports_.end() && !report->second.sites.empty() && !keys_.teeth.empty() &&
           !shares_site(keys_.teeth, report->second.sites);
  }

  /// Oldest first; Baseline::last: newest first; Baseline::all: the oldest of the site, then newest
  /// first. Until there are enough, or the day is over that has one the rule would surely take;
  /// then on until the jig was seen.
  Status fetch_images() {
    const bool all = keys_.baseline == Baseline::all;
    std::string day;
    auto oldest = images_.begin(), end = images_.end();
    while (oldest != end) {
      const bool newest_first = all ? !candidates_.empty() : keys_.baseline == Baseline::last;
      const Found& f = newest_first ? *std::prev(end) : *oldest;
      if (sure_ && !all && f.date != day) enough_ = true;
      if (candidates_.size() >= most_) enough_ = true;
      if (result_.fetched >= kMostFetchedImages) break;
      if (enough_ && (keys_.jig.empty() || jig_seen_)) break;
      day = f.date;
      newest_first ? --end : ++oldest;
      if (Status s = look_at(f); !s.ok()) return s;
    }
    const auto rest =
        std::count_if(oldest, end, [&](const Found& f) { return !of_another_site(f); });
    if (all) result_.left_out = left_out_ + static_cast<int>(rest);
    return {};
  }

  ArchiveScu& scu_;
  const SearchKeys& keys_;
  std::size_t most_;  ///< candidates handed over
  int left_out_ = 0;
  EarlierImages result_;
  std::vector<Found> images_, report_objects_;
  std::map<std::string, EarlierReport> reports_;  ///< image's UID -> its newest report
  std::vector<Candidate> candidates_, other_questions_;
  bool sure_ = false;  ///< a candidate that first-after-loading or last would take
  bool enough_ = false, jig_seen_ = false;
};

}  // namespace

Result<EarlierImages> find_earlier_images(const Peer& archive, const std::string& own_ae_title,
                                          const SearchKeys& keys, Retrievals* retrievals) {
  if (keys.patient_id.empty()) return EarlierImages{};  // nobody to ask for
  ArchiveScu scu(archive, own_ae_title, retrievals);
  if (Status s = scu.open(); !s.ok()) return s;
  Search search(scu, keys);
  if (Status s = search.run(); !s.ok()) return s;
  return search.take();
}

}  // namespace crestgate
