// SPDX-License-Identifier: Apache-2.0
// Run-out around a turn: seat tilt, saddle, arm pattern and bends, each with its interval; a plan to straighten.  Layer: inspect
// Theory: docs/models/inspect.md [EQ inspect-6..12, 17].                                     Pure functions: any thread.
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/interval.hpp"
#include "base/result.hpp"
#include "inspect/reading.hpp"
#include "parts/library.hpp"

namespace bw::inspect {

//! One look at the dial: angle from the mark, in the direction in which the wheel turns; the dial's value grows as the rotor
//! comes towards it. Several looks at one angle are repeats.
struct DialReading {
    double angle_deg = 0;
    double dial_mm = 0;
};

//! What the readings can be wrong by, and what rotors are like before anybody has read one.
struct RunOutBudget {
    Instrument dial;                  //!< of one reading; repeat_sd: of this person with this dial [mm]
    double bearing_play_mm = 0;       //!< axial play of the hub at the band, end to end
    bool play_measured = false;       //!< or what nobody feels is taken for it
    double dial_turn_mm = 1;          //!< travel for one turn of the pointer: over half of it the dial's own error can turn its sign
    double tilt_sd_mm = 0, saddle_sd_mm = 0, arms_sd_mm = 0, bend_sd_mm = 0;   //!< usual size of each amplitude and height
    double saddle_probability = 0.5, arms_probability = 0.5, bends_mean = 1;   //!< how usual they are
    double widest_bend_deg = 100;     //!< width at half height
    double untold_at_12 = 0;          //!< share of the bends that twelve angles do not tell
    double untold_width_deg = 60;     //!< and how wide they are at least
    double mark_within_deg = 0.4;     //!< the wheel is turned to its mark within so much to either side
    double form_sd = 0.03;            //!< of a height, as a share: bends have other forms than ours
    double push_sd = 0.25;            //!< how far a push misses, as a share of the height
    double worth_mm = 0;              //!< a bend lower than that is left alone
};
//! From data/inspect.toml, for an ordinary dial.
RunOutBudget run_out_budget_of(const parts::Library&);

//! Part of the run-out that returns `per_turn` times a turn. amplitude_mm: half of its top-to-bottom; angle_deg: of a top.
struct TurnPattern {
    int per_turn = 1;
    double probability = 1;           //!< that it is there at all
    Interval amplitude_mm, angle_deg;
};

//! A local bend: height_mm > 0 towards the dial, width at half height. after_mm: total run-out that is to be expected when
//! this bend and all before it in the list have been pushed back.
struct Bend {
    double probability = 0;
    Interval angle_deg, height_mm, width_deg, after_mm;
};

//! Value of the rotor's shape at an angle, mean of the turn taken off.
struct ShapePoint {
    double angle_deg = 0;
    Interval dial_mm;
};

struct RunOut {
    //! only_seen: fewer than 8 angles, or wide holes between them. total: the total alone. parts: tilt, saddle, arms, bends.
    enum class Depth { only_seen, total, parts } depth = Depth::only_seen;
    int angles = 0;
    double seen_mm = 0;                       //!< greatest less least reading: true of these places only
    std::optional<Interval> total_mm;         //!< of the whole turn
    std::vector<double> totals_mm;            //!< draws of it, for chances; ascending, empty if only_seen
    std::optional<TurnPattern> tilt, saddle, arms;
    double untold_share = 0;                  //!< of the bends: so many stay untold at these angles; what they may do to saddle and arms is in those
    std::vector<Bend> bends;                  //!< largest first; those more likely there than not
    std::vector<Bend> perhaps;                //!< less likely than not, at least one in five
    std::optional<Interval> total_without_tilt_mm;
    std::optional<Interval> noise_mm;         //!< standard deviation of one reading, as the readings themselves show it
    std::vector<ShapePoint> shape;            //!< every 2 degrees, empty if only_seen
};

//! Raise it when run_out_of says something else of the same readings: papers keep what it said. tests/inspect holds it.
inline constexpr int run_out_model = 1;
//! Readings of one turn (4 to 72 angles) -> what they say. Sampled with a fixed seed: the same readings give the same bytes.
//! Fails with bad_input on fewer than 4 or more than 72 angles, and on what is no number.   Source: [EQ inspect-6..11]
Result<RunOut> run_out_of(std::span<const DialReading>, const RunOutBudget&, std::uint64_t seed = 1);

//! How many evenly spread angles leave no wider hole than these do: what a table is worth beside another; 0 of fewer than 2.
int even_angles_of(std::span<const DialReading>);

//! Harmonics by weighted least squares: mean, then cosine and sine for each of `per_turn`.
struct Harmonics {
    std::vector<double> coefficient;          //!< [1 + 2 k]
    std::vector<double> covariance;           //!< [1 + 2 k][1 + 2 k], row-major, for the standard deviations given
};
//! angle_deg, value, sd: [n], sd > 0. Fails with bad_input if n angles cannot tell the harmonics apart.   Source: [EQ inspect-6]
Result<Harmonics> harmonics_of(std::span<const double> angle_deg, std::span<const double> value, std::span<const double> sd, std::span<const int> per_turn);

//! The total in one sentence.
std::string said_of(const RunOut&);
//! In words, for the bench: what it is, then what to do in which order. Never empty. done_for: the rotor is to be replaced, so no plan.
std::vector<std::string> words_of(const RunOut&, const RunOutBudget&, bool done_for = false);

//! Thickness around a turn at one radius.
struct ThicknessAround {
    int places = 0;
    double least_seen_mm = 0;                 //!< the thinnest reading: what verdicts rest on
    Interval least_mm, variation_mm;          //!< of these places, with the readings' errors taken out of the spread
};
//! thickness_mm: [n], n >= 2, one per place; scatter_mm: standard deviation of one of them that others do not share;
//! shared_mm: standard uncertainty that all share (the instrument).   Source: [EQ inspect-12]
ThicknessAround thickness_around(std::span<const double> thickness_mm, double scatter_mm, double shared_mm, std::uint64_t seed = 1);

}  // namespace bw::inspect
