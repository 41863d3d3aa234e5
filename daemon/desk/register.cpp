#include "daemon/desk/register.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"
#include "daemon/watch/stamp.h"

namespace fairlead::desk {
namespace {

// An order carries the file in one entry's body.
constexpr size_t kLongestFile = record::kMaxBodySize - 1'024;

// The version in force of a name; or the newest whose SHA-256 begins so.
Result<watch::ShelfFile> find_version(const Desk& desk, const v1::GetFileRequest& request) {
  constexpr size_t kShortest = 8;
  std::optional<watch::ShelfFile> found;
  for (const watch::ShelfFile& file : desk.shelf.versions(request.name())) {
    const std::string sha = hex_of(file.pin.sha256());
    if (!request.sha256().empty() &&
        (request.sha256().size() < kShortest || !sha.starts_with(request.sha256())))
      continue;
    if (found && request.name().empty() && found->pin.sha256() != file.pin.sha256()) {
      return fail(Code::kBadInput, "sha256: several files begin so; give more of it");
    }
    found = file;
  }
  if (found) return *found;
  return fail(Code::kNotFound, request.name().empty()
                                   ? "sha256: no file on record begins with '" + request.sha256() +
                                         "'; give 8 characters or more of one in the list"
                                   : "name: no file '" + request.name() +
                                         "' is on record; fairlead register list shows them");
}

}  // namespace

Result<std::vector<TruckUse>> truck_uses(const Desk& desk) {
  constexpr size_t kPage = 256;
  std::vector<TruckUse> out;
  for (uint64_t from = 0;;) {
    const auto page = desk.ledger().entries_of_kind(record::Kind::kInForce, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::InForceBody body;
      if (!body.ParseFromString(entry.body)) continue;
      const auto header = entry.header();
      out.push_back({header.device_id, body.file(), entry.leaf, header.wall_us});
    }
    if (page->size() < kPage) return out;
    from = page->back().leaf + 1;
  }
}

v1::RegisteredFile file_message(const Desk& desk, const watch::ShelfFile& file) {
  v1::RegisteredFile out;
  out.set_sha256(hex_of(file.pin.sha256()));
  out.set_name(file.pin.name());
  out.set_kind(file.pin.kind());
  out.set_leaf_index(file.leaf);
  out.set_since(format_time_us(file.since_us));
  out.set_by(hex_of(file.by));
  for (const record::RosterKey& admin : desk.office.roster().admins) {
    if (admin.device_id == file.by) out.set_by(admin.key.name);
  }
  return out;
}

Result<v1::FileHistoryResponse> file_history(Desk& desk, const v1::FileHistoryRequest& request) {
  const auto versions = desk.shelf.versions(request.name());
  if (request.name().empty() || versions.empty()) {
    return fail(Code::kNotFound, "name: no file '" + request.name() +
                                     "' is on record; fairlead register list shows them");
  }
  const auto uses = truck_uses(desk);
  if (!uses) return std::unexpected(uses.error());
  v1::FileHistoryResponse response;
  for (const watch::ShelfFile& file : versions) {
    v1::FileVersion& version = *response.add_version();
    *version.mutable_file() = file_message(desk, file);
    version.set_in_force(&file == &versions.back());
    for (const TruckUse& use : *uses) {
      if (use.file.sha256() != file.pin.sha256() || use.file.name() != file.pin.name()) continue;
      const auto device = desk.devices.find(use.device);
      v1::FileUse& out = *version.add_use();
      out.set_truck(device ? device->name : hex_of(use.device));
      out.set_leaf_index(use.leaf);
      out.set_since(format_time_us(use.wall_us));
    }
  }
  return response;
}

Status load_shelf(ledger::Ledger& ledger, watch::Shelf& shelf) {
  constexpr size_t kPage = 256;
  for (uint64_t from = 0;;) {
    const auto page = ledger.entries_of_kind(record::Kind::kRegister, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::RegisterFileBody body;
      if (!body.ParseFromString(entry.body)) {
        return fail(Code::kCorrupt, fmt::format("leaf {}: the file cannot be read", entry.leaf));
      }
      shelf.add(body, entry.leaf, entry.recv_us, entry.header().device_id);
    }
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

Result<v1::PutFileResponse> put_file(Desk& desk, const v1::PutFileRequest& request) {
  const std::string& name = request.name();
  if (name.empty() || name.size() > 255 || name.find('/') != std::string::npos) {
    return fail(Code::kBadInput, "name: give a file name without folders");
  }
  if (request.content().size() > kLongestFile) {
    return fail(Code::kBadInput, fmt::format("{}: has {} bytes, at most {} fit; split the file",
                                             name, request.content().size(), kLongestFile));
  }
  v1::RegisterFileBody body;
  body.set_name(name);
  body.set_content(request.content());
  body.set_kind(request.kind());
  if (request.kind() != v1::FileKind::POLICY) {
    const auto kind = watch::kind_of_file(name, request.content());
    if (!kind) return std::unexpected(kind.error());
    body.set_kind(*kind);
  }
  v1::PutFileResponse response;
  const Hash sha = sha256(request.content());
  response.set_sha256(hex_of(sha));
  for (const watch::ShelfFile& known : desk.shelf.in_force()) {
    if (known.pin.name() != name || known.pin.sha256() != view_of(sha)) continue;
    response.set_already_there(true);
    response.set_leaf_index(known.leaf);
    return response;
  }
  const auto written = desk.office.write(record::Kind::kRegister, {}, body);
  if (!written) return std::unexpected(written.error());
  const auto stored = desk.ledger().entry(written->leaf);
  if (!stored) return std::unexpected(stored.error());
  desk.shelf.add(body, written->leaf, stored->recv_us, stored->header().device_id);
  v1::OrderBody order;
  *order.mutable_file() = body;
  const auto ordered = desk.office.write(record::Kind::kOrder, {}, order);
  if (!ordered) return std::unexpected(ordered.error());
  if (desk.orders_changed) desk.orders_changed();
  response.set_leaf_index(written->leaf);
  return response;
}

Result<v1::ListFilesResponse> list_files(Desk& desk, const v1::ListFilesRequest&) {
  v1::ListFilesResponse response;
  for (const watch::ShelfFile& file : desk.shelf.in_force())
    *response.add_file() = file_message(desk, file);
  return response;
}

Result<v1::GetFileResponse> get_file(Desk& desk, const v1::GetFileRequest& request) {
  const auto version = find_version(desk, request);
  if (!version) return std::unexpected(version.error());
  const auto sha = array_of<32>(version->pin.sha256(), "sha256");
  if (!sha) return std::unexpected(sha.error());
  auto bytes = desk.ledger().file(*sha);
  if (!bytes) return std::unexpected(bytes.error());
  v1::GetFileResponse response;
  *response.mutable_file() = file_message(desk, *version);
  response.set_content(std::move(*bytes));
  return response;
}

}  // namespace fairlead::desk
