// SPDX-License-Identifier: Apache-2.0
// `open`: the service behind the pages, until the interrupt key.                                         Layer: app
#include <fmt/format.h>

#include <chrono>
#include <thread>

#include "base/text.hpp"
#include "base/time.hpp"
#include "service/service.hpp"
#include "verb_papers.hpp"
#include "verbs.hpp"

namespace bw::app {

namespace {

constexpr int usual_port = 7317;

struct Place {
    std::string address = "127.0.0.1";
    std::optional<int> port;   // nothing: the usual one, or any that is free
};

// ADDRESS:PORT, ADDRESS, :PORT or [IPV6]:PORT.
Place place_of(const std::string& told) {
    Place p;
    if (told.empty()) return p;
    const auto wrong = [&] { stop(Errc::wrong_usage, fmt::format("--listen '{}': expected ADDRESS:PORT, as 127.0.0.1:8000 or 0.0.0.0:8000", told)); };
    std::string rest = told;
    if (told.front() == '[') {
        const std::size_t end = told.find(']');
        if (end == std::string::npos) wrong();
        p.address = told.substr(1, end - 1);
        rest = told.substr(end + 1);
    } else if (const std::size_t colon = told.find(':'); colon != std::string::npos) {
        if (told.find(':', colon + 1) != std::string::npos) wrong();
        if (colon > 0) p.address = told.substr(0, colon);
        rest = told.substr(colon);
    } else {
        p.address = told;
        rest.clear();
    }
    if (rest.empty()) return p;
    const auto port = parse_number(std::string_view(rest).substr(1));
    if (rest.front() != ':' || !port || *port < 0 || *port > 65535 || *port != static_cast<int>(*port)) wrong();
    p.port = static_cast<int>(*port);
    return p;
}

}  // namespace

int run_open(const OpenOptions& o) {
    try {
        const Context ctx = context_of(o.common);
        const Place place = place_of(o.listen);
        if (!o.today.empty() && !parse_day(o.today)) stop(Errc::wrong_usage, fmt::format("--today {}: expected a day as 2026-05-01", o.today));
        service::Room room;
        room.today_told = o.today;
        room.library = must(parts::load_library());
        room.papers_path = papers_file(o.papers);
        papers::Opened opened = must(papers::open_papers(room.papers_path));
        if (!opened.note.empty()) fmt::print(stderr, "brakewright: note: {}\n", opened.note);
        room.papers = std::move(opened.papers);

        service::Service service(room, ctx.threads);
        service::Patience patience;
        if (o.patience_s) patience = {.stall_s = *o.patience_s, .head_s = *o.patience_s};
        service::Http http(service.site(), patience);
        int port = 0;
        if (place.port) port = must(http.bind(place.address, *place.port));
        else {
            const Result<int> usual = http.bind(place.address, usual_port);
            port = usual ? *usual : must(http.bind(place.address, 0));
        }
        const bool near = service::is_loopback(place.address);
        const auto say_code = [](const std::string& code) { fmt::print("Pairing code, for each device once: {}-{}\n", code.substr(0, 4), code.substr(4)), std::fflush(stdout); };
        const std::vector<std::string> hosts = service::hosts_of(place.address, port);
        fmt::print("Open in a browser on this machine: http://{}:{}/\n", near && place.address.find(':') != std::string::npos ? "[" + place.address + "]" : near ? place.address : "127.0.0.1", port);
        if (!near) {
            fmt::print("From other devices of a network that you trust (nothing is encrypted on the way):\n");
            for (const std::string& h : hosts)
                if (!service::is_loopback(h.substr(0, h.rfind(':'))) && !h.starts_with("[")) fmt::print("  http://{}/\n", h);
        }
        service.set_door(std::make_unique<service::Door>(hosts, service::random_token(), near ? std::function<void(const std::string&)>() : say_code));
        fmt::print("The interrupt key (Ctrl-C) ends it.\n");
        std::fflush(stdout);

        std::thread serving([&] { http.run(); });
        while (!ctx.stopped()) std::this_thread::sleep_for(std::chrono::milliseconds(50));
        http.stop();
        serving.join();
        return 0;
    } catch (const Stop& s) {
        return fail(s.error);
    }
}

}  // namespace bw::app
