// SPDX-License-Identifier: Apache-2.0
// Results, errors and their one table (exit status, HTTP status).          Layer: base
#pragma once
#include <string>
#include <utility>
#include <variant>

namespace bw {

// name, exit status (INTERFACES: 2 wrong usage, 3 bad input, 4 a fault of ours), HTTP status
#define BW_ERRORS(X)            \
    X(wrong_usage, 2, 400)      \
    X(bad_input, 3, 422)        \
    X(cannot_read, 3, 404)      \
    X(out_of_domain, 3, 422)    \
    X(not_converged, 4, 500)    \
    X(cannot_write, 3, 500)     \
    X(cancelled, 4, 409)        \
    X(internal, 4, 500)

enum class Errc {
#define BW_X(name, exit, http) name,
    BW_ERRORS(BW_X)
#undef BW_X
};

//! Exit status of the command line for an error.
constexpr int exit_status(Errc code) {
    switch (code) {
#define BW_X(name, exit, http) \
    case Errc::name: return exit;
        BW_ERRORS(BW_X)
#undef BW_X
    }
    return 4;
}

//! An expected failure: what was found, where, what was expected, what to do. `text` is a sentence for a person.
struct Error {
    Errc code;
    std::string text;
};

//! A value or an Error. Test with `if (!r) return r.error();`.
template <class T>
class [[nodiscard]] Result {
public:
    Result(T value) : v_(std::in_place_index<0>, std::move(value)) {}
    Result(Error e) : v_(std::in_place_index<1>, std::move(e)) {}
    explicit operator bool() const { return v_.index() == 0; }
    T& operator*() & { return std::get<0>(v_); }
    const T& operator*() const& { return std::get<0>(v_); }
    T&& operator*() && { return std::get<0>(std::move(v_)); }
    T* operator->() { return &std::get<0>(v_); }
    const T* operator->() const { return &std::get<0>(v_); }
    const Error& error() const { return std::get<1>(v_); }

private:
    std::variant<T, Error> v_;
};

struct Done {};
using Status = Result<Done>;

}  // namespace bw
