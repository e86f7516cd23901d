// SPDX-License-Identifier: Apache-2.0
// The service: which address is answered by what. Described in web/openapi.json.                         Layer: app
#pragma once
#include <memory>
#include <string>

#include "door.hpp"
#include "http.hpp"
#include "jobs.hpp"
#include "room.hpp"

namespace bw::app::service {

class Service {
public:
    //! The room must outlive it.
    Service(Room&, int threads);
    //! Needs to be told where it listens before the first request comes.
    void set_door(std::unique_ptr<Door> door) { door_ = std::move(door); }
    //! Says what of this a server needs.
    Site site();

private:
    Said answer(const Asked&);
    Said api(const Asked&, const std::string& rest);
    Said page(const Asked&);

    Room& room_;
    std::unique_ptr<Door> door_;
    Jobs jobs_;
};

}  // namespace bw::app::service
