// SPDX-License-Identifier: Apache-2.0
// The invented bikes of demo/, loaded only when somebody asks for them.                                    Layer: web
import cargo from '../../demo/bikes/cargo.toml?raw';
import city from '../../demo/bikes/city.toml?raw';
import gravel from '../../demo/bikes/gravel.toml?raw';
import held_back from '../../demo/bikes/held-back.toml?raw';
import trail from '../../demo/bikes/trail.toml?raw';

export const bikes = [trail, gravel, cargo, city, held_back];
