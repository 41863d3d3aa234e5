// A base whose roster changes: orders count only by an admin key of the newest roster a truck
// knows, an old roster cannot be put in force again, and whatever the base writes meanwhile stands
// under the key in force at its leaf. No outside source: these are the record's own rules.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <thread>

#include "tests/unit/uplink/memory_link.h"

namespace fairlead {
namespace {

using record::Kind;
using test::MemoryLink;
using test::MemoryTruck;
using test::TempBase;
using testing::HasSubstr;

std::string words_of(const v1::SignedOrder& order) {
  v1::OrderBody body;
  EXPECT_TRUE(body.ParseFromString(order.body()));
  return body.has_file() ? body.file().name() : body.sheet().words();
}

std::vector<std::string> words_held(const MemoryTruck& truck) {
  std::vector<std::string> out;
  for (const auto& order : truck.orders()) out.push_back(words_of(order));
  return out;
}

void run_well(MemoryTruck& truck, TempBase& base) {
  const Status done = MemoryLink(truck, base).run();
  ASSERT_TRUE(done) << done.error().message;
}

record::Id16 signer_of(const v1::SignedOrder& order) {
  return record::decode_header(*array_of<record::kEntrySize>(order.entry(), "order"))->device_id;
}

uint64_t order_file(TempBase& base, const std::string& name, const std::string& content) {
  v1::OrderBody body;
  body.mutable_file()->set_name(name);
  body.mutable_file()->set_content(content);
  return base.office().write(Kind::kOrder, {}, body).value().leaf;
}

uint64_t order_job(TempBase& base, const record::Id16& job) {
  v1::OrderBody body;
  body.mutable_sheet()->set_job_id(string_of(job));
  body.mutable_sheet()->set_words("job " + hex_of(job).substr(0, 2));
  return base.office().write(Kind::kOrder, job, body).value().leaf;
}

v1::SignedOrder signed_order(TempBase& base, uint64_t leaf) {
  const auto stored = base.ledger().entry(leaf).value();
  v1::SignedOrder order;
  order.set_leaf_index(leaf);
  order.set_entry(string_of(stored.entry));
  order.set_salt(string_of(stored.salt));
  order.set_body(stored.body);
  return order;
}

// A connection over which the base has said where to resume.
void greet(MemoryLink& link) {
  link.base_works();
  while (!link.to_truck_.empty()) ASSERT_TRUE(link.truck_reads());
}

Status tell(MemoryLink& link, const v1::SignedOrder& order) {
  v1::Reply reply;
  *reply.mutable_orders()->add_order() = order;
  link.to_truck_.clear();
  link.to_truck_.push_back(reply);
  return link.truck_reads();
}

TEST(UplinkRoster, WhatStillHoldsIsOrderedAgainUnderTheNewKey) {
  TempBase base;
  MemoryTruck old("OW-04"), late("OW-07");
  run_well(old, base);
  order_file(base, "gear.textproto", "first");
  order_file(base, "gear.textproto", "second");
  order_job(base, {0x11});
  order_job(base, {0x22});
  run_well(old, base);
  ASSERT_EQ(old.orders().size(), 4U);
  v1::JobOpenBody open;
  old.write(Kind::kJobOpen, open.SerializeAsString(), {0x22});
  run_well(old, base);
  const auto taken = base.office().take_roster(base.roster_with_new_admin());
  ASSERT_TRUE(taken) << taken.error().message;
  const record::Id16 in_force = base.office().roster().admins.front().device_id;
  // One that never heard of the old orders gets what still holds, under the new key only: the newer
  // file, and the job nobody has begun.
  run_well(late, base);
  EXPECT_THAT(words_held(late), testing::ElementsAre("gear.textproto", "job 11"));
  for (const auto& order : late.orders()) EXPECT_EQ(signer_of(order), in_force);
  v1::OrderBody file;
  ASSERT_TRUE(file.ParseFromString(late.orders().front().body()));
  EXPECT_EQ(file.file().content(), "second");
  // Once only, also after a restart.
  base.restart();
  EXPECT_EQ(base.ledger().entries_of_kind(Kind::kOrder, 0, 100)->size(), 6U);
  run_well(old, base);
  EXPECT_EQ(old.orders().size(), 6U);
}

TEST(UplinkRoster, AnOrderByAKeyGivenUpIsRefused) {
  TempBase base;
  MemoryTruck truck("OW-04");
  run_well(truck, base);
  const v1::SignedOrder stale = signed_order(base, order_file(base, "gear.textproto", "x"));
  ASSERT_TRUE(base.office().take_roster(base.roster_with_new_admin()));
  MemoryLink link(truck, base);
  greet(link);
  const size_t held = truck.orders().size();
  const Status told = tell(link, stale);
  ASSERT_FALSE(told);
  EXPECT_EQ(told.error().code, Code::kConflict);
  EXPECT_THAT(told.error().message, HasSubstr("names no longer"));
  EXPECT_EQ(truck.orders().size(), held);
}

TEST(UplinkRoster, ATruckThatKnowsAnOlderRosterAsksForTheNewOne) {
  TempBase base;
  MemoryTruck truck("OW-04");
  run_well(truck, base);
  const v1::SignedOrder stale = signed_order(base, order_file(base, "tools.textproto", "x"));
  MemoryLink link(truck, base);
  greet(link);
  ASSERT_TRUE(base.office().take_roster(base.roster_with_new_admin()));
  // It cannot know better yet: what the roster it knows names still counts ...
  EXPECT_TRUE(tell(link, stale));
  // ... and the first order under the new key sends it to fetch the new roster.
  const v1::SignedOrder fresh = signed_order(base, order_file(base, "gear.textproto", "y"));
  const Status told = tell(link, fresh);
  ASSERT_FALSE(told);
  EXPECT_EQ(told.error().code, Code::kBadInput) << "no person is needed";
  EXPECT_THAT(told.error().message, HasSubstr("next connection"));
  run_well(truck, base);
  EXPECT_THAT(words_held(truck), testing::Contains("gear.textproto"));
}

TEST(UplinkRoster, AnOldRosterCannotBePutInForceAgain) {
  TempBase base;
  MemoryTruck truck("OW-04");
  run_well(truck, base);
  const std::string first = base.office().roster_note();
  const auto kept = base.path() / "admin.first";
  std::filesystem::copy_file(base.path() / "keys" / "admin.key", kept);
  ASSERT_TRUE(base.office().take_roster(base.roster_with_new_admin()));
  const std::string second = base.office().roster_note();
  run_well(truck, base);
  // The base itself, with the old key put back.
  std::filesystem::copy_file(kept, base.path() / "keys" / "admin.key.next");
  const Status asked = base.office().check_roster(first);
  ASSERT_FALSE(asked);
  EXPECT_THAT(asked.error().message, HasSubstr("given up"));
  // A base that lies to the truck about it: it forgets the newer one, or says it came between.
  for (const std::vector<std::string>& older :
       {std::vector<std::string>{}, {first}, {first, second}, {second, first}, {second}}) {
    MemoryLink link(truck, base);
    link.base_works();
    ASSERT_FALSE(link.to_truck_.empty());
    v1::Reply resume = link.to_truck_.front();
    ASSERT_TRUE(resume.has_resume());
    auto& told = *resume.mutable_resume()->mutable_enrolment();
    ASSERT_EQ(told.roster(), second);
    told.set_roster(first);
    told.mutable_older_roster()->Assign(older.begin(), older.end());
    link.to_truck_.front() = resume;
    const Status read = link.truck_reads();
    ASSERT_FALSE(read) << older.size();
    EXPECT_EQ(read.error().code, Code::kConflict) << read.error().message;
  }
  run_well(truck, base);
}

// ERASE entries are made while rosters change; each must stand under the key in force at its leaf.
TEST(UplinkRoster, ErasingAndANewRosterDoNotRace) {
  constexpr int kRosters = 120, kErasers = 4, kEntries = 4'000;
  TempBase base;
  MemoryTruck truck("OW-04");
  run_well(truck, base);
  for (int i = 0; i < kEntries; ++i) truck.write(Kind::kObservations, "x");
  run_well(truck, base);
  std::vector<uint64_t> leaves;
  for (const auto& entry : base.of_device(truck.device_id())) leaves.push_back(entry.leaf);
  std::atomic<bool> over = false;
  std::atomic<size_t> next = 0, erased = 0;
  std::vector<std::thread> erasers;
  for (int i = 0; i < kErasers; ++i) {
    erasers.emplace_back([&] {
      while (!over) {
        const size_t at = next++;
        if (at >= leaves.size()) return;
        const auto done = base.office().erase({leaves[at]}, "test", "", false);
        EXPECT_TRUE(done) << done.error().message;
        ++erased;
      }
    });
  }
  for (int i = 0; i < kRosters; ++i) {
    const auto taken = base.office().take_roster(base.roster_with_new_admin());
    EXPECT_TRUE(taken) << taken.error().message;
  }
  over = true;
  for (auto& eraser : erasers) eraser.join();
  EXPECT_GT(erased, 0U);
  record::Roster in_force;
  size_t rosters = 0, erasures = 0;
  for (uint64_t leaf = 0; leaf < base.ledger().size(); ++leaf) {
    const auto entry = base.ledger().entry(leaf).value();
    const auto header = entry.header();
    if (header.kind == Kind::kRoster) {
      v1::RosterBody body;
      ASSERT_TRUE(body.ParseFromString(entry.body));
      in_force = record::open_roster(body.note()).value();
      ++rosters;
    }
    if (header.kind != Kind::kErase) continue;
    ++erasures;
    ASSERT_EQ(header.device_id, in_force.admins.front().device_id) << "leaf " << leaf;
  }
  EXPECT_EQ(rosters, 1U + kRosters);
  EXPECT_EQ(erasures, erased);
}

}  // namespace
}  // namespace fairlead
