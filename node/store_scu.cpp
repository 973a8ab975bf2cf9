#include "node/store_scu.h"

#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dcistrmb.h>
#include <dcmtk/dcmdata/dctk.h>
#include <dcmtk/dcmnet/scu.h>

#include <memory>
#include <set>

#include "node/dimse_status.h"

namespace crestgate {
namespace {

constexpr int kConnect_s = 10;
constexpr int kAcse_s = 30;
constexpr int kDimse_s = 60;

struct Parsed {
  std::unique_ptr<DcmFileFormat> file;
  std::string sop_class;
  std::string syntax;
};

Parsed parse(const Bytes& bytes) {
  Parsed parsed;
  DcmInputBufferStream stream;
  stream.setBuffer(bytes.data(), static_cast<offile_off_t>(bytes.size()));
  stream.setEos();
  auto file = std::make_unique<DcmFileFormat>();
  file->transferInit();
  const OFCondition got = file->read(stream);
  file->transferEnd();
  if (got.bad()) return parsed;
  OFString sop_class;
  file->getDataset()->findAndGetOFString(DCM_SOPClassUID, sop_class);
  parsed.syntax = DcmXfer(file->getDataset()->getOriginalXfer()).getXferID();
  parsed.sop_class = sop_class.c_str();
  parsed.file = std::move(file);
  return parsed;
}

}  // namespace

void configure_scu(DcmSCU& scu, const Peer& archive, const std::string& own_ae_title) {
  scu.setAETitle(own_ae_title.c_str());
  scu.setPeerAETitle(archive.ae_title.c_str());
  scu.setPeerHostName(archive.host.c_str());
  scu.setPeerPort(static_cast<Uint16>(archive.port));
  scu.setConnectionTimeout(kConnect_s);
  scu.setACSETimeout(kAcse_s);
  scu.setDIMSEBlockingMode(DIMSE_NONBLOCKING);
  scu.setDIMSETimeout(kDimse_s);
  OFList<OFString> syntaxes;
  syntaxes.push_back(UID_LittleEndianImplicitTransferSyntax);
  scu.addPresentationContext(UID_VerificationSOPClass, syntaxes);
}

Status connect_scu(DcmSCU& scu, const Peer& archive) {
  OFCondition good = scu.initNetwork();
  if (good.good()) good = scu.negotiateAssociation();
  if (good.good()) return {};
  return Status::error(Code::unavailable, "archive " + archive.ae_title + " at " + archive.host +
                                              ":" + std::to_string(archive.port) + ": " +
                                              good.text());
}

Result<std::vector<DeliveryAnswer>> store_to_archive(const Peer& archive,
                                                     const std::string& own_ae_title,
                                                     const std::vector<Bytes>& objects) {
  DcmSCU scu;
  configure_scu(scu, archive, own_ae_title);
  std::vector<Parsed> parsed;
  std::set<std::pair<std::string, std::string>> contexts;
  for (const Bytes& bytes : objects) {
    parsed.push_back(parse(bytes));
    const Parsed& last = parsed.back();
    if (last.file && contexts.insert({last.sop_class, last.syntax}).second) {
      OFList<OFString> syntaxes;
      syntaxes.push_back(last.syntax.c_str());
      scu.addPresentationContext(last.sop_class.c_str(), syntaxes);
    }
  }
  if (Status s = connect_scu(scu, archive); !s.ok()) return s;

  std::vector<DeliveryAnswer> answers;
  bool connected = true;
  for (const Parsed& object : parsed) {
    if (!object.file) {
      answers.push_back({Delivery::refused, "outbox file is not a DICOM object"});
      continue;
    }
    if (!connected) {
      answers.push_back({Delivery::try_again, "connection lost"});
      continue;
    }
    const auto context =
        scu.findPresentationContextID(object.sop_class.c_str(), object.syntax.c_str());
    if (context == 0) {
      answers.push_back(
          {Delivery::refused, "archive does not accept SOP class " + object.sop_class});
      continue;
    }
    Uint16 response = 0;
    const OFCondition sent = scu.sendSTORERequest(context, "", object.file->getDataset(), response);
    if (sent.bad()) {
      answers.push_back({Delivery::try_again, sent.text()});
      connected = false;
    } else {
      answers.push_back(delivery_answer(response));
    }
  }
  if (connected) {
    scu.releaseAssociation();
  } else {
    scu.abortAssociation();
  }
  return answers;
}

Status echo_archive(const Peer& archive, const std::string& own_ae_title) {
  DcmSCU scu;
  configure_scu(scu, archive, own_ae_title);
  if (Status s = connect_scu(scu, archive); !s.ok()) return s;
  const OFCondition answered = scu.sendECHORequest(0);
  scu.releaseAssociation();
  return answered.good() ? Status{} : Status::error(Code::unavailable, answered.text());
}

}  // namespace crestgate
