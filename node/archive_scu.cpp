#include "node/archive_scu.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcistrmb.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/scu.h>

#include "node/accepted.h"
#include "node/store_scu.h"

namespace crestgate {
namespace {

constexpr Uint16 kSomeNotSent = 0xB000;

Status failed(const char* what, const std::string& why) {
  return Status::error(Code::unavailable, std::string("archive: ") + what + ": " + why);
}

/// How a retrieval ended: `last` is the status of the last response.
Status retrieved(const char* what, const OFCondition& asked, Uint16 last) {
  if (asked.bad()) return failed(what, asked.text());
  if (last != STATUS_Success && last != kSomeNotSent)
    return failed(what, "status " + std::to_string(last));
  return {};
}

std::unique_ptr<DcmDataset> parse(const Bytes& bytes) {
  DcmInputBufferStream stream;
  stream.setBuffer(bytes.data(), static_cast<offile_off_t>(bytes.size()));
  stream.setEos();
  DcmFileFormat file;
  file.transferInit();
  const OFCondition read = file.read(stream);
  file.transferEnd();
  if (read.bad() || file.loadAllDataIntoMemory().bad()) return nullptr;
  return std::unique_ptr<DcmDataset>(file.getAndRemoveDataset());
}

/// The last status of a row of responses, which are freed.
template <class Response>
Uint16 last_status(OFList<Response*>& responses) {
  Uint16 last = 0xffff;
  for (Response* response : responses) {
    last = response->m_status;
    delete response;
  }
  return last;
}

void name_instance(const InstanceKey& instance, DcmDataset& query) {
  query.putAndInsertString(DCM_QueryRetrieveLevel, "IMAGE");
  query.putAndInsertString(DCM_StudyInstanceUID, instance.study.c_str());
  query.putAndInsertString(DCM_SeriesInstanceUID, instance.series.c_str());
  query.putAndInsertString(DCM_SOPInstanceUID, instance.sop.c_str());
}

}  // namespace

/// Keeps in memory what a C-GET brings.
class ArchiveScu::Scu : public DcmSCU {
 public:
  std::unique_ptr<DcmDataset> got;

  OFCondition handleSTORERequest(const T_ASC_PresentationContextID /*id*/, DcmDataset* incoming,
                                 OFBool& go_on, Uint16& status) override {
    got.reset(static_cast<DcmDataset*>(incoming->clone()));
    status = STATUS_Success;
    go_on = OFTrue;
    return EC_Normal;
  }
};

ArchiveScu::ArchiveScu(const Peer& archive, const std::string& own_ae_title, Retrievals* retrievals)
    : archive_(archive),
      own_ae_title_(own_ae_title),
      retrievals_(retrievals),
      scu_(std::make_unique<Scu>()) {}

ArchiveScu::~ArchiveScu() {
  if (scu_->isConnected()) scu_->releaseAssociation();
}

Status ArchiveScu::open() {
  configure_scu(*scu_, archive_, own_ae_title_);
  scu_->setStorageMode(DCMSCU_STORAGE_DISK);
  OFList<OFString> plain, decodable;
  plain.push_back(UID_LittleEndianExplicitTransferSyntax);
  plain.push_back(UID_LittleEndianImplicitTransferSyntax);
  for (const std::string& syntax : transfer_syntaxes()) decodable.push_back(syntax.c_str());
  for (const char* model : {UID_FINDStudyRootQueryRetrieveInformationModel,
                            UID_GETStudyRootQueryRetrieveInformationModel,
                            UID_MOVEStudyRootQueryRetrieveInformationModel})
    scu_->addPresentationContext(model, plain);
  for (const std::string& image : image_classes())
    scu_->addPresentationContext(image.c_str(), decodable, ASC_SC_ROLE_SCP);
  scu_->addPresentationContext(UID_ComprehensiveSRStorage, plain, ASC_SC_ROLE_SCP);
  return connect_scu(*scu_, archive_);
}

Status ArchiveScu::find(const char* level, const Keys& keys,
                        std::vector<std::unique_ptr<DcmDataset>>& answers) {
  DcmDataset query;
  query.putAndInsertString(DCM_QueryRetrieveLevel, level);
  for (const auto& [tag, value] : keys) query.putAndInsertString(tag, value.c_str());
  OFList<QRResponse*> responses;
  const auto id =
      scu_->findPresentationContextID(UID_FINDStudyRootQueryRetrieveInformationModel, "");
  if (id == 0) return failed("C-FIND", "not offered");
  const OFCondition asked = scu_->sendFINDRequest(id, &query, &responses);
  for (QRResponse* response : responses) {
    if (response->m_dataset == nullptr) continue;
    answers.emplace_back(response->m_dataset);
    response->m_dataset = nullptr;
  }
  const Uint16 last = last_status(responses);
  if (asked.bad()) return failed("C-FIND", asked.text());
  if (last != STATUS_Success) return failed("C-FIND", "status " + std::to_string(last));
  return {};
}

Status ArchiveScu::get(const InstanceKey& instance) {
  const auto id =
      scu_->findPresentationContextID(UID_GETStudyRootQueryRetrieveInformationModel, "");
  if (id == 0) return failed("C-GET", "not offered");
  DcmDataset query;
  name_instance(instance, query);
  OFList<RetrieveResponse*> responses;
  const OFCondition asked = scu_->sendCGETRequest(id, &query, &responses);
  const Uint16 last = last_status(responses);
  return retrieved("C-GET", asked, last);
}

Status ArchiveScu::move(const InstanceKey& instance) {
  const auto id =
      scu_->findPresentationContextID(UID_MOVEStudyRootQueryRetrieveInformationModel, "");
  if (id == 0) return failed("C-MOVE", "not offered");
  DcmDataset query;
  name_instance(instance, query);
  // What the archive sends has been answered by the listener before the last response comes.
  const int request = retrievals_->expect({instance.sop});
  OFList<RetrieveResponse*> responses;
  const OFCondition asked = scu_->sendMOVERequest(id, own_ae_title_.c_str(), &query, &responses);
  const Uint16 last = last_status(responses);
  for (const Bytes& file : retrievals_->finish(request)) scu_->got = parse(file);
  return retrieved("C-MOVE", asked, last);
}

Result<std::unique_ptr<DcmDataset>> ArchiveScu::retrieve(const InstanceKey& instance) {
  scu_->got.reset();
  Status s = get(instance);
  if (!scu_->got && retrievals_ != nullptr && scu_->isConnected()) {
    const Status moved = move(instance);
    if (moved.ok() || !s.ok()) s = moved;
  }
  if (!s.ok()) return s;
  return std::move(scu_->got);
}

}  // namespace crestgate
