// Keys used by those they do not belong to, at times they do not hold, and chains cut or doubled.
// The log is honest about what it holds: it is what it holds that is not.
#include "tests/unit/verify/attack_scene.h"

namespace fairlead {
namespace {

using record::Kind;

/// An attack that rewrites the honest log with a base's keys before anybody else saw a head.
std::function<void(Scene&)> on_log(std::function<void(Scene&, std::vector<Leaf>&)> change) {
  return [change = std::move(change)](Scene& s) {
    s.record_job();
    std::vector<Leaf> log = s.history();
    change(s, log);
    s.rewrite_as(std::move(log));
  };
}

void sign_with(Leaf& leaf, const SecretKey& key) {
  leaf.entry = record::sign_entry(leaf.header, key);
  leaf.header = record::decode_header(leaf.entry).value();
}

/// Binds another body to the leaf and signs it with `key`.
void say_instead(Leaf& leaf, std::string body, const SecretKey& key) {
  leaf.body = std::move(body);
  EXPECT_TRUE(record::bind_body(leaf.header, leaf.salt, leaf.body).has_value());
  sign_with(leaf, key);
}

std::string note_body(Scene& s) {
  v1::ObservationsBody body;
  body.ParseFromString(s.job.base.leaves[s.job.note_leaf].body);
  body.mutable_observation(0)->mutable_note()->set_text("All was well.");
  return body.SerializeAsString();
}

Leaf by(const Writer& writer, const Scene& s, Kind kind, const std::string& body) {
  Leaf leaf = s.job.base.leaves.back();
  leaf.header.device_id = writer.id;
  leaf.header.kind = kind;
  leaf.header.job_id = s.job.id;
  leaf.header.epoch = 1;
  leaf.header.seq = 1;
  leaf.body = body;
  EXPECT_TRUE(record::bind_body(leaf.header, leaf.salt, leaf.body).has_value());
  sign_with(leaf, writer.key);
  return leaf;
}

v1::EnrolBody enrolment(const Scene& s) {
  v1::EnrolBody body;
  body.ParseFromString(s.job.base.leaves[s.job.enrol_leaf].body);
  return body;
}

std::vector<Attack> on_signatures() {
  const auto rewritten = [](const SecretKey& (*key)(Scene&)) {
    return on_log([key](Scene& s, std::vector<Leaf>& log) {
      say_instead(log[s.job.note_leaf], note_body(s), key(s));
    });
  };
  static const SecretKey stranger = SecretKey::generate();
  return {
      {"write a truck's entry with the admin's key", By::kBundle, 4, "not signed by the key",
       rewritten([](Scene& s) -> const SecretKey& { return s.job.base.admin.key; })},
      {"write a truck's entry with the log key", By::kBundle, 4, "not signed by the key",
       rewritten([](Scene& s) -> const SecretKey& { return s.job.base.log_key; })},
      {"write a truck's entry with a made-up key", By::kBundle, 4, "not signed by the key",
       rewritten([](Scene&) -> const SecretKey& { return stranger; })},
      {"edit a truck's entry and keep its signature", By::kBundle, 4, "not signed by the key",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         Leaf& leaf = log[s.inner_leaf()];
         leaf.entry[88 + s.pick(8)] ^= 1;  // Its wall clock.
         leaf.header = record::decode_header(leaf.entry).value();
       })},
      {"write a finding with the admin's key", By::kBundle, 4, "no admin key may sign",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         log.push_back(by(s.job.base.admin, s, Kind::kFinding, ""));
       })},
      {"write a claim with the service key", By::kBundle, 4, "no service key may sign",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         log.push_back(by(s.job.base.service, s, Kind::kClaim, ""));
       })},
      {"write a base's entry under a truck's name", By::kBundle, 4, "only the base may write",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         Leaf leaf = by(s.job.base.service, s, Kind::kFinding, "");
         leaf.header.device_id = s.job.truck.id;
         leaf.header.seq = s.job.truck.seq + 1;
         sign_with(leaf, s.job.base.admin.key);
         log.push_back(leaf);
       })},
      {"let a device speak that nobody enrolled", By::kBundle, 4, "no entry before it enrols",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         Writer ghost;
         log.push_back(by(ghost, s, Kind::kObservations, note_body(s)));
       })},
  };
}

std::vector<Attack> on_enrolment() {
  return {
      {"enrol a second key for the same truck", By::kBundle, 4, "already in use",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         v1::EnrolBody body = enrolment(s);
         body.set_public_key(string_of(SecretKey::generate().public_key().bytes));
         log.push_back(by(s.job.base.admin, s, Kind::kEnrol, body.SerializeAsString()));
       })},
      {"replace the truck's enrolment by one with another key", By::kBundle, 4, "not signed by",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         v1::EnrolBody body = enrolment(s);
         body.set_public_key(string_of(SecretKey::generate().public_key().bytes));
         log[s.job.enrol_leaf].body = body.SerializeAsString();
       })},
      {"rewrite the enrolment's name", By::kBundle, 5, "does not begin where its chain must",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         v1::EnrolBody body = enrolment(s);
         body.set_device_name("truck-8");
         log[s.job.enrol_leaf].body = body.SerializeAsString();
       })},
      {"leave the enrolment out", By::kBundle, 4, "no entry before it enrols",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         log.erase(log.begin() + static_cast<long>(s.job.enrol_leaf));
       })},
      {"log the truck's first entries before its enrolment", By::kBundle, 4, "no entry before it",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         std::swap(log[s.job.enrol_leaf], log[s.job.enrol_leaf + 1]);
       })},
      {"enrol the truck under an id of the roster", By::kBundle, 4, "already in use",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         v1::EnrolBody body = enrolment(s);
         body.set_device_id(string_of(s.job.base.service.id));
         log.push_back(by(s.job.base.admin, s, Kind::kEnrol, body.SerializeAsString()));
       })},
  };
}

/// A rotation to `next`, signed by `old` and by next itself.
std::string rotation(const Scene& s, const SecretKey& signer, const SecretKey& next) {
  const std::string id = string_of(s.job.truck.id);
  const std::string old_key = string_of(s.job.truck.key.public_key().bytes);
  const std::string new_key = string_of(next.public_key().bytes);
  const std::string message = "fairlead/rotate/v1\n" + id + old_key + new_key;
  v1::RotateBody body;
  body.set_device_id(id);
  body.set_old_public_key(old_key);
  body.set_new_public_key(new_key);
  body.set_old_signature(string_of(signer.sign(message).bytes));
  body.set_new_signature(string_of(next.sign(message).bytes));
  return body.SerializeAsString();
}

std::vector<Attack> on_rotation() {
  return {
      {"rotate the truck's key without the truck", By::kBundle, 4, "old and the new key",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         const SecretKey next = SecretKey::generate();
         log.push_back(
             by(s.job.base.admin, s, Kind::kRotate, rotation(s, s.job.base.admin.key, next)));
       })},
      {"go on with a key after it was rotated away (stale key)", By::kBundle, 4, "not signed by",
       on_log([](Scene& s, std::vector<Leaf>& log) {
         // The truck agreed to the rotation; what follows is still under the old key.
         const SecretKey next = SecretKey::generate();
         const Leaf leaf =
             by(s.job.base.admin, s, Kind::kRotate, rotation(s, s.job.truck.key, next));
         log.insert(log.begin() + static_cast<long>(s.inner_leaf()), leaf);
       })},
      {"withhold the body of a rotation", By::kBundle, 4, "must be shown with its body",
       [](Scene& s) {
         s.record_job();
         const SecretKey next = SecretKey::generate();
         const uint64_t leaf =
             s.job.base.write(s.job.base.admin, Kind::kRotate, rotation(s, s.job.truck.key, next));
         s.rewrite_as(s.history());
         s.at(leaf).form = record::BodyForm::kBare;
       }},
      {"withhold the body of a revocation", By::kBundle, 4, "must be shown with its body",
       [](Scene& s) {
         s.record_job();
         v1::RevokeBody body;
         body.set_device_id(string_of(s.job.truck.id));
         body.set_last_epoch(1);
         body.set_last_seq(1);
         const uint64_t leaf =
             s.job.base.write(s.job.base.admin, Kind::kRevoke, body.SerializeAsString());
         s.rewrite_as(s.history());
         s.at(leaf).form = record::BodyForm::kBare;
       }},
      {"hide a revocation", By::kBundle, 5, "missing",
       [](Scene& s) {
         s.record_job();
         v1::RevokeBody body;
         body.set_device_id(string_of(s.job.truck.id));
         body.set_last_epoch(1);
         body.set_last_seq(1);
         const uint64_t leaf =
             s.job.base.write(s.job.base.admin, Kind::kRevoke, body.SerializeAsString());
         s.job.base.write(s.job.base.admin, Kind::kStop, "");
         s.rewrite_as(s.history());
         s.drop(leaf);
       }},
      {"hide the officer's first entries", By::kBundle, 5, "not the officer's first",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         s.drop(0);
       }},
  };
}

}  // namespace

std::vector<Attack> attacks_with_keys() {
  std::vector<Attack> out = on_signatures();
  for (auto* group : {on_enrolment, on_rotation}) {
    for (Attack& attack : group()) out.push_back(std::move(attack));
  }
  return out;
}

}  // namespace fairlead
