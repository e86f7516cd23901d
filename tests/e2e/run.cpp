// SPDX-License-Identifier: Apache-2.0
#include "bw_paths.hpp"
#include "run.hpp"

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>

namespace bw::e2e {

namespace fs = std::filesystem;

std::string read(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

Folder::Folder() {
    std::string name = (fs::temp_directory_path() / "bw_e2e_XXXXXX").string();
    if (!mkdtemp(name.data())) throw std::runtime_error("no temporary folder");
    root_ = name;
}
Folder::~Folder() {
    std::error_code ignored;
    fs::remove_all(root_, ignored);
}
std::string Folder::write(const std::string& name, const std::string& text) const {
    std::ofstream(path(name), std::ios::binary) << text;
    return path(name);
}

std::string demo(const std::string& name) { return std::string(BW_ROOT) + "/demo/" + name; }

Outcome run(const std::string& program, const std::vector<std::string>& words, const std::string& input) {
    const Folder folder;
    const std::string in = folder.write("in", input), out = folder.path("out"), err = folder.path("err");
    std::string line = "'" + program + "'";
    for (const std::string& w : words) {
        line += " '";
        for (const char c : w) line += c == '\'' ? std::string("'\\''") : std::string(1, c);
        line += "'";
    }
    const int code = std::system((line + " <'" + in + "' >'" + out + "' 2>'" + err + "'").c_str());
    return {WIFEXITED(code) ? WEXITSTATUS(code) : 128 + WTERMSIG(code), read(out), read(err)};
}

Outcome brakewright(const std::vector<std::string>& words, const std::string& input) { return run(BW_PROGRAM, words, input); }

std::string trial_gpx(const std::vector<double>& braking_mps2, int stop_s, int from_minute) {
    std::string gpx = "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"made\" xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:m=\"urn:made\"><trk><trkseg>\n";
    double north_m = 0;
    int at = 0;
    for (std::size_t n = 0; n < braking_mps2.size(); ++n)
        for (int t = 0; t < stop_s; ++t, ++at) {
            // Each stop begins at another part of a second.
            const double v = t < 7 ? 8.0 * t / 7 : t < 20 ? 8 : std::max(0.0, 8 - braking_mps2[n] * (t - 20.125 + 0.13 * static_cast<double>(n)));
            const int minute = from_minute + at / 60;
            char row[300];
            std::snprintf(row, sizeof row, "<trkpt lat=\"%.8f\" lon=\"8\"><ele>100</ele><time>2026-05-%02dT%02d:%02d:%02dZ</time><extensions><m:speed>%.2f</m:speed></extensions></trkpt>\n", north_m / 111000, 1 + minute / 1440, minute / 60 % 24, minute % 60, at % 60, v);
            gpx += row;
            north_m += v;
        }
    return gpx + "</trkseg></trk></gpx>\n";
}

}  // namespace bw::e2e
