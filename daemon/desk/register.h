// Register service: procedure and register files, trucks.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/register_service.pb.h"

namespace fairlead::desk {

/// Checked by compiling it; on record as a REGISTER entry, on its way down as an ORDER to every
/// truck.
[[nodiscard]] Result<v1::PutFileResponse> put_file(Desk& desk, const v1::PutFileRequest& request);
[[nodiscard]] Result<v1::ListFilesResponse> list_files(Desk& desk,
                                                       const v1::ListFilesRequest& request);
[[nodiscard]] Result<v1::GetFileResponse> get_file(Desk& desk, const v1::GetFileRequest& request);
/// Every version of a name, with the trucks that took it in force. Errors: kNotFound.
[[nodiscard]] Result<v1::FileHistoryResponse> file_history(Desk& desk,
                                                           const v1::FileHistoryRequest& request);
/// A device took a version in force: an IN_FORCE entry of its own.
struct TruckUse {
  record::Id16 device{};
  v1::Pin file;
  uint64_t leaf = 0;
  int64_t wall_us = 0;  // By the device's clock.
};
[[nodiscard]] Result<std::vector<TruckUse>> truck_uses(const Desk& desk);

/// As the wire shows a version.
[[nodiscard]] v1::RegisteredFile file_message(const Desk& desk, const watch::ShelfFile& file);

/// Fills the shelf from the REGISTER entries of the ledger.
[[nodiscard]] Status load_shelf(ledger::Ledger& ledger, watch::Shelf& shelf);

}  // namespace fairlead::desk
