// The base writes its log anew: entries left out, put in, put back in time, a second history beside
// the first. Every signature is good; what tells is a chain, a head a truck remembers, or a
// countersigner.
#include "tests/unit/verify/attack_scene.h"

namespace fairlead {
namespace {

using record::Kind;

std::function<void(Scene&)> on_log(std::function<void(Scene&, std::vector<Leaf>&)> change) {
  return [change = std::move(change)](Scene& s) {
    s.record_job();
    std::vector<Leaf> log = s.history();
    change(s, log);
    s.rewrite_as(std::move(log));
  };
}

// Where a truck's own key is needed, a truck took part; the base has none of them.
void erase_at(std::vector<Leaf>& log, uint64_t leaf) {
  log.erase(log.begin() + static_cast<long>(leaf));
}

/// A base's entry that was never written, put at `leaf`.
void insert_at(Scene& s, std::vector<Leaf>& log, uint64_t leaf, Kind kind, const std::string& body,
               const record::Id16& job = {}) {
  Leaf made = log[s.job.enrol_leaf];
  made.header.kind = kind;
  made.header.job_id = job;
  made.header.wall_us = log[leaf].header.wall_us;
  made.recv_us = log[leaf].recv_us;
  made.body = body;
  log.insert(log.begin() + static_cast<long>(leaf), made);
}

std::string register_file(Scene& s) {
  v1::RegisterFileBody body;
  body.set_name("small.textproto");
  body.set_kind(v1::FileKind::VEHICLE);
  body.set_content("id: \"small\" mass: \"" + std::to_string(900 + s.pick(900)) + " kg\"");
  return body.SerializeAsString();
}

/// A fork of the truck on record, then whatever the base does about it.
uint64_t write_fork(Scene& s) {
  v1::ForkBody body;
  body.set_device_id(string_of(s.job.truck.id));
  body.set_epoch(1);
  body.set_seq(2);
  const uint64_t leaf = s.job.base.write(s.job.base.admin, Kind::kFork, body.SerializeAsString());
  s.job.base.write(s.job.base.admin, Kind::kStop, "");
  return leaf;
}

std::vector<Attack> on_chain() {
  return {
      {"leave an entry out of the log", By::kBundle, 5, "missing",
       on_log([](Scene& s, std::vector<Leaf>& log) { erase_at(log, s.inner_leaf()); })},
      {"leave the last strip out of the log", By::kBundle, 5, "missing",
       on_log([](Scene& s, std::vector<Leaf>& log) { erase_at(log, s.job.strip_leaf); })},
      {"log the job from somewhere in its middle", By::kBundle, 6, "JOB_OPEN is not in",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         const uint64_t end = s.inner_leaf();
         log.erase(log.begin() + static_cast<long>(s.job.open_leaf),
                   log.begin() + static_cast<long>(end));
       })},
      {"log one entry twice", By::kBundle, 5, "same number",
       on_log([](Scene& s, std::vector<Leaf>& log) { log.push_back(log[s.inner_leaf()]); })},
      {"log two entries in the wrong order", By::kBundle, 5, "before its predecessor",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         const uint64_t leaf = s.inner[s.pick(s.inner.size() - 1)];
         std::swap(log[leaf], log[leaf + 1]);
       })},
      {"take an entry of another log in", By::kBundle, 3, "another log",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         Leaf leaf = log[s.job.note_leaf];
         leaf.header.ledger_id = record::ledger_id_of("lot.example/fairlead/g9");
         leaf.entry = record::sign_entry(leaf.header, s.job.truck.key);
         log[s.job.note_leaf] = leaf;
       })},
      {"play an old epoch's entries again", By::kBundle, 5, "",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         v1::RestoreBody body;
         body.set_device_id(string_of(s.job.truck.id));
         body.set_new_epoch(2);
         insert_at(s, log, log.size() - 1, Kind::kRestore, body.SerializeAsString());
         for (uint64_t leaf = s.job.open_leaf; leaf <= s.job.close_leaf; ++leaf) {
           log.push_back(log[leaf]);
         }
       })},
      {"open a new epoch that no RESTORE roots", By::kBundle, 5, "does not root",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         Leaf leaf = log[s.job.note_leaf];
         leaf.header.epoch = 2;
         leaf.header.seq = 1;
         leaf.header.prev = {};
         leaf.entry = record::sign_entry(leaf.header, s.job.truck.key);
         log.push_back(leaf);
       })},
  };
}

std::vector<Attack> on_what_is_shown() {
  return {
      {"withhold what a gap inside the job was", By::kBundle, 6, "withheld",
       [](Scene& s) {
         s.job.open();
         v1::GapBody gap;
         gap.set_channel("line.pull");
         const uint64_t leaf = s.job.base.write(s.job.truck, Kind::kGap, gap.SerializeAsString());
         s.job.work();
         s.job.close();
         s.job.base.sign_head(false);
         s.make_bundle();
         s.at(leaf).form = record::BodyForm::kBare;
       }},
      {"drop a fork from the bundle", By::kBundle, 5, "missing",
       [](Scene& s) {
         s.record_job();
         const uint64_t fork = write_fork(s);
         s.rewrite_as(s.history());
         s.drop(fork);
       }},
      {"show a fork without its body", By::kBundle, 4, "must be shown with its body",
       [](Scene& s) {
         s.record_job();
         const uint64_t fork = write_fork(s);
         s.rewrite_as(s.history());
         s.at(fork).form = record::BodyForm::kBare;
       }},
      {"call something erased, then show nothing of it", By::kBundle, 7, "was erased, but",
       [](Scene& s) {
         s.record_job();
         v1::EraseBody erase;
         erase.add_leaf(s.job.note_leaf);
         s.job.base.write(s.job.base.admin, Kind::kErase, erase.SerializeAsString());
         s.rewrite_as(s.history());
         s.at(s.job.note_leaf).form = record::BodyForm::kBare;
       }},
  };
}

std::vector<Attack> on_truck_memory() {
  return {
      {"put a register file back in time", By::kSeenHead, 8, "not shown to be a beginning",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         insert_at(s, log, s.job.open_leaf, Kind::kRegister, register_file(s));
       })},
      {"sign two roots for one size and show a truck the other", By::kSeenHead, 8,
       "not shown to be a beginning", on_log([](Scene& s, std::vector<Leaf>& log) {
         v1::ClockBody clock;
         clock.set_cause("by hand " + std::to_string(s.pick(1000)));
         log[s.early_leaf].body = clock.SerializeAsString();
       })},
      {"take a claim's first notice out of the past", By::kSeenHead, 8,
       "not shown to be a beginning",
       [](Scene& s) {
         // Written before the job, while the truck watched.
         v1::ClaimBody claim;
         claim.set_claim_id("C-1");
         const uint64_t leaf =
             s.job.base.write(s.job.base.admin, Kind::kClaim, claim.SerializeAsString());
         s.record_job();
         std::vector<Leaf> log = s.history();
         erase_at(log, leaf);
         s.rewrite_as(std::move(log));
       }},
      {"change when a truck's entry came in, in the log itself", By::kSeenHead, 8,
       "not shown to be a beginning", on_log([](Scene& s, std::vector<Leaf>& log) {
         log[s.job.open_leaf].recv_us -= 3'600'000'000;
       })},
  };
}

std::vector<Attack> on_countersigned() {
  return {
      {"cut off the end of the job's record (suffix)", By::kCountersigner, 2,
       "not yet countersigned", on_log([](Scene& s, std::vector<Leaf>& log) {
         log.erase(log.begin() + static_cast<long>(s.job.close_leaf), log.end());
       })},
      {"withhold a fork by writing the log without it", By::kCountersigner, 2,
       "not yet countersigned",
       [](Scene& s) {
         s.record_job();
         const uint64_t fork = write_fork(s);
         s.rewrite_as(s.history());  // As it was, and countersigned.
         std::vector<Leaf> log = s.history();
         erase_at(log, fork);
         s.rewrite_as(std::move(log));
       }},
      {"withhold a revocation by writing the log without it", By::kCountersigner, 2,
       "not yet countersigned",
       [](Scene& s) {
         s.record_job();
         v1::RevokeBody body;
         body.set_device_id(string_of(s.job.truck.id));
         const uint64_t leaf =
             s.job.base.write(s.job.base.admin, Kind::kRevoke, body.SerializeAsString());
         s.rewrite_as(s.history());
         std::vector<Leaf> log = s.history();
         erase_at(log, leaf);
         s.rewrite_as(std::move(log));
       }},
      {"write a claim's first notice anew", By::kCountersigner, 2, "not yet countersigned",
       [](Scene& s) {
         s.record_job();
         v1::ClaimBody claim;
         claim.set_claim_id("C-1");
         claim.set_first_notice_us(1'772'500'000'000'000);
         const uint64_t leaf =
             s.job.base.write(s.job.base.admin, Kind::kClaim, claim.SerializeAsString(), s.job.id);
         s.rewrite_as(s.history());
         std::vector<Leaf> log = s.history();
         claim.set_first_notice_us(1'772'600'000'000'000);
         log[leaf].body = claim.SerializeAsString();
         s.rewrite_as(std::move(log));
       }},
      {"leave the findings out of the log", By::kCountersigner, 2, "not yet countersigned",
       on_log([](Scene&, std::vector<Leaf>& log) {
         std::erase_if(log, [](const Leaf& leaf) { return leaf.header.kind == Kind::kFinding; });
       })},
  };
}

std::vector<Attack> on_collusion() {
  return {
      {"rewrite with a countersigner who signs anything", By::kWords, kAlways,
       "that a countersigner looked before signing",
       [](Scene& s) {
         s.colludes = s.watched = true;
         s.record_job();
         std::vector<Leaf> log = s.history();
         insert_at(s, log, s.job.open_leaf, Kind::kRegister, register_file(s));
         s.rewrite_as(std::move(log));
       }},
      {"rewrite before anybody saw a head", By::kWords, kAlways,
       "that no other history was made up before the first countersigned head",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         insert_at(s, log, s.job.open_leaf, Kind::kRegister, register_file(s));
       })},
      {"rewrite with a countersigner who signs anything, a truck having seen", By::kSeenHead, 8,
       "not shown to be a beginning",
       [](Scene& s) {
         s.colludes = s.watched = true;
         s.record_job();
         std::vector<Leaf> log = s.history();
         insert_at(s, log, s.job.open_leaf, Kind::kRegister, register_file(s));
         s.rewrite_as(std::move(log));
       }},
  };
}

}  // namespace

std::vector<Attack> attacks_on_history() {
  std::vector<Attack> out = on_chain();
  for (auto* group : {on_what_is_shown, on_truck_memory, on_countersigned, on_collusion}) {
    for (Attack& attack : group()) out.push_back(std::move(attack));
  }
  return out;
}

}  // namespace fairlead
