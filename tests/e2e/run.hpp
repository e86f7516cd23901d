// SPDX-License-Identifier: Apache-2.0
// Runs a program as a person would: words in, text and exit status out.
#pragma once
#include <string>
#include <vector>

namespace bw::e2e {

struct Outcome {
    int status = -1;
    std::string out, err;
};

//! Runs `program words...` with `input` on standard input and no terminal.
Outcome run(const std::string& program, const std::vector<std::string>& words, const std::string& input = "");
//! Runs brakewright.
Outcome brakewright(const std::vector<std::string>& words, const std::string& input = "");

//! A fresh empty folder for one test; removed when the object goes.
class Folder {
public:
    Folder();
    ~Folder();
    std::string path(const std::string& name) const { return root_ + "/" + name; }
    std::string write(const std::string& name, const std::string& text) const;   //!< returns the path

private:
    std::string root_;
};

std::string read(const std::string& path);
std::string demo(const std::string& name);   //!< path inside demo/

//! A recording (GPX, a second a record, with a speed of its own, an even road): a stop from 8 m/s for each deceleration.
//! \param stop_s        from one start to the next [s]
//! \param from_minute   of 2026-05-01, UTC
std::string trial_gpx(const std::vector<double>& braking_mps2, int stop_s, int from_minute = 10 * 60);

}  // namespace bw::e2e
