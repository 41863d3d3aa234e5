#include "clients/cli/erasure_text.h"

#include <fmt/format.h>

#include <iostream>

namespace fairlead::cli {
namespace {

void print_groups(const char* title,
                  const google::protobuf::RepeatedPtrField<v1::ErasureGroup>& groups) {
  for (const v1::ErasureGroup& group : groups) {
    std::cout << fmt::format("{} {}: {} entries, {} bytes; {}\n", title, group.what(),
                             group.entries(), group.bytes(), group.why());
  }
}

}  // namespace

void print_erasure(const v1::Erasure& erasure, bool dry_run) {
  print_groups(dry_run ? "would go " : "gone     ", erasure.going());
  print_groups("stays    ", erasure.held());
  std::cout << fmt::format("{} entries, {} attachments {}", erasure.entries(),
                           erasure.attachments(), dry_run ? "would be erased" : "erased");
  for (const uint64_t leaf : erasure.erase_leaf()) std::cout << ", ERASE at leaf " << leaf;
  std::cout << "\n";
  if (erasure.attachments_shared() > 0) {
    std::cout << erasure.attachments_shared()
              << " attachments stay: entries that stay name them too\n";
  }
  for (const std::string& folder : erasure.report_folder()) {
    std::cout << "removed " << folder << ", a report that repeats what was erased\n";
  }
  if (!dry_run && !erasure.wiped()) {
    std::cout << "the database's log is wiped as soon as nobody reads it any more\n";
  }
}

}  // namespace fairlead::cli
