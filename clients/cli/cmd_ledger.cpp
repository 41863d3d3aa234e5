#include "clients/cli/cmd_ledger.h"

#include <fmt/format.h>

#include <iostream>
#include <optional>

#include "clients/cli/base_call.h"
#include "clients/cli/part.h"
#include "daemon/base/bytes.h"
#include "fairlead/v1/ledger_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{30};
constexpr std::chrono::hours kAuditTimeout{12};

struct Arguments {
  std::string base;
  bool json = false;
  std::optional<uint64_t> leaf, from;
};

int head(const Arguments& a) {
  const auto stub = v1::LedgerService::NewStub(channel_to(a.base));
  v1::GetHeadResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->GetHead(&context, {}, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    std::cout << response.checkpoint() << "\nfingerprint " << response.fingerprint() << "\n";
  }
  return 0;
}

int prove(const Arguments& a) {
  v1::ProveRequest request;
  if (a.leaf) {
    request.set_leaf_index(*a.leaf);
  } else if (a.from) {
    request.set_old_size(*a.from);
  } else {
    return complain(
        {Code::kBadInput,
         "give --leaf N for an inclusion proof or --from SIZE for a consistency proof"});
  }
  const auto stub = v1::LedgerService::NewStub(channel_to(a.base));
  v1::ProveResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->Prove(&context, request, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  std::cout << response.checkpoint() << "\n";
  if (!response.leaf_data().empty()) std::cout << "leaf " << hex_of(response.leaf_data()) << "\n";
  for (const std::string& hash : response.hash()) std::cout << hex_of(hash) << "\n";
  return 0;
}

int audit(const Arguments& a) {
  const auto stub = v1::LedgerService::NewStub(channel_to(a.base));
  v1::AuditResponse response;
  const auto done = call_base(a.base, kAuditTimeout,
                              [&](auto& context) { return stub->Audit(&context, {}, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    std::cout << fmt::format("{} entries, {} bodies, {} attachments read again, {} faults\n",
                             response.leaves(), response.bodies(), response.attachments(),
                             response.fault_size());
    for (const std::string& fault : response.fault()) std::cout << "  " << fault << "\n";
  }
  return response.fault_size() == 0 ? 0 : 2;
}

}  // namespace

void add_ledger(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* ledger =
      app.add_subcommand("ledger", "Heads, proofs and a full check of a base's ledger");
  ledger->require_subcommand(1);
  part(ledger, a, "head", "Newest signed head and its fingerprint", head)
      ->footer("Example:\n  fairlead ledger head");
  CLI::App* proof = part(ledger, a, "prove", "Proof of one entry, or of an older head", prove);
  proof->add_option("--leaf", a->leaf, "Leaf index of the entry");
  proof->add_option("--from", a->from, "Size of the older head");
  proof->footer(
      "Examples:\n  fairlead ledger prove --leaf 17\n  fairlead ledger prove --from 1200");
  part(ledger, a, "audit", "Read everything again and check it", audit)
      ->footer("Exit: 0 no fault, 2 faults.\nExample:\n  fairlead ledger audit");
}

}  // namespace fairlead::cli
