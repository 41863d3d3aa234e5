// For strace_test.py. ledger_writer FOLDER SEED appends, attaches, signs and erases, and prints
// "truck seq leaf chain" of each entry once it is acknowledged; exit 0, or 4 when the ledger failed
// for good, 3 when it would not open. ledger_writer --check FOLDER reads such lines and everything
// stored: exit 0 when each is there once and all verifies.
#include <cstdio>
#include <cstring>
#include <iostream>
#include <sstream>

#include "tests/fault/ledger_child.h"

namespace fairlead::ledger {
namespace {

constexpr uint8_t kTrucks = 2;

int write(const std::filesystem::path& folder, unsigned seed) {
  const auto opened = open_sqlite(base_options(folder));
  if (!opened) return 3;
  Ledger& ledger = **opened;
  for (uint8_t number = 1; number <= kTrucks; ++number) {
    if (ledger.watermark(id_of(number))) continue;
    v1::EnrolBody body;
    body.set_device_id(string_of(id_of(number)));
    body.set_public_key(string_of(key_of(number)->public_key().bytes));
    OwnEntry own;
    own.header.kind = Kind::kEnrol;
    own.header.device_id = id_of(kOfficer);
    own.body = body.SerializeAsString();
    own.key = key_of(kOfficer);
    const auto begun =
        ledger.start_chain({id_of(kOfficer), 1, key_of(kOfficer)->public_key(), sha256("roster")});
    if (!begun || !ledger.append_own({own}).get()) return 4;
  }
  int pipe[2];
  if (::pipe(pipe) != 0) return 9;
  std::thread printer([fd = pipe[0]] {
    for (Ack ack; ::read(fd, &ack, sizeof ack) == sizeof ack;) {
      const std::string line = std::to_string(ack.truck) + " " + std::to_string(ack.seq) + " " +
                               std::to_string(ack.leaf) + " " + hex_of(ack.chain) + "\n";
      if (::write(STDOUT_FILENO, line.data(), line.size()) < 0) ::_exit(6);
    }
  });
  std::mt19937 random(seed);
  bool going = true;
  for (int i = 0; going && i < 8; ++i) {
    going = append_some(ledger, pipe[1], kTrucks, 3, random);
    (void)ledger.put_attachment("photo " + std::to_string(seed) + std::to_string(i));
    (void)ledger.sign_head();
    EraseOrder order;
    order.leaves = {random() % ledger.size()};
    order.policy = "test";
    order.own.header.device_id = id_of(kOfficer);
    order.own.key = key_of(kOfficer);
    if (i % 3 == 2) (void)ledger.erase(order);
  }
  going = going && ledger.failure().empty();
  ::close(pipe[1]);
  printer.join();
  return going ? 0 : 4;
}

int check(const std::filesystem::path& folder) {
  Acks acks;
  for (std::string line; std::getline(std::cin, line);) {
    std::istringstream words(line);
    unsigned truck = 0;
    std::string chain;
    Ack ack;
    words >> truck >> ack.seq >> ack.leaf >> chain;
    const auto hash = array_of_hex<32>(chain, "chain");
    if (!hash) continue;  // The last line of a process that was killed.
    ack.truck = static_cast<uint8_t>(truck);
    ack.chain = *hash;
    acks[{ack.truck, ack.seq}] = ack;
  }
  const auto opened = open_sqlite(base_options(folder));
  if (!opened) {
    std::cerr << opened.error().message << "\n";
    return 1;
  }
  expect_all_there(**opened, acks);
  std::cout << acks.size() << "\n";
  return testing::Test::HasFailure() ? 1 : 0;
}

}  // namespace
}  // namespace fairlead::ledger

int main(int argc, char** argv) {
  if (argc == 3 && std::strcmp(argv[1], "--check") == 0) return fairlead::ledger::check(argv[2]);
  if (argc == 3) return fairlead::ledger::write(argv[1], static_cast<unsigned>(std::atoi(argv[2])));
  std::cerr << "usage: ledger_writer FOLDER SEED | --check FOLDER\n";
  return 2;
}
