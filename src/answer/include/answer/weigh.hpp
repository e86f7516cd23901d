// SPDX-License-Identifier: Apache-2.0
// Two set-ups on the same likely cases and the same rides: what each comes to, and the difference case by case.  Layer: answer
#pragma once
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "answer/answer.hpp"

namespace bw::answer {

//! Which way is better for the brake.
enum class Wanted { less, more };
enum class About { stop, heat, life, lever, yardstick };

//! A figure that every case has. difference: of b less a in each case.
struct WeighedFigure {
    std::string key, text, unit;
    About about = About::stop;
    std::optional<parts::End> wheel;
    std::optional<std::size_t> ride;
    Wanted wanted = Wanted::less;
    std::optional<Interval> a, b;                //!< absent: held back, or no number in more than 5 % of the cases
    std::optional<Interval> difference;          //!< absent as soon as one of the two is
    std::optional<double> b_larger_share, b_smaller_share;
};
//! Something that is so in a share of the cases.
struct WeighedShare {
    std::string key, text, source;
    About about = About::heat;
    std::optional<parts::End> wheel;
    std::optional<std::size_t> ride;
    Wanted wanted = Wanted::less;
    std::optional<double> a, b, only_a, only_b;   //!< only: with one of the two, not with the other
    std::optional<Grade> grade;
};
//! A key of the description in which the two differ.
struct Changed {
    using Value = std::variant<std::monostate, double, std::string, bool>;
    std::string key, unit;
    Value a, b;
    std::optional<double> a_sd, b_sd;
};

struct Weighed {
    Answer a, b;
    std::string withheld;             //!< why there are no differences; empty: there are
    std::vector<Changed> changed;
    std::vector<WeighedFigure> figures;
    std::vector<WeighedShare> shares;
};

//! rides: everything but the bike, the same for both. What both have in common is drawn once: rider, road, wind, grip, and
//! every input of the same key, by its key. Set-ups exchanged: every difference with the other sign, to the
//! last bit. With a set-up that is held back there are no differences and none of its figures. Fails as answer().
Result<Weighed> weigh(const Context&, const parts::Library&, const parts::Bike& a, const parts::Bike& b, const Request& rides);
//! The cautions of both; one that is of one set-up alone says of which. with_reasons: the verdicts' reasons are shown beside them, and
//! with these their look-by days; a caution about such days stands only beside one.
std::vector<std::string> cautions_of(const Weighed&, bool with_reasons);

//! schema weigh/1 (docs/schema/weigh-1.json)
std::string json_of(const Weighed&, const std::string& version);
//! For a terminal, plain sentences of at most 80 columns; what holds a set-up back first.
std::string text_of(const Weighed&, const std::string& version);

}  // namespace bw::answer
