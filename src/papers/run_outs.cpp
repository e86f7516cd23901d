// SPDX-License-Identifier: Apache-2.0
// Run-out tables taken apart once: samples found again in this process and in the papers.               Layer: papers
// Why: docs/decisions/0012-run-out-ways.md.
#include "run_outs.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <deque>
#include <iterator>
#include <map>
#include <mutex>

namespace bw::papers {

namespace {

using inspect::RunOut;

constexpr std::string_view kind = "run_out/1";

struct Writer {
    std::string text = "[";
    bool sound = true;
    void number(double x) {
        sound = sound && std::isfinite(x);
        fmt::format_to(std::back_inserter(text), "{}{}", text.size() > 1 ? "," : "", x);   // as many digits as bring it back
    }
};
struct Reader {
    std::string_view text;
    bool sound = true;
    void number(double& x) {
        const char* const end = text.data() + text.size();
        const auto [at, wrong] = std::from_chars(text.data(), end, x);
        sound = sound && wrong == std::errc() && at != end && (*at == ',' || *at == ']');
        text = sound ? text.substr(static_cast<std::size_t>(at - text.data()) + 1) : std::string_view();
    }
};

// One walk for both ways.
struct Walk {
    Writer* out = nullptr;
    Reader* in = nullptr;
    bool sound() const { return in ? in->sound : out->sound; }

    void operator()(double& x) { in ? in->number(x) : out->number(x); }
    void operator()(int& x) {
        double y = x;
        (*this)(y);
        if (in) x = std::abs(y) < 1e6 ? static_cast<int>(y) : 0;
    }
    void operator()(RunOut::Depth& d) {
        int x = static_cast<int>(d);
        (*this)(x);
        d = x == 2 ? RunOut::Depth::parts : x == 1 ? RunOut::Depth::total : RunOut::Depth::only_seen;
    }
    void operator()(Interval& i) { (*this)(i.p05), (*this)(i.p50), (*this)(i.p95); }
    void operator()(inspect::TurnPattern& p) { (*this)(p.per_turn), (*this)(p.probability), (*this)(p.amplitude_mm), (*this)(p.angle_deg); }
    void operator()(inspect::Bend& b) { (*this)(b.probability), (*this)(b.angle_deg), (*this)(b.height_mm), (*this)(b.width_deg), (*this)(b.after_mm); }
    void operator()(inspect::ShapePoint& p) { (*this)(p.angle_deg), (*this)(p.dial_mm); }
    template <class T>
    void operator()(std::vector<T>& list) {
        int n = static_cast<int>(list.size());
        (*this)(n);
        if (in) list.clear();
        for (int i = 0; i < n && sound(); ++i) {
            if (in) list.emplace_back();
            (*this)(list[static_cast<std::size_t>(i)]);
        }
    }
    template <class T>
    void operator()(std::optional<T>& x) {
        int there = x.has_value();
        (*this)(there);
        if (in && there) x.emplace();
        if (x) (*this)(*x);
    }
    void operator()(RunOut& r) {
        (*this)(r.depth), (*this)(r.angles), (*this)(r.seen_mm), (*this)(r.total_mm), (*this)(r.totals_mm), (*this)(r.tilt), (*this)(r.saddle), (*this)(r.arms);
        (*this)(r.untold_share), (*this)(r.bends), (*this)(r.perhaps), (*this)(r.total_without_tilt_mm), (*this)(r.noise_mm), (*this)(r.shape);
    }
};

// Beside what is kept: a text that decayed or was edited does not fit it, and is sampled again.
std::string stamp_of(const std::string& text) { return fmt::format("run_out {}; content {}", inspect::run_out_model, content_id(text)); }

}  // namespace

std::string text_of(const RunOut& r) {
    Writer w;
    RunOut copy = r;
    Walk{.out = &w}(copy);
    return w.sound ? w.text + "]" : "";
}

std::optional<RunOut> run_out_from(std::string_view text) {
    if (text.size() < 2 || text.front() != '[') return std::nullopt;
    Reader r{.text = text.substr(1)};
    RunOut out;
    Walk{.in = &r}(out);
    return r.sound && r.text.empty() && text.back() == ']' ? std::optional(std::move(out)) : std::nullopt;
}

std::shared_ptr<const Result<RunOut>> run_out_of(Papers* kept_in, std::span<const inspect::DialReading> looks, const inspect::RunOutBudget& b, double made_unix_s) {
    constexpr std::size_t most = 256;
    static std::mutex mutex;
    static std::map<Id, std::shared_ptr<const Result<RunOut>>> at_hand;
    static std::deque<Id> in_order;
    static const Papers* unwritten = nullptr;
    static int left_out = 0;   // so many more looks into those, after a write that failed: a verdict waits for a busy file once, not once a table
    std::string all = fmt::format("{}", fmt::join(std::initializer_list<double>{b.dial.resolution, b.dial.permitted_error, b.dial.repeat_sd, static_cast<double>(b.dial.repeats), b.bearing_play_mm, b.play_measured ? 1.0 : 0.0, b.dial_turn_mm,
                                                                                b.tilt_sd_mm, b.saddle_sd_mm, b.arms_sd_mm, b.bend_sd_mm, b.saddle_probability, b.arms_probability, b.bends_mean, b.widest_bend_deg, b.untold_at_12,
                                                                                b.untold_width_deg, b.mark_within_deg, b.form_sd, b.push_sd, b.worth_mm}, " "));
    for (const inspect::DialReading& look : looks) all += fmt::format(" {} {}", look.angle_deg, look.dial_mm);
    const Id key = key_of({std::string(kind), std::to_string(inspect::run_out_model), all});
    std::shared_ptr<const Result<RunOut>> out;
    bool may_write = false;
    {
        const std::lock_guard lock(mutex);
        if (const auto it = at_hand.find(key); it != at_hand.end()) out = it->second;
        may_write = kept_in != unwritten || left_out == 0 || --left_out == 0;
    }
    // One at hand is not therefore in these papers: its write may have failed, or been taken back with all around it.
    const auto kept = kept_in && (!out || may_write) ? kept_in->answer(key) : Result<std::optional<KeptAnswer>>(std::nullopt);
    const bool there = kept && *kept;
    if (!out && there && (*kept)->kind == kind && (*kept)->model_versions == stamp_of((*kept)->json))
        if (std::optional<RunOut> read = run_out_from((*kept)->json)) out = std::make_shared<const Result<RunOut>>(*std::move(read));
    const bool sampled = !out;
    if (sampled) out = std::make_shared<const Result<RunOut>>(inspect::run_out_of(looks, b));
    // What cannot be kept now (a file that nobody may write, or another does) is kept another time.
    bool failed = false;
    if (const std::string text = *out && kept_in && may_write && (sampled || !there) ? text_of(**out) : ""; !text.empty())
        failed = !kept_in->keep_answer({.id = key, .bike_id = {}, .made_unix_s = made_unix_s, .kind = std::string(kind), .model_versions = stamp_of(text), .json = text});
    const std::lock_guard lock(mutex);
    if (failed) unwritten = kept_in, left_out = 500;
    if (!at_hand.emplace(key, out).second) return out;
    in_order.push_back(key);
    if (in_order.size() > most) at_hand.erase(in_order.front()), in_order.pop_front();
    return out;
}

}  // namespace bw::papers
