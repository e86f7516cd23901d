// SPDX-License-Identifier: Apache-2.0
#include "bw_paths.hpp"
#include "run.hpp"

#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

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

}  // namespace bw::e2e
