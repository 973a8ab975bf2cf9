#include "node/archive_search.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcostrmb.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/scu.h>

#include <algorithm>
#include <memory>

#include "node/accepted.h"
#include "node/report/own_objects.h"
#include "node/store_scu.h"
#include "pipeline/read/header.h"

namespace crestgate {
namespace {

struct Found {
  std::string study, series, sop;
  std::string date;
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

/// Keeps in memory what a C-GET brings.
class Retriever : public DcmSCU {
 public:
  std::vector<std::unique_ptr<DcmDataset>> got;

  OFCondition handleSTORERequest(const T_ASC_PresentationContextID /*id*/, DcmDataset* incoming,
                                 OFBool& go_on, Uint16& status) override {
    got.emplace_back(static_cast<DcmDataset*>(incoming->clone()));
    status = STATUS_Success;
    go_on = OFTrue;
    return EC_Normal;
  }
};

class Search {
 public:
  Status open(const Peer& archive, const std::string& own_ae_title) {
    configure_scu(scu_, archive, own_ae_title);
    scu_.setStorageMode(DCMSCU_STORAGE_DISK);
    OFList<OFString> plain, decodable;
    plain.push_back(UID_LittleEndianExplicitTransferSyntax);
    plain.push_back(UID_LittleEndianImplicitTransferSyntax);
    for (const std::string& syntax : transfer_syntaxes()) decodable.push_back(syntax.c_str());
    scu_.addPresentationContext(UID_FINDStudyRootQueryRetrieveInformationModel, plain);
    scu_.addPresentationContext(UID_GETStudyRootQueryRetrieveInformationModel, plain);
    for (const std::string& image : image_classes())
      scu_.addPresentationContext(image.c_str(), decodable, ASC_SC_ROLE_SCP);
    return connect_scu(scu_, archive);
  }
  ~Search() {
    if (scu_.isConnected()) scu_.releaseAssociation();
  }

  /// Query at one level; the answers' values of `wanted`.
  Status find(const char* level, const std::vector<std::pair<DcmTagKey, std::string>>& keys,
              std::vector<std::unique_ptr<DcmDataset>>& answers) {
    DcmDataset query;
    query.putAndInsertString(DCM_QueryRetrieveLevel, level);
    for (const auto& [tag, value] : keys) query.putAndInsertString(tag, value.c_str());
    OFList<QRResponse*> responses;
    const auto id =
        scu_.findPresentationContextID(UID_FINDStudyRootQueryRetrieveInformationModel, "");
    const OFCondition asked = id == 0 ? makeOFCondition(OFM_dcmnet, 1, OF_error, "no C-FIND")
                                      : scu_.sendFINDRequest(id, &query, &responses);
    Uint16 last = 0xffff;
    for (QRResponse* response : responses) {
      last = response->m_status;
      if (response->m_dataset != nullptr) {
        answers.emplace_back(response->m_dataset);
        response->m_dataset = nullptr;
      }
      delete response;
    }
    if (asked.bad()) return failed("C-FIND", asked.text());
    if (last != STATUS_Success) return failed("C-FIND", "status " + std::to_string(last));
    return {};
  }

  Status get_series(const Found& series) {
    DcmDataset query;
    query.putAndInsertString(DCM_QueryRetrieveLevel, "SERIES");
    query.putAndInsertString(DCM_StudyInstanceUID, series.study.c_str());
    query.putAndInsertString(DCM_SeriesInstanceUID, series.series.c_str());
    const auto id =
        scu_.findPresentationContextID(UID_GETStudyRootQueryRetrieveInformationModel, "");
    OFList<RetrieveResponse*> responses;
    const OFCondition asked = id == 0 ? makeOFCondition(OFM_dcmnet, 1, OF_error, "no C-GET")
                                      : scu_.sendCGETRequest(id, &query, &responses);
    Uint16 last = 0xffff;
    for (RetrieveResponse* response : responses) {
      last = response->m_status;
      delete response;
    }
    if (asked.bad()) return failed("C-GET", asked.text());
    // 0xB000: some of it could not be sent; what came is looked at.
    if (last != STATUS_Success && last != 0xB000)
      return failed("C-GET", "status " + std::to_string(last));
    return {};
  }

  std::vector<std::unique_ptr<DcmDataset>>& got() { return scu_.got; }

 private:
  static Status failed(const char* what, const std::string& why) {
    return Status::error(Code::unavailable, std::string("archive: ") + what + ": " + why);
  }
  Retriever scu_;
};

/// Intraoral series of the patient in studies of earlier days, newest first.
Result<std::vector<Found>> find_series(Search& search, const SearchKeys& keys) {
  std::vector<std::unique_ptr<DcmDataset>> studies;
  Status s = search.find("STUDY",
                         {{DCM_PatientID, keys.patient_id},
                          {DCM_IssuerOfPatientID, keys.issuer_of_patient_id},
                          {DCM_StudyInstanceUID, ""},
                          {DCM_StudyDate, ""}},
                         studies);
  if (!s.ok()) {  // an archive may refuse keys it does not know
    studies.clear();
    s = search.find(
        "STUDY",
        {{DCM_PatientID, keys.patient_id}, {DCM_StudyInstanceUID, ""}, {DCM_StudyDate, ""}},
        studies);
  }
  if (!s.ok()) return s;
  std::vector<Found> found;
  for (const auto& study : studies) {
    Found f;
    f.study = text_of(*study, DCM_StudyInstanceUID);
    f.date = text_of(*study, DCM_StudyDate);
    if (f.study.empty() || (!f.date.empty() && f.date >= keys.content_date.substr(0, 8))) continue;
    std::vector<std::unique_ptr<DcmDataset>> series;
    s = search.find(
        "SERIES",
        {{DCM_StudyInstanceUID, f.study}, {DCM_SeriesInstanceUID, ""}, {DCM_Modality, ""}}, series);
    if (!s.ok()) return s;
    for (const auto& one : series) {
      const std::string modality = text_of(*one, DCM_Modality);
      f.series = text_of(*one, DCM_SeriesInstanceUID);
      if (!f.series.empty() && (modality == "IO" || modality == "DX" || modality == "CR"))
        found.push_back(f);
    }
  }
  std::sort(found.begin(), found.end(),
            [](const Found& a, const Found& b) { return a.date > b.date; });
  return found;
}

struct Candidate {
  std::string date;
  DcmDataset* dataset = nullptr;
};

bool shares_site(const std::vector<std::string>& a, const std::vector<std::string>& b) {
  return std::any_of(a.begin(), a.end(), [&](const std::string& tooth) {
    return std::find(b.begin(), b.end(), tooth) != b.end();
  });
}

}  // namespace

Result<EarlierImages> find_earlier_images(const Peer& archive, const std::string& own_ae_title,
                                          const SearchKeys& keys) {
  EarlierImages result;
  if (keys.patient_id.empty()) return result;  // nobody to ask for
  Search search;
  if (Status s = search.open(archive, own_ae_title); !s.ok()) return s;
  const auto series = find_series(search, keys);
  if (!series.ok()) return series.status();
  for (const Found& one : series.value()) {
    if (static_cast<int>(search.got().size()) >= kMostFetchedImages) break;
    if (Status s = search.get_series(one); !s.ok()) return s;
  }
  std::vector<Candidate> candidates;
  for (const auto& dataset : search.got()) {
    const Acquisition a = read_acquisition(*dataset);
    if (a.patient_id != keys.patient_id || is_own_object(*dataset) ||
        a.sop_instance_uid == keys.sop_instance_uid)
      continue;
    if (a.content_date.substr(0, 8) >= keys.content_date.substr(0, 8)) continue;
    ++result.seen;
    // An image that does not state its site is handed over, to be refused in words.
    if (!keys.teeth.empty() && !a.teeth.empty() && !shares_site(keys.teeth, a.teeth)) {
      for (const std::string& tooth : a.teeth) result.other_sites.push_back(tooth);
      continue;
    }
    candidates.push_back({a.content_date + a.content_time, dataset.get()});
  }
  std::sort(candidates.begin(), candidates.end(),
            [](const Candidate& a, const Candidate& b) { return a.date < b.date; });
  std::size_t first = 0, last = candidates.size();
  if (keys.baseline == Baseline::last && last > 1) first = last - 1;
  if (keys.baseline != Baseline::last) last = std::min(last, kMostCandidates);
  for (std::size_t i = first; i < last; ++i) {
    Bytes file = part_10(*candidates[i].dataset);
    if (!file.empty()) result.files.push_back(std::move(file));
  }
  return result;
}

}  // namespace crestgate
