// Countersigning at the base: requests and answers by C2SP tlog-witness and tlog-cosignature, the
// daily head and the alarm after 72 h (no published source: the figures are this project's own).
// The clock is the test's; nothing waits.
#include "daemon/desk/countersigning.h"

#include <gtest/gtest.h>

#include <fstream>

#include "daemon/base/time_text.h"
#include "daemon/record/add_checkpoint.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::desk {
namespace {

constexpr int64_t kHour_us = 3'600'000'000;

struct Witness {
  explicit Witness(const std::string& name)
      : key(*record::make_verifier_key(name, record::NoteKeyType::kCosignature,
                                       secret.public_key())) {}
  /// Cosigns the checkpoint of an add-checkpoint body without looking at it.
  [[nodiscard]] std::string answer(const std::string& body, int64_t at_us) const {
    const auto request = record::parse_add_checkpoint(body);
    const auto note =
        request ? record::parse_note(request->note) : std::unexpected(request.error());
    EXPECT_TRUE(note.has_value());
    return *record::cosignature_line(note->text, key, secret,
                                     static_cast<uint64_t>(at_us / 1'000'000));
  }
  [[nodiscard]] CountersignerConfig config() const {
    return {record::format_verifier_key(key), "http://127.0.0.1:1/", {}};
  }
  SecretKey secret = SecretKey::generate();
  record::VerifierKey key;
};

class CountersigningTest : public testing::Test {
 protected:
  CountersigningTest() {
    std::string name = (std::filesystem::temp_directory_path() / "cosign-desk-XXXXXX").string();
    EXPECT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    auto office = watch::Office::open(folder_, "ozzlewick");
    EXPECT_TRUE(office.has_value()) << office.error().message;
    office_ = std::move(*office);
    office_->ledger().allow_signing();
    start({insurer_.config()});
  }
  ~CountersigningTest() override {
    desk_.reset();
    office_.reset();
    std::filesystem::remove_all(folder_);
  }
  /// As after a restart of the daemon.
  void start(const std::vector<CountersignerConfig>& named, size_t threshold = 1) {
    desk_.reset();
    auto opened = Countersigning::open(*office_, named, threshold, [this] { return now_us_; });
    ASSERT_TRUE(opened.has_value()) << opened.error().message;
    desk_ = std::move(*opened);
  }
  [[nodiscard]] v1::GetCountersignResponse ask(const std::string& whom = "") {
    v1::GetCountersignRequest request;
    request.set_countersigner(whom);
    const auto asked = desk_->ask(request);
    EXPECT_TRUE(asked.has_value()) << asked.error().message;
    return asked.value_or(v1::GetCountersignResponse{});
  }
  [[nodiscard]] Result<v1::TakeCountersignResponse> take(const std::string& answer,
                                                         uint32_t status = 0) {
    v1::TakeCountersignRequest request;
    request.set_answer(answer);
    request.set_status(status);
    return desk_->take(request);
  }
  void grow() {
    v1::RefusedBody body;
    body.set_reason("test");
    ASSERT_TRUE(office_->write(record::Kind::kRefused, {}, body).has_value());
  }
  [[nodiscard]] size_t count(record::Kind kind) {
    return office_->ledger().entries_of_kind(kind, 0, 100)->size();
  }
  [[nodiscard]] std::vector<std::string> mails() const {
    std::vector<std::string> names;
    for (const auto& item : std::filesystem::directory_iterator(folder_ / "outbox"))
      names.push_back(item.path().filename().string());
    std::ranges::sort(names);
    return names;
  }
  [[nodiscard]] std::string mail(const std::string& name) const {
    return read_small_file(folder_ / "outbox" / name, 100'000).value_or("");
  }

  int64_t now_us_ = *parse_time_us("2026-11-25T09:00:00Z");
  Witness insurer_{"insurer.example/heads"};
  std::filesystem::path folder_;
  std::unique_ptr<watch::Office> office_;
  std::unique_ptr<Countersigning> desk_;
};

TEST_F(CountersigningTest, AnAnswerGoesOnRecordAndTheNextRequestStartsFromIt) {
  const auto first = ask();
  EXPECT_EQ(first.old_size(), 0u);
  EXPECT_LE(first.body().size(), 3'072u);
  EXPECT_EQ(first.body().substr(0, 7), "old 0\n\n");
  const auto taken = take(insurer_.answer(first.body(), now_us_));
  ASSERT_TRUE(taken.has_value()) << taken.error().message;
  ASSERT_EQ(taken->accepted_size(), 1);
  EXPECT_EQ(taken->accepted(0).size(), first.size());
  const auto entry = office_->ledger().entry(taken->leaf_index());
  ASSERT_TRUE(entry.has_value());
  EXPECT_EQ(entry->header().kind, record::Kind::kHeadCosigned);
  EXPECT_EQ(entry->header().device_id, office_->roster().services.front().device_id);
  v1::HeadCosignedBody body;
  ASSERT_TRUE(body.ParseFromString(entry->body));
  const auto note = record::parse_note(body.note());
  ASSERT_TRUE(note.has_value());
  EXPECT_TRUE(record::open_checkpoint(*note, office_->roster().log).has_value());
  EXPECT_EQ(*record::verify_cosignature(*note, insurer_.key),
            static_cast<uint64_t>(now_us_ / 1'000'000));
  // A head over the entry follows at once, for trucks to see.
  EXPECT_GT(office_->ledger().head()->size, taken->leaf_index());

  grow();
  const auto second = ask();
  EXPECT_EQ(second.old_size(), first.size());
  const auto parsed = record::parse_add_checkpoint(second.body());
  ASSERT_TRUE(parsed.has_value());
  const auto new_head = record::parse_checkpoint(record::parse_note(parsed->note)->text);
  const auto old_head = record::parse_checkpoint(note->text);
  EXPECT_TRUE(record::verify_consistency(first.size(), old_head->root, second.size(),
                                         new_head->root, parsed->proof));
}

TEST_F(CountersigningTest, TheAnswerMayComeAfterTheLedgerGrewAndTheDaemonStartedAgain) {
  const std::string body = ask().body();
  grow();
  (void)ask();
  start({insurer_.config()});
  const auto taken = take(insurer_.answer(body, now_us_));
  ASSERT_TRUE(taken.has_value()) << taken.error().message;
  EXPECT_EQ(taken->accepted(0).size(), desk_->heads().newest()->size);
  const auto again = take(insurer_.answer(body, now_us_));
  ASSERT_TRUE(again.has_value());
  EXPECT_EQ(again->leaf_index(), taken->leaf_index());
  EXPECT_EQ(count(record::Kind::kHeadCosigned), 1u);
  start({insurer_.config()});
  EXPECT_EQ(desk_->heads().newest_by(insurer_.key.name)->size, taken->accepted(0).size());
}

TEST_F(CountersigningTest, WhatIsNotAGoodCosignatureOfOneOfOurHeadsIsRefused) {
  const std::string body = ask().body();
  const Witness stranger("stranger.example/w"), imposter("insurer.example/heads");
  EXPECT_NE(take(stranger.answer(body, now_us_)).error().message.find("nobody"), std::string::npos);
  EXPECT_FALSE(take(imposter.answer(body, now_us_)).has_value());
  std::string altered = body;
  altered[altered.find("\n\n") + 30] ^= 1;
  EXPECT_FALSE(take("— not base64\n").has_value());
  EXPECT_FALSE(take("").has_value());
  EXPECT_FALSE(take(std::string(20'000, 'x')).has_value());
  // Of another base's head: right key, other text.
  const std::string other = *record::cosignature_line(
      "elsewhere/fairlead/g1\n5\n47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=\n", insurer_.key,
      insurer_.secret, 1'790'000'000);
  EXPECT_NE(take(other).error().message.find("no head"), std::string::npos);
  // Right head, a time nobody can have.
  EXPECT_NE(take(insurer_.answer(body, now_us_ + 30 * kHour_us)).error().message.find("ahead"),
            std::string::npos);
  EXPECT_EQ(count(record::Kind::kHeadCosigned), 0u);
}

TEST_F(CountersigningTest, ARefusalSaysWhereToGoOnOrThatThisDiskIsOld) {
  const uint64_t own = office_->ledger().size();
  auto said = take("refused 409 another old size\n1\n");
  ASSERT_TRUE(said.has_value()) << said.error().message;
  EXPECT_EQ(said->stands_at(), 1u);
  said = take("1\n", 409);  // As a witness answers over HTTP.
  ASSERT_TRUE(said.has_value());
  EXPECT_EQ(said->stands_at(), 1u);
  EXPECT_EQ(take(std::to_string(own + 1) + "\n", 409).error().code, Code::kConflict);
  EXPECT_EQ(take("unknown log\n", 404).error().code, Code::kDenied);
  EXPECT_EQ(take("refused 422 bad proof\n").error().code, Code::kDenied);
  EXPECT_EQ(take("-1\n", 409).error().code, Code::kDenied);
  v1::GetCountersignRequest request;
  request.set_old_size(own + 5);
  EXPECT_EQ(desk_->ask(request).error().code, Code::kConflict);
}

TEST_F(CountersigningTest, ARestartedBaseSignsOnceTheCountersignerHasAnswered) {
  ASSERT_TRUE(take(insurer_.answer(ask().body(), now_us_)).has_value());
  for (const bool by_refusal : {false, true}) {
    desk_.reset();
    office_.reset();
    now_us_ += kHour_us;
    auto office = watch::Office::open(folder_, "ozzlewick", {.countersigned = true});
    ASSERT_TRUE(office.has_value()) << office.error().message;
    office_ = std::move(*office);
    start({insurer_.config()});
    EXPECT_TRUE(office_->heads().waiting());
    grow();
    EXPECT_EQ(office_->ledger().sign_head().error().code, Code::kUnavailable);
    const std::string body = ask().body();  // About the head published last.
    // What was signed before the start says nothing of where the countersigner stands now.
    ASSERT_TRUE(take(insurer_.answer(body, now_us_ - kHour_us / 2)).has_value());
    EXPECT_TRUE(office_->heads().waiting());
    EXPECT_EQ(take("1000000\n", 409).error().code, Code::kConflict);
    EXPECT_TRUE(office_->heads().waiting());
    const auto taken = by_refusal ? take("1\n", 409) : take(insurer_.answer(body, now_us_));
    ASSERT_TRUE(taken.has_value()) << taken.error().message;
    EXPECT_FALSE(office_->heads().waiting());
    EXPECT_TRUE(office_->ledger().sign_head().has_value());
  }
}

TEST_F(CountersigningTest, TwoCountersignersOfOneHeadStandInOneNote) {
  const Witness second("other.example/heads");
  start({insurer_.config(), second.config()}, 2);
  const std::string body = ask().body();
  ASSERT_TRUE(take(insurer_.answer(body, now_us_)).has_value());
  const auto taken = take(second.answer(body, now_us_ + 1'000'000));
  ASSERT_TRUE(taken.has_value()) << taken.error().message;
  const auto newest = desk_->heads().newest();
  EXPECT_EQ(newest->entry_leaf, taken->leaf_index());
  EXPECT_EQ(newest->cosignatures.size(), 2u);
  v1::GetStatusResponse status;
  desk_->add_status(status);
  ASSERT_EQ(status.countersigner_size(), 2);
  EXPECT_EQ(status.countersigner(0).size(), status.countersigner(1).size());
  EXPECT_NE(desk_->policy_text().find("group countersigners 2 w1 w2\nquorum countersigners\n"),
            std::string::npos);
}

TEST_F(CountersigningTest, AHeadGoesOutOnceADayReadyToBeSent) {
  ASSERT_TRUE(desk_->tick().has_value());
  ASSERT_TRUE(desk_->tick().has_value());
  now_us_ += 14 * kHour_us;  // 23:00 of the same day.
  ASSERT_TRUE(desk_->tick().has_value());
  EXPECT_EQ(mails(), std::vector<std::string>{"head-2026-11-25.txt"});
  const std::string text = mail("head-2026-11-25.txt");
  EXPECT_NE(text.find(record::fingerprint_of(office_->ledger().head()->root)), std::string::npos);
  // What stands between the marks is the request itself.
  const std::string begin = "-----BEGIN REQUEST-----\n", end = "-----END REQUEST-----\n";
  const size_t from = text.find(begin) + begin.size();
  const std::string body = text.substr(from, text.find(end) - from);
  EXPECT_TRUE(take(insurer_.answer(body, now_us_)).has_value());
  grow();
  now_us_ += 2 * kHour_us;  // Next day; a restart in between sends nothing twice.
  ASSERT_TRUE(desk_->tick().has_value());
  start({insurer_.config()});
  ASSERT_TRUE(desk_->tick().has_value());
  EXPECT_EQ(mails(), (std::vector<std::string>{"head-2026-11-25.txt", "head-2026-11-26.txt"}));
  EXPECT_NE(mail("head-2026-11-26.txt").find("\nold "), std::string::npos);
  EXPECT_EQ(mail("head-2026-11-26.txt").find("\nold 0\n"), std::string::npos);
}

TEST_F(CountersigningTest, AHeadThatAReportNamesWasMailed) {
  ASSERT_TRUE(desk_->tick().has_value());
  const uint64_t size = office_->ledger().size();
  const auto same = desk_->mailed_head(size - 1);
  ASSERT_TRUE(same.has_value() && same->has_value());
  EXPECT_EQ(mails().size(), 1u);
  grow();
  const auto fresh = desk_->mailed_head(office_->ledger().size());
  ASSERT_TRUE(fresh.has_value() && fresh->has_value());
  EXPECT_EQ(mails().size(), 2u);
  EXPECT_NE(mail("head-2026-11-25-2.txt").find(record::fingerprint_of((*fresh)->head.root)),
            std::string::npos);
}

TEST_F(CountersigningTest, SilenceFor72HoursIsOneAlarm) {
  ASSERT_TRUE(desk_->tick().has_value());
  now_us_ += 72 * kHour_us - 1;
  ASSERT_TRUE(desk_->tick().has_value());
  EXPECT_EQ(count(record::Kind::kAlarm), 0u);
  EXPECT_EQ(desk_->alarm(), "");
  now_us_ += 1;
  ASSERT_TRUE(desk_->tick().has_value());
  ASSERT_EQ(count(record::Kind::kAlarm), 1u);
  v1::AlarmBody body;
  ASSERT_TRUE(body.ParseFromString(
      office_->ledger().entries_of_kind(record::Kind::kAlarm, 0, 1)->front().body));
  EXPECT_EQ(body.cause(), v1::AlarmBody::NO_COSIGNATURE);
  now_us_ += 50 * kHour_us;
  start({insurer_.config()});
  ASSERT_TRUE(desk_->tick().has_value());
  EXPECT_EQ(count(record::Kind::kAlarm), 1u);
  EXPECT_NE(desk_->alarm().find("2026-11-25T09:00:00"), std::string::npos);
  v1::GetStatusResponse status;
  desk_->add_status(status);
  EXPECT_EQ(status.countersign_alarm(), desk_->alarm());

  ASSERT_TRUE(take(insurer_.answer(ask().body(), now_us_)).has_value());
  EXPECT_EQ(desk_->alarm(), "");
  // The next silence is another one; it counts from the next mail.
  now_us_ += 24 * kHour_us;
  ASSERT_TRUE(desk_->tick().has_value());
  now_us_ += 73 * kHour_us;
  ASSERT_TRUE(desk_->tick().has_value());
  EXPECT_EQ(count(record::Kind::kAlarm), 2u);
}

TEST_F(CountersigningTest, WithNobodyNamedNothingGoesOut) {
  start({});
  ASSERT_TRUE(desk_->tick().has_value());
  EXPECT_FALSE(desk_->mailed_head(1)->has_value());
  EXPECT_TRUE(mails().empty());
  EXPECT_EQ(desk_->ask({}).error().code, Code::kNotFound);
}

TEST_F(CountersigningTest, KeysThatCannotCountersignAreRefusedAtStart) {
  const auto open = [&](const std::vector<CountersignerConfig>& named) {
    return Countersigning::open(*office_, named, 1, [this] { return now_us_; });
  };
  EXPECT_FALSE(open({insurer_.config(), insurer_.config()}).has_value());
  EXPECT_FALSE(open({{record::format_verifier_key(office_->roster().log), "", {}}}).has_value());
  EXPECT_FALSE(open({{"insurer.example/heads+00000000+AAAA", "", {}}}).has_value());
}

}  // namespace
}  // namespace fairlead::desk
