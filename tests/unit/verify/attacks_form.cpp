// Heads, proofs, seal and sections are tampered with.
#include "tests/unit/verify/attack_scene.h"

namespace fairlead {
namespace {

std::function<void(Scene&)> on_bundle(std::function<void(Scene&)> change) {
  return [change = std::move(change)](Scene& s) {
    s.record_job();
    s.make_bundle();
    change(s);
  };
}

/// The sealed bytes, changed by hand.
std::function<void(Scene&)> on_bytes(std::function<void(Scene&)> change) {
  return on_bundle([change = std::move(change)](Scene& s) {
    s.bytes = s.job.base.seal(s.bundle);
    change(s);
  });
}

/// Puts a seal by `key` over everything before the seal.
std::string sealed_by(const Scene& s, const SecretKey& secret, const record::VerifierKey& key) {
  const std::string_view part = record::read_bundle(s.bytes)->sealed_part;
  const std::string note =
      record::sign_note(record::seal_text(s.job.base.origin(), part), key, secret).value();
  std::string out(part);
  out += '\x09';
  append_be(out, static_cast<uint64_t>(note.size()));
  return out + note;
}

/// The last head over the same leaves with another root, signed by the log.
std::string other_root(Scene& s) {
  const auto note = record::parse_note(s.bundle.heads.back()).value();
  record::Checkpoint head = record::parse_checkpoint(note.text).value();
  head.root[s.pick(32)] ^= 1;
  return record::sign_checkpoint(head, s.job.base.log, s.job.base.log_key).value();
}

/// The last line of the cosigned head pasted under an older one.
std::string borrowed_line(const Scene& s) {
  const std::string last(s.bundle.heads.back());
  return std::string(s.bundle.heads.front()) + last.substr(last.rfind('\n', last.size() - 2) + 1);
}

std::vector<Attack> on_heads() {
  return {
      {"show an older head as the last", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) { s.bundle.heads.pop_back(); })},
      {"sign another root for the same size", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) { s.bundle.heads.back() = s.keep(other_root(s)); })},
      {"alter a head after it was signed", By::kBundle, 2, "not signed by the log",
       on_bundle([](Scene& s) {
         std::string head(s.bundle.heads.back());
         const size_t size_line = head.find('\n') + 1;
         head[size_line] = head[size_line] == '9' ? '8' : static_cast<char>(head[size_line] + 1);
         s.bundle.heads.back() = s.keep(head);
       })},
      {"paste a cosignature under another head", By::kPolicy, 2, "does not verify",
       on_bundle([](Scene& s) { s.bundle.heads.front() = s.keep(borrowed_line(s)); })},
      {"forge a cosignature", By::kPolicy, 2, "does not verify", on_bundle([](Scene& s) {
         const SecretKey forger = SecretKey::generate();
         record::VerifierKey key = s.job.base.countersigner;
         key.key = forger.public_key();
         const auto note = record::parse_note(s.bundle.heads.front()).value();
         s.bundle.heads.front() =
             s.keep(std::string(s.bundle.heads.front()) +
                    record::cosignature_line(note.text, key, forger, 1'772'000'000).value());
       })},
      {"add a stranger's line to a head", By::kBundle, 2, "does not name", on_bundle([](Scene& s) {
         const SecretKey secret = SecretKey::generate();
         const auto key =
             record::make_verifier_key("x", record::NoteKeyType::kEd25519, secret.public_key());
         const auto note = record::parse_note(s.bundle.heads.back()).value();
         s.bundle.heads.back() =
             s.keep(std::string(s.bundle.heads.back()) +
                    record::note_signature_line(note.text, *key, secret).value());
       })},
      {"show the heads of another log", By::kBundle, 2, "another base", on_bundle([](Scene& s) {
         SmallBase other;
         other.sign_head(false);
         s.bundle.heads = {s.keep(other.heads()[0])};
       })},
      {"bring another roster", By::kBundle, 0, "not one the policy names",
       on_bundle([](Scene& s) { s.bundle.roster = s.keep(SmallBase().roster); })},
  };
}

std::vector<Attack> on_proofs() {
  return {
      {"leave out a consistency proof", By::kBundle, 8, "not shown to be a beginning",
       on_bundle([](Scene& s) { s.bundle.consistency.clear(); })},
      {"alter a consistency proof", By::kBundle, 8, "not shown to be a beginning",
       on_bundle([](Scene& s) { s.bundle.consistency[0].proof[0][s.pick(32)] ^= 1; })},
      {"add a consistency proof nobody asked for", By::kBundle, 8, "belongs to no head",
       on_bundle([](Scene& s) {
         const uint64_t last = s.bundle.consistency.back().size + 1;
         s.bundle.consistency.push_back(
             {last, s.job.base.tree().consistency(last, s.job.base.leaves.size())});
       })},
  };
}

std::vector<Attack> on_seal() {
  return {
      {"change a byte after sealing", By::kBundle, 1, "", on_bytes([](Scene& s) {
         // Inside a picture, which nothing before the seal's own hash depends on.
         const size_t at = s.bytes.find(std::string(100, '\x7f'));
         s.bytes[at + s.pick(100)] ^= 1;
       })},
      {"seal with the admin's key under the log's name", By::kBundle, 1, "", on_bytes([](Scene& s) {
         record::VerifierKey key = s.job.base.log;
         key.key = s.job.base.admin.key.public_key();
         s.bytes = sealed_by(s, s.job.base.admin.key, key);
       })},
      {"seal with a key of another name", By::kBundle, 1, "another key", on_bytes([](Scene& s) {
         const auto key =
             record::make_verifier_key("lot.example/fairlead/g2", record::NoteKeyType::kEd25519,
                                       s.job.base.admin.key.public_key());
         s.bytes = sealed_by(s, s.job.base.admin.key, *key);
       })},
      {"hang bytes behind the seal", By::kBundle, 0, "",
       on_bytes([](Scene& s) { s.bytes += std::string(1 + s.pick(20), 'x'); })},
      {"cut the bundle off", By::kBundle, 0, "",
       on_bytes([](Scene& s) { s.bytes.resize(s.pick(s.bytes.size())); })},
  };
}

}  // namespace

std::vector<Attack> attacks_on_form() {
  std::vector<Attack> out = on_heads();
  for (auto* group : {on_proofs, on_seal}) {
    for (Attack& attack : group()) out.push_back(std::move(attack));
  }
  return out;
}

}  // namespace fairlead
