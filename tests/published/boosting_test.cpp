// Jump starting against published figures. Marks: [V] read in the source named, [V2] read in a
// secondary source, [M] from memory, [C] computed.
#include <gtest/gtest.h>

#include "daemon/physics/boosting_class.h"
#include "daemon/physics/boosting_order.h"
#include "daemon/physics/boosting_rest.h"

namespace fairlead::physics {
namespace {

ClampTimes at(double a, double b, double c, double d) {
  return {exactly(a), exactly(b), exactly(c), exactly(d)};
}

// Order [V2: five pages, an owner manual among them]; one page starts at the source's positive, so
// the last connection and the first disconnection decide.
TEST(Boosting, Order) {
  const auto on = [](const ClampTimes& times) { return check_connecting(times).value(); };
  const auto off = [](const ClampTimes& times) { return check_disconnecting(times).value(); };
  EXPECT_EQ(worst_of(on(at(0, 10, 20, 30))), Verdict::kMet);
  EXPECT_EQ(on(at(0, 10, 20, 30))[1].verdict, Verdict::kMet);
  EXPECT_EQ(worst_of(on(at(10, 0, 20, 30))), Verdict::kMet);  // The one page's order.
  EXPECT_EQ(on(at(10, 0, 20, 30))[1].verdict, Verdict::kDeviated);
  EXPECT_EQ(worst_of(on(at(0, 10, 30, 20))), Verdict::kDeviated);
  EXPECT_EQ(on(at(0, 10, 30, 20))[0].margin, exactly(-10));
  EXPECT_EQ(worst_of(off(at(30, 20, 10, 0))), Verdict::kMet);
  EXPECT_EQ(off(at(30, 20, 10, 0))[1].verdict, Verdict::kMet);
  EXPECT_EQ(worst_of(off(at(0, 20, 10, 5))), Verdict::kDeviated);
  EXPECT_EQ(off(at(0, 20, 10, 5))[0].margin, exactly(-5));
  ClampTimes fuzzy = at(0, 10, 20, 30);
  fuzzy[2] = Interval{20, 40};
  EXPECT_EQ(worst_of(on(fuzzy)), Verdict::kUnproven);
  fuzzy[2] = std::nullopt;
  EXPECT_EQ(worst_of(on(fuzzy)), Verdict::kUnproven);
}

struct PrintedRow {
  double charge, volts;
  Interval gravity;  // {0, 0}: not printed.
};
void expect_table(RestTable table, std::initializer_list<PrintedRow> printed, Standing standing) {
  const auto rows = rest_rows(table);
  ASSERT_EQ(rows.size(), printed.size());
  size_t i = 0;
  for (const PrintedRow& row : printed) {
    EXPECT_EQ(rows[i].charge, row.charge);
    EXPECT_EQ(rows[i].volts, row.volts);
    EXPECT_EQ(rows[i].gravity.value_or(Interval{}), row.gravity);
    ++i;
    const auto found = charge_at_rest(table, exactly(row.volts), 24).value();
    EXPECT_NEAR(found.charge.hi, row.charge, 1e-12);
    EXPECT_EQ(found.table, name_of(table));
  }
  EXPECT_EQ(standing_of(table), standing);
}

// Rest voltage of 12 V lead-acid at 25 C: a typical table [M], variants A and B [V2].
TEST(Boosting, RestVoltageTables) {
  expect_table(RestTable::kTypical,
               {{1.00, 12.65, exactly(1.265)},
                {0.75, 12.45, exactly(1.225)},
                {0.50, 12.24, exactly(1.190)},
                {0.25, 12.06, exactly(1.155)},
                {0.00, 11.89, exactly(1.120)}},
               Standing::kMemory);
  expect_table(
      RestTable::kVariantA,
      {{1.00, 12.6, {}}, {0.75, 12.4, {}}, {0.50, 12.2, {}}, {0.25, 12.0, {}}, {0.00, 11.6, {}}},
      Standing::kSecondary);
  expect_table(RestTable::kVariantB,
               {{1.00, 12.66, {1.260, 1.280}},
                {0.75, 12.45, {1.230, 1.250}},
                {0.50, 12.30, {1.200, 1.220}},
                {0.25, 12.15, {1.170, 1.190}}},
               Standing::kSecondary);
  EXPECT_EQ(charge_at_rest(RestTable::kVariantB, exactly(12), 24)->charge, (Interval{0, 0.25}));
  EXPECT_EQ(charge_at_rest(RestTable::kVariantA, exactly(13), 24)->charge, exactly(1));
  EXPECT_EQ(charge_at_rest(RestTable::kVariantA, exactly(10), 24)->charge, exactly(0));
}

// Sources differ by 0.1 to 0.3 V when low; a meter of 1 % is 120 mV, about 15 % of charge [V2].
TEST(Boosting, RestVoltageIsVague) {
  const auto found = charge_at_rest(RestTable::kVariantA, plus_minus(12.3, 0.12), 24).value();
  EXPECT_NEAR((found.charge.hi - found.charge.lo) / 2, 0.15, 0.005);
  const auto all = charge_at_rest_of_all(exactly(12.1), 24).value();
  EXPECT_EQ(all.table, "all tables");
  EXPECT_LT(all.charge.lo, 0.2);
  EXPECT_GT(all.charge.hi, 0.3);
  // Surface charge may take 6 hours and more to fade [V2]: before that nothing is shown.
  const auto fresh = charge_at_rest(RestTable::kVariantA, exactly(12.6), 1).value();
  EXPECT_EQ(check_charge(fresh, 0.5).verdict, Verdict::kUnproven);
  const auto rested = charge_at_rest(RestTable::kVariantA, exactly(12.6), 6).value();
  EXPECT_EQ(check_charge(rested, 0.5).verdict, Verdict::kMet);
  EXPECT_NE(check_charge(rested, 0.5).words.find("variant A"), std::string::npos);
  EXPECT_EQ(kRestHours, 6);
}

// ISO 16750-2:2010 tables 1 and 2 [V: extract].
TEST(Boosting, SupplyCodes) {
  struct Row {
    char code;
    VoltageClass system;
    double min_v, max_v;
  };
  const Row rows[] = {{'A', VoltageClass::k12, 6, 16},  {'B', VoltageClass::k12, 8, 16},
                      {'C', VoltageClass::k12, 9, 16},  {'D', VoltageClass::k12, 10.5, 16},
                      {'E', VoltageClass::k24, 10, 32}, {'F', VoltageClass::k24, 16, 32},
                      {'G', VoltageClass::k24, 22, 32}, {'H', VoltageClass::k24, 18, 32}};
  EXPECT_EQ(supply_codes().size(), std::size(rows));
  for (const Row& row : rows) {
    const auto found = supply_code(row.code);
    ASSERT_TRUE(found) << row.code;
    EXPECT_EQ(found->system, row.system);
    EXPECT_EQ(found->min_v, row.min_v);
    EXPECT_EQ(found->max_v, row.max_v);
  }
  EXPECT_FALSE(supply_code('Z'));
}

// Load dump test A [V: table in a journal]; jump start, long overvoltage, reversed [M].
TEST(Boosting, SupplyTests) {
  ASSERT_EQ(load_dumps().size(), 2U);
  const LoadDump twelve = load_dumps()[0], twenty_four = load_dumps()[1];
  EXPECT_EQ(twelve.peak_v, (Interval{79, 101}));
  EXPECT_EQ(twelve.resistance_ohm, (Interval{0.5, 4}));
  EXPECT_EQ(twelve.milliseconds, (Interval{40, 400}));
  EXPECT_EQ(twenty_four.peak_v, (Interval{151, 202}));
  EXPECT_EQ(twenty_four.resistance_ohm, (Interval{1, 8}));
  EXPECT_EQ(twenty_four.milliseconds, (Interval{100, 350}));
  EXPECT_EQ(kLoadDumpPulses, 10);
  EXPECT_EQ(kLoadDumpEveryS, 60);
  const auto tests = supply_tests_12();
  ASSERT_EQ(tests.size(), 3U);
  EXPECT_EQ(tests[0].volts, 24);
  EXPECT_EQ(tests[0].seconds, 60);
  EXPECT_EQ(tests[1].volts, 18);
  EXPECT_EQ(tests[1].seconds, 3600);
  EXPECT_EQ(tests[2].volts, -14);
  EXPECT_EQ(tests[2].seconds, 60);
}

// Bands of a 48 V net [M].
TEST(Boosting, Bands48) {
  const auto band = [](double volts) {
    const Bands48 found = bands_48(exactly(volts)).value();
    EXPECT_EQ(found.least, found.most) << volts;
    return found.least;
  };
  EXPECT_EQ(band(19), Band48::kStorageProtection);
  EXPECT_EQ(band(24), Band48::kLowerLimited);
  EXPECT_EQ(band(35.9), Band48::kLowerLimited);
  EXPECT_EQ(band(36), Band48::kUnrestricted);
  EXPECT_EQ(band(51.9), Band48::kUnrestricted);
  EXPECT_EQ(band(53), Band48::kUpperLimited);
  EXPECT_EQ(band(57), Band48::kOvervoltage);
  EXPECT_EQ(band(60), Band48::kAboveTouchLimit);
  EXPECT_EQ(bands_48(exactly(22))->least, Band48::kStorageProtection);  // Sources: 20 or 24 V.
  EXPECT_EQ(bands_48(exactly(22))->most, Band48::kLowerLimited);
  EXPECT_EQ(bands_48(exactly(59))->most, Band48::kAboveTouchLimit);
  EXPECT_EQ(kTouchLimitV, 60);
}

// Detector hints [C, M].
TEST(Boosting, Hints) {
  const auto hint = [](double volts, VoltageClass job) { return hint_at(exactly(volts), job); };
  EXPECT_EQ(hint(-0.6, VoltageClass::k12), Hint::kReversed);
  EXPECT_EQ(hint(-0.4, VoltageClass::k12), Hint::kNone);
  EXPECT_EQ(hint(23, VoltageClass::k12), Hint::k24VoltSource);
  EXPECT_EQ(hint(30, VoltageClass::k12), Hint::k24VoltSource);
  EXPECT_EQ(hint(25, VoltageClass::k24), Hint::kNone);
  EXPECT_EQ(hint(36, VoltageClass::k12), Hint::k48VoltNet);
  EXPECT_EQ(hint(60, VoltageClass::k24), Hint::k48VoltNet);
  EXPECT_EQ(hint(48, VoltageClass::k48), Hint::kNone);
  EXPECT_EQ(hint(14, VoltageClass::k12), Hint::kNone);
  EXPECT_EQ(hint_at({22.9, 23.1}, VoltageClass::k12), Hint::kNone);
}

// What the judge reads clamps by is tied to the same figures: 12 V is code C, 24 V ends where its
// codes do [V], 48 V is the hint's net [M]; a reading that hints at 24 V tells that class; the
// hint's -0.5 V ends a reversal, which begins lower (common practice, no source).
TEST(Boosting, TheJudgesReadingOfClamps) {
  EXPECT_EQ(kSource12V, (Interval{supply_code('C')->min_v, supply_code('C')->max_v}));
  for (const char code : {'E', 'F', 'G', 'H'}) EXPECT_EQ(kSource24V.hi, supply_code(code)->max_v);
  EXPECT_LE(kSource24V.lo, kHint24V.lo);
  EXPECT_GE(kSource24V.hi, kHint24V.hi);
  EXPECT_EQ(kSource48V, kHint48V);
  EXPECT_EQ(kSource48V.hi, kTouchLimitV);
  EXPECT_LT(kReversedSurelyV, kReversedBelowV);
  EXPECT_EQ(hint_at(exactly(kReversedSurelyV), VoltageClass::k12), Hint::kReversed);
  EXPECT_EQ(hint_at(exactly(kReversedBelowV), VoltageClass::k12), Hint::kNone);
}

// The invented fleet's window of 11.0 to 15.0 V: J-101 peaks at 14.4 (+0.6), J-108's 25.8 is -10.8
// (+-0.1 V); equal nominal voltages [V2].
TEST(Boosting, WindowAndClass) {
  EXPECT_NEAR(check_window(exactly(14.4), 11, 15)->margin.lo, 0.6, 1e-9);
  const auto wrong = check_window(plus_minus(25.8, 0.1), 11, 15).value();
  EXPECT_NEAR(wrong.margin.lo, -10.9, 1e-9);
  EXPECT_NEAR(wrong.margin.hi, -10.7, 1e-9);
  EXPECT_EQ(wrong.verdict, Verdict::kDeviated);
  EXPECT_EQ(check_window({10.9, 11.1}, 11, 15)->verdict, Verdict::kUnproven);
  EXPECT_EQ(check_window({11, 15}, 11, 15)->margin, (Interval{0, 2}));
  for (const VoltageClass one : {VoltageClass::k12, VoltageClass::k24, VoltageClass::k48}) {
    for (const VoltageClass other : {VoltageClass::k12, VoltageClass::k24, VoltageClass::k48})
      EXPECT_EQ(check_class(one, other).verdict == Verdict::kMet, one == other);
  }
}

}  // namespace
}  // namespace fairlead::physics
