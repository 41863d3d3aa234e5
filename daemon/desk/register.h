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

/// Fills the shelf from the REGISTER entries of the ledger.
[[nodiscard]] Status load_shelf(ledger::Ledger& ledger, watch::Shelf& shelf);

}  // namespace fairlead::desk
