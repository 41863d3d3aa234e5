#include "daemon/ledger/ledger.h"

namespace fairlead::ledger {
namespace {

using Results = Result<std::vector<AppendResult>>;

// A callback that fulfils the future it is asked for.
std::pair<Ledger::Appended, std::future<Results>> promised() {
  auto promise = std::make_shared<std::promise<Results>>();
  auto future = promise->get_future();
  return {[promise](Results results) { promise->set_value(std::move(results)); },
          std::move(future)};
}

}  // namespace

std::future<Results> Ledger::append(std::vector<SentEntry> batch) {
  auto [done, future] = promised();
  append(std::move(batch), std::move(done), true);
  return std::move(future);
}

std::future<Results> Ledger::append_own(std::vector<OwnEntry> batch) {
  auto [done, future] = promised();
  append_own(std::move(batch), std::move(done), true);
  return std::move(future);
}

Result<EraseResult> Ledger::erase(EraseOrder order) {
  std::promise<Result<EraseResult>> erased;
  erase(std::move(order), [&](Result<EraseResult> result) { erased.set_value(std::move(result)); });
  return erased.get_future().get();
}

}  // namespace fairlead::ledger
