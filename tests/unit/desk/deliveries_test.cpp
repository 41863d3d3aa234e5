// Summaries that go out by themselves: once a period in the owner's zone, across restarts and cuts;
// nothing mailed before the owner's yes; failures are entries. Zone rules are those of the system's
// tzdata: Europe/Dublin is UTC+1 from the last Sunday of March to that of October (IANA tzdata).
#include "daemon/desk/deliveries.h"

#include <gmock/gmock.h>

#include <algorithm>
#include <fstream>

#include "daemon/base/time_text.h"
#include "daemon/desk/summaries.h"
#include "fairlead/v1/record.pb.h"
#include "tests/unit/desk/small_desk.h"

namespace fairlead::desk {
namespace {

using testing::HasSubstr;

int64_t us(const std::string& text) { return *parse_time_us(text); }
std::string text_of(const Period& period) {
  return format_time_us(period.from_us).substr(0, 16) + " " +
         format_time_us(period.to_us).substr(0, 16);
}
std::string at(Every every, const char* zone, const char* time) {
  const auto period = period_at(every, zone, us(time));
  return period ? text_of(*period) : period.error().message;
}

TEST(Calendar, PeriodsAreTheOwnersOwnMidnights) {
  EXPECT_EQ(at(Every::kMonth, "UTC", "2027-02-14T10:00:00Z"), "2027-02-01T00:00 2027-03-01T00:00");
  // March 2027 in Dublin ends in summer time.
  EXPECT_EQ(at(Every::kMonth, "Europe/Dublin", "2027-03-14T10:00:00Z"),
            "2027-03-01T00:00 2027-03-31T23:00");
  EXPECT_EQ(at(Every::kQuarter, "Europe/Dublin", "2027-05-01T00:00:00Z"),
            "2027-03-31T23:00 2027-06-30T23:00");
  EXPECT_EQ(at(Every::kQuarter, "America/Chicago", "2027-12-31T23:00:00Z"),
            "2027-10-01T05:00 2028-01-01T06:00");
  // 2027-03-29 is a Monday; the week before it has one hour less.
  EXPECT_EQ(at(Every::kWeek, "Europe/Dublin", "2027-03-28T12:00:00Z"),
            "2027-03-22T00:00 2027-03-28T23:00");
  EXPECT_EQ(at(Every::kWeek, "UTC", "2027-03-29T00:00:00Z"), "2027-03-29T00:00 2027-04-05T00:00");
  EXPECT_THAT(at(Every::kWeek, "Europe/Nowhere", "2027-03-29T00:00:00Z"),
              HasSubstr("write an IANA name"));
}

TEST(Calendar, PeriodsMeetWithoutGapOrOverlap) {
  for (const char* zone : {"Europe/Dublin", "America/Sao_Paulo", "Asia/Kathmandu"}) {
    for (const Every every : {Every::kWeek, Every::kMonth, Every::kQuarter}) {
      int64_t next = period_at(every, zone, us("2017-06-01T00:00:00Z"))->to_us;
      for (int i = 0; i < 60; ++i) {
        const auto period = period_at(every, zone, next);
        ASSERT_TRUE(period.has_value());
        ASSERT_EQ(period->from_us, next) << zone << " " << i;
        ASSERT_EQ(period_at(every, zone, period->to_us - 1), *period) << zone << " " << i;
        next = period->to_us;
      }
    }
  }
}

// The last change of tzdata's rule EU before, and the two in 2027: 01:00 UTC on the last Sundays of
// March and October.
TEST(Calendar, OffsetsOfAZoneOneByOne) {
  const auto all = offsets_of("Europe/Dublin", us("2027-12-31T00:00:00Z"));
  ASSERT_TRUE(all.has_value()) << all.error().message;
  ASSERT_GT(all->size(), 100u);
  EXPECT_TRUE(std::ranges::is_sorted(*all, {}, &reports::OffsetSince::from_us));
  const auto& last = *all;
  const auto text = [&](size_t back) {
    const auto& one = last[last.size() - back];
    return format_time_us(one.from_us).substr(0, 16) + " " + std::to_string(one.minutes);
  };
  EXPECT_EQ(text(1), "2027-10-31T01:00 0");
  EXPECT_EQ(text(2), "2027-03-28T01:00 60");
  EXPECT_EQ(text(3), "2026-10-25T01:00 0");
  EXPECT_EQ(offsets_of("UTC", us("2027-12-31T00:00:00Z"))->size(), 1u);
  EXPECT_EQ(offsets_of("Europe/Nowhere", 0).error().code, Code::kBadInput);
}

class DeliveriesTest : public testing::Test {
 protected:
  DeliveriesTest() {
    // When and to whom is asked here; the pages themselves are laid out in unit_reports_pdf and, by
    // a whole base, in mail_from_base.
    base_.desk().make_pdf = [](const std::string& html, const reports::PdfOptions&) {
      return Result<std::string>("%PDF-1.7 of " + hex_of(sha256(html)));
    };
    open({"insurer@example.org"});
  }

  void open(const std::vector<std::string>& to) {
    deliveries_.reset();
    DeliveryOptions options;
    options.mail.server = "smtp://127.0.0.1:1";
    options.mail.from = "base@example.org";
    options.schedules = {
        {.name = "insurer", .every = "monthly", .zone = "Europe/Dublin", .to = to}};
    options.now_us = [this] { return now_us_; };
    options.send = [this](const Mail& mail) {
      mails_.push_back(mail);
      return answer_;
    };
    auto opened = Deliveries::open(base_.desk(), std::move(options));
    ASSERT_TRUE(opened.has_value()) << opened.error().message;
    deliveries_ = std::move(*opened);
  }
  size_t issued() { return static_cast<size_t>(list_summaries(base_.desk(), {})->summary_size()); }
  std::vector<std::string> alarms() {
    std::vector<std::string> out;
    const auto entries = base_.desk().ledger().entries_of_kind(record::Kind::kAlarm, 0, 1'000);
    if (!entries) return {entries.error().message};
    for (const auto& entry : *entries) {
      v1::AlarmBody body;
      EXPECT_TRUE(body.ParseFromString(entry.body));
      out.push_back(body.words());
    }
    return out;
  }
  void approve() { ASSERT_TRUE(deliveries_->decide("insurer", true).has_value()); }
  std::string state() { return deliveries_->list().delivery(0).state(); }
  std::filesystem::path folder() { return base_.folder() / "outbox" / "insurer-20270301-20270331"; }

  SmallDesk base_;
  int64_t now_us_ = us("2027-03-15T12:00:00Z");
  Status answer_;
  std::vector<Mail> mails_;
  std::unique_ptr<Deliveries> deliveries_;
};

TEST_F(DeliveriesTest, OnceAPeriodAcrossRestartsAndNothingBeforeTheOwnersYes) {
  deliveries_->tick();
  EXPECT_EQ(issued(), 0u);               // Nothing of the time before the schedule was there.
  now_us_ = us("2027-03-31T23:00:00Z");  // Midnight in Dublin.
  deliveries_->tick();
  deliveries_->tick();
  EXPECT_EQ(issued(), 1u);
  EXPECT_TRUE(std::filesystem::exists(folder() / "summary.pdf"));
  EXPECT_TRUE(mails_.empty());
  EXPECT_EQ(state(), "WAITS_FOR_YOUR_YES");
  approve();
  deliveries_->tick();
  deliveries_->tick();
  ASSERT_EQ(mails_.size(), 1u);
  EXPECT_THAT(mails_[0].to, testing::ElementsAre("insurer@example.org"));
  EXPECT_THAT(mails_[0].subject, HasSubstr("insurer-20270301-20270331"));
  EXPECT_EQ(mails_[0].files.size(), 6u);
  EXPECT_EQ(state(), "SENT");
  for (int restart = 0; restart < 5; ++restart) {
    open({"insurer@example.org"});
    now_us_ += 3'600'000'000;
    deliveries_->tick();
  }
  EXPECT_EQ(issued(), 1u);
  EXPECT_EQ(mails_.size(), 1u);
  EXPECT_TRUE(alarms().empty());
  // Off for two months: both are owed, once each.
  now_us_ = us("2027-06-15T00:00:00Z");
  open({"insurer@example.org"});
  deliveries_->tick();
  deliveries_->tick();
  EXPECT_EQ(issued(), 3u);
  EXPECT_EQ(mails_.size(), 3u);
}

// Each place where a power cut can fall, made by hand: the folder as it would lie there.
TEST_F(DeliveriesTest, ACutAtEachStepLeavesOneIssue) {
  now_us_ = us("2027-04-01T12:00:00Z");
  deliveries_->tick();
  ASSERT_EQ(issued(), 1u);
  const auto state_file = base_.folder() / "schedules" / "insurer";
  const auto part = std::filesystem::path(folder().string() + ".part");
  const auto back = [&](bool named, bool queued) {
    deliveries_.reset();
    // The state as before the period was written.
    std::ofstream(state_file) << "fairlead schedule v1\ndone_us " << us("2027-03-01T00:00:00Z")
                              << "\napproved \n";
    if (!queued) std::filesystem::remove(folder() / "delivery");
    if (!named) std::filesystem::rename(folder(), part);
    open({"insurer@example.org"});
    deliveries_->tick();
  };
  back(true, true);  // Before the state was kept.
  EXPECT_EQ(issued(), 1u);
  back(true, false);  // Before the queue was kept.
  EXPECT_EQ(issued(), 1u);
  back(false, false);  // On record, before the folder had its name.
  EXPECT_EQ(issued(), 1u);
  EXPECT_TRUE(std::filesystem::exists(folder() / "delivery"));
  // Files half written, nothing on record: made anew.
  deliveries_.reset();
  std::filesystem::remove_all(folder());
  std::filesystem::create_directories(part);
  std::ofstream(part / "summary.json") << "{";
  std::ofstream(state_file) << "fairlead schedule v1\ndone_us " << us("2027-03-01T00:00:00Z")
                            << "\napproved \n";
  open({"insurer@example.org"});
  deliveries_->tick();
  EXPECT_EQ(issued(), 2u);
  EXPECT_FALSE(std::filesystem::exists(part));
}

TEST_F(DeliveriesTest, AServerThatIsAwayIsTriedAgainAndAlarmsOnceAtFirst) {
  approve();
  now_us_ = us("2027-04-01T00:00:00Z");
  answer_ = fail(Code::kUnavailable, "smtp://127.0.0.1:1: connection refused");
  deliveries_->tick();
  EXPECT_EQ(state(), "WAITING");
  EXPECT_THAT(alarms(), testing::ElementsAre(HasSubstr("waits: smtp://127.0.0.1:1")));
  deliveries_->tick();  // Not before its time.
  EXPECT_EQ(mails_.size(), 1u);
  for (int i = 0; i < 5; ++i) {
    now_us_ = us(deliveries_->list().delivery(0).next_try());
    open({"insurer@example.org"});  // The queue outlives the base.
    deliveries_->tick();
  }
  EXPECT_EQ(mails_.size(), 6u);
  EXPECT_EQ(alarms().size(), 1u);
  answer_ = {};
  now_us_ = us(deliveries_->list().delivery(0).next_try());
  deliveries_->tick();
  EXPECT_EQ(state(), "SENT");
  EXPECT_EQ(mails_.front().id, mails_.back().id);
}

TEST_F(DeliveriesTest, ARefusalForGoodAndAWeekWithoutAServerEndIt) {
  approve();
  now_us_ = us("2027-04-01T00:00:00Z");
  answer_ = fail(Code::kDenied, "550 no such box");
  deliveries_->tick();
  EXPECT_EQ(state(), "FAILED");
  EXPECT_THAT(alarms(), testing::ElementsAre(HasSubstr("given up: 550")));
  now_us_ = us("2027-05-01T00:00:00Z");
  answer_ = fail(Code::kUnavailable, "away");
  deliveries_->tick();
  for (int i = 0; i < 100 && deliveries_->list().delivery(1).state() == "WAITING"; ++i) {
    now_us_ += 6 * 3'600'000'000LL;
    deliveries_->tick();
  }
  EXPECT_EQ(deliveries_->list().delivery(1).state(), "FAILED");
  EXPECT_EQ(alarms().size(), 3u);
}

TEST_F(DeliveriesTest, OtherRecipientsNeedAnotherYes) {
  approve();
  open({"insurer@example.org", "other@example.org"});
  EXPECT_FALSE(deliveries_->list().schedule(0).approved());
  now_us_ = us("2027-04-01T00:00:00Z");
  deliveries_->tick();
  EXPECT_TRUE(mails_.empty());
  approve();
  deliveries_->tick();
  ASSERT_EQ(mails_.size(), 1u);
  EXPECT_EQ(mails_[0].to.size(), 2u);
  ASSERT_TRUE(deliveries_->decide("insurer", false).has_value());
  EXPECT_EQ(deliveries_->decide("nobody", true).error().code, Code::kNotFound);
}

TEST_F(DeliveriesTest, ThePreviewIsOfTheLastWholePeriodAndLeavesNoEntry) {
  const auto asked = deliveries_->preview_of("insurer");
  ASSERT_TRUE(asked.has_value()) << asked.error().message;
  EXPECT_EQ(asked->from(), "2027-02-01T00:00:00.000000Z");
  EXPECT_EQ(asked->to(), "2027-03-01T00:00:00.000000Z");
  const auto preview =
      write_summary(base_.desk(), *asked, {.recipients = *deliveries_->recipients_of("insurer")});
  ASSERT_TRUE(preview.has_value()) << preview.error().message;
  EXPECT_THAT(preview->file(0).content(), HasSubstr("Preview: not issued"));
  EXPECT_THAT(preview->file(0).content(), HasSubstr("Sent to insurer@example.org"));
  EXPECT_EQ(issued(), 0u);
}

}  // namespace
}  // namespace fairlead::desk
