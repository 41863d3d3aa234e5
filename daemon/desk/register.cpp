#include "daemon/desk/register.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"
#include "daemon/watch/stamp.h"

namespace fairlead::desk {
namespace {

// An order carries the file in one entry's body.
constexpr size_t kLongestFile = record::kMaxBodySize - 1'024;

v1::RegisteredFile message_of(const watch::ShelfFile& file) {
  v1::RegisteredFile out;
  out.set_sha256(hex_of(file.pin.sha256()));
  out.set_name(file.pin.name());
  out.set_kind(file.pin.kind());
  out.set_leaf_index(file.leaf);
  out.set_since(format_time_us(file.since_us));
  return out;
}

}  // namespace

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
      shelf.add(body, entry.leaf, entry.recv_us);
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
  desk.shelf.add(body, written->leaf, watch::wall_now_us());
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
    *response.add_file() = message_of(file);
  return response;
}

Result<v1::GetFileResponse> get_file(Desk& desk, const v1::GetFileRequest& request) {
  const auto sha = array_of_hex<32>(request.sha256(), "sha256");
  if (!sha) return std::unexpected(sha.error());
  auto bytes = desk.ledger().file(*sha);
  if (!bytes) return std::unexpected(bytes.error());
  v1::GetFileResponse response;
  response.mutable_file()->set_sha256(request.sha256());
  for (const watch::ShelfFile& file : desk.shelf.in_force()) {
    if (file.pin.sha256() == view_of(*sha)) *response.mutable_file() = message_of(file);
  }
  response.set_content(std::move(*bytes));
  return response;
}

}  // namespace fairlead::desk
