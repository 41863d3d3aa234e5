// Facts that instruments tell: contact, pull, motion of deck, truck and car. Thresholds are
// choices of ours (common practice, no source), documented where they stand.
//
// Threads: pure functions.
#pragma once

#include <optional>
#include <utility>
#include <vector>

#include "daemon/judge/instrument_lasting.h"
#include "daemon/judge/job_lines.h"
#include "daemon/judge/series.h"
#include "daemon/judge/timeline.h"

namespace fairlead::judge {

/// Jaw contact as a fact: the word stands before the first sample. `lid_words`: when the lead was
/// said to be put on, and whether on the lid lead; contact counts for the point last said.
[[nodiscard]] Timeline contact_timeline(const Series& contact, const Timeline& word,
                                        const JobLines& lines,
                                        const std::vector<std::pair<int64_t, bool>>& lid_words,
                                        bool for_lid);

/// True from the first sample of a run at or above `on_n` that lasts `on_for_us`, until the first
/// of a run below 150 N that lasts 1 s; unknown in holes, and before the first sample.
[[nodiscard]] Timeline pull_timeline(const Series& pull, const JobLines& lines, int64_t on_n,
                                     int64_t on_for_us, Begun* begun = nullptr);

/// The deck moves while its tilt changes by more than 0.5 deg between neighbouring samples.
[[nodiscard]] Timeline tilt_moving_timeline(const Series& tilt, const JobLines& lines);

/// Surely over 0.5 km/h: true; surely not: false; else unknown.
[[nodiscard]] Timeline moving_timeline(const Series& speed, const JobLines& lines,
                                       Begun* begun = nullptr);

/// True over each stretch of `pulling` in which line.out changes by more than 0.3 m, from the
/// stretch's start on.
[[nodiscard]] Timeline motion_timeline(const Timeline& pulling, const Series& line_out);

/// The same from a tag on the car, where no rope counter runs: true where the tag surely moved
/// more than 0.3 m from the stretch's start, else unknown, as its noise may hide that much.
[[nodiscard]] Timeline tag_motion_timeline(const Timeline& pulling, const JobLines& lines);

/// Line of a sample that shows the contact was not as said within 5 s either side; nullopt when
/// the instrument agrees or says nothing.
[[nodiscard]] std::optional<int> contradicting_contact(const Series& contact, const Stamp& word,
                                                       bool said_on);

}  // namespace fairlead::judge
