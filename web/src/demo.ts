// SPDX-License-Identifier: Apache-2.0
// The invented bikes of demo/, loaded only when somebody asks for them.                                    Layer: web
import cargo from '../../demo/bikes/cargo.toml?raw';
import city from '../../demo/bikes/city.toml?raw';
import gravel from '../../demo/bikes/gravel.toml?raw';
import held_back from '../../demo/bikes/held-back.toml?raw';
import trail from '../../demo/bikes/trail.toml?raw';

import { gpx_of, type Shape } from './demo_ride';

const ride = (shape: Shape): File => new File([gpx_of(shape)], `${shape.name}.gpx`, { type: 'application/gpx+xml' });
//! Each with the rides that it comes with.
export const bikes: { toml: string; rides: () => File[] }[] = [
  { toml: trail, rides: () => [ride({ name: 'over-the-saddle', day: '2026-05-02', kind: 'pass' })] },
  { toml: gravel, rides: () => [ride({ name: 'lanes-and-crossings', day: '2026-05-03', kind: 'town' })] },
  { toml: cargo, rides: () => [ride({ name: 'parcels', day: '2026-05-04', kind: 'town' })] },
  { toml: city, rides: () => [] },
  { toml: held_back, rides: () => [] },
];
