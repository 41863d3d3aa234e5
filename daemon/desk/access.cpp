#include "daemon/desk/access.h"

#include <algorithm>

namespace fairlead::desk {
namespace {

using enum PeerRole;
constexpr std::string_view kPackage = "/fairlead.v1.";

}  // namespace

const std::vector<AccessRow>& access_table() {
  static const std::vector<AccessRow> kTable = {
      {"ClaimsService/AddClaimStep", {kOwnerLocal, kOwner}},
      {"ClaimsService/ExportClaim", {kOwnerLocal, kOwner}},
      {"ClaimsService/FindClaimJobs", {kOwnerLocal, kOwner}},
      {"ClaimsService/GetClaim", {kOwnerLocal, kOwner}},
      {"ClaimsService/ListClaims", {kOwnerLocal, kOwner}},
      {"ClaimsService/OpenClaim", {kOwnerLocal, kOwner}},
      {"ClaimsService/WriteClaimReport", {kOwnerLocal, kOwner}},
      {"DeviceService/DecideCopy", {kOwnerLocal, kOwner}},
      {"DeviceService/ListDevices", {kOwnerLocal, kOwner}},
      {"FeedService/FeedLines", {kOwnerLocal, kOwner}},
      {"IntakeService/Record", {kOwnerLocal, kTruck}},
      {"JobsService/AttachFile", {kOwnerLocal, kOwner, kOperator}},
      {"JobsService/GetJob", {kOwnerLocal, kOwner, kOperator}},
      {"JobsService/JudgeJob", {kOwnerLocal, kOwner}},
      {"JobsService/ListJobs", {kOwnerLocal, kOwner, kOperator}},
      {"JobsService/ListUnjobbed", {kOwnerLocal, kOwner}},
      {"JobsService/OpenJob", {kOwnerLocal, kOwner}},
      {"JobsService/WatchFindings", {kOwnerLocal, kOwner, kOperator}},
      {"LedgerService/Audit", {kOwnerLocal, kOwner}},
      {"LedgerService/ExportBundle", {kOwnerLocal, kOwner}},
      {"LedgerService/GetCountersign", {kOwnerLocal, kOwner, kInsurer, kService}},
      {"LedgerService/GetHead", {kOwnerLocal, kOwner, kInsurer, kService}},
      {"LedgerService/GetStatus", {kOwnerLocal, kOwner, kService}},
      {"LedgerService/Prove", {kOwnerLocal, kOwner, kInsurer, kService}},
      {"LedgerService/TakeCountersign", {kOwnerLocal, kOwner, kInsurer, kService}},
      {"PluginService/Feed", {kOwnerLocal}},  // The truck's own socket to its plug-ins.
      {"RegisterService/EnrolTruck", {kOwnerLocal, kOwner}},
      {"RegisterService/FileHistory", {kOwnerLocal, kOwner}},
      {"RegisterService/GetFile", {kOwnerLocal, kOwner}},
      {"RegisterService/ListFiles", {kOwnerLocal, kOwner}},
      {"RegisterService/ListTrucks", {kOwnerLocal, kOwner}},
      {"RegisterService/PutFile", {kOwnerLocal, kOwner}},
      {"RegisterService/PutRoster", {kOwnerLocal, kOwner}},
      {"RegisterService/RevokeTruck", {kOwnerLocal, kOwner}},
      {"RetentionService/AddHold", {kOwnerLocal, kOwner}},
      {"RetentionService/EndHold", {kOwnerLocal, kOwner}},
      {"RetentionService/EraseOnRequest", {kOwnerLocal, kOwner}},
      {"RetentionService/ListHolds", {kOwnerLocal, kOwner}},
      {"RetentionService/RunRetention", {kOwnerLocal, kOwner}},
      {"SensorsService/GetSensors", {kOwnerLocal}},  // On the truck's own socket.
      {"SensorsService/RecordCalibration", {kOwnerLocal}},
      {"SheetsService/WriteSheet", {kOwnerLocal, kOwner}},
      {"SummariesService/DecideSchedule", {kOwnerLocal, kOwner}},
      {"SummariesService/GetProgress", {kOwnerLocal, kOwner, kService}},
      {"SummariesService/ListSchedules", {kOwnerLocal, kOwner}},
      {"SummariesService/ListSummaries", {kOwnerLocal, kOwner, kInsurer, kService}},
      {"SummariesService/WriteSummary", {kOwnerLocal, kOwner, kService}},
  };
  return kTable;
}

bool may_call(PeerRole role, std::string_view path) {
  if (!path.starts_with(kPackage)) return false;
  path.remove_prefix(kPackage.size());
  const auto row = std::ranges::find(access_table(), path, &AccessRow::method);
  return row != access_table().end() && std::ranges::find(row->roles, role) != row->roles.end();
}

}  // namespace fairlead::desk
